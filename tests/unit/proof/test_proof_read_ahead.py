"""Reading ahead changes nothing but the time."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest

from steadyrest.errors import ProgramError
from steadyrest.proof.beside import ahead
from steadyrest.reading import EventRead


def events(count: int, broken: bool = False) -> Iterator[Any]:
    for line in range(count):
        yield EventRead(line, "comment")
    if broken:
        raise ProgramError("a broken line")


def threads() -> int:
    return sum(thread.name == "reading back" for thread in threading.enumerate())


def test_items_come_in_their_order() -> None:
    assert list(range(100)) == [item.line for item in ahead(events(100))]  # type: ignore[union-attr]
    assert 0 == threads()


def test_an_error_comes_where_its_item_would_have_come() -> None:
    items, seen = ahead(events(7, broken=True)), []
    for _ in range(7):
        seen.append(next(items).line)  # type: ignore[union-attr]
    with pytest.raises(ProgramError, match="a broken line"):
        next(items)
    assert list(range(7)) == seen


def test_closing_it_early_ends_the_thread() -> None:
    items = ahead(events(1000))
    next(items)
    items.close()  # type: ignore[attr-defined]
    assert 0 == threads()
