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

from dataclasses import dataclass
from math import ceil, pi
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Complexes, Floats
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import Place, ToolpathError
from steadyrest.simulation.kernel import LAYERS, between, common
from steadyrest.toolpath import RoundStock, Stock, Toolpath

ChartOfLines = Literal["radii", "heights"]


class Field(NamedTuple):
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
        outer = self.outer_mm
        total = 0.5 * np.einsum("ij,ij->", outer, outer, dtype=np.float64) if self.chart == "radii" else outer.sum(dtype=np.float64)
        held = self.gaps_held > 0
        if held.any():
            counts = np.arange(LAYERS) < self.gaps_held[held][:, None]
            gaps = np.where(counts[..., None], self.gaps_mm[held], 0.0).astype(np.float64)
            total -= float((self._inside(gaps[..., 1]) - self._inside(gaps[..., 0])).sum())
        return float(total) * self.first_step_mm * self.second_step

    def rows(self, start: int = 0, stop: int | None = None) -> Field:
        """A copy of the lines from row `start` to before row `stop`."""
        part = slice(start, stop)
        arrays = {name: getattr(self, name)[part].copy() for name in ("first_mm", "outer_mm", "gaps_mm", "gaps_held")}
        return self._replace(**arrays)

    def _inside(self, to_mm: Floats) -> Floats:
        return 0.5 * to_mm * to_mm if self.chart == "radii" else to_mm


def mm_per_unit(toolpath: Toolpath) -> float:
    """Millimetres in the unit of length of a toolpath."""
    return MM_PER_INCH if toolpath.units == "inch" else 1.0


@dataclass(frozen=True, slots=True)
class Section:
    """The stock across the axis of rotation, mm: places are complex numbers, counted from that axis, by height along the spindle and side,
    so that the angle of a line of radii is that of the number; with axis Z by x and y.

    half    half its height and half its side; of a round one the radius, twice
    """

    middle: complex
    half: complex
    is_round: bool

    @classmethod
    def of(cls, stock: Stock, axis: str, scale: float) -> Section:
        """That of a toolpath's stock; `scale` is mm per file unit."""
        first, second = (scale * value for value in stock.offset_across(axis))
        middle = complex(first, second) if axis == "Z" else complex(second, -first if axis == "X" else first)
        if isinstance(stock, RoundStock):
            return cls(middle, (1 + 1j) * stock.diameter * scale / 2, True)
        one, other = (scale * value / 2 for value in stock.across)
        return cls(middle, complex(one, other) if axis == "Z" else complex(other, one), False)

    def holds(self, places: Complexes) -> Bools:
        """Whether places are inside."""
        off = places - self.middle
        if self.is_round:
            return np.asarray(np.abs(off) < self.half.real)
        return np.asarray((np.abs(off.real) < self.half.real) & (np.abs(off.imag) < self.half.imag))

    def radii(self, angle: Floats) -> tuple[Floats, Floats]:
        """From where to where lines from the axis at these angles are inside; not from low to high where they miss it."""
        if self.is_round:
            nearest = (self.middle * np.exp(-1j * angle)).real
            inside = self.half.real**2 - abs(self.middle) ** 2 + nearest**2
            half = np.sqrt(np.maximum(inside, 0.0))
            return np.maximum(nearest - half, 0.0), np.where(inside > 0, nearest + half, 0.0)
        low, high = self.middle - self.half, self.middle + self.half
        return common(between(low.real, high.real, np.cos(angle)), between(low.imag, high.imag, np.sin(angle)))

    def heights(self, left: Floats, right: Floats, phi: Floats) -> tuple[Floats, Floats]:
        """The highest and the lowest of it between the sides left and right (k,), turned by phi; -inf, inf if none.

        A point of the part at height h and side s stands, the part turned by phi, at (h + i s) exp(i phi).
        """
        turn = np.exp(1j * phi)
        if self.is_round:
            middle = self.middle * turn
            inside = self.half.real**2 - (np.clip(middle.imag, left, right) - middle.imag) ** 2
            half = np.sqrt(np.maximum(inside, 0.0))
            return np.where(inside > 0, middle.real + half, -np.inf), np.where(inside > 0, middle.real - half, np.inf)
        corners = (self.middle + np.array([self.half, self.half.conjugate(), -self.half, -self.half.conjugate()])) * turn[:, None]
        within = (corners.imag >= left[:, None]) & (corners.imag <= right[:, None])
        found, there = [corners.real], [within]
        run = np.roll(corners, -1, axis=1) - corners  # the four edges, each where it crosses either side
        for edge in (left, right):
            share = (edge[:, None] - corners.imag) / np.where(run.imag == 0, 1.0, run.imag)
            found.append(corners.real + share * run.real)
            there.append((run.imag != 0) & (share >= 0) & (share <= 1))
        height, inside = np.hstack(found), np.hstack(there)
        return np.where(inside, height, -np.inf).max(axis=1), np.where(inside, height, np.inf).min(axis=1)


def stock_field(
    toolpath: Toolpath, along: int | None = None, around: int | None = None, cells_mm: tuple[float, float] = (0.1, 0.05)
) -> Field:
    """The stock before the first cut.

    along, around  number of lines along the axis and around it (axis Z: over x and over y)
    cells_mm       where these are not given: as many as give such cells along and around, at most 1024 and 2048 (axis Z: cells as along,
                   at most 1024 each)
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
    section = Section.of(stock, toolpath.axis, scale)
    if toolpath.axis == "Z":
        wide, deep = 2 * section.half.real, 2 * section.half.imag
        n, m = (count or int(np.clip(ceil(size / cells_mm[0]), 64, 1024)) for count, size in ((along, wide), (around, deep)))
        first, second = middles(section.middle.real - wide / 2, wide / n, n), middles(section.middle.imag - deep / 2, deep / m, m)
        outer = np.where(section.holds(first[:, None] + 1j * second), end - begin, 0.0).astype(np.float32)
        return Field("heights", "Z", first, second, wide / n, deep / m, outer, *no_gaps((n, m)), base_mm=begin)
    n = along or int(np.clip(ceil((end - begin) / cells_mm[0]), 64, 1024))
    m = around or int(np.clip(ceil(2 * pi * stock.swept_radius(toolpath.axis) * scale / cells_mm[1]), 256, 2048))
    step, turn = (end - begin) / n, 2 * pi / m
    angle = middles(-pi, turn, m)
    low, high = section.radii(angle)
    outer = np.tile(np.where(high > low, high, 0.0).astype(np.float32), (n, 1))
    gaps, held = no_gaps((n, m))
    off_axis = (high > low) & (low > 0)
    held[:, off_axis] = 1
    gaps[:, off_axis, 0, 1] = low[off_axis]
    return Field("radii", toolpath.axis, middles(begin, step, n), angle, step, turn, outer, gaps, held)


def directions(chart: ChartOfLines, axis: str) -> Floats:
    """(3, 3) in the part frame, by rows, right-handed: along the axis, and where radii at angle 0 and at 90 degrees point, right-hand about
    it; of heights those in which the first and the second coordinate count, and upwards."""
    along = AXES.index(axis)
    if chart == "heights":
        return np.roll(np.eye(3), 2 - along, axis=0)
    x, y, z = np.eye(3)
    return np.array({"X": [x, z, -y], "Y": [y, z, x], "Z": [z, x, y]}[axis])


def middles(begin: float, step: float, count: int) -> Floats:
    """(count,) the middles of so many equal cells, the first of which begins there."""
    return np.asarray(begin + (np.arange(count) + 0.5) * step, dtype=np.float64)


def no_gaps(shape: tuple[int, int]) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """`gaps_mm` and `gaps_held` of so many lines by so many that have none."""
    return np.zeros((*shape, LAYERS, 2), dtype=np.float32), np.zeros(shape, dtype=np.uint8)
