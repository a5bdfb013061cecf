"""Create the tables of cases and of exposures."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision: str = "0001"
down_revision: str | None = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Create both tables, empty."""
    op.create_table(
        "cases",
        sa.Column("id", NUMBER, primary_key=True, autoincrement=True),
        sa.Column("key_digest", sa.String(64), nullable=False, unique=True),
        sa.Column("content_digest", sa.String(64), nullable=False),
        sa.Column("recorded", sa.String(32), nullable=False),
        sa.Column("assembly", sa.Text, nullable=False),
        sa.Column("generation", sa.Text, nullable=False),
        sa.Column("findings", sa.Text, nullable=False),
        sa.Column("found", sa.Text, nullable=False),
        sa.Column("replaced", sa.Text, nullable=False),
        sa.Column("minutes", sa.Float),
        sa.Column("note", sa.Text),
        sa.Column("author", sa.Text),
        sa.Column("corrects", NUMBER, sa.ForeignKey("cases.id"), unique=True),
        sqlite_autoincrement=True,
    )
    op.create_index("cases_by_assembly", "cases", ["assembly", "id"])
    op.create_index("cases_by_author", "cases", ["author", "id"])
    op.create_table(
        "exposures",
        sa.Column("id", NUMBER, primary_key=True, autoincrement=True),
        sa.Column("recorded", sa.String(32), nullable=False),
        sa.Column("assembly", sa.Text, nullable=False),
        sa.Column("years", sa.Float, nullable=False),
        sa.Column("after", NUMBER, nullable=False),
        sqlite_autoincrement=True,
    )
