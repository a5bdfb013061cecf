"""Independent readers: each gives the headings and the rows of texts or values that a file holds."""

import csv
import io
import json
import re

import openpyxl
from lxml import etree
from lxml import html as lxml_html

__all__ = ["READERS"]


def read_csv(content):
    """Read with the standard library, strictly."""
    assert content.endswith(b"\r\n")
    first, *rest = csv.reader(io.StringIO(content.decode(), newline=""), strict=True)
    return first, rest


def read_xlsx(content):
    """Read with openpyxl; a missing value is an empty text."""
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]
    first, *rest = sheet.iter_rows(values_only=True)
    return list(first), [["" if cell is None else cell for cell in row] for row in rest]


def read_html(content):
    """Read with lxml; lists come as their items."""
    page = lxml_html.document_fromstring(content.decode())
    (table,) = page.iter("table")
    first = [th.text_content() for th in table.find("thead").iter("th")]
    return first, [[_items(cell) for cell in row] for row in table.find("tbody").iter("tr")]


def _items(cell):
    items = [li.text_content() for li in cell.iter("li")]
    return "; ".join(items) if items else cell.text_content()


def read_md(content):
    """Read a pipe table by the rules of GitHub-flavoured Markdown: escapes, breaks, footnotes."""
    lines = [line for line in content.decode().split("\n") if line.startswith("| ")]
    cells = [[_plain(cell) for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines]
    first, rule, *rest = cells
    assert all(re.fullmatch(r"---:?", cell) for cell in rule)
    return first, rest


def _plain(cell):
    text = re.sub(r"\[\^[\w-]+-(\d+)\]", r"\1; ", cell.strip()).removesuffix("; ")
    return re.sub(r"\\([\\`*_{}\[\]<>|~])", r"\1", text.replace("<br>", "; "))


def read_dita(content):
    """Read with lxml's XML parser."""
    topic = etree.fromstring(content)
    (group,) = topic.iter("tgroup")
    first, *rest = [
        ["; ".join(li.text for li in entry.iter("li")) or (entry.text or "") for entry in row]
        for row in group.iter("row")
    ]
    assert group.get("cols") == str(len(first)) == str(len(list(group.iter("colspec"))))
    return first, rest


def read_cals(content):
    """Read with lxml's XML parser: plain entries in one group, as the exchange model allows."""
    table = etree.fromstring(content)
    assert [child.tag for child in table] == ["title", "tgroup"]
    (group,) = table.iter("tgroup")
    assert all(not len(entry) for entry in group.iter("entry"))
    first, *rest = [[entry.text or "" for entry in row] for row in group.iter("row")]
    assert group.get("cols") == str(len(first)) == str(len(list(group.iter("colspec"))))
    return first, rest


def read_tex(content):
    """Read the body of a longtable, signs put back."""
    text = content.decode()
    assert text.count(r"\begin{longtable}") == text.count(r"\end{longtable}") == 1
    head = re.search(r"\\hline (.*) \\\\ \\hline\\endfirsthead", text).group(1)
    body = text.split("\\hline\\endfoot\n")[1].split("\\end{longtable}")[0]
    first = [_untex(re.fullmatch(r"\\textbf\{(.*)\}", cell).group(1)) for cell in _split(head)]
    return first, [[_untex(cell) for cell in _split(line)] for line in body.split(" \\\\\n") if line]


def _split(line):
    return [cell.strip() for cell in re.split(r"(?<!\\)&", line)]


def _untex(text):
    words = {
        r"\textbackslash{}": "\\", r"\textasciitilde{}": "~", r"\textasciicircum{}": "^", r"\textless{}": "<",
        r"\textgreater{}": ">", r"\textbar{}": "|", r"\textquotedbl{}": '"', r"$\to$": "→", r"$\le$": "≤",
        r"$\ge$": "≥", r"\textmu{}": "µ", r"\textdegree{}": "°", r"$\times$": "×", "--": "–", r"\newline ": "; ",  # noqa: RUF001 - signs as they stand in the data
        "{[}": "[", "{]}": "]",
    }  # fmt: skip
    for written, sign in words.items():
        text = text.replace(written, sign)
    return re.sub(r"\\([&%$#_{}])", r"\1", text)


def read_json(content):
    """Read with the standard library; rows in the order of the columns."""
    table = json.loads(content)
    first = [f"{c['title']} [{c['unit']}]" if c["unit"] else c["title"] for c in table["columns"]]
    rows = [[row[c["name"]] for c in table["columns"]] + [row["notes"]] for row in table["rows"]]
    return [*first, "Notes"] if table["notes"] else first, rows if table["notes"] else [row[:-1] for row in rows]


READERS = {
    "cals": read_cals,
    "csv": read_csv,
    "dita": read_dita,
    "html": read_html,
    "json": read_json,
    "md": read_md,
    "tex": read_tex,
    "xlsx": read_xlsx,
}
