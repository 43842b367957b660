"""Where do walls stand between two lines of a field? Found by a second pass of the program over the part as it came out.

The field says of each line how far out its material goes, so a wall is known only to stand somewhere between two lines. A row of steps
does not say where either: a wall along the lines gives the same field wherever it stands between them, so that nothing can be fitted
through it. But the cutters that made the wall say it exactly: at the height of the wall's top it stands where the last place is that any
of them has held. Only walls are looked at, some thousands of millions of lines, so the pass is quick and keeps nothing else.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats
from steadyrest.simulation import kernel
from steadyrest.simulation.carving import Carver, Carving, nothing_taken
from steadyrest.simulation.field import Field, Section
from steadyrest.simulation.kernel import Array, Borders, Stamp
from steadyrest.simulation.solid import Solids

STEEP, LEAST_RISE, MORE_THAN_BESIDE = 2.0, 0.4, 2.0
"""A wall is where the material rises from one line to the next by so many times the distance between them; or by less, if by so many times
as much as before and after, which no slope does."""
BELOW_MM = 2e-3
"""So far below the top of the wall it is looked where it stands: nearer than that, the numbers of the field are too coarse."""
PARTS = 64
"""Places that are told apart between two lines."""


class Walls(NamedTuple):
    """Where walls stand: 0 where there is none or nobody knows, else in 64ths of the way from one line to the next, counted from 1.

    first   (n, m) uint8: between line (i, j) and line (i + 1, j)
    second  (n, m) uint8: between line (i, j) and line (i, j + 1), which radii go round to
    """

    first: NDArray[np.uint8]
    second: NDArray[np.uint8]


class WallFinder(Carver):
    """Stands in the place of the carver in a `Simulation`, for a second pass of the same program.

    field    as the first pass left it; it is not changed
    section  of the stock, which made the walls that no cutter made
    """

    def __init__(self, field: Field, section: Section, way: Carving = "auto") -> None:
        super().__init__(field, way)
        self._borders = borders = _borders_of(field, section)
        self._tops = np.zeros(len(field.first_mm))
        np.maximum.at(self._tops, borders.row, borders.level_mm)

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Push walls out to where stamps (k, 10) have come; nothing is taken out, so all are as if they had met nothing."""
        self.done += len(table)
        if self.compiles:
            loops, parts = kernel.compiled("push_line_by_line"), self.parts
            with ThreadPoolExecutor(parts) as pool:
                list(pool.map(lambda part: loops(self.lines, self._borders, self._tops, table, solids, part, parts), range(parts)))
        else:
            for row in table:
                self._push(Stamp(*row.tolist()), solids)
        return nothing_taken(len(table))

    def _push(self, stamp: Stamp, solids: Solids) -> None:
        """`kernel.push_line_by_line` in whole arrays."""
        tool, borders, field = solids.rapid if stamp.rapid else solids.cut, self._borders, self.field
        low, high = kernel.spread_of(self.lines, stamp, tool.radius_mm)
        if low > high + 1:
            return
        near = slice(borders.start[max(low - 1, 0)], borders.start[min(high + 1, len(field.first_mm) - 1) + 1])
        row, column, to_first, to_second, level, share = (column[near] for column in borders[1:])
        first, second, further = field.first_mm[row], field.second[column], share + kernel.LEAST_SHARE
        inside = kernel.holds(self.lines.radii, tool, stamp, first + further * to_first, second + further * to_second, level)
        at = np.flatnonzero(inside & (further <= 1.0))
        of_walls = (one[at] for one in (first, second, to_first, to_second, level, share))
        share[at] = kernel.pushed(self.lines.radii, tool, stamp, *of_walls)

    def walls(self) -> Walls:
        """Where they stand."""
        borders, (n, m) = self._borders, self.field.shape
        found = Walls(np.zeros((n, m), dtype=np.uint8), np.zeros((n, m), dtype=np.uint8))
        reached = borders.share > 0.0
        for out, to in zip(found, (borders.to_first, borders.to_second), strict=True):
            here, back = reached & (to != 0.0), to < 0.0
            share = np.where(back, 1.0 - borders.share, borders.share)
            row, column = borders.row - (back & (out is found.first)), (borders.column - (back & (out is found.second))) % m
            out[row[here], column[here]] = 1 + np.floor(np.minimum(share[here], 1.0 - 1e-9) * PARTS)
        return found


def _borders_of(field: Field, section: Section) -> Borders:
    """All walls of a field, and how far they stand from the cut line as the stock itself has them."""
    (n, m), outer, radii = field.shape, field.outer_mm.astype(np.float64), field.chart == "radii"
    pieces: list[list[Array]] = []
    for along, step in ((True, field.first_step_mm), (False, field.second_step)):
        next_to = _next_to(outer, along, radii)
        rise = np.abs(next_to - outer)
        beside = np.maximum(_next_to(rise, along, radii), _next_to(rise[::-1, ::-1], along, radii)[::-1, ::-1])
        wide = step if along or not radii else step * np.minimum(outer, next_to)
        row, column = np.nonzero((rise > STEEP * wide) | ((rise > LEAST_RISE * wide) & (rise > MORE_THAN_BESIDE * beside)))
        falls = next_to[row, column] < outer[row, column]  # then the line that was cut is the next one
        top = np.maximum(next_to, outer)[row, column] - BELOW_MM
        to = np.where(falls, -step, step)
        row, column = row + (falls & along), (column + (falls & ~np.bool_(along))) % m
        pieces.append([row, column, to if along else 0.0 * to, 0.0 * to if along else to, top])
    row, column, to_first, to_second, level = (np.concatenate(each) for each in zip(*pieces, strict=True))
    order = np.lexsort((column, row))
    row, column, to_first, to_second, level = (one[order] for one in (row, column, to_first, to_second, level))
    start = np.searchsorted(row, np.arange(n + 1))
    borders = Borders(start, row, column, to_first, to_second, level, np.zeros(len(row)))
    if not radii:
        borders.share[:] = _of_stock(borders, field, section)
    return borders


def _next_to(values: Floats, along: bool, radii: bool) -> Floats:
    """Of each line what the next one has; the last one what it has itself, but that radii go round."""
    if along:
        return np.vstack([values[1:], values[-1:]])
    return np.hstack([values[:, 1:], values[:, :1] if radii else values[:, -1:]])


def _of_stock(borders: Borders, field: Field, section: Section) -> Floats:
    """How far from a line that has never held anything the stock's own wall stands."""
    first, second = field.first_mm[borders.row], field.second[borders.column]

    def missing(share: Floats) -> Bools:
        places = first + share * borders.to_first + 1j * (second + share * borders.to_second)
        return np.asarray(~section.holds(places))

    outside, inside = np.zeros(len(first)), np.ones(len(first))
    for _ in range(kernel.HALVINGS + 1):
        middle = 0.5 * (outside + inside)
        out = missing(middle)
        outside, inside = np.where(out, middle, outside), np.where(out, inside, middle)
    return np.where(missing(np.zeros(len(first))), outside, 0.0)
