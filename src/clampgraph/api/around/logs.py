"""The log: one line of JSON for each event, or a readable line on a terminal; never a body, never a token."""

import json
import logging
import sys
from typing import Any, Protocol

import structlog

__all__ = ["Handed", "Log", "log_to"]


class Log(Protocol):
    """What is logged with: an event and its values."""

    def info(self, event: str, **values: Any) -> Any:
        """Tell that something happened."""

    def warning(self, event: str, **values: Any) -> Any:
        """Tell that something is not as it should be."""

    def error(self, event: str, **values: Any) -> Any:
        """Tell that something failed."""


class _Silent:
    def info(self, event: str, **values: Any) -> None:
        """Say nothing."""

    warning = error = info


def log_to(form: str, stream: Any = None) -> Log:
    """Return a log of a form, ``auto``, ``json``, ``plain`` or ``off``, on standard error."""
    if form == "off":
        return _Silent()
    stream = stream or sys.stderr
    plain = form == "plain" or (form == "auto" and stream.isatty())
    steps: list[Any] = [
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    if plain:
        steps += [structlog.dev.ConsoleRenderer(colors=stream.isatty())]
    else:
        steps += [structlog.processors.format_exc_info, structlog.processors.JSONRenderer(_written)]
    log: Log = structlog.wrap_logger(structlog.WriteLogger(stream), processors=steps).bind()
    return log


_WRITER = json.JSONEncoder(ensure_ascii=False, default=repr)


def _written(event: Any, **_: Any) -> str:
    """Write an event with the one writer, which `json.dumps` would make anew for each."""
    return _WRITER.encode(event)


class Handed(logging.Handler):
    """Hand what a library logs through the standard module to our log."""

    def __init__(self, log: Log) -> None:
        super().__init__(logging.WARNING)
        self._log = log

    def emit(self, record: logging.LogRecord) -> None:
        """Write one line."""
        told = {"exc_info": record.exc_info} if record.exc_info else {}
        level = self._log.error if record.levelno >= logging.ERROR else self._log.warning
        level(record.getMessage(), logger=record.name, **told)
