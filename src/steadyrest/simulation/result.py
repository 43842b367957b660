"""What the simulation says: the part as it comes out, and what the tools did on the way. All lengths in mm."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.simulation.field import Field


@dataclass(frozen=True, slots=True)
class Touches:
    """Blocks in which something touched material that must not, in the order of the program; arrays of one length.

    line        (k,) int64, line of the program
    operation   (k,) uint16
    depth_mm    (k,) float64, the most material on any one line of the field that it went through
    first_mm    (k,) float64, where: the field's first coordinate
    second      (k,) float64, and its second (radii: radians)
    """

    line: NDArray[np.int64]
    operation: NDArray[np.uint16]
    depth_mm: NDArray[np.float64]
    first_mm: NDArray[np.float64]
    second: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.line)


@dataclass(frozen=True, slots=True)
class OperationCut:
    """What one operation cut.

    number          from 1, as in `Cut.last_cut`
    first_line, last_line  of its motion in the program
    tool            its number
    removed_mm3     at feed and at rapid together; `rapid_mm3` of that at rapid
    axial_mm        axial engagement: the largest height over the tip at which a position at feed took material
    radial_mm       radial engagement: the largest width of material that a position at feed took across its feed and the tool's axis;
                    where the tool goes only up or down, the width it took around its axis
    rate_mm3_per_min  the largest volume rate: volume over the time in the material by the F words, averaged over stretches in which the tip
                    goes at least the tool's radius there; NaN where no time is known. Machine limits that slow it down are not counted.
    axial_line, radial_line, rate_line  where those were largest; 0 where there is none
    positions       how many positions were simulated
    """

    number: int
    first_line: int
    last_line: int
    tool: int
    removed_mm3: float
    rapid_mm3: float
    axial_mm: float
    axial_line: int
    radial_mm: float
    radial_line: int
    rate_mm3_per_min: float
    rate_line: int
    positions: int


@dataclass(frozen=True, slots=True)
class Undercuts:
    """Material that stands over a void, as seen from the axis of rotation (chart heights: from above).

    A field shows the outermost material, so a picture drawn from `outer_mm` alone hides these voids. They are in the field's gaps and
    in all volumes. Walls that are parallel, such as those of a slot that points at the axis, lean over in this sense a little.

    cells        how many lines have such a void
    volume_mm3   of the voids
    deepest_mm   the largest distance from the outermost material down to the floor of a void
    first_mm, second  where that is
    where        (n, m) bool
    """

    cells: int
    volume_mm3: float
    deepest_mm: float
    first_mm: float
    second: float
    where: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Extents:
    """From where to where along the axis material is left, and its least and largest outer radius (heights: z). NaN if none."""

    along_mm: tuple[float, float]
    outer_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Cut:
    """The part as cut by a program.

    field           what is left
    last_cut        (n, m) uint16, number of the operation that last changed what can be seen of each line, 0 where the stock's skin is left
    stock_mm3, removed_mm3  volumes; with `field.volume_mm3()` they add up but for `not_held_mm3`
    operations      in order
    operation_lines the line from which on each operation counts
    rapid_touches   rapids that went through material
    shank_touches, holder_touches  the part of the tool that does not cut went through material; nothing is taken out by it
    undercuts       voids under material
    not_held_mm3    removed, but drawn as if still there: more voids on one line than a field holds
    unknown_lines   motion near the stock from a place that the program does not say, of which only the end is simulated, or to such a
                    place, which is not simulated
    rotary_assumed  it cuts before the program has said where the rotary stands: taken to stand at 0
    extents         of what is left
    touch_mm        what enters material by less than that does not count as touching
    off_mm          how far the swept tool may be missed between two positions
    """

    field: Field
    last_cut: NDArray[np.uint16]
    stock_mm3: float
    removed_mm3: float
    operations: tuple[OperationCut, ...]
    operation_lines: tuple[int, ...]
    rapid_touches: Touches
    shank_touches: Touches
    holder_touches: Touches
    undercuts: Undercuts
    not_held_mm3: float
    unknown_lines: tuple[int, ...]
    rotary_assumed: bool
    extents: Extents
    touch_mm: float
    off_mm: float

    def operation_of_line(self, line: int) -> int:
        """Number of the operation to which a line of the program belongs; 0 before the first."""
        return bisect_right(self.operation_lines, line)


def undercuts_of(field: Field) -> Undercuts:
    """The voids that a field holds under its outermost material."""
    where = field.gaps_held > 0
    cells = int(where.sum())
    if cells == 0:
        return Undercuts(0, 0.0, 0.0, float("nan"), float("nan"), where)
    depth = np.where(where, field.outer_mm - field.gaps_mm[:, :, 0, 0], 0.0)
    i, j = np.unravel_index(int(np.argmax(depth)), depth.shape)
    volume = field.with_outer(field.outer_mm).volume_mm3() - field.volume_mm3()
    return Undercuts(cells, volume, float(depth[i, j]), float(field.first_mm[i]), float(field.second[j]), where)


def extents_of(field: Field) -> Extents:
    """Where there is material."""
    left = field.outer_mm > 0
    nan = float("nan")
    if not left.any():
        return Extents((nan, nan), (nan, nan))
    outer = field.outer_mm[left]
    reach = float(outer.min()) + field.base_mm, float(outer.max()) + field.base_mm
    if field.chart == "heights":
        return Extents((field.base_mm, reach[1]), reach)
    rows = np.flatnonzero(left.any(axis=1))
    half = field.first_step_mm / 2
    return Extents((float(field.first_mm[rows[0]]) - half, float(field.first_mm[rows[-1]]) + half), reach)


@dataclass(frozen=True, slots=True)
class Comparison:
    """One field against another with the same lines, such as the part as cut against its design.

    left_mm       (n, m) float32, outermost material of the first less that of the second: above 0 stock is left, below 0 too much is gone
    most_left_mm, most_gone_mm  the largest of both, and (first_mm, second) where
    left_mm3, gone_mm3          volume of the first outside the second, and of the second outside the first; gaps are not counted
    """

    left_mm: NDArray[np.float32]
    most_left_mm: float
    most_left_at: tuple[float, float]
    most_gone_mm: float
    most_gone_at: tuple[float, float]
    left_mm3: float
    gone_mm3: float


def compare(field: Field, other: Field) -> Comparison:
    """Stock left, and stock gone, of a field against another. ValueError when they do not have the same lines."""
    same = field.chart == other.chart and field.axis == other.axis and field.shape == other.shape
    if not (same and np.allclose(field.first_mm, other.first_mm) and np.allclose(field.second, other.second)):
        raise ValueError("the two fields do not have the same lines: simulate both with the same stock and resolution")
    one, two = field.outer_mm.astype(np.float64), other.outer_mm.astype(np.float64)
    if field.chart == "heights":
        one, two = one + field.base_mm, two + other.base_mm
    difference = one - two
    measure = 0.5 * (one**2 - two**2) if field.chart == "radii" else difference
    cell = field.first_step_mm * field.second_step

    def place(at: int) -> tuple[float, float]:
        i, j = np.unravel_index(at, difference.shape)
        return float(field.first_mm[i]), float(field.second[j])

    most, least = int(np.argmax(difference)), int(np.argmin(difference))
    return Comparison(
        left_mm=difference.astype(np.float32),
        most_left_mm=max(float(difference.flat[most]), 0.0),
        most_left_at=place(most),
        most_gone_mm=max(-float(difference.flat[least]), 0.0),
        most_gone_at=place(least),
        left_mm3=float(np.maximum(measure, 0.0).sum()) * cell,
        gone_mm3=float(np.maximum(-measure, 0.0).sum()) * cell,
    )
