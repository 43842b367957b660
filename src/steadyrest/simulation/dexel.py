"""What is left of the stock where tools stand at any tilt: three bundles of parallel lines, along X, Y and Z of the part frame.

On each line stands where material begins and ends (dexels): exact along the line, as fine as the lines lie apart across it. A surface that
one bundle sees edge on is met squarely by another. All lengths in mm, all coordinates measured from the toolpath's `centre`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats
from steadyrest.conventions import AXES
from steadyrest.errors import Place, ToolpathError
from steadyrest.simulation.dexel_kernel import Bundle
from steadyrest.simulation.field import Section, middles, mm_per_unit
from steadyrest.toolpath import Stock, Toolpath

CELL_MM, MOST_LINES = 0.2, 512
"""Apart so far, or farther where there would be more along an edge."""
ROOM = 2
"""Pieces of material that a line has room for at first; a carver makes more where they are needed."""


@dataclass(frozen=True, slots=True, eq=False)
class Billet:
    """The stock before the first cut, in the part frame.

    low, high    (3,) the box around it
    round_along  the axis of a round one, 0 to 2; None of a rectangular one
    """

    low: Floats
    high: Floats
    round_along: int | None

    @classmethod
    def of(cls, stock: Stock, axis: str, scale: float) -> Billet:
        """That of a toolpath; `scale` is mm per file unit."""
        section, along = Section.of(stock, axis, scale), AXES.index(axis)
        middle, half = np.zeros(3), np.zeros(3)
        begin, end = (scale * value for value in stock.along(axis))
        middle[along], half[along] = (begin + end) / 2, (end - begin) / 2
        # A section counts x and y about Z; about X height z and side -y, about Y height z and side x.
        real, imaginary, sign = {"X": (2, 1, -1), "Y": (2, 0, 1), "Z": (0, 1, 1)}[axis]
        middle[real], middle[imaginary] = section.middle.real, sign * section.middle.imag
        half[real], half[imaginary] = section.half.real, section.half.imag
        return cls(middle - half, middle + half, along if section.is_round else None)

    @property
    def middle(self) -> Floats:
        """(3,) the middle of it."""
        return np.asarray((self.low + self.high) / 2)

    def holds(self, points: Floats) -> Bools:
        """Whether points (n, 3) are inside."""
        inside = ((points > self.low) & (points < self.high)).all(axis=1)
        if self.round_along is not None:
            across = [(self.round_along + 1) % 3, (self.round_along + 2) % 3]
            off = points[:, across] - self.middle[across]
            inside &= np.hypot(off[:, 0], off[:, 1]) < (self.high - self.low)[across].min() / 2
        return np.asarray(inside)

    def piece(self, along: int, u: Floats, v: Floats) -> tuple[Floats, Floats]:
        """From where to where lines along an axis are inside, (n, m), at u (n,) and v (m,) of the two that follow it; low > high: never."""
        (at_u, at_v), round_along = ((along + 1) % 3, (along + 2) % 3), self.round_along
        aside_u, aside_v = np.broadcast_arrays((u - self.middle[at_u])[:, None], v - self.middle[at_v])
        half = np.where(
            (np.abs(aside_u) < (self.high - self.low)[at_u] / 2) & (np.abs(aside_v) < (self.high - self.low)[at_v] / 2),
            (self.high - self.low)[along] / 2,
            -1.0,
        )
        if round_along == along:
            half = np.where(np.hypot(aside_u, aside_v) < (self.high - self.low)[at_u] / 2, half, -1.0)
        elif round_along is not None:
            off = aside_v if round_along == at_u else aside_u
            half = np.where(half > 0, np.sqrt(np.maximum((self.high - self.low)[along] ** 2 / 4 - off**2, 0.0)), half)
        return self.middle[along] - half, self.middle[along] + half


@dataclass(frozen=True, slots=True, eq=False)
class Dexels:
    """The material.

    low, high   (3,) the box that the lines fill; they stand in the middle of equal cells
    bundles     the lines along X, along Y and along Z
    """

    low: Floats
    high: Floats
    bundles: tuple[Bundle, Bundle, Bundle]

    @property
    def cell_mm(self) -> float:
        """The largest distance between neighbouring lines."""
        return max(max(one.u_step, one.v_step) for one in self.bundles)

    def volumes_mm3(self) -> Floats:
        """(3,) volume of the material as each bundle says; each line stands for its cell."""
        return np.array([_length(one) * one.u_step * one.v_step for one in self.bundles])

    def volume_mm3(self) -> float:
        """Volume of the material: the mean of what the bundles say."""
        return float(self.volumes_mm3().mean())

    def copy(self) -> Dexels:
        """The same, to be cut apart from this one."""
        first, second, third = (one._replace(ends=one.ends.copy(), cut_by=one.cut_by.copy(), held=one.held.copy()) for one in self.bundles)
        return Dexels(self.low, self.high, (first, second, third))


def billet_of(toolpath: Toolpath) -> Billet:
    """The stock of a toolpath. Raises ToolpathError when it has none."""
    if toolpath.stock is None:
        wrong = "no stock is given, so there is nothing to cut"
        raise ToolpathError(wrong, place=Place(file=toolpath.file, key="stock"), cure="add 'stock' to the toolpath")
    return Billet.of(toolpath.stock, toolpath.axis, mm_per_unit(toolpath))


def stock_dexels(
    billet: Billet, cell_mm: float | None = None, within: tuple[Floats, Floats] | None = None, most_lines: int = MOST_LINES
) -> Dexels:
    """The stock before the first cut.

    cell_mm   how far the lines lie apart at most; by default 0.2 mm, or as far as gives `most_lines` along the longest edge
    within    (3,) and (3,): only what lies between these, a box that meets the stock
    """
    low, high = (billet.low, billet.high) if within is None else (np.maximum(billet.low, within[0]), np.minimum(billet.high, within[1]))
    size = high - low
    cell = cell_mm or max(CELL_MM, float(size.max()) / most_lines)
    counts = [max(ceil(one / cell - 1e-9), 1) for one in size]
    lines = [middles(float(low[at]), float(size[at] / counts[at]), counts[at]) for at in range(3)]

    def bundle(along: int) -> Bundle:
        at_u, at_v = (along + 1) % 3, (along + 2) % 3
        u, v = lines[at_u], lines[at_v]
        begin, end = billet.piece(along, u, v)
        begin, end = np.maximum(begin, low[along]), np.minimum(end, high[along])
        there = end > begin
        ends = np.zeros((len(u), len(v), ROOM, 2), dtype=np.float32)
        ends[there, 0, 0], ends[there, 0, 1] = begin[there], end[there]
        held: NDArray[np.int16] = there.astype(np.int16)
        return Bundle(u, v, float(size[at_u] / counts[at_u]), float(size[at_v] / counts[at_v]), ends, np.zeros(ends.shape, np.uint16), held)

    return Dexels(low, high, (bundle(0), bundle(1), bundle(2)))


def _length(bundle: Bundle) -> float:
    held = np.arange(bundle.ends.shape[2]) < bundle.held[..., None]
    lengths = bundle.ends[..., 1] - bundle.ends[..., 0]
    return float(lengths.sum(where=held, dtype=np.float64))
