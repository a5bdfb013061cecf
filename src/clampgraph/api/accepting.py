"""Content negotiation (RFC 9110, 12.5.1): the form that a caller likes best, of those that are offered."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from fastapi import HTTPException, Request

__all__ = ["accepted", "best"]

_Q = re.compile(r";\s*q\s*=\s*(0(?:\.\d{0,3})?|1(?:\.0{0,3})?)\s*(?=;|$)", re.ASCII | re.IGNORECASE)
_RANGE = re.compile(r"\s*([!#$%&'*+.^_`|~\w-]+)/([!#$%&'*+.^_`|~\w-]+)\s*(?:;.*)?", re.ASCII | re.DOTALL)
_PARTS = re.compile(r'(?:[^,"]|"(?:[^"\\]|\\.)*"?)+', re.DOTALL)


class _Range(NamedTuple):
    kind: str
    subtype: str
    weight: float
    place: int

    def match(self, media: str) -> int:
        """Return how exactly this names a media type: 3 in full, 2 its kind, 1 anything; 0 not at all."""
        kind, _, subtype = media.partition("/")
        if self.kind == "*":
            return 1 if self.subtype == "*" else 0
        if self.kind != kind:
            return 0
        return 2 if self.subtype == "*" else 3 * (self.subtype == subtype)


def _ranges(header: str) -> Iterator[_Range]:
    """List the media ranges of a header; what is none is passed over, as if it were not there."""
    for place, part in enumerate(_PARTS.findall(header)):
        found = _RANGE.fullmatch(part)
        if found is not None:
            weight = _Q.search(part)
            yield _Range(found[1].lower(), found[2].lower(), float(weight[1]) if weight else 1.0, place)


def best(header: str, offered: Iterable[str]) -> str | None:
    """Choose the media type that a caller wants most.

    Parameters
    ----------
    header
        An ``Accept`` header.
    offered
        Media types in the order of the server's own liking.

    Returns
    -------
    str or None
        The one of highest weight, which the most exact range decides; among equals the one that is named most
        exactly, then first by the caller, then first by the server. None if the caller wants none of them.

    Examples
    --------
    >>> best("text/csv;q=0.5, text/*;q=0.9, application/json;q=0.9", ["text/csv", "text/html", "application/json"])
    'application/json'
    """
    ranges = list(_ranges(header))
    found: list[tuple[float, int, int, int, str]] = []
    for turn, media in enumerate(offered):
        exactness, place, weight = max(
            ((r.match(media), -r.place, r.weight) for r in ranges), default=(0, 0, 0.0), key=lambda m: m[:2]
        )
        if exactness and weight > 0.0:
            found.append((weight, exactness, place, -turn, media))
    return max(found)[-1] if found else None


def accepted(request: Request, offered: Mapping[str, str], default: str) -> str:
    """Return the short name of the media type that a caller wants most; the default if no wish is told.

    Parameters
    ----------
    request
        Its ``Accept`` header tells the wish.
    offered
        Short name by media type, in the order of the server's own liking.
    default
        The short name where ``Accept`` is absent or takes anything.

    Raises
    ------
    HTTPException
        406 if the caller wants none of them.
    """
    header = ",".join(request.headers.getlist("accept"))
    if not header.strip():
        return default
    # The default goes first, so that */* finds it.
    order = sorted(offered, key=lambda media: offered[media] != default)
    media = best(header, order)
    if media is None:
        raise HTTPException(406, f"Nothing here is of the type '{header}'; accept one of {', '.join(offered)}.")
    return offered[media]
