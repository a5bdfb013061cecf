"""Calculations by trade: each module lists its own, in the order in which they are shown."""

__all__: list[str] = []
