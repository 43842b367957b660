"""How wide may the lines of a text be? As wide as its room makes them, or as narrow as the terminal of the command that prints it."""

from __future__ import annotations

NARROWEST = 40
"""Columns: nothing is folded narrower."""
_narrowed: list[int] = []


def fold_at(columns: int | None) -> None:
    """From now on lines are at most so wide, and never narrower than `NARROWEST`; None: as their rooms make them, as in files and pages."""
    _narrowed[:] = [] if columns is None else [max(columns, NARROWEST)]


def width(most: int) -> int:
    """How wide lines may be that are `most` wide where there is room."""
    return min(most, *_narrowed) if _narrowed else most
