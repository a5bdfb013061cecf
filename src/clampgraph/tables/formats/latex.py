r"""LaTeX: a document with one longtable across landscape A4; its head repeats on every page.

The widths of the columns follow the length of what they hold.
What no page can hold is refused: a table of more columns than fit side by side.
"""

from collections.abc import Iterator

from clampgraph.errors import WrongCallError
from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.grid import NOTES, Grid, Line, grid_of

__all__ = ["write"]

_MOST_COLUMNS = 17
_SIZES = ((8, "footnotesize"), (12, "scriptsize"), (_MOST_COLUMNS, "tiny"))
_SPECIAL = {
    "\\": r"\textbackslash{}", "&": r"\&", "%": r"\%", "$": r"\$", "#": r"\#", "_": r"\_", "{": r"\{", "}": r"\}",
    "~": r"\textasciitilde{}", "^": r"\textasciicircum{}", "<": r"\textless{}", ">": r"\textgreater{}",
    "|": r"\textbar{}", '"': r"\textquotedbl{}", "→": r"$\to$", "≤": r"$\le$", "≥": r"$\ge$", "µ": r"\textmu{}",
    "°": r"\textdegree{}", "×": r"$\times$", "–": "--",  # noqa: RUF001  # signs that the data may hold
    "[": "{[}", "]": "{]}",
}  # fmt: skip


def write(table: Table) -> bytes:
    """Write a table as a LaTeX document in UTF-8.

    Raises
    ------
    WrongCallError
        If the table has more columns than fit across a page.
    """
    grid = grid_of(table)
    if len(grid.columns) > _MOST_COLUMNS:
        raise WrongCallError(
            f"LaTeX cannot hold {table.name} with {len(grid.columns)} columns: more than {_MOST_COLUMNS} do not fit "
            "across a page of A4; ask for its compact form if it has one, or for html, xlsx, csv, json or dita."
        )
    return "\n".join(_lines(grid)).encode() + b"\n"


def _lines(grid: Grid) -> Iterator[str]:
    table = grid.table
    count = len(grid.columns)
    yield r"\documentclass[a4paper,landscape]{article}"
    yield r"\usepackage[utf8]{inputenc}"
    yield r"\usepackage[T1]{fontenc}"
    yield r"\usepackage{lmodern,textcomp,array,longtable}"
    yield r"\usepackage[margin=12mm]{geometry}"
    yield r"\setlength{\tabcolsep}{2pt}\setlength{\LTleft}{0pt}\setlength{\LTright}{0pt}"
    yield r"\setlength{\parindent}{0pt}\renewcommand{\arraystretch}{1.2}\hbadness=10000\hfuzz=2pt"
    yield r"\newcommand{\cell}{\raggedright\arraybackslash\hspace{0pt}}"
    yield r"\begin{document}"
    yield rf"\{next(size for most, size in _SIZES if count <= most)}"
    yield "% " + "; ".join(table.edition)
    yield rf"\begin{{longtable}}{{{''.join(_columns(grid))}}}"
    yield rf"\caption{{{_safe(table.caption)}. {_safe(table.question)}}}\\"
    head = " & ".join(rf"\textbf{{{_safe(column.heading)}}}" for column in grid.columns)
    yield rf"\hline {head} \\ \hline\endfirsthead"
    yield rf"\hline {head} \\ \hline\endhead"
    yield r"\hline\endfoot"
    for line in grid.lines:
        yield rf"{' & '.join(_cells(grid, line))} \\"
    yield r"\end{longtable}"
    yield from _notes(grid)
    yield r"\end{document}"


def _columns(grid: Grid) -> Iterator[str]:
    """Share the page among the columns: by the root of the longest text, at least by the longest word."""
    texts = [[column.heading] for column in grid.columns]
    for line in grid.lines:
        for at, cell in enumerate(line.cells):
            texts[at] += cell if isinstance(cell, tuple) else (grid.columns[at].text(cell),)
    weights = [max(2.0 * max(len(t) for t in found) ** 0.5, *(_word(t) for t in found)) for found in texts]
    room = 0.985 - 0.0026 * len(weights) * 2
    for weight in weights:
        yield rf">{{\cell}}p{{{room * weight / sum(weights):.4f}\linewidth}}"


def _word(text: str) -> int:
    return max((len(word) for word in text.replace("-", " ").split()), default=1)


def _cells(grid: Grid, line: Line) -> Iterator[str]:
    for column, cell in zip(grid.columns, line.cells, strict=True):
        yield ", ".join(str(number) for number in line.notes) if column is NOTES else _text(column, cell)


def _text(column: Column, cell: Cell) -> str:
    if isinstance(cell, tuple) and cell:
        return r"\newline ".join(_safe(text) for text in cell)
    return _safe(column.text(cell))


def _notes(grid: Grid) -> Iterator[str]:
    for caveat in grid.table.caveats:
        yield rf"{_safe(caveat)}\par"
    for number, text in grid.notes:
        yield rf"\textsuperscript{{{number}}}~{_safe(text)}\par"
    if grid.table.edition:
        yield rf"Edition: {_safe('; '.join(grid.table.edition))}.\par"


def _safe(text: str) -> str:
    return "".join(_SPECIAL.get(sign, sign) for sign in " ".join(text.split()))
