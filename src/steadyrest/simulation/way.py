"""Where is the tool all along its way, and turned how far is the part? One run of the program read back, ready to be stepped through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, or_zero
from steadyrest.conventions import AXES, PLANE_AXES
from steadyrest.proof import Frame, turned
from steadyrest.reading import ArcsRead, MotionRead, within_block
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import ToolSolid


@dataclass(frozen=True, slots=True)
class Way:
    """n blocks. `vertex` (n + 1, 3) work coordinates in mm and `phi` (n + 1,) radians, before the first and after each.

    known    (n,) whether the block's end is; a rotary of which nothing was said stands at 0
    guessed  (n,) whether its end is known and its start is not: it is taken to begin where it ends
    arcs     of the n blocks, None when none is an arc
    arc_mm   (n,) length of each block's arc in its plane, 0 of straight ones
    bulge_mm  (n,) how far it may bulge out of the box of its ends
    """

    vertex: Floats
    phi: Floats
    known: Bools
    guessed: Bools
    arcs: ArcsRead | None
    arc_mm: Floats
    bulge_mm: Floats

    def at(self, block: Ints, share: Floats) -> tuple[Floats, Floats]:
        """Work coordinates (k, 3) and turn (k,) when a `share` (k,) from 0 to 1 of each of the blocks (k,) is done."""
        return within_block(self.vertex, block, share, self.arcs), within_block(self.phi, block, share)


def way_of(read: MotionRead, frame: Frame, sigma: int, replaced: str, from_above_mm: float) -> Way:
    """A run as the reader gives it. A height that is not known is `from_above_mm` (work coordinates): the tool comes down from there.

    sigma     phi = sigma * W; 0 without a rotary
    replaced  the linear axis whose drive turns the rotary, or nothing: it has no position of its own, and stands at the centre
    """
    vertex = read.vertex_mm.copy()
    word = or_zero(read.vertex_deg[:, 0]) if sigma and read.vertex_deg.shape[1] else np.zeros(len(read) + 1)
    if replaced:
        vertex[:, AXES.index(replaced)] = frame.centre_mm[AXES.index(replaced)]
    vertex[np.isnan(vertex[:, 2]), 2] = from_above_mm
    whole = np.asarray(np.isfinite(vertex).all(axis=1))
    known, guessed = whole[1:], whole[1:] & ~whole[:-1]
    vertex[:-1][guessed], word[:-1][guessed] = vertex[1:][guessed], word[1:][guessed]
    radius = sweep = np.zeros(len(read))
    if read.arcs is not None:
        sweep = np.abs(or_zero(read.arcs.sweep_rad))
        across = np.array(PLANE_AXES)[read.arcs.plane][:, :2]
        ends = [np.take_along_axis(place - read.arcs.centre_mm, across, axis=1) for place in (vertex[:-1], vertex[1:])]
        radius = or_zero(np.maximum(*(np.hypot(*end.T) for end in ends)))
    return Way(vertex, np.radians(sigma * word), known, guessed, read.arcs, sweep * radius, 2 * radius * (sweep > 0))


@dataclass(frozen=True, slots=True)
class Chart:
    """How a place of the tip in work coordinates is seen by the lines of a field.

    radii     (x, side, height): x along the axis, height over it along the spindle, side across both; the part is turned by phi, so
              that the line at angle alpha stands at psi = alpha + phi, pointing at (height, side) = (cos psi, sin psi)
    heights   (x, y, height) over the part, turned back with it; phi is used up
    """

    field: Field
    frame: Frame

    def seen(self, place: Floats, phi: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Work coordinates (k, 3) and turns (k,) to first, second, height and remaining turn, (k,) each."""
        across = self.frame.across(place)
        if self.field.chart == "heights":
            over = across * turned(-phi)
            height = place[:, 2] - self.frame.centre_mm[2] - self.field.base_mm
            return over.real, over.imag, height, np.zeros(len(phi))
        upright = across * -1j if self.frame.axis == "X" else across
        along = place[:, self.frame.along] - self.frame.centre_mm[self.frame.along]
        return along, upright.imag, upright.real, phi


@dataclass(frozen=True, slots=True)
class Fineness:
    """off_mm: how far the swept solid may be missed between two positions; top_mm: the farthest material on any line."""

    off_mm: float
    least_step_mm: float
    top_mm: float

    def steps_mm(self, solid: ToolSolid) -> tuple[float, float]:
        """Distance between positions, and how much the height may change from one to the next."""
        step = max(solid.step_mm(self.off_mm), self.least_step_mm)
        return step, step if solid.rounded else 5 * self.off_mm
