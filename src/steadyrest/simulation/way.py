"""Where is the tool all along its way, and turned how far is the part? One run of the program read back, ready to be stepped through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.proof import Frame, turned
from steadyrest.reading import LINE, MotionRead
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import ToolSolid

PLANE_ORDER = np.array(((0, 1, 2), (2, 0, 1), (1, 2, 0)))
"""Per plane XY, XZ, YZ: the two axes in the order that turns counterclockwise seen from + of the third (ISO 841, from memory), and that."""


@dataclass(frozen=True, slots=True)
class Way:
    """n blocks. `vertex` (n + 1, 3) work coordinates in mm and `phi` (n + 1,) radians, before the first and after each.

    known    (n,) whether the block's end is; a rotary of which nothing was said stands at 0
    guessed  (n,) whether its end is known and its start is not: it is taken to begin where it ends
    rows     which blocks are arcs; with their centre (k, 3), axes (k, 3) of PLANE_ORDER, radii and angle at the start, sweep (k,)
    """

    vertex: Floats
    phi: Floats
    known: NDArray[np.bool_]
    guessed: NDArray[np.bool_]
    rows: NDArray[np.int64]
    centre: Floats
    order: NDArray[np.int64]
    begin: Floats
    radii: Floats
    sweep: Floats

    def at(self, block: NDArray[np.int64], share: Floats) -> tuple[Floats, Floats]:
        """Work coordinates (k, 3) and turn (k,) when a `share` (k,) from 0 to 1 of each of the blocks (k,) is done."""
        start, turn = self.vertex[block], self.phi[block]
        place = start + share[:, None] * (self.vertex[block + 1] - start)
        phi = turn + share * (self.phi[block + 1] - turn)
        if len(self.rows):
            which = np.searchsorted(self.rows, block)
            arcs = np.flatnonzero((which < len(self.rows)) & (self.rows[np.minimum(which, len(self.rows) - 1)] == block))
            which = which[arcs]
            angle = self.begin[which] + share[arcs] * self.sweep[which]
            radius = self.radii[which, 0] + share[arcs] * (self.radii[which, 1] - self.radii[which, 0])
            place[arcs, self.order[which, 0]] = self.centre[which, 0] + radius * np.cos(angle)
            place[arcs, self.order[which, 1]] = self.centre[which, 1] + radius * np.sin(angle)
        return place, phi

    def arc_reach_mm(self) -> tuple[Floats, Floats]:
        """(n,) length of each block's arc in its plane, and how far it may bulge out of the box of its ends; 0 for straight ones."""
        length, bulge = np.zeros(len(self.known)), np.zeros(len(self.known))
        largest = self.radii.max(axis=1, initial=0.0)
        length[self.rows] = np.abs(self.sweep) * largest
        bulge[self.rows] = 2 * largest
        return length, bulge


def way_of(read: MotionRead, frame: Frame, sense: int, replaced: str, from_above_mm: float) -> Way:
    """A run as the reader gives it. A height that is not known is `from_above_mm` (work coordinates): the tool comes down from there.

    sense     of rotation, phi = sense * W; 0 without a rotary
    replaced  the linear axis whose drive turns the rotary, or nothing: it has no position of its own, and stands at the centre
    """
    vertex = read.vertex_mm.copy()
    word = read.vertex_deg[:, 0].copy() if sense and read.vertex_deg.shape[1] else np.zeros(len(read) + 1)
    if replaced:
        vertex[:, "XYZ".index(replaced)] = frame.centre_mm["XYZ".index(replaced)]
    word[np.isnan(word)] = 0.0
    height = vertex[:, 2]
    height[np.isnan(height)] = from_above_mm
    whole = np.asarray(np.isfinite(vertex).all(axis=1))
    known, guessed = whole[1:], whole[1:] & ~whole[:-1]
    vertex[:-1][guessed], word[:-1][guessed] = vertex[1:][guessed], word[1:][guessed]
    arcs = read.arcs
    if arcs is None:
        none, no_row = np.empty(0), np.empty(0, dtype=np.int64)
        return Way(
            vertex, np.radians(sense * word), known, guessed, no_row, none, np.empty((0, 3), dtype=np.int64), none, np.empty((0, 2)), none
        )
    rows = np.flatnonzero(read.motion > LINE)
    order = PLANE_ORDER[arcs.plane[rows]]
    flat = order[:, :2]
    centre = arcs.centre_mm[rows[:, None], flat]
    first, last = vertex[rows[:, None], flat] - centre, vertex[rows[:, None] + 1, flat] - centre
    begin = np.arctan2(first[:, 1], first[:, 0])
    radii = np.column_stack([np.hypot(*first.T), np.hypot(*last.T)])
    return Way(vertex, np.radians(sense * word), known, guessed, rows, centre, order, begin, radii, arcs.sweep_rad[rows])


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
