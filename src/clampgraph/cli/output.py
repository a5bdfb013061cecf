"""Where results go: printed, or written to a file whole or not at all."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from clampgraph.errors import WrongCallError

__all__ = ["Output", "write_out"]

Output = Annotated[Path | None, typer.Option("-o", "--output", metavar="FILE", help="Write here instead of printing.")]


def write_out(content: str | bytes, output: Path | None) -> None:
    """Print, or write a file whole or not at all.

    Raises
    ------
    WrongCallError
        If the file cannot be written.
    """
    raw = content.encode("utf-8") if isinstance(content, str) else content
    if output is None:
        sys.stdout.buffer.write(raw)
        sys.stdout.buffer.flush()
        return
    part = output.with_name(output.name + ".part")
    try:
        part.write_bytes(raw)
        part.replace(output)
    except OSError as error:
        raise WrongCallError(f"{output} cannot be written: {error.strerror}.") from error
