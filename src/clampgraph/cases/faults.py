"""What a database says when it cannot, as one sentence that says what to do."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import SQLAlchemyError

from clampgraph.errors import StoreError

__all__ = ["telling_faults"]

SENTENCES = (
    (("disk is full", "no space left", "disk full"), "has no room left: free some space and try again"),
    (("disk i/o error",), "cannot be written to its disk: check the disk and its quota, then try again"),
    (("locked", "lock timeout"), "is held by another process: try again in a moment"),
    (("unable to open", "readonly", "read-only"), "cannot be opened for writing: check the path"),
    (("permission denied",), "may not be written by this user: grant it INSERT and UPDATE, or name another user"),
    (("not a database", "malformed"), "is a file of another kind: name a file of its own for the cases"),
    (("already exists",), "holds other tables under the same names: name a database of its own for the cases"),
    (("in encoding",), "cannot hold every letter: make its database with the encoding UTF8"),
    (("password", "authentication", "does not exist"), "does not let us in: check user, password and database name"),
)
"""What the drivers' messages contain, in lower case, and what it means."""

DOWN = "does not answer: check that it is running, then try again"


@contextmanager
def telling_faults(place: str) -> Iterator[None]:
    """Turn what a database reports into one sentence about a place.

    Raises
    ------
    StoreError
        Whenever the database cannot do what it was asked.
    """
    try:
        yield
    except SQLAlchemyError as error:
        # What the driver says, without the statement and its values: these hold what people wrote.
        said = str(getattr(error, "orig", None) or error).lower()
        told = next((sentence for marks, sentence in SENTENCES if any(mark in said for mark in marks)), DOWN)
        raise StoreError(f"The case store {place} {told}.") from error
