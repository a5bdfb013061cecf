"""How a case store comes from any earlier version to this one, by Alembic."""
