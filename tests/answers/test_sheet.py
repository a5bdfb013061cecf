"""The job sheet holds everything the answer holds, cautions first, and no text breaks its form."""

from html.parser import HTMLParser

import pytest

from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.sheet import FORMS, job_sheet
from clampgraph.answers.replacing.swap import swap
from clampgraph.errors import WrongCallError

VOID = {"meta", "br"}


@pytest.fixture(scope="module")
def answer(library):
    return swap(
        library, SwapRequest(assembly="brannoch-40t", positions=("rod",), generation="gen-1", with_mpn="BR-4012-2")
    )


class Balance(HTMLParser):
    """Reads HTML, keeps its text, and notes tags that close what is not open."""

    def __init__(self):
        super().__init__()
        self.open, self.faults, self.text = [], [], []

    def handle_starttag(self, tag, attrs):  # noqa: ARG002 - the parser calls it so
        """Note what opens."""
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Match what closes."""
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        """Keep the text."""
        self.text.append(data)


@pytest.mark.parametrize("form", FORMS)
def test_cautions_come_first(answer, form):
    """The first caution stands before parts, steps and verification."""
    sheet = job_sheet(answer, form)
    places = [
        sheet.index(text)
        for text in (
            answer.cautions[0].text[:30],
            "Renew<" if form == "html" else "## Renew",
            "Steps",
            "Verify before the spindle turns",
        )
    ]
    assert places == sorted(places)


@pytest.mark.parametrize("form", FORMS)
def test_nothing_is_left_out(answer, form):
    """Every part, tool, step and reading of the answer stands on the sheet, with boxes and blanks."""
    sheet = job_sheet(answer, form)
    for text in [
        *(line.item for line in answer.lines if line.item and line.level != "inspect"), *answer.tools,
        *(s.text for s in answer.steps), *(v.label for v in answer.verification), *(n.mpn for n in answer.order.lines),
    ]:  # fmt: skip
        assert text in sheet
    assert sheet.count('class="box"' if form == "html" else "☐") >= len(answer.steps) + len(answer.verification)
    assert "8 to 11 kN" in sheet


def test_html_is_balanced_and_escaped(answer):
    """Markup in a text stays text."""
    nasty = answer.model_copy(update={"label": "<b>&"})
    reader = Balance()
    reader.feed(job_sheet(nasty, "html"))
    assert (reader.open, reader.faults) == ([], [])
    assert "<b>&" in "".join(reader.text)


def test_markdown_tables_are_whole(answer):
    """Every row of a table has as many cells as its head."""
    rows = [row for row in job_sheet(answer, "md").splitlines() if row.startswith("|")]
    assert {row.count("|") for row in rows} == {6}


def test_another_form_is_refused(answer):
    """The sentence names the forms there are."""
    with pytest.raises(WrongCallError, match="written as html or md, not as 'pdf'"):
        job_sheet(answer, "pdf")
