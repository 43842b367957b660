"""What is left of the stock: along each of many lines, where material ends, and where there is none further in.

Chart `radii` (axis of rotation X or Y): the lines go from the axis of rotation outward. Line (i, j) stands at `first_mm[i]` along the
axis, measured from the toolpath's `centre`, and at the angle `second[j]`, radians from -pi to pi, right-hand about the axis' + direction,
0 at the part's +Z: the angle alpha of an indexed operation that would cut it from straight above.

Chart `heights` (axis Z, where the tool is parallel to the axis of rotation): the lines go upward from the stock's lower end. Line (i, j)
stands at x `first_mm[i]` and y `second[j]`, mm, in the part frame, measured from `centre`.

`outer_mm` is the outermost material on the line, 0 where there is none. A line that leaves the material and enters it again further
out, under a wall that leans over it, is an undercut: such voids are held as gaps below `outer_mm`, a few per line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath import RoundStock, Stock, Toolpath

ChartOfLines = Literal["radii", "heights"]
LAYERS = 4
"""Gaps held per line; what is too much for them is counted as not held."""


@dataclass(frozen=True, slots=True)
class Field:
    """n by m lines.

    first_mm    (n,) float64; step `first_step_mm`
    second      (m,) float64, radians (radii) or mm (heights); step `second_step`
    outer_mm    (n, m) float32
    gaps_mm     (n, m, LAYERS, 2) float32, from and to, in rising order
    gaps_held   (n, m) uint8, how many of them count
    base_mm     heights: where the lines begin, z in the part frame measured from `centre`; radii: 0
    """

    chart: ChartOfLines
    axis: str
    first_mm: Floats
    second: Floats
    first_step_mm: float
    second_step: float
    outer_mm: NDArray[np.float32]
    gaps_mm: NDArray[np.float32]
    gaps_held: NDArray[np.uint8]
    base_mm: float = 0.0

    @property
    def shape(self) -> tuple[int, int]:
        """How many lines, (n, m)."""
        return len(self.first_mm), len(self.second)

    @property
    def cell_mm(self) -> float:
        """The smaller of the two distances between neighbouring lines, at the outside."""
        across = self.second_step if self.chart == "heights" else self.second_step * max(float(self.outer_mm.max(initial=0.0)), 1e-3)
        return min(self.first_step_mm, across)

    def volume_mm3(self) -> float:
        """Volume of the material. Each line stands for its cell: r dr dalpha dx, or dz dx dy."""
        total = 0.0
        for rows in range(0, len(self.first_mm), 64):
            part = slice(rows, rows + 64)
            total += float(self._inside(self.outer_mm[part].astype(np.float64)).sum())
        held = self.gaps_held > 0
        if held.any():
            counts = np.arange(LAYERS) < self.gaps_held[held][:, None]
            gaps = np.where(counts[..., None], self.gaps_mm[held], 0.0).astype(np.float64)
            total -= float((self._inside(gaps[..., 1]) - self._inside(gaps[..., 0])).sum())
        return total * self.first_step_mm * self.second_step

    def rows(self, start: int = 0, stop: int | None = None) -> Field:
        """A copy of the lines from row `start` to before row `stop`."""
        part = slice(start, stop)
        arrays = {name: getattr(self, name)[part].copy() for name in ("first_mm", "outer_mm", "gaps_mm", "gaps_held")}
        return replace(self, **arrays)

    def _inside(self, to_mm: Floats) -> Floats:
        return 0.5 * to_mm * to_mm if self.chart == "radii" else to_mm


def mm_per_unit(toolpath: Toolpath) -> float:
    """Millimetres in the unit of length of a toolpath."""
    return MM_PER_INCH if toolpath.units == "inch" else 1.0


def stock_field(toolpath: Toolpath, along: int | None = None, around: int | None = None) -> Field:
    """The stock before the first cut.

    along, around  number of lines along the axis and around it (axis Z: over x and over y); by default as many as give cells of
                   0.1 mm along and 0.05 mm around, at most 1024 and 2048 (axis Z: 0.1 mm, at most 1024 each)
    raises         ToolpathError when the toolpath has no stock; ValueError for fewer than 2 lines
    """
    stock = toolpath.stock
    if stock is None:
        raise ToolpathError(
            "no stock is given, so there is nothing to cut",
            place=Place(file=toolpath.file, key="stock"),
            cure="add 'stock' to the toolpath",
        )
    if (along is not None and along < 2) or (around is not None and around < 2):
        raise ValueError("a field needs at least 2 lines along and around")
    scale = mm_per_unit(toolpath)
    begin, end = (scale * value for value in stock.along(toolpath.axis))
    if toolpath.axis == "Z":
        return _heights(stock, scale, begin, end, along, around)
    swept = stock.swept_radius(toolpath.axis) * scale
    n = along or int(np.clip(ceil((end - begin) / 0.1), 64, 1024))
    m = around or int(np.clip(ceil(2 * pi * swept / 0.05), 256, 2048))
    step, turn = (end - begin) / n, 2 * pi / m
    angle = _middles(-pi, turn, m)
    low, high = (
        _round_line(stock, toolpath.axis, scale, angle)
        if isinstance(stock, RoundStock)
        else _block_line(stock, toolpath.axis, scale, angle)
    )
    outer = np.tile(np.where(high > low, high, 0.0).astype(np.float32), (n, 1))
    gaps, held = _no_gaps((n, m))
    off_axis = (high > low) & (low > 0)
    held[:, off_axis] = 1
    gaps[:, off_axis, 0, 1] = low[off_axis]
    return Field("radii", toolpath.axis, _middles(begin, step, n), angle, step, turn, outer, gaps, held)


def _middles(begin: float, step: float, count: int) -> Floats:
    return np.asarray(begin + (np.arange(count) + 0.5) * step, dtype=np.float64)


def _no_gaps(shape: tuple[int, int]) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    return np.zeros((*shape, LAYERS, 2), dtype=np.float32), np.zeros(shape, dtype=np.uint8)


def height_and_side(axis: str, first: float, second: float) -> tuple[float, float]:
    """Offsets across the axis in the order y, z (X) or x, z (Y) to height along Z and side, so that the angle is atan2(side, height)."""
    return (second, -first) if axis == "X" else (second, first)


def _round_line(stock: Stock, axis: str, scale: float, angle: Floats) -> tuple[Floats, Floats]:
    assert isinstance(stock, RoundStock)
    height, side = height_and_side(axis, *(scale * value for value in stock.offset_across(axis)))
    nearest = height * np.cos(angle) + side * np.sin(angle)
    inside = (stock.diameter * scale / 2) ** 2 - (height**2 + side**2 - nearest**2)
    half = np.sqrt(np.maximum(inside, 0.0))
    return np.maximum(nearest - half, 0.0), np.where(inside > 0, nearest + half, 0.0)


def _block_line(stock: Stock, axis: str, scale: float, angle: Floats) -> tuple[Floats, Floats]:
    assert not isinstance(stock, RoundStock)
    height, side = height_and_side(axis, *(scale * value for value in stock.offset_across(axis)))
    wide, high = (scale * value / 2 for value in stock.across)
    low, to = np.zeros_like(angle), np.full_like(angle, np.inf)
    for middle, half, slope in ((height, high, np.cos(angle)), (side, wide, np.sin(angle))):
        slope = np.where(np.abs(slope) < 1e-12, 1e-12, slope)
        one, other = (middle - half) / slope, (middle + half) / slope
        low, to = np.maximum(low, np.minimum(one, other)), np.minimum(to, np.maximum(one, other))
    return low, to


def _heights(stock: Stock, scale: float, begin: float, end: float, along: int | None, around: int | None) -> Field:
    first, second = (scale * value for value in stock.offset_across("Z"))
    sizes = (stock.diameter, stock.diameter) if isinstance(stock, RoundStock) else stock.across
    wide, deep = (scale * size for size in sizes)
    n = along or int(np.clip(ceil(wide / 0.1), 64, 1024))
    m = around or int(np.clip(ceil(deep / 0.1), 64, 1024))
    x = _middles(first - wide / 2, wide / n, n)
    y = _middles(second - deep / 2, deep / m, m)
    outer = np.full((n, m), end - begin, dtype=np.float32)
    if isinstance(stock, RoundStock):
        outer[(x[:, None] - first) ** 2 + (y[None, :] - second) ** 2 > (wide / 2) ** 2] = 0.0
    return Field("heights", "Z", x, y, wide / n, deep / m, outer, *_no_gaps((n, m)), base_mm=begin)
