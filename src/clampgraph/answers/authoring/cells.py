"""One cell in both directions: text from a spreadsheet into a term, and a term into text that reads back the same.

Decimal comma: `34,50` is taken as 34.50, because it can mean nothing else; `1,234` is refused, because it can.
"""

import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import date

from clampgraph.answers.authoring.columns import Column
from clampgraph.answers.authoring.names import CellError, Names
from clampgraph.errors import QuantityError
from clampgraph.graph.statements import PREFIXES, Amount, Iri, Term, Text, expand, told
from clampgraph.units import find_unit, from_qudt, to_qudt

__all__ = ["CLASSES", "read_cell", "read_number", "write_cell"]

_XSD = PREFIXES["xsd"]
_WORD = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_AMOUNT = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([^\d\s].*)", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"(?:@([A-Za-z]+(?:-[A-Za-z0-9]+)*)|\^\^(\S+))?', re.DOTALL)
_ESCAPE = {"\\n": "\n", "\\r": "\r", "\\t": "\t", '\\"': '"', "\\\\": "\\"}

CLASSES = {"": "Item", "item": "Item", "kit": "Kit", "group": "Group", "exchange-unit": "ExchangeUnit"}
"""What a part is sold as, and its class."""


def read_cell(column: Column, text: str, scope: str, names: Names) -> Term:
    """Return the term that one entry of a cell stands for.

    Parameters
    ----------
    column
        Says what the cell may hold.
    text
        Not empty.
    scope
        Identifier of the row's assembly, for names that belong to one.
    names
        What can be referred to.

    Raises
    ------
    CellError
        If the entry cannot be taken.
    """
    if (reader := _READERS.get(column.kind)) is not None:
        return reader(text)
    if column.kind == "amount":
        return Amount(read_number(text), PREFIXES["unit"] + column.unit.removeprefix("unit:"))
    if column.kind == "choice":
        if text not in column.choices:
            raise CellError(f"'{text}' is none of {', '.join(column.choices)}")
        return Iri(PREFIXES["cg"] + CLASSES[text]) if column.predicate == "rdf:type" else Text(text)
    return Iri(names.find(column.kind, text, scope))


def write_cell(column: Column, term: Term, scope: str, names: Names) -> str | None:
    """Return the text that reads back as the term; None if this column cannot hold it."""
    if isinstance(term, Iri):
        by_class = {PREFIXES["cg"] + name: word for word, name in CLASSES.items()}
        text = by_class.get(term.text) if column.predicate == "rdf:type" else names.spell(column.kind, term.text, scope)
    elif isinstance(term, Amount):
        text = term.number.text if column.kind == "amount" else _amount_text(term)
    else:
        text = term.text
    if column.kind in ("node", "term"):
        text = told(term)
    try:
        same = text is not None and text == text.strip() and read_cell(column, text, scope, names) == term
    except CellError:
        return None
    return text if same else None


def read_number(text: str) -> Text:
    """Read a number as it is written: a whole number or a decimal one.

    Raises
    ------
    CellError
        If it is no number, or a comma in it could be either sign.

    Examples
    --------
    >>> read_number("34,50").text
    '34.50'
    """
    plain = text
    if re.fullmatch(r"[+-]?\d+,\d+", text, re.ASCII):
        if len(text.partition(",")[2]) == 3:
            raise CellError(f"'{text}' may mean thousands or a decimal; write {text.replace(',', '')} or a point")
        plain = text.replace(",", ".")
    if not _NUMBER.fullmatch(plain):
        raise CellError(f"'{text}' is not a number; write digits with a decimal point and nothing else")
    if plain.endswith("."):
        plain += "0"
    return Text(plain, _XSD + ("decimal" if "." in plain else "integer"))


def _label(text: str) -> Term:
    return Text(text, "", "en")


def _word(text: str) -> Term:
    if not _WORD.fullmatch(text):
        raise CellError(f"'{text}' must be lower case, its words joined by hyphens, such as main-valve")
    return Text(text)


def _whole(text: str) -> Term:
    if not re.fullmatch(r"\d+", text, re.ASCII):
        raise CellError(f"'{text}' is not a whole number from 0 up")
    return Text(text, _XSD + "integer")


def _date(text: str) -> Term:
    with suppress(ValueError):
        if _DAY.fullmatch(text):
            return Text(date.fromisoformat(text).isoformat(), _XSD + "date")
    raise CellError(f"'{text}' is not a date; write it as 2014-07-01")


def _value(text: str) -> Term:
    """Read a word, or a number with a unit that is known."""
    if (match := _AMOUNT.fullmatch(text)) is not None:
        try:
            unit = to_qudt(find_unit(match[2]).symbol)
        except QuantityError:
            return Text(text)
        return Amount(read_number(match[1]), PREFIXES["unit"] + unit.removeprefix("unit:"))
    return Text(text)


def _amount_text(amount: Amount) -> str | None:
    try:
        return f"{amount.number.text} {from_qudt(amount.unit)}"
    except QuantityError:
        return None


def _node(text: str) -> Iri:
    if (iri := expand(text, PREFIXES)) is None:
        raise CellError(f"'{text}' is no prefixed name such as k:rod and no <IRI>")
    return Iri(iri)


def _term(text: str) -> Term:
    """Read a term as Turtle writes it; an amount as its number and its unit."""
    if (match := _QUOTED.fullmatch(text)) is not None:
        inner = re.sub(r'\\[nrt"\\]', lambda found: _ESCAPE[found[0]], match[1])
        if match[2]:
            return Text(inner, "", match[2])
        return Text(inner, _node(match[3]).text) if match[3] else Text(inner)
    if text in ("true", "false"):
        return Text(text, _XSD + "boolean")
    number, _, unit = text.partition(" ")
    if re.fullmatch(r"[+-]?(\d+|\d*\.\d+)([eE][+-]?\d+)?", number, re.ASCII):
        kind = "double" if "e" in number.lower() else "decimal" if "." in number else "integer"
        read = Text(number, _XSD + kind)
        return Amount(read, _node(unit.strip()).text) if unit else read
    return _node(text)


_READERS: Mapping[str, Callable[[str], Term]] = {
    "date": _date, "label": _label, "node": _node, "number": read_number, "term": _term, "text": Text,
    "value": _value, "whole": _whole, "word": _word,
}  # fmt: skip
