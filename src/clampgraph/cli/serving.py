"""The commands of the service: run it, and make a token for it."""

import importlib
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from clampgraph.cli.options import Packs, pairs

__all__ = ["serve", "token"]


def _door(module: str) -> Any:
    """Return a module of the other door; the two do not import each other, so it is found by name."""
    return importlib.import_module(f"clampgraph.api.{module}")


def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen on; this machine alone by default.")] = None,
    port: Annotated[str | None, typer.Option(help="Port, 8350 by default; 0 takes a free one.")] = None,
    data: Packs = None,
    store: Annotated[str | None, typer.Option(metavar="PLACE", help="Folder or address of a graph store.")] = None,
    cases: Annotated[str | None, typer.Option(metavar="PLACE", help="File or address of the case store.")] = None,
    uploads: Annotated[Path | None, typer.Option(metavar="FOLDER", help="Take packs over HTTP, and keep them.")] = None,
    tokens: Annotated[Path | None, typer.Option(metavar="FILE", help="Who may ask, from 'clampgraph token'.")] = None,
    hosts: Annotated[str | None, typer.Option(metavar="NAMES", help="Further names it is reached under.")] = None,
    cors: Annotated[str | None, typer.Option(metavar="ORIGINS", help="Origins of web pages that may ask.")] = None,
    rate: Annotated[str | None, typer.Option(metavar="N", help="Requests a minute from one caller.")] = None,
    workers: Annotated[str | None, typer.Option(metavar="N", help="Processes that answer.")] = None,
    log: Annotated[str | None, typer.Option(help="auto, json, plain or off.")] = None,
    settings: Annotated[
        list[str] | None, typer.Option("--set", metavar="NAME=VALUE", help="Any other setting; see README.")
    ] = None,
) -> None:
    """Run the service over HTTP."""
    given = {
        "host": host, "port": port, "data": data, "store": store, "cases": cases, "uploads": uploads,
        "tokens": tokens, "hosts": hosts, "cors": cors, "rate": rate, "workers": workers, "log": log,
    }  # fmt: skip
    read = _door("settings").read_settings({**pairs(settings, "set", "NAME=VALUE"), **_told(given)})
    _door("running").run(read)


def _told(given: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in given.items() if value is not None}


def token(
    name: Annotated[str, typer.Argument(help="Who or what will use it.")],
    scope: Annotated[str, typer.Option(help="read, write or admin; each with what stands before it.")] = "read",
    days: Annotated[int, typer.Option(help="Days until it expires.")] = 365,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="FILE", help="Where hashes are kept: tokens.json by default.")
    ] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="Take the token back.")] = False,
) -> None:
    """Make a token for the service; it is shown once."""
    place = file or Path(os.environ.get("CLAMPGRAPH_TOKENS") or "tokens.json")
    tokens = _door("tokens").TokenFile(place)
    if revoke:
        tokens.revoke(name)
        sys.stderr.write(f"The token '{name}' is taken back.\n")
        return
    made = tokens.issue(name, scope, days)
    sys.stderr.write(f"Keep it now, it cannot be shown again; its hash is in {place}, and it expires in {days} days.\n")
    sys.stdout.write(made + "\n")
