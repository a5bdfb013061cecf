"""The job sheet: one printable page from the answer of a swap, as HTML or Markdown.

Cautions come first, then parts and tools with boxes to tick, the steps, and the verification with blanks.
"""

from collections.abc import Iterable
from html import escape

from clampgraph.answers.models import Value
from clampgraph.answers.replacing.replacements import LineOut, SwapAnswer, VerificationOut
from clampgraph.errors import WrongCallError

__all__ = ["FORMS", "job_sheet"]

FORMS = ("html", "md")

_STYLE = """
@page { size: A4; margin: 9mm 11mm; }
* { box-sizing: border-box; }
body { font: 13px/1.35 "Helvetica Neue", Arial, "Liberation Sans", sans-serif; color: #111; background: #fff;
  max-width: 60rem; margin: 1.2rem auto; padding: 0 1rem; }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 2px solid #111; }
h1 { font-size: 1.45em; margin: 0 0 .2em; }
h2 { font-size: 1em; margin: .9em 0 .25em; text-transform: uppercase; letter-spacing: .06em; }
p { margin: .2em 0; }
.cautions { border: 2px solid #111; border-left-width: 10px; padding: .35em .8em .45em; margin: .7em 0; }
.cautions h2 { margin-top: 0; }
.cautions ol { margin: 0; padding-left: 1.5em; columns: 2; column-gap: 2em; }
table { width: 100%; border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .14em .5em .14em 0; border-bottom: 1px solid #ccc; }
th { font-weight: 600; border-bottom-color: #111; }
td:first-child { white-space: nowrap; }
td.n, th.n { text-align: right; white-space: nowrap; }
.box { display: inline-block; width: .85em; height: .85em; border: 1px solid #111; margin-right: .5em;
  vertical-align: -.08em; }
.blank { display: inline-block; min-width: 6em; border-bottom: 1px solid #111; }
.why { color: #444; }
.steps { columns: 2; column-gap: 2em; list-style: none; padding: 0; margin: 0; }
.steps li { break-inside: avoid; display: flex; gap: .4em; padding: .1em 0; border-bottom: 1px solid #e4e4e4; }
.steps .t { flex: 1; }
.mark { font-weight: 700; white-space: nowrap; }
footer { margin-top: 1em; display: flex; gap: 3em; }
li, tr { break-inside: avoid; }
h2 { break-after: avoid; }
@media (max-width: 40rem) { .steps, .cautions ol { columns: 1; } }
@media print {
  body { font-size: 7.8pt; line-height: 1.18; max-width: none; margin: 0; padding: 0; }
  h2 { margin-top: .6em; }
  .cautions { margin: .4em 0; }
}
"""


def job_sheet(answer: SwapAnswer, form: str) -> str:
    """Write the job sheet of a swap.

    Parameters
    ----------
    answer
        What a swap answered.
    form
        html or md.

    Raises
    ------
    WrongCallError
        If there is no such form.
    """
    if form not in FORMS:
        raise WrongCallError(f"A job sheet is written as {' or '.join(FORMS)}, not as '{form}'.")
    return _html(answer) if form == "html" else _markdown(answer)


def _numbers(answer: SwapAnswer) -> dict[str, int]:
    return {caution.id: n for n, caution in enumerate(answer.cautions, 1)}


def _title(answer: SwapAnswer) -> str:
    return f"Job sheet: {', '.join(answer.positions)}"


def _amount(value: Value | None) -> str:
    if value is None:
        return ""
    return f"{value.value:g}" if value.unit == "1" else f"{value.value:g} {value.unit}"


def _limits(reading: VerificationOut) -> str:
    low, high = _amount(reading.minimum), _amount(reading.maximum)
    if low and high and reading.minimum is not None and reading.maximum is not None:
        return f"{reading.minimum.value:g} to {high}"
    return f"at least {low}" if low else f"at most {high}" if high else "good"


def _blank(reading: VerificationOut) -> str:
    unit = (reading.minimum or reading.maximum or Value(value=0.0, unit="1")).unit
    return "" if unit == "1" else unit


def _part(line: LineOut) -> str:
    return f"{line.item} {line.label}" if line.item else line.label


def _reason(line: LineOut) -> str:
    return line.reasons[0].text if line.reasons else ""


def _renewed(answer: SwapAnswer) -> list[LineOut]:
    return [line for line in answer.lines if line.level != "inspect"]


def _looked_at(answer: SwapAnswer) -> list[LineOut]:
    return [line for line in answer.lines if line.level == "inspect"]


def _bill(answer: SwapAnswer) -> str:
    order = answer.order
    return (
        f"Parts {order.parts.value:.2f} {order.parts.unit}, labour {order.labour_minutes:g} min at "
        f"{_amount(order.labour_rate)} = {order.labour.value:.2f} {order.labour.unit}, "
        f"total {order.total.value:.2f} {order.total.unit}"
    )


def _html(answer: SwapAnswer) -> str:
    marks = _numbers(answer)
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(_title(answer))} - {escape(answer.assembly)}</title><style>{_STYLE}</style></head><body>",
        f"<header><h1>{escape(_title(answer))}</h1><p>{escape(answer.label)}, {escape(answer.generation)}</p></header>",
        '<section class="cautions"><h2>Cautions</h2><ol>',
        *(f"<li>{escape(c.text)}</li>" for c in answer.cautions),
        "</ol></section>",
        *(f"<p><strong>Note.</strong> {escape(note.text)}</p>" for note in answer.notes),
        *_html_parts(answer),
        f"<h2>Tools</h2><p>{''.join(_box(t) for t in answer.tools)}</p>",
        '<h2>Steps</h2><ol class="steps">',
    ]
    for step in answer.steps:
        mark = "".join(f"&#9888;{marks[c]} " for c in step.cautions if c in marks)
        parts.append(
            f'<li><span><i class="box"></i>{step.step}</span><span class="t">{escape(step.text)}</span>'
            f'<span class="mark">{mark}</span><span>{escape(_minutes(step.time))}</span></li>'
        )
    parts += ["</ol>", *_html_verification(answer), _SIGNED, "</body></html>"]
    return "\n".join(parts) + "\n"


_SIGNED = (
    '<footer><span>Machine <i class="blank"></i></span><span>Date <i class="blank"></i></span>'
    '<span>Name <i class="blank"></i></span></footer>'
)


def _minutes(time: Value) -> str:
    return _amount(time) if time.value else ""


def _box(text: str) -> str:
    return f'<span style="white-space:nowrap;margin-right:1.4em"><i class="box"></i>{escape(text)}</span> '


def _html_parts(answer: SwapAnswer) -> Iterable[str]:
    yield "<h2>Renew</h2><table><tr><th>Position</th><th>Part</th><th class='n'>Pieces</th><th>Why</th></tr>"
    for line in _renewed(answer):
        number = f"<strong>{escape(line.item)}</strong> " if line.item else ""
        yield (
            f'<tr><td><i class="box"></i>{escape(line.position or "")}</td><td>{number}{escape(line.label)}</td>'
            f'<td class="n">{line.quantity}</td><td class="why">{escape(line.level)}: {escape(_reason(line))}</td></tr>'
        )
    yield "</table>"
    looked = ", ".join(line.position or "" for line in _looked_at(answer))
    if looked:
        yield f"<p><strong>Look at</strong> {escape(looked)} while they are open.</p>"
    bought = "".join(_box(f"{n.quantity} x {n.mpn}, {n.label} ({n.kind})") for n in answer.order.lines)
    stock = "".join(_box(f"{n} x {mpn} from stock") for mpn, n in answer.order.from_stock.items())
    yield f"<h2>Order</h2><p>{bought}{stock}</p>"
    yield from (f"<p><strong>Missing.</strong> {escape(u.text)}</p>" for u in answer.order.unmet)
    yield f"<p>{escape(_bill(answer))}</p>"


def _html_verification(answer: SwapAnswer) -> Iterable[str]:
    yield (
        "<h2>Verify before the spindle turns</h2><table>"
        "<tr><th>Reading</th><th>Accept</th><th>By</th><th>Read</th><th>Good</th></tr>"
    )
    for reading in answer.verification:
        yield (
            f"<tr><td>{escape(reading.label)}</td><td>{escape(_limits(reading))}</td>"
            f'<td class="why">{escape(reading.acceptance)}</td>'
            f'<td><i class="blank"></i> {escape(_blank(reading))}</td><td><i class="box"></i></td></tr>'
        )
    yield "</table>"


def _markdown(answer: SwapAnswer) -> str:
    marks = _numbers(answer)
    rows = [
        f"# {_title(answer)}", "", f"{answer.label}, {answer.generation}", "",
        "## Cautions", "", *(f"{n}. {c.text}" for n, c in enumerate(answer.cautions, 1)), "",
        *(f"Note: {note.text}\n" for note in answer.notes),
        "## Renew", "", "| | Position | Part | Pieces | Why |", "|---|---|---|---:|---|",
        *(
            f"| ☐ | {line.position or ''} | {_cell(_part(line))} | {line.quantity} "
            f"| {line.level}: {_cell(_reason(line))} |"
            for line in _renewed(answer)
        ),
        "",
        *(f"- [ ] look at {line.position}: {_reason(line)}" for line in _looked_at(answer)),
        "", "## Order", "",
        *(f"- [ ] {n.quantity} x {n.mpn}, {n.label} ({n.kind})" for n in answer.order.lines),
        *(f"- [ ] {n} x {mpn} from stock" for mpn, n in answer.order.from_stock.items()),
        *(f"- missing: {u.text}" for u in answer.order.unmet),
        "", _bill(answer), "", "## Tools", "", *(f"- [ ] {t}" for t in answer.tools),
        "", "## Steps", "",
    ]  # fmt: skip
    for step in answer.steps:
        careful = ", ".join(str(marks[c]) for c in step.cautions if c in marks)
        time = f" ({_minutes(step.time)})" if step.time.value else ""
        rows.append(f"{step.step}. ☐ {step.text}{time}{f' - caution {careful}' if careful else ''}")
    rows += [
        "", "## Verify before the spindle turns", "",
        "| Reading | Accept | By | Read | Good |", "|---|---|---|---|---|",
        *(
            f"| {v.label} | {_limits(v)} | {_cell(v.acceptance)} | ________ {_blank(v)} | ☐ |"
            for v in answer.verification
        ),
        "", "Machine ____________  Date ____________  Name ____________",
    ]  # fmt: skip
    return "\n".join(rows) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
