"""Options that several commands share, and how a command asks and prints."""

import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from clampgraph.cli.doors import fetch, open_library
from clampgraph.errors import WrongCallError

if TYPE_CHECKING:
    from clampgraph.answers.library import Library
    from clampgraph.answers.models import Answer

__all__ = [
    "Ages",
    "AsJson",
    "Conditions",
    "Door",
    "GenerationOption",
    "Language",
    "Packs",
    "Readings",
    "Seen",
    "Server",
    "SiteFile",
    "Unseen",
    "ask",
    "conditions",
    "door",
    "findings",
    "pairs",
    "screens",
    "show_answer",
    "with_site",
    "years",
]

A = TypeVar("A", bound="Answer")


@dataclass(frozen=True, slots=True)
class Door:
    """Where a question goes: to this process with its packs, or to a running service; and the language of labels."""

    server: str | None = None
    packs: tuple[Path, ...] = ()
    language: str | None = None

    def __post_init__(self) -> None:
        """Refuse packs for a running service, which has its own."""
        if self.server is not None and self.packs:
            raise WrongCallError("A running service has its own packs: give --data to 'clampgraph serve' instead.")

    def library(self) -> "Library":
        """Load the shipped packs and the given ones, in the language asked for."""
        opened = open_library(list(self.packs))
        return opened if self.language is None else opened.in_language(self.language)


def conditions(texts: list[str] | None) -> dict[str, bool]:
    """Read conditions that hold, or are said to be absent.

    Raises
    ------
    WrongCallError
        If a text says neither, or a condition is said to hold and not to.
    """
    found: dict[str, bool] = {}
    for text in texts or []:
        name, _, state = text.partition("=")
        if state not in ("", "present", "absent"):
            raise WrongCallError(f"--condition '{text}' is unclear; write {name}, {name}=present or {name}=absent.")
        if found.setdefault(name, state != "absent") != (state != "absent"):
            raise WrongCallError(f"--condition says that {name} holds and that it does not; say one of them.")
    return found


def door(server: str | None, packs: list[Path] | None, language: str | None = None) -> Door:
    """Return the door that the options of a command describe."""
    return Door(server, tuple(packs or ()), language)


AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as HTTP sends it.")]
Server = Annotated[str | None, typer.Option("--server", metavar="URL", help="Ask a running service.")]
Packs = Annotated[
    list[Path] | None, typer.Option("--data", metavar="PATH", help="Load a further pack, file or folder.")
]
Language = Annotated[str | None, typer.Option("--lang", metavar="CODE", help="Language of labels: en, de, es, ja.")]
SiteFile = Annotated[Path | None, typer.Option("--site", metavar="SITE.toml", help="What the shop knows of itself.")]
Seen = Annotated[list[str] | None, typer.Option("--seen", help="A symptom that was seen.")]
Unseen = Annotated[list[str] | None, typer.Option("--unseen", help="A symptom that was looked for and is absent.")]
Readings = Annotated[
    list[str] | None, typer.Option("--reading", metavar="CHECK=OUTCOME", help="A check that was made.")
]
Ages = Annotated[
    list[str] | None, typer.Option("--age", metavar="POSITION=YEARS", help="Years since the item was renewed.")
]
Conditions = Annotated[
    list[str] | None, typer.Option("--condition", help="A condition known to hold; CONDITION=absent if known not to.")
]
GenerationOption = Annotated[str | None, typer.Option(help="The newest one if left out.")]


def ask(door: Door, local: "Callable[[Library], A]", model: type[A], remote: tuple[str, str, Mapping[str, Any]]) -> A:
    """Ask in this process, or a running service; `remote` is method, path, and body or query."""
    if door.server is None:
        return local(door.library())
    method, path, body = remote
    return fetch(door.server, (method, path), body, model, door.language)


def show_answer(answer: "Answer", as_json: bool, screen: Callable[[], Any]) -> None:
    """Print the body as HTTP sends it, or the screen for people."""
    if as_json:
        sys.stdout.write(answer.model_dump_json() + "\n")
        return
    from clampgraph.cli.screens import console

    console().print(screen())


def findings(
    seen: list[str] | None,
    unseen: list[str] | None,
    readings: list[str] | None,
    ages: list[str] | None,
    told: list[str] | None,
) -> dict[str, Any]:
    """Return what was found at a machine, as the body of a question holds it; `told` are its conditions.

    Raises
    ------
    WrongCallError
        If an option is incomplete or stands twice.
    """
    return {
        "seen": seen or [],
        "unseen": unseen or [],
        "readings": pairs(readings, "reading", "CHECK=OUTCOME"),
        "ages": years(ages),
        "conditions": conditions(told),
    }


def pairs(texts: list[str] | None, option: str, form: str) -> dict[str, str]:
    """Split ``KEY=VALUE`` texts of one option.

    Raises
    ------
    WrongCallError
        If a text has no value, or a key stands twice.
    """
    found: dict[str, str] = {}
    for text in texts or []:
        key, equals, value = text.partition("=")
        if not (key and equals and value):
            raise WrongCallError(f"--{option} '{text}' is incomplete; write {form}.")
        if key in found:
            raise WrongCallError(f"--{option} names '{key}' twice; say it once.")
        found[key] = value
    return found


def screens() -> Any:
    """Return the module of screens; Rich is not needed for JSON."""
    from clampgraph.cli import screens as found

    return found


def years(texts: list[str] | None, option: str = "age", form: str = "POSITION=YEARS") -> dict[str, float]:
    """Read ``POSITION=YEARS`` texts of one option.

    Raises
    ------
    WrongCallError
        If a text is no number of years.
    """
    found = {}
    for position, text in pairs(texts, option, form).items():
        try:
            found[position] = float(text.removesuffix("yr").removesuffix("y").strip())
        except ValueError:
            found[position] = math.nan
        # JSON has no word for nan and infinity, so neither may reach a service.
        if not math.isfinite(found[position]):
            raise WrongCallError(f"--{option} {position}={text} is no number of years; write {position}=12.")
    return found


def with_site(body: dict[str, Any], site: Path, packs: list[Path] | None) -> dict[str, Any]:
    """Fill in a question what its site file knows; what the question says itself goes first."""
    from clampgraph.answers.site import apply_site, read_site

    return apply_site(read_site(open_library(packs or []), site), body)
