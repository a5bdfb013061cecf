"""Tickets in a file of Parquet or CSV, read in blocks of equal size, so that memory does not grow with the file."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from clampgraph.errors import UnknownNameError, WrongCallError

__all__ = ["COLUMNS", "NEEDED", "SUFFIXES", "Tickets", "arrow", "form_of"]

NEEDED = ("ticket", "assembly")
COLUMNS = (*NEEDED, "generation", "seen", "unseen", "readings")
"""Columns that are read; `seen`, `unseen` and `readings` hold lists, or texts with a semicolon between their parts."""

SUFFIXES = (".parquet", ".csv")


def arrow() -> Any:
    """Return the library that reads and writes columns.

    Raises
    ------
    WrongCallError
        If it is not installed; says how to install it.
    """
    try:
        import pyarrow  # noqa: ICN001, PLC0415  # an extra, and slow to load
        import pyarrow.csv  # noqa: PLC0415  # as above
        import pyarrow.parquet  # noqa: PLC0415  # as above
    except ImportError as error:
        raise WrongCallError("Triage needs Arrow, which is not installed: pip install 'clampgraph[fleet]'.") from error
    return pyarrow


def form_of(file: Path) -> str:
    """Return the suffix of a file that tells its form.

    Raises
    ------
    WrongCallError
        If it is none of `SUFFIXES`.
    """
    suffix = file.suffix.lower()
    if suffix not in SUFFIXES:
        raise WrongCallError(f"{file} is neither Parquet nor CSV; its name must end with {' or '.join(SUFFIXES)}.")
    return suffix


@dataclass(frozen=True)
class Tickets:
    """A file of tickets, and how many of them make a block.

    Raises
    ------
    UnknownNameError
        If there is no such file.
    WrongCallError
        If it is neither Parquet nor CSV, cannot be read as such, or lacks a column.
    """

    file: Path
    rows: int

    def __post_init__(self) -> None:
        """Look at the file before any work is done."""
        if not self.file.is_file():
            raise UnknownNameError("file", str(self.file))
        form_of(self.file)
        names = self._read(lambda pa: self._schema(pa).names)
        missing = [name for name in NEEDED if name not in names]
        if missing:
            told = ", ".join(names)
            raise WrongCallError(f"{self.file.name} has no column '{missing[0]}'; its columns are {told}.")

    @property
    def total(self) -> int | None:
        """How many tickets there are; None where only reading them all would tell."""
        if form_of(self.file) == ".csv":
            return None
        return int(self._read(lambda pa: pa.parquet.read_metadata(self.file).num_rows))

    def blocks(self) -> Iterator[Any]:
        """Yield tables of `rows` tickets each, the last one shorter, with the columns of `COLUMNS` that there are.

        Raises
        ------
        WrongCallError
            If the file cannot be read to its end.
        """
        pa = arrow()
        waiting, count = [], 0
        try:
            for batch in self._batches(pa):
                waiting.append(batch)
                count += batch.num_rows
                while count >= self.rows:
                    table = pa.Table.from_batches(waiting)
                    yield table.slice(0, self.rows)
                    rest = table.slice(self.rows)
                    waiting, count = rest.to_batches(), rest.num_rows
            if count:
                yield pa.Table.from_batches(waiting)
        except (pa.ArrowException, OSError) as error:
            raise self._broken(error) from error

    def _batches(self, pa: Any) -> Iterator[Any]:
        names = [name for name in COLUMNS if name in self._schema(pa).names]
        if form_of(self.file) == ".parquet":
            with pa.parquet.ParquetFile(self.file) as opened:
                yield from opened.iter_batches(batch_size=self.rows, columns=names)
            return
        # Everything in a CSV is text here: a ticket may be called 007.
        convert = pa.csv.ConvertOptions(
            include_columns=names, column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False
        )
        parse = pa.csv.ParseOptions(newlines_in_values=True)
        with pa.csv.open_csv(self.file, convert_options=convert, parse_options=parse) as opened:
            yield from opened

    def _schema(self, pa: Any) -> Any:
        if form_of(self.file) == ".parquet":
            return pa.parquet.read_schema(self.file)
        with pa.csv.open_csv(self.file) as opened:
            return opened.schema

    def _read(self, what: Any) -> Any:
        pa = arrow()
        try:
            return what(pa)
        except (pa.ArrowException, OSError) as error:
            raise self._broken(error) from error

    def _broken(self, error: Exception) -> WrongCallError:
        told = " ".join(str(error).split()).rstrip(".")
        return WrongCallError(f"{self.file.name} cannot be read as {form_of(self.file)[1:]}: {told}.")
