"""What the pages look like on a screen and on paper: the sheet of the tables, and what a book adds to it."""

from clampgraph.tables.formats.webpage import STYLE

__all__ = ["PRINT", "SHEET"]

SHEET = (
    STYLE
    + """\
main { max-width: 100%; }
main > :is(p, ul, ol, h1), section > :is(p, ul, ol, h2) { max-width: 44rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: .6rem 0 1rem; overflow-wrap: break-word; }
h2 { font-size: 1.2rem; margin: 1.8rem 0 .6rem; }
.skip { position: absolute; left: -999rem; }
.skip:focus { left: .5rem; top: .5rem; background: #fff; padding: .4rem .6rem; outline: 3px solid #2a63b8; }
nav.way { display: flex; flex-wrap: wrap; gap: .3rem 1.2rem; border-bottom: 1px solid var(--line);
  padding-bottom: .5rem; }
nav.way a, nav.contents a, .plain a { color: #1d4f91; }
nav.contents ol { list-style: none; padding-left: 0; margin: .2rem 0 1rem; }
nav.contents ol.parts > li { font-weight: 600; margin-top: .7rem; }
nav.contents ol ol { columns: 18rem; font-weight: 400; }
nav.contents li { margin: 0; padding: .15rem 0; break-inside: avoid; }
footer { margin-top: 2.5rem; border-top: 1px solid var(--line); padding-top: .5rem; font-size: .87rem;
  color: var(--faint); }
.warning { border: 2px solid var(--ink); border-left-width: .6rem; padding: .5rem .8rem; font-weight: 600; }
ol.cautions { border: 2px solid var(--ink); border-left-width: .6rem; padding: .7rem 1rem .7rem 2.4rem;
  max-width: 44rem; }
ol.cautions li { margin: .35rem 0; }
.source { color: var(--faint); font-weight: 400; }
.source::before { content: "["; } .source::after { content: "]"; }
main > section.table caption .title { position: absolute; left: -999rem; }
table.plain { margin-bottom: 0; }
table.plain caption { font-weight: 600; }
table.plain td { min-width: 5rem; }
table.plain td ul { padding: 0; }
figure { margin: 0 0 1.8rem; }
figcaption { font-size: .9rem; color: var(--faint); margin-top: .3rem; }
.drawing svg { display: block; max-width: 100%; height: auto; }
.drawing.wide svg { max-width: none; }
.drawing .scroll { border-bottom: 0; }
.scroll + .scroll, .scroll + p, .about { margin-top: 1rem; }
"""
)

PRINT = """\
@page { size: A4; margin: 18mm 15mm 20mm; @bottom-right { content: counter(page); font: 8pt sans-serif; }
  @bottom-left { content: string(edition); font: 7pt sans-serif; color: #62676c; width: 90%; }
  @top-right { content: string(title); font: 8pt sans-serif; color: #62676c; } }
@page across { size: A4 landscape; margin: 15mm 12mm 16mm; }
@page cover { @bottom-left { content: none; } @bottom-right { content: none; } @top-right { content: none; } }
body { padding: 0; font-size: 9pt; }
article { break-before: page; }
article.cover { page: cover; break-before: avoid; }
article.across { page: across; }
article.cover h1 { font-size: 26pt; margin-top: 40mm; }
article h1 { string-set: title content(); bookmark-level: 2; font-size: 16pt; }
article h2 { bookmark-level: 3; font-size: 11.5pt; break-after: avoid; }
article.cover h1, article.contents h1 { bookmark-level: 1; }
p.part { font-size: 8pt; color: #62676c; margin: 0; }
p.part.first { bookmark-level: 1; }
.edition-stamp { string-set: edition content(); }
nav.contents ol ol { columns: auto; }
nav.contents ol { margin: 0; }
nav.contents ol.parts > li { margin-top: 5pt; }
nav.contents li { margin: .5pt 0; }
nav.contents a { color: inherit; text-decoration: none; }
nav.contents a::after { content: leader(".") target-counter(attr(href url), page); }
.scroll { overflow: visible; }
figure { break-inside: avoid; }
figcaption, .about { font-size: 7.5pt; }
.drawing svg, .drawing.wide svg { max-width: 100%; max-height: 205mm; }
article.across .drawing svg { max-height: 132mm; }
td li { display: inline; }
td li + li::before { content: "; "; }
td.notes { font-size: 6.5pt; }
table.plain, table.plain td { font-size: 8pt; }
main > section.table caption .title, article > section.table caption .title { position: static; display: none; }
thead .unit { white-space: normal; }
table, table.dense, table.wide { min-width: 0; width: 100%; }
"""
