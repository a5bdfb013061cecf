"""What is loaded, and how another edition takes its place while requests run.

A new edition is checked in a process of its own and loaded in a thread, beside the one that answers.
Only when it is whole does it take over, between two requests;
whoever holds the old one keeps it to the end of the request, and the last to let go closes it.
An edition is named by what its files hold, so several processes give the same files the same name.
Where everything that was read from the old edition reads the same in the new one, what was derived is kept
(`graph.lasting`): the two have one content, and answers are remembered by content.
"""

import asyncio
import hashlib
import itertools
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from clampgraph.answers.languages import languages
from clampgraph.answers.library import Library
from clampgraph.answers.validate import FindingOut, validate
from clampgraph.errors import ClampgraphError, DataError, StoreError
from clampgraph.graph import GraphStore, load
from clampgraph.graph.lasting import Lasting
from clampgraph.graph.loading import default_packs, files_of
from clampgraph.graph.opening import is_endpoint

__all__ = ["BrokenPackError", "Held", "Keeper", "apart", "edition_of"]

Given = TypeVar("Given")
Found = TypeVar("Found")

ATTEMPTS = 3
"""How often packs are read that change while they are read."""

CHECK_LIMIT = 300.0
"""Seconds that a check of packs may take."""


class BrokenPackError(DataError):
    """Packs were refused; carries what is wrong with them."""

    http_status = 422
    slug = "broken-pack"
    title = "The packs are not sound"

    def __init__(self, findings: Iterable[FindingOut]) -> None:
        self.findings = tuple(findings)
        first = self.findings[0]
        place = first.pack if first.line is None else f"{first.pack} line {first.line}"
        rest = f" (and {len(self.findings) - 1} more)" if len(self.findings) > 1 else ""
        super().__init__(f"{place}: {first.message.rstrip('.')}{rest}; nothing was changed.")


@dataclass(eq=False)
class Held:
    """One edition in use, and how many requests hold it.

    Parameters
    ----------
    library
        What answers.
    edition
        Its name.
    content
        What answers are remembered by: the edition's own name, unless it took over what was derived from another.
    """

    library: Library
    edition: str
    content: str = ""
    languages: tuple[str, ...] = field(init=False)
    triples: int = field(init=False)
    graph: GraphStore = field(init=False)
    users: int = 0
    retired: bool = False

    def __post_init__(self) -> None:
        """Look up what every request asks for, and what is to be closed in the end."""
        self.content = self.content or self.edition
        graph = self.library.graph
        self.languages, self.triples = languages(self.library), len(graph)
        self.graph = graph.graph if isinstance(graph, Lasting) else graph

    @contextmanager
    def used(self) -> Iterator[None]:
        """Hold the edition; the last one to let go of a retired edition closes it."""
        self.users += 1
        try:
            yield
        finally:
            self.users -= 1
            self._close_if_done()

    def retire(self) -> None:
        """Take the edition out of service once nobody holds it."""
        self.retired = True
        self._close_if_done()

    def _close_if_done(self) -> None:
        if self.retired and not self.users:
            self.graph.close()


async def apart(work: Callable[[Given], Found], given: Given, seconds: float) -> Found:
    """Do some work in a process of its own, which is killed when it is done or takes too long.

    Raises
    ------
    TimeoutError
        If it takes longer than so many seconds.
    BrokenProcessPool
        If the process dies.
    """
    pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
    try:
        async with asyncio.timeout(seconds):
            return await asyncio.get_running_loop().run_in_executor(pool, work, given)
    finally:
        for process in list((pool._processes or {}).values()):  # noqa: SLF001  # Python 3.14 has kill_workers
            process.kill()
        pool.shutdown(wait=False, cancel_futures=True)


def edition_of(files: Iterable[Path]) -> str:
    """Name an edition by what its files are called and hold."""
    digest = hashlib.sha256()
    for file in files:
        content = hashlib.sha256(file.read_bytes()).digest()
        digest.update(file.name.encode() + b"\0" + content)
    return digest.hexdigest()[:16]


class Keeper:
    """Holds the edition that answers, and loads the next.

    Parameters
    ----------
    packs
        Files and folders loaded beside the shipped packs.
    uploads
        Folder of uploaded packs, loaded too; may not exist yet.
    store
        Where triples are kept; see `clampgraph.graph.load`.
    """

    def __init__(self, packs: Iterable[Path] = (), uploads: Path | None = None, store: str | None = None) -> None:
        self.packs, self.uploads, self.store = tuple(packs), uploads, store
        self.held: Held | None = None
        self.leaving = False
        self._fault = ""
        self.changed: list[Callable[[Held], None]] = []
        self.lock = asyncio.Lock()
        self.reads_files = True
        self._contents = itertools.count()

    @property
    def elsewhere(self) -> bool:
        """Whether the triples lie behind an endpoint, which may be down."""
        return self.reads_files and is_endpoint(self.store)

    def adopt(self, library: Library) -> None:
        """Answer from a library that was loaded elsewhere; there is nothing to load it from again."""
        self.reads_files = False
        self._take(Held(library, f"given-{len(library.graph)}"))

    def open(self) -> None:
        """Load the first edition, in this thread.

        Raises
        ------
        ClampgraphError
            If a path does not exist, or a file cannot be parsed.
        """
        self._take(self._loaded())

    def open_or_wait(self) -> None:
        """Do what `open` does, but take an endpoint that is down for one that comes back: `reload` tries again.

        Raises
        ------
        ClampgraphError
            As `open` does, for anything else.
        """
        try:
            self.open()
        except StoreError as error:
            if not self.elsewhere:
                raise
            self._fault = str(error)

    def why_not_ready(self) -> str | None:
        """Return why questions cannot be answered now; None if they can."""
        if self.leaving:
            return "The service is going down."
        return self._fault or "The graph is still being loaded." if self.held is None else None

    async def reload(self) -> bool:
        """Check and load the packs as they are now, and answer from them; False if they are what is loaded already.

        Raises
        ------
        BrokenPackError
            If they are not sound; the old edition goes on answering.
        ClampgraphError
            If a path does not exist, or the library was given.
        """
        async with self.lock:
            return await self.reload_held()

    async def reload_held(self, *, checked: bool = False) -> bool:
        """Do what `reload` does; the caller holds the lock, and may have checked the packs already."""
        if not self.reads_files:
            raise DataError("This service was handed its graph and has no packs to load again.")
        given = await asyncio.to_thread(self._given)
        if self.held is not None and self.held.edition == await asyncio.to_thread(self._edition):
            return False
        if given and not checked:
            await self.check(given)
        self._take(await asyncio.to_thread(self._loaded))
        return True

    async def check(self, packs: Iterable[Path]) -> None:
        """Check packs in a process of its own, so that neither a hostile file nor the work disturbs who asks.

        Raises
        ------
        BrokenPackError
            If they are not sound.
        """
        try:
            findings = await apart(_errors, tuple(packs), CHECK_LIMIT)
        except TimeoutError:
            raise DataError(f"The packs could not be checked within {CHECK_LIMIT:g} s; load fewer at a time.") from None
        except BrokenProcessPool:
            raise DataError("The packs could not be checked: the process died, perhaps for want of memory.") from None
        if findings:
            raise BrokenPackError(findings)

    def given_but(self, name: str) -> tuple[Path, ...]:
        """Return the given and uploaded files, without uploaded ones of a name."""
        return tuple(file for file in self._given() if not (file.parent == self.uploads and file.stem == name))

    def _given(self) -> tuple[Path, ...]:
        folder = (self.uploads,) if self.uploads is not None and self.uploads.is_dir() else ()
        return files_of((*self.packs, *folder))

    def _edition(self) -> str:
        if self.elsewhere:
            return f"endpoint-{time.time_ns():x}"  # what it holds cannot be told from outside, so each look is new
        return edition_of((*files_of(default_packs()), *self._given()))

    def _loaded(self) -> Held:
        for _ in range(ATTEMPTS):
            # Named before it is read: if a file changes in between, the next look finds another name and loads again.
            edition = self._edition()
            try:
                graph = load(self._given(), self.store)
                if not self.elsewhere:
                    graph.store  # noqa: B018  # parsed now: the files may be others when it is first needed
            except DataError:
                if self._edition() == edition:
                    raise
            else:
                return self._held_by(graph, edition)
        raise DataError("The packs go on changing while they are read; load them again when they are complete.")

    def _held_by(self, graph: GraphStore, edition: str) -> Held:
        """Go over to a graph with all that was derived, if it reads the same, else begin anew."""
        before = self.held
        if before is not None and isinstance(before.library.graph, Lasting) and before.library.graph.goes_over(graph):
            return Held(before.library, edition, before.content)
        library = Library(Lasting(graph))
        library.knowledge, library.assemblies  # noqa: B018  # read now, not within the first request
        # Not the name alone: what was remembered of an edition may have been read from one that took its place.
        return Held(library, edition, f"{edition}-{next(self._contents)}")

    def _take(self, held: Held) -> None:
        before, self.held = self.held, held
        for tell in self.changed:
            tell(held)
        if before is not None:
            before.retire()


def _errors(packs: tuple[Path, ...]) -> tuple[FindingOut, ...]:
    try:
        found = validate(packs).findings
    except ClampgraphError as error:
        found = (FindingOut(severity="error", pack="", line=None, focus=None, message=str(error), hint=None),)
    return tuple(finding for finding in found if finding.severity == "error")
