"""What is finished of a run, kept block by block beside its target, so that a killed run goes on where it stopped."""

import json
import os
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from clampgraph.errors import StoreError, WrongCallError
from clampgraph.fleet.ranking import schema
from clampgraph.fleet.tickets import arrow, form_of

__all__ = ["Journal"]


class Journal:
    """The finished blocks of one run.

    Parameters
    ----------
    target
        The file that the run makes.
    about
        What the run depends on; blocks of a run that depended on something else are not taken.
    restart
        Throw away what an earlier run left.

    Raises
    ------
    WrongCallError
        If an earlier run left blocks that depended on something else, or the target cannot be written.
    """

    def __init__(self, target: Path, about: Mapping[str, object], *, restart: bool = False) -> None:
        form_of(target)
        self._target, self._folder = target, target.with_name(f"{target.name}.blocks")
        head = json.dumps(dict(about), sort_keys=True)
        try:
            if restart:
                shutil.rmtree(self._folder, ignore_errors=True)
            self._folder.mkdir(exist_ok=True)
            told = self._folder / "run.json"
            if told.exists() and told.read_text("utf-8") != head:
                raise WrongCallError(
                    f"{self._folder} holds blocks of a run over other tickets, other packs or with other options: "
                    "repeat that run to finish it, or add --restart to throw them away."
                )
            _put(told, head.encode())
        except OSError as error:
            raise WrongCallError(f"{target} cannot be written: {error.strerror}.") from error

    def __contains__(self, number: int) -> bool:
        return self._file(number).exists()

    def keep(self, number: int, ranked: Any) -> None:
        """Keep a finished block, whole or not at all.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        pa = arrow()
        sink = pa.BufferOutputStream()
        pa.parquet.write_table(ranked, sink, compression="zstd")
        try:
            _put(self._file(number), sink.getvalue())
        except OSError as error:
            raise StoreError(
                f"{self._folder} cannot be written ({error.strerror}): make room, and run the same again to go on."
            ) from error

    def finish(self, count: int) -> None:
        """Put the blocks together in the target, and clear them away.

        Raises
        ------
        StoreError
            If the target cannot be written.
        """
        part = self._target.with_name(f"{self._target.name}.part")
        try:
            self._write(part, count)
            part.replace(self._target)
            shutil.rmtree(self._folder)
        except OSError as error:
            raise StoreError(
                f"{self._target} cannot be written ({error.strerror}): make room, and run the same again to go on."
            ) from error

    def _write(self, part: Path, count: int) -> None:
        pa = arrow()
        if form_of(self._target) == ".parquet":
            with pa.parquet.ParquetWriter(part, schema(pa), compression="zstd") as out:
                for table in self._tables(count):
                    out.write_table(table)
            return
        with pa.csv.CSVWriter(part, schema(pa)) as out:
            for table in self._tables(count):
                out.write_table(table)

    def _tables(self, count: int) -> Iterator[Any]:
        pa = arrow()
        for number in range(count):
            yield pa.parquet.read_table(self._file(number))

    def _file(self, number: int) -> Path:
        return self._folder / f"block-{number:06}.parquet"


def _put(file: Path, content: Any) -> None:
    """Write a file that is there whole, and stays there, once it is there at all."""
    fresh = file.with_suffix(".new")
    with fresh.open("wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    fresh.replace(file)
