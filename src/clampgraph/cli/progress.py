"""A bar for long work, on standard error, where a person looks at a terminal; nothing elsewhere."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["Counted", "progress"]

Counted = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is in all, 0 where nobody knows."""


@contextmanager
def progress(what: str) -> Iterator[Counted]:
    """Show a bar while the block runs; it goes away when the work is done."""
    if not sys.stderr.isatty():
        yield lambda _title, _done, _total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    at = TextColumn("{task.fields[at]}")
    with Progress(*columns, at, console=Console(stderr=True), transient=True) as bars:
        task = bars.add_task(what, total=None, at="")
        yield lambda title, done, total: bars.update(task, completed=done, total=total or None, at=title)
