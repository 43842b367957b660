"""Columns: frozen dataclasses whose fields are arrays of one length, a row a block or a hole; their rows taken and put together.

A field may hold columns itself, such as those that only arcs have; it is None where no row has them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Ints = NDArray[np.int64]
Codes = NDArray[np.uint8]
"""A small whole number a row, such as the kind of a motion."""
Bools = NDArray[np.bool_]

Columns = TypeVar("Columns")
Item = TypeVar("Item")


def changed(columns: Columns, change: Callable[[Any], Any]) -> Columns:
    """The same columns, each array changed in the same way, also in columns within them; what is no array stays as it is, None too."""
    values = (getattr(columns, name) for name in columns.__dataclass_fields__)  # type: ignore[attr-defined]
    return type(columns)(
        *(change(value) if isinstance(value, np.ndarray) else changed(value, change) if is_dataclass(value) else value for value in values)
    )


def or_zero(values: Floats) -> Floats:
    """The same with 0 where a number is not known (NaN)."""
    return np.where(np.isnan(values), 0.0, values)


def distinct(numbers: NDArray[np.integer[Any]]) -> Ints:
    """The whole numbers, at least 0, that there are, each once and in order; numpy's `unique` would load the masked arrays first."""
    return np.flatnonzero(np.bincount(numbers))


def run_around(numbers: Ints, number: int, gap: int = 1) -> tuple[int, int]:
    """Of rising numbers the first and the last of those around one of them that follow each other by no more than `gap`."""
    begins = np.flatnonzero(np.diff(numbers, prepend=numbers[0] - gap - 1) > gap)
    run = int(np.searchsorted(numbers[begins], number, side="right"))
    return int(numbers[begins[run - 1]]), int(numbers[begins[run] - 1 if run < len(begins) else -1])


def take(columns: Columns, rows: Any) -> Columns:
    """The rows of an index, a mask or a slice (which shares memory)."""
    return changed(columns, lambda array: array[rows])


def join(parts: Sequence[Columns]) -> Columns:
    """All rows of some columns, one after another, copied. What is no array is that of the first, and an array has to be there in all.

    Where columns within them are there in some parts only, their rows in the others are NaN, or 0 in whole numbers.
    """
    if len(parts) == 1:
        return parts[0]
    new: dict[str, Any] = {}
    for field in fields(parts[0]):  # type: ignore[arg-type]
        values = [getattr(part, field.name) for part in parts]
        if isinstance(values[0], np.ndarray) or any(isinstance(value, np.ndarray) for value in values):
            new[field.name] = np.concatenate(values)
        elif (within := next((value for value in values if is_dataclass(value)), None)) is not None:
            lengths = map(len, parts)  # type: ignore[arg-type]
            values = [_blank(within, n) if value is None else value for value, n in zip(values, lengths, strict=True)]
            new[field.name] = join(values)
    return replace(parts[0], **new)  # type: ignore[type-var]


def _blank(columns: Columns, rows: int) -> Columns:
    return changed(columns, lambda array: np.full((rows, *array.shape[1:]), np.nan if array.dtype.kind in "fc" else 0, array.dtype))


def gathered(items: Iterable[Item], rows: Callable[[Item], int], most_rows: int, most_items: int) -> Iterator[list[Item]]:
    """Items in their order, put together to lists of no more rows, and no more items, than given; one of more rows stands alone."""
    waiting: list[Item] = []
    total = 0
    for item in items:
        if waiting and (total + rows(item) > most_rows or len(waiting) == most_items):
            yield waiting
            waiting, total = [], 0
        waiting.append(item)
        total += rows(item)
    if waiting:
        yield waiting
