"""Long lists in pages: `?limit=` and an opaque `?after=`, with the next page named in a `Link` header (RFC 8288)."""

import base64
import binascii
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar
from urllib.parse import urlencode

from fastapi import Depends, Query, Request, Response

from clampgraph.errors import WrongCallError

__all__ = ["LONGEST", "USUAL", "Page", "PageQuery", "cursor", "linked", "page"]

T = TypeVar("T")

USUAL, LONGEST = 500, 1000
"""Entries of a page unless asked otherwise, and at most."""


@dataclass(frozen=True, slots=True)
class Page:
    """Which part of a list is asked for."""

    limit: int = USUAL
    after: str | None = None


def _page(
    limit: Annotated[int, Query(ge=1, le=LONGEST, description="Entries on a page.")] = USUAL,
    after: Annotated[
        str | None, Query(description="Where the page starts: as the link to the next page says; opaque.")
    ] = None,
) -> Page:
    return Page(limit, after)


PageQuery = Annotated[Page, Depends(_page)]


def cursor(key: Sequence[Any]) -> str:
    """Return the opaque text for the place right after an entry."""
    told = json.dumps(list(key), ensure_ascii=True, separators=(",", ":"))
    return base64.urlsafe_b64encode(told.encode()).decode().rstrip("=")


def _key(text: str) -> list[Any] | None:
    try:
        found = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    except (binascii.Error, ValueError, RecursionError):
        return None
    return found if isinstance(found, list) else None


def page(items: Sequence[T], key: Callable[[T], Sequence[Any]], asked: Page) -> tuple[Sequence[T], str | None]:
    """Cut one page out of a list.

    Parameters
    ----------
    items
        The whole list.
    key
        What tells an entry from all others, as plain data.
    asked
        Which page.

    Returns
    -------
    tuple
        The entries, and the cursor of the next page; None on the last one.

    Raises
    ------
    WrongCallError
        If the cursor names no entry of this list.
    """
    start = 0
    if asked.after is not None:
        last = _key(asked.after)
        place = None if last is None else next((n for n, item in enumerate(items, 1) if list(key(item)) == last), None)
        if place is None:
            raise WrongCallError(
                f"The place '{asked.after[:80]}' is not in this list: take 'after' from the link to the next page, "
                "or leave it out to start anew."
            )
        start = place
    found = items[start : start + asked.limit]
    return found, cursor(key(found[-1])) if start + len(found) < len(items) and found else None


def linked(response: Response, request: Request, after: str | None) -> Response:
    """Name the next page in the header of a response, relative to its own address."""
    if after is not None:
        query = [(k, v) for k, v in request.query_params.multi_items() if k != "after"]
        response.headers["link"] = f'<?{urlencode([*query, ("after", after)])}>; rel="next"'
    return response
