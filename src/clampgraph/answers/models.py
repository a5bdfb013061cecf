"""The shapes that several answers share."""

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from clampgraph.errors import WrongCallError

__all__ = ["Answer", "CautionOut", "Day", "Request", "Value", "parse", "sentence"]


def _written_as_day(told: object) -> object:
    """Refuse numbers: they would count seconds from 1970, which nobody means by a date."""
    if isinstance(told, date) or (isinstance(told, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", told, re.ASCII)):
        return told
    raise ValueError("a day is written year-month-day, such as 2012-05-01")


Day = Annotated[date, BeforeValidator(_written_as_day)]
"""A day, as ISO 8601 writes it."""


class Request(BaseModel):
    """A question; an unknown field is an error, so that a typing error is not taken for silence."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Answer(BaseModel):
    """An answer; frozen, and described field by field."""

    model_config = ConfigDict(frozen=True)

    def body(self) -> dict[str, Any]:
        """Return the answer as plain data, as HTTP sends it and `--json` prints it."""
        return self.model_dump(mode="json")


class Value(Answer):
    """A quantity with its unit."""

    value: float
    unit: str = Field(description="Unit as written in trade, for example bar, mm, kN, min.")


class CautionOut(Answer):
    """A warning that applies here."""

    id: str
    text: str
    source: str


R = TypeVar("R", bound=Request)


def parse(model: type[R], data: Mapping[str, Any]) -> R:
    """Read a request from plain data.

    Raises
    ------
    WrongCallError
        If a field is missing, unknown or of the wrong kind; one sentence names the first of them.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise WrongCallError(sentence(error.errors(include_url=False))) from error


def sentence(errors: Iterable[Mapping[str, Any]]) -> str:
    """Tell the first of several field errors in one sentence."""
    found = list(errors)
    first = found[0]
    where = [str(part) for part in first["loc"]]
    place = ".".join(where[1:] if where and where[0] in ("body", "query", "path") else where)
    message = str(first["msg"]).removeprefix("Value error, ").rstrip(".")
    if first.get("type") == "json_invalid":
        place, message = "", f"it is no JSON, from character {first['loc'][-1]} on"
    message = message[:1].lower() + message[1:]
    rest = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return f"The field '{place}' is wrong: {message}{rest}." if place else f"The question is wrong: {message}{rest}."
