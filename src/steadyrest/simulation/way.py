"""Where is the tool all along its way, and at which places has its solid to be taken out, so that together they are that way?

A stamp is the solid moved along one straight line, none longer than needed. Moved along the axis of rotation, straight sideways, or
straight up and down while the part stands, the solid swept is known exactly, however long the way: one stamp. All other ways are
stepped through so finely that what lies between two positions is missed by no more than asked. (Over the chart of heights every level
way of a part that stands is exact.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, or_zero
from steadyrest.conventions import AXES, PLANE_AXES, PLANES
from steadyrest.proof import Frame, between, tip_length, turned
from steadyrest.reading import ArcsRead, MotionRead, within_block
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import BULLNOSE, ToolSolid

STAMPS_AT_ONCE = 16384
STILL_MM, STILL_RAD = 1e-6, 1e-9
_STILL, _TOUCHES_NOTHING = 1e-9, 1e-6
MOST_PARTS = 16
"""Into so many parts, none under the tool's radius, a block at feed across is parted that one stamp would do for: so it shows which cut."""


@dataclass(frozen=True, slots=True)
class Way:
    """n blocks. `vertex` (n + 1, 3) work coordinates in mm and `phi` (n + 1,) radians, before the first and after each; with a chain of
    rotaries `phi` (n + 1, r) are their words.

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
    return stated_way(read, vertex, np.radians(sigma * word), from_above_mm)


def stated_way(read: MotionRead, vertex: Floats, turn: Floats, from_above_mm: float) -> Way:
    """A run by its work coordinates (n + 1, 3) and turns (n + 1,), or (n + 1, r) of several rotaries, both changed here."""
    vertex[np.isnan(vertex[:, 2]), 2] = from_above_mm
    whole = np.asarray(np.isfinite(vertex).all(axis=1))
    known, guessed = whole[1:], whole[1:] & ~whole[:-1]
    vertex[:-1][guessed], turn[:-1][guessed] = vertex[1:][guessed], turn[1:][guessed]
    radius = sweep = np.zeros(len(read))
    if read.arcs is not None:
        sweep = np.abs(or_zero(read.arcs.sweep_rad))
        across = np.array(PLANE_AXES)[read.arcs.plane][:, :2]
        ends = [np.take_along_axis(place - read.arcs.centre_mm, across, axis=1) for place in (vertex[:-1], vertex[1:])]
        radius = or_zero(np.maximum(*(np.hypot(*end.T) for end in ends)))
    return Way(vertex, turn, known, guessed, read.arcs, sweep * radius, 2 * radius * (sweep > 0))


@dataclass(frozen=True, slots=True)
class Chart:
    """How a place of the tip in work coordinates is seen by the lines of a field, and how finely a way over them is stepped through.

    radii     (x, side, height): x along the axis, height over it along the spindle, side across both; the part is turned by phi, so
              that the line at angle alpha stands at psi = alpha + phi, pointing at (height, side) = (cos psi, sin psi)
    heights   (x, y, height) over the part, turned back with it; phi is used up

    off_mm    how far the swept solid may be missed between two positions, which are never nearer to each other than `least_step_mm`
    top_mm    the farthest material on any line
    sigma, replaced  as of `way_of`
    """

    field: Field
    frame: Frame
    off_mm: float
    least_step_mm: float
    top_mm: float
    sigma: int = 0
    replaced: str = ""

    @property
    def over_mm(self) -> float:
        """Height, work coordinates, over which nothing of the stock is."""
        return self.top_mm + self.field.base_mm + float(self.frame.centre_mm[2])

    def with_tool(self, number: int) -> Chart:
        """That for another tool in the spindle: the same."""
        return self

    def way(self, read: MotionRead, from_above_mm: float) -> Way:
        """A run as the reader gives it; `from_above_mm` as of `way_of`."""
        return way_of(read, self.frame, self.sigma, self.replaced, from_above_mm)

    def tip_mm(self, way: Way) -> Floats:
        """(n,) how far the tip goes over the part in each block."""
        tip = tip_length(between(way.vertex[:, self.frame.along], self.frame.across(way.vertex), way.phi))
        return np.maximum(tip, way.arc_mm)

    def plunges(self, way: Way) -> Bools:
        """(n,) whether the tool only goes up or down along itself."""
        step = np.abs(np.diff(way.vertex, axis=0))
        return np.asarray((step[:, :2].max(axis=1, initial=0.0) < STILL_MM) & (np.abs(np.diff(way.phi)) < STILL_RAD))

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

    def in_reach(self, way: Way, solid: ToolSolid) -> Ints:
        """The blocks in which the tool, holder and all, could come near the stock at all."""
        field = self.field
        first, second, height, _ = self.seen(way.vertex, way.phi)
        wide = solid.radius_mm
        bulge = way.bulge_mm
        low = np.minimum(height[:-1], height[1:]) - bulge
        near = way.known & (low < self.top_mm - _TOUCHES_NOTHING)
        near &= np.minimum(first[:-1], first[1:]) - bulge - wide < field.first_mm[-1] + field.first_step_mm
        near &= np.maximum(first[:-1], first[1:]) + bulge + wide > field.first_mm[0] - field.first_step_mm
        if field.chart == "radii":
            near &= np.minimum(second[:-1], second[1:]) - bulge - wide < self.top_mm
            near &= np.maximum(second[:-1], second[1:]) + bulge + wide > -self.top_mm
        return np.flatnonzero(near)

    def stamps(
        self, way: Way, blocks: Ints, rapid: Bools, solid: ToolSolid, at_once: int = STAMPS_AT_ONCE
    ) -> Iterator[tuple[Floats, Ints, Floats]]:
        """The stamps of the chosen blocks in order, so many at a time: a row of `kernel.Stamp` each (k, 10), its block (k,), and how much
        of that is done with it (k,), from 0 to 1.

        rapid   (n,), of all blocks of the way
        """
        if len(blocks) == 0:
            return
        count, exact = _counts(way, blocks, rapid, self, solid)
        last = np.cumsum(count)
        for begin in range(0, int(last[-1]), at_once):
            number = np.arange(begin, min(begin + at_once, int(last[-1])))
            which = np.searchsorted(last, number, side="right")
            share = (number - (last[which] - count[which]) + 1) / count[which]
            block = blocks[which]
            place, phi = way.at(block, share)
            before, phi_before = way.at(block, share - 1 / count[which])
            first, second, height, turn = self.seen(place, phi)
            was_first, was_second, was_height, was_turn = self.seen(before, phi_before)
            # Under a tool that stands still a turning part moves sideways, at the tip by height times angle.
            go = np.column_stack([first - was_first, second - was_second - (turn - was_turn) * height])
            length = np.hypot(*go.T)
            feed = np.where(length > _STILL, 1.0 / np.maximum(length, _STILL), 0.0)[:, None] * go
            ends = np.array([[was_first, was_second, was_height], [first, second, height]])
            ends[0] = np.where(exact[which], ends[0], ends[1])
            rise = np.abs(ends[1, 2] - ends[0, 2])
            # Radii: low and high; heights: the ends of one line, whose two coordinates belong together.
            ends[:, 2 if self.field.chart == "heights" else 0 :] = np.sort(ends, axis=0)[:, 2 if self.field.chart == "heights" else 0 :]
            (first_from, second_from, lowest), (first_to, second_to, _) = ends
            yield np.column_stack([first_from, first_to, second_from, second_to, lowest, rise, turn, feed, rapid[block]]), block, share


def _counts(way: Way, blocks: Ints, rapid: Bools, chart: Chart, solid: ToolSolid) -> tuple[Ints, Bools]:
    """How many stamps each block needs, and whether they are swept exactly: one would do, but at feed across several tell where it cuts."""
    radii = chart.field.chart == "radii"
    first, second, height, _ = chart.seen(way.vertex, way.phi)
    go_first, go_second = np.abs(np.diff(first))[blocks], np.abs(np.diff(second))[blocks]
    go_up, turns = np.abs(np.diff(height))[blocks], np.abs(np.diff(way.phi))[blocks]
    arc = way.arc_mm[blocks]
    if radii:
        single = (go_first > _STILL).astype(int) + (go_second > _STILL) + (go_up > _STILL) <= 1
        side = np.minimum(np.maximum(np.abs(second[:-1]), np.abs(second[1:]))[blocks], chart.top_mm)
        go_second = go_second + turns * chart.top_mm
        # Where the whole end of the tool lies beside the axis, its inner edge goes up or down as the part turns.
        rise = go_up + turns * np.maximum(side - solid.flat_mm, 0.0)
    else:
        single = (go_up <= _STILL) | ((go_first <= _STILL) & (go_second <= _STILL))
        go_second = go_second + turns * np.hypot(first, second)[np.union1d(blocks, blocks + 1)].max()
        rise = go_up
    exact = single & (turns <= _STILL) & (arc == 0)
    step = max(solid.step_mm(chart.off_mm), chart.least_step_mm)
    ball = solid.kind == BULLNOSE and solid.flat_mm == 0.0  # leaves no step where it is moved up or down on the way
    up = step if ball else 5 * chart.off_mm  # how much the height may change from one to the next
    if way.arcs is not None:
        rise = rise + arc * (way.arcs.plane[blocks] != PLANES.index("XY"))  # an arc in an upright plane may go up as far as it is long
    length = np.sqrt(np.maximum(go_first, arc) ** 2 + np.maximum(go_second, 0.0) ** 2 + go_up**2)
    count = np.ceil(np.maximum(length / step, rise / up) - 1e-9).astype(np.int64)
    parts = np.where(rapid[blocks] | (go_up > _STILL), 1.0, np.clip(np.ceil(length / solid.radius_mm), 1, MOST_PARTS)).astype(np.int64)
    return np.where(exact, parts, np.maximum(count, 1)), exact
