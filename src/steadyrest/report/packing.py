"""How do columns of numbers get into a page? Quantised, deflated, and as base64; the page unpacks them into typed arrays.

Deflate (RFC 1951 in the wrapper of RFC 1950) is what the browsers' own DecompressionStream("deflate") reads; base64 is RFC 4648.
"""

from __future__ import annotations

import base64
import zlib
from math import ceil, log10
from typing import Any

import numpy as np
from numpy.typing import NDArray

LEVEL = 6


class Pack:
    """Arrays added one by one, then `head` (plain data about each) and `body` (base64)."""

    def __init__(self) -> None:
        self._bytes: list[bytes] = []
        self._length = 0
        self._arrays: dict[str, dict[str, Any]] = {}

    def add(self, name: str, array: NDArray[np.generic], *, step: float = 1.0, rising: bool = False) -> None:
        """An array as it is, little-endian; the page takes each number times `step`.

        rising   hold the differences from number to number, which pack better; whole numbers only, and they may wrap round
        """
        raw = np.ascontiguousarray(array).astype(array.dtype.newbyteorder("<")).ravel()
        form = raw.dtype.str.lstrip("<|")
        if rising:
            raw = np.concatenate([raw[:1], raw[1:] - raw[:-1]]).astype(raw.dtype)
        self._arrays[name] = {"form": form, "at": self._length, "count": raw.size, "step": step, "rising": rising}
        data = raw.tobytes()
        data += b"\0" * (-len(data) % 8)
        self._bytes.append(data)
        self._length += len(data)

    def add_counts(self, name: str, values: NDArray[np.float64], step: float) -> None:
        """Numbers as 32-bit counts of a step, which is made coarser by tens where they would not fit."""
        largest = float(np.abs(values).max(initial=0.0))
        if largest > step * 2e9:
            step *= 10.0 ** ceil(log10(largest / (step * 2e9)))
        self.add(name, np.rint(values / step).astype(np.int32), step=step, rising=True)

    def add_speeds(self, name: str, values: NDArray[np.float64]) -> None:
        """Numbers as 32-bit floats; NaN stays NaN."""
        self.add(name, values.astype(np.float32))

    def add_text(self, name: str, text: bytes) -> None:
        """Bytes."""
        self.add(name, np.frombuffer(text, dtype=np.uint8))

    @property
    def head(self) -> dict[str, Any]:
        """Form, place and step of each array, and the length of all."""
        return {"arrays": self._arrays, "length": self._length}

    def body(self) -> str:
        """All of it, deflated, as base64."""
        return deflated(b"".join(self._bytes))


def deflated(data: bytes) -> str:
    """Deflated, then base64."""
    return base64.b64encode(zlib.compress(data, LEVEL)).decode("ascii")
