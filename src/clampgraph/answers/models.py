"""The shapes that several answers share."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Answer", "CautionOut", "Request", "Value"]


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
