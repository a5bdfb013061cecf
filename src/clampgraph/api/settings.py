"""What the service is told at its start: options of `clampgraph serve` first, then ``CLAMPGRAPH_*``, then defaults."""

import ipaddress
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from clampgraph.errors import WrongCallError

__all__ = ["EMBEDDED", "Settings", "read_settings"]

PREFIX = "CLAMPGRAPH_"
RATE_ELSEWHERE = 600
"""Requests a minute that one caller may send where the service listens beyond this machine (common practice)."""


def _listed(value: object) -> object:
    """Split a text at commas; a list stays as it is."""
    return tuple(part.strip() for part in value.split(",") if part.strip()) if isinstance(value, str) else value


def _folders(value: object) -> object:
    """Split a text as search paths are split; a list stays as it is."""
    return tuple(part for part in value.split(os.pathsep) if part) if isinstance(value, str) else value


Names = Annotated[tuple[str, ...], BeforeValidator(_listed)]
Paths = Annotated[tuple[Path, ...], BeforeValidator(_folders)]


class Settings(BaseModel):
    """Everything that can be set, with its unit and its bounds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    host: str = Field("127.0.0.1", min_length=1, description="Address to listen on.")
    port: int = Field(8350, ge=0, le=65535, description="Port; 0 takes a free one.")
    workers: int = Field(1, ge=1, le=64, description="Processes that answer.")
    threads: int = Field(2, ge=1, le=64, description="Questions that one process works on at a time.")
    queries: int = Field(2, ge=1, le=32, description="SPARQL queries that one process works on at a time.")

    data: Paths = Field((), description="Further packs: files and folders.")
    uploads: Path | None = Field(None, description="Folder that keeps uploaded packs; without it none are taken.")
    store: str | None = Field(None, description="Folder or address of a graph store; without it, memory.")
    cases: str | None = Field(None, description="File or address of the case store.")

    tokens: Path | None = Field(None, description="File of hashed tokens.")
    hosts: Names = Field((), description="Further names under which the service is reached; * for any.")
    cors: Names = Field((), description="Origins of web pages that may ask; * for any.")
    log: Literal["auto", "json", "plain", "off"] = Field("auto", description="Form of the log; plain on a terminal.")

    body_limit: int = Field(8 << 20, ge=1024, description="Size of a request body [byte].")
    upload_limit: int = Field(16 << 20, ge=1024, description="Size of an uploaded pack [byte].")
    depth_limit: int = Field(32, ge=2, le=500, description="Nesting of JSON.")
    header_limit: int = Field(16 << 10, ge=1024, le=64 << 10, description="Size of all headers [byte].")
    query_limit: int = Field(16 << 10, ge=256, le=64 << 10, description="Length of path and query [byte].")
    rate: int | None = Field(None, ge=0, description="Requests a minute from one caller; 0 for any number.")
    guesses: int = Field(120, ge=0, description="Wrong tokens a minute from one address; 0 for any number.")
    connections: int = Field(4096, ge=1, description="Open connections of one process.")
    time_limit: float = Field(30.0, gt=0, le=3600, description="Time that one answer may take [s].")
    patience: float = Field(10.0, gt=0, le=600, description="Time for a client to send or take what is due [s].")
    cache: int = Field(128 << 20, ge=0, description="Finished answers kept in memory [byte].")
    drain: float = Field(0.0, ge=0, le=600, description="Time from not ready to not listening at a stop [s].")
    grace: float = Field(30.0, ge=0, le=3600, description="Time for running requests at a stop [s].")

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach the service."""
        try:
            return self.host == "localhost" or ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False

    @property
    def rate_per_minute(self) -> int:
        """Requests a minute from one caller; 0 for any number."""
        return (0 if self.loopback else RATE_ELSEWHERE) if self.rate is None else self.rate

    @model_validator(mode="after")
    def _safe(self) -> Self:
        if not self.loopback and self.tokens is None:
            raise ValueError(
                f"listening on {self.host} lets others in: make a token with 'clampgraph token' and name its file "
                "with --tokens, or listen on 127.0.0.1"
            )
        if "*" in self.cors and self.tokens is None:
            raise ValueError("cors * lets every web page ask: name the origins, or name a file with --tokens")
        return self


EMBEDDED = Settings.model_validate({"log": "off", "hosts": "*", "guesses": 0})
"""For an application that is run by other hands: they log, know under which names it is reached, and who asks."""


def read_settings(given: Mapping[str, Any] | None = None, environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings: what is given first (None counts as not given), then the environment.

    Raises
    ------
    WrongCallError
        If a value is out of its bounds or of the wrong kind, or what is asked for is not safe; names where it stands.
    """
    environment = os.environ if environment is None else environment
    chosen = {name: value for name, value in (given or {}).items() if value not in (None, [], ())}
    told = {name: environment[PREFIX + name.upper()] for name in Settings.model_fields if _said(environment, name)}
    try:
        return Settings.model_validate({**told, **chosen})
    except ValidationError as error:
        raise WrongCallError(_sentence(error, chosen)) from error


def _said(environment: Mapping[str, str], name: str) -> bool:
    return environment.get(PREFIX + name.upper(), "") != ""


def _sentence(error: ValidationError, chosen: Mapping[str, Any]) -> str:
    first = error.errors(include_url=False)[0]
    message = str(first["msg"]).removeprefix("Value error, ").rstrip(".")
    if not first["loc"]:
        return f"{message[:1].upper()}{message[1:]}."
    name = str(first["loc"][0])
    place = f"--{name.replace('_', '-')}" if name in chosen else PREFIX + name.upper()
    return f"{place} is '{first['input']}', which is wrong: {message[:1].lower()}{message[1:]}."
