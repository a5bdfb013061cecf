"""HTML: a page that a screen reader, a phone and a printer can all use, without scripts.

`fragment` gives the table alone, for pages that hold several; `STYLE` is the sheet that goes with it.
"""

from collections.abc import Iterator
from html import escape

from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.grid import CHANGE, NOTES, Grid, Line, grid_of

__all__ = ["STYLE", "fragment", "write"]

_SOME_COLUMNS, _MANY_COLUMNS = 10, 16
"""Beyond these the letters are smaller, and the headings of numbers stand upright, so that a matrix stays narrow."""

STYLE = """\
:root { --ink: #1b1d1f; --faint: #62676c; --line: #c6cace; --band: #f4f5f6; --added: #1c6b3a; --removed: #8d2626;
  --changed: #7a5200; color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; padding: 1.5rem clamp(.75rem, 3vw, 2.5rem); color: var(--ink); background: #fff;
  font: 15px/1.45 "Source Sans 3", "Noto Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif; }
section.table { margin: 0 0 2.5rem; }
.scroll { overflow-x: auto; border-bottom: 2px solid var(--ink); }
.scroll:focus-visible { outline: 3px solid #2a63b8; outline-offset: 2px; }
table { border-collapse: collapse; min-width: 100%; }
caption { text-align: left; padding: 0 0 .7rem; }
caption span { display: block; position: sticky; left: 0; width: max-content; max-width: calc(100vw - 2.5rem); }
caption .title { font-size: 1.35rem; font-weight: 600; line-height: 1.25; }
caption .question { color: var(--faint); }
th, td { padding: .38rem .6rem; text-align: left; vertical-align: top; border-bottom: 1px solid var(--line);
  overflow-wrap: break-word; }
thead th { border-top: 2px solid var(--ink); border-bottom: 1px solid var(--ink); font-weight: 600;
  vertical-align: bottom; background: #fff; }
thead .unit { font-weight: 400; color: var(--faint); white-space: nowrap; }
tbody tr { background: #fff; }
tbody th { font-weight: 600; position: sticky; left: 0; background: inherit; }
tbody tr:nth-child(even) { background: var(--band); }
tbody tr:last-child > * { border-bottom: 0; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
td.long { min-width: 12rem; }
td.middling { min-width: 8rem; }
td ul { margin: 0; padding: 0; list-style: none; }
td li + li { margin-top: .15rem; }
td.notes { font-size: .85em; white-space: nowrap; }
td.nothing { color: var(--faint); }
a { color: inherit; text-decoration-thickness: 1px; text-underline-offset: 2px; }
table.dense, table.wide { font-size: .85rem; line-height: 1.35; }
table.dense :is(th, td), table.wide :is(th, td) { padding: .28rem .42rem; }
table.dense td.long { min-width: 10rem; }
table.dense td.middling { min-width: 6rem; }
table.wide thead th.number { white-space: normal; }
table.wide thead th.number > span { display: inline-block; writing-mode: vertical-rl; transform: rotate(180deg);
  max-height: 11rem; line-height: 1.15; }
tr[data-change] > :first-child { border-left: 4px solid var(--changed); color: var(--changed); font-weight: 600; }
tr[data-change="added"] > :first-child { border-left-color: var(--added); color: var(--added); }
tr[data-change="removed"] > :first-child { border-left: 4px dashed var(--removed); color: var(--removed); }
tr[data-change="removed"] td, tr[data-change="removed"] th { text-decoration: line-through; }
tr[data-change="removed"] > :first-child { text-decoration: none; }
.about { font-size: .87rem; color: var(--faint); max-width: 60rem; }
.about ol, .about ul { margin: .4rem 0; padding-left: 1.4rem; }
.about summary { cursor: pointer; color: var(--ink); }
.about dt { font-weight: 600; color: var(--ink); }
.about dd { margin: 0 0 .3rem 1rem; }
@media (max-width: 40rem) {
  body { padding: .75rem; font-size: 13px; }
  th, td { padding: .3rem .4rem; }
}
@media print {
  @page { size: A4 landscape; margin: 12mm; }
  body { padding: 0; font-size: 8pt; }
  .scroll { overflow: visible; }
  table, table.dense, table.wide { font-size: 7pt; }
  th, td, table.dense :is(th, td), table.wide :is(th, td) { padding: 1.2pt 2.4pt; }
  tbody th { position: static; }
  td.long, td.middling, table.dense :is(td.long, td.middling) { min-width: 0; }
  thead { display: table-header-group; }
  tr { break-inside: avoid; }
  tbody tr:nth-child(even) { background: none; }
  details { display: none; }
}
"""


def write(table: Table) -> bytes:
    """Write a table as a page of its own in UTF-8."""
    return "\n".join(_page(table)).encode() + b"\n"


def fragment(table: Table) -> str:
    """Write a table as one section, to be put into a page that carries `STYLE`."""
    return "\n".join(_section(grid_of(table)))


def _page(table: Table) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield '<html lang="en">'
    yield "<head>"
    yield '<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f'<meta name="version" content="{escape("; ".join(table.edition))}">'
    yield f"<title>{escape(table.caption)}</title>"
    yield f"<style>\n{STYLE}</style>"
    yield "</head>"
    yield "<body>"
    yield "<main>"
    yield fragment(table)
    yield "</main>"
    yield "</body>"
    yield "</html>"


def _section(grid: Grid) -> Iterator[str]:
    table = grid.table
    count = len(grid.columns)
    dense = ' class="wide"' if count > _MANY_COLUMNS else ' class="dense"' if count > _SOME_COLUMNS else ""
    yield f'<section class="table" id="{table.name}">'
    yield f'<div class="scroll" role="region" tabindex="0" aria-labelledby="{table.name}-title">'
    yield f"<table{dense}>"
    yield (
        f'<caption><span class="title" id="{table.name}-title">{escape(table.caption)}</span> '
        f'<span class="question">{escape(table.question)}</span></caption>'
    )
    yield "<thead>"
    yield f"<tr>{''.join(_heading(column) for column in grid.columns)}</tr>"
    yield "</thead>"
    yield "<tbody>"
    sizes = _sizes(grid)
    for line in grid.lines:
        change = f' data-change="{line.row.change}"' if line.row.change else ""
        yield f"<tr{change}>{''.join(_cells(grid, line, sizes))}</tr>"
    yield "</tbody>"
    yield "</table>"
    yield "</div>"
    yield from _about(grid)
    yield "</section>"


def _heading(column: Column) -> str:
    unit = f' <span class="unit">[{escape(column.unit)}]</span>' if column.unit else ""
    kind = ' class="number"' if column.kind in ("number", "integer") else ""
    return f'<th scope="col"{kind} title="{escape(column.description)}"><span>{escape(column.title)}{unit}</span></th>'


def _sizes(grid: Grid) -> list[str]:
    """Say for each column whether its texts need room, so that long ones are not squeezed into a pillar."""
    longest = [0] * len(grid.columns)
    for line in grid.lines:
        for at, cell in enumerate(line.cells):
            parts = cell if isinstance(cell, tuple) else (grid.columns[at].text(cell),)
            longest[at] = max(longest[at], *(len(part) for part in parts), 0)
    return ["long" if size > 45 else "middling" if size > 22 else "" for size in longest]


def _cells(grid: Grid, line: Line, sizes: list[str]) -> Iterator[str]:
    header = _row_header(grid)
    for at, (column, cell) in enumerate(zip(grid.columns, line.cells, strict=True)):
        if column is NOTES:
            links = ", ".join(f'<a href="#{grid.table.name}-note-{n}">{n}</a>' for n in line.notes)
            yield f'<td class="notes">{links}</td>'
        elif at == header:
            yield f'<th scope="row">{_text(column, cell)}</th>'
        else:
            yield f"<td{_class(column, cell, sizes[at])}>{_text(column, cell)}</td>"


def _row_header(grid: Grid) -> int:
    """Return the column that names a row best: the last of its keys."""
    keys = [at for at, column in enumerate(grid.columns) if column.key]
    return keys[-1] if keys else next(at for at, column in enumerate(grid.columns) if column is not CHANGE)


def _class(column: Column, cell: Cell, size: str) -> str:
    if cell is None or cell == ():
        return ' class="number nothing"' if column.kind in ("number", "integer") else ' class="nothing"'
    if column.kind in ("number", "integer"):
        return ' class="number"'
    return f' class="{size}"' if size else ""


def _text(column: Column, cell: Cell) -> str:
    if isinstance(cell, tuple) and len(cell) > 1:
        return f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in cell)}</ul>"
    if isinstance(cell, float):
        return f'<data value="{cell!r}">{column.text(cell)}</data>'
    return escape(column.text(cell))


def _about(grid: Grid) -> Iterator[str]:
    table = grid.table
    yield '<div class="about">'
    if table.caveats:
        yield f"<ul>{''.join(f'<li>{escape(caveat)}</li>' for caveat in table.caveats)}</ul>"
    if grid.notes:
        items = "".join(f'<li id="{table.name}-note-{number}">{escape(text)}</li>' for number, text in grid.notes)
        yield f'<ol aria-label="Notes: sources">{items}</ol>'
    meanings = "".join(f"<dt>{escape(c.heading)}</dt><dd>{escape(c.description)}</dd>" for c in grid.columns)
    yield f"<details><summary>What the columns mean</summary><dl>{meanings}</dl></details>"
    if table.edition:
        yield f'<p class="edition">Edition: {escape("; ".join(table.edition))}.</p>'
    yield "</div>"
