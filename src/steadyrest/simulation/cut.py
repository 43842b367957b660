"""What the simulation says: the part as it comes out, and what the tools did on the way. All lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np
from numpy.typing import NDArray

from steadyrest.simulation.field import Field


@dataclass(frozen=True, slots=True)
class Touches:
    """Blocks in which something touched material that must not, in the order of the program; arrays of one length.

    line        of the program
    operation   from 1
    depth_mm    the most material on any one line of the field that it went through
    first_mm    where: the field's first coordinate
    second      and its second (radii: radians)
    """

    line: NDArray[np.int64]
    operation: NDArray[np.uint16]
    depth_mm: NDArray[np.float64]
    first_mm: NDArray[np.float64]
    second: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.line)


@dataclass(slots=True)
class OperationCut:
    """What one operation cut, as far as it was simulated.

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
    removed_mm3: float = 0.0
    rapid_mm3: float = 0.0
    axial_mm: float = 0.0
    axial_line: int = 0
    radial_mm: float = 0.0
    radial_line: int = 0
    rate_mm3_per_min: float = nan
    rate_line: int = 0
    positions: int = 0


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
    not_held_mm3: float
    unknown_lines: tuple[int, ...]
    touch_mm: float
    off_mm: float
