"""The tables of a case store.

One row is one case: it is written whole or not at all.
Texts that hold JSON are canonical (keys sorted), so that equal content is equal text in every database.
"""

from sqlalchemy import BigInteger, Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

__all__ = ["CASES", "EXPOSURES", "HEAD", "METADATA"]

HEAD = "0001"
"""The newest migration; a store at it is ready."""

METADATA = MetaData()

# SQLite counts up by itself only in a column that is declared plain INTEGER.
NUMBER = BigInteger().with_variant(Integer(), "sqlite")

CASES = Table(
    "cases",
    METADATA,
    Column("id", NUMBER, primary_key=True, autoincrement=True),
    Column("key_digest", String(64), nullable=False, unique=True),
    Column("content_digest", String(64), nullable=False),
    Column("recorded", String(32), nullable=False),
    Column("assembly", Text, nullable=False),
    Column("generation", Text, nullable=False),
    Column("findings", Text, nullable=False),
    Column("found", Text, nullable=False),
    Column("replaced", Text, nullable=False),
    Column("minutes", Float),
    Column("note", Text),
    Column("author", Text),
    Column("corrects", NUMBER, ForeignKey("cases.id"), unique=True),
    Index("cases_by_assembly", "assembly", "id"),
    Index("cases_by_author", "author", "id"),
    sqlite_autoincrement=True,
)

EXPOSURES = Table(
    "exposures",
    METADATA,
    Column("id", NUMBER, primary_key=True, autoincrement=True),
    Column("recorded", String(32), nullable=False),
    Column("assembly", Text, nullable=False),
    Column("years", Float, nullable=False),
    Column("after", NUMBER, nullable=False),
    sqlite_autoincrement=True,
)
