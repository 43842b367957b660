"""Columns: frozen dataclasses whose fields are arrays of one length, a row a block or a hole; their rows taken and put together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
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


def take(columns: Columns, rows: Any) -> Columns:
    """The rows of an index, a mask or a slice (which shares memory); whatever is no array stays as it is, None too."""
    arrays = {field.name: getattr(columns, field.name) for field in fields(columns)}  # type: ignore[arg-type]
    return replace(columns, **{name: array[rows] for name, array in arrays.items() if isinstance(array, np.ndarray)})  # type: ignore[type-var]


def join(parts: Sequence[Columns]) -> Columns:
    """All rows of some columns, one after another, copied. What is no array is that of the first, and a column has to be there in all."""
    if len(parts) == 1:
        return parts[0]
    first = parts[0]
    names = [field.name for field in fields(first) if isinstance(getattr(first, field.name), np.ndarray)]  # type: ignore[arg-type]
    return replace(first, **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})  # type: ignore[type-var]
