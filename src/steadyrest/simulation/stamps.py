"""At which places does the tool's solid have to be taken out of the stock, so that together they are its way?

A stamp is the solid moved along one straight line, none longer than needed. Moved along the axis of rotation, straight sideways, or
straight up and down while the part stands, the solid swept is known exactly, however long the way: one stamp. All other ways are
stepped through so finely that what lies between two positions is missed by no more than asked. (Over the chart of heights every level
way of a part that stands is exact.)
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import PLANES
from steadyrest.simulation.solid import ToolSolid
from steadyrest.simulation.way import Chart, Fineness, Way

STAMPS_AT_ONCE = 16384
_STILL = 1e-9
_TOUCHES_NOTHING = 1e-6
MOST_PARTS = 16
"""Into so many parts, none under the tool's radius, a block at feed across is parted that one stamp would do for: so it shows which cut."""


def in_reach(way: Way, chart: Chart, solid: ToolSolid, fine: Fineness) -> Ints:
    """The blocks in which the tool, holder and all, could come near the stock at all."""
    field = chart.field
    first, second, height, _ = chart.seen(way.vertex, way.phi)
    wide = solid.radius_mm
    bulge = way.bulge_mm
    low = np.minimum(height[:-1], height[1:]) - bulge
    near = way.known & (low < fine.top_mm - _TOUCHES_NOTHING)
    near &= np.minimum(first[:-1], first[1:]) - bulge - wide < field.first_mm[-1] + field.first_step_mm
    near &= np.maximum(first[:-1], first[1:]) + bulge + wide > field.first_mm[0] - field.first_step_mm
    if field.chart == "radii":
        near &= np.minimum(second[:-1], second[1:]) - bulge - wide < fine.top_mm
        near &= np.maximum(second[:-1], second[1:]) + bulge + wide > -fine.top_mm
    return np.flatnonzero(near)


def stamps_of(
    way: Way,
    blocks: Ints,
    rapid: Bools,
    chart: Chart,
    solid: ToolSolid,
    fine: Fineness,
    at_once: int = STAMPS_AT_ONCE,
) -> Iterator[tuple[Floats, Ints]]:
    """The stamps of the chosen blocks in order, so many at a time: a row of `kernel.Stamp` each (k, 10), and its block (k,).

    rapid   (n,), of all blocks of the way
    """
    if len(blocks) == 0:
        return
    count, exact = _counts(way, blocks, rapid, chart, solid, fine)
    last = np.cumsum(count)
    for begin in range(0, int(last[-1]), at_once):
        number = np.arange(begin, min(begin + at_once, int(last[-1])))
        which = np.searchsorted(last, number, side="right")
        share = (number - (last[which] - count[which]) + 1) / count[which]
        block = blocks[which]
        place, phi = way.at(block, share)
        before, phi_before = way.at(block, share - 1 / count[which])
        first, second, height, turn = chart.seen(place, phi)
        was_first, was_second, was_height, was_turn = chart.seen(before, phi_before)
        # Under a tool that stands still a turning part moves sideways, at the tip by height times angle.
        go = np.column_stack([first - was_first, second - was_second - (turn - was_turn) * height])
        length = np.hypot(*go.T)
        feed = np.where(length > _STILL, 1.0 / np.maximum(length, _STILL), 0.0)[:, None] * go
        ends = np.array([[was_first, was_second, was_height], [first, second, height]])
        ends[0] = np.where(exact[which], ends[0], ends[1])
        rise = np.abs(ends[1, 2] - ends[0, 2])
        # Radii: low and high; heights: the ends of one line, whose two coordinates belong together.
        ends[:, 2 if chart.field.chart == "heights" else 0 :] = np.sort(ends, axis=0)[:, 2 if chart.field.chart == "heights" else 0 :]
        (first_from, second_from, lowest), (first_to, second_to, _) = ends
        yield np.column_stack([first_from, first_to, second_from, second_to, lowest, rise, turn, feed, rapid[block]]), block


def _counts(way: Way, blocks: Ints, rapid: Bools, chart: Chart, solid: ToolSolid, fine: Fineness) -> tuple[Ints, Bools]:
    """How many stamps each block needs, and whether they are swept exactly: one would do, but at feed across several tell where it cuts."""
    radii = chart.field.chart == "radii"
    first, second, height, _ = chart.seen(way.vertex, way.phi)
    go_first, go_second = np.abs(np.diff(first))[blocks], np.abs(np.diff(second))[blocks]
    go_up, turns = np.abs(np.diff(height))[blocks], np.abs(np.diff(way.phi))[blocks]
    arc = way.arc_mm[blocks]
    if radii:
        single = (go_first > _STILL).astype(int) + (go_second > _STILL) + (go_up > _STILL) <= 1
        side = np.minimum(np.maximum(np.abs(second[:-1]), np.abs(second[1:]))[blocks], fine.top_mm)
        go_second = go_second + turns * fine.top_mm
        # Where the whole end of the tool lies beside the axis, its inner edge goes up or down as the part turns.
        rise = go_up + turns * np.maximum(side - solid.flat_mm, 0.0)
    else:
        single = (go_up <= _STILL) | ((go_first <= _STILL) & (go_second <= _STILL))
        go_second = go_second + turns * np.hypot(first, second)[np.union1d(blocks, blocks + 1)].max()
        rise = go_up
    exact = single & (turns <= _STILL) & (arc == 0)
    step, up = fine.steps_mm(solid)
    if way.arcs is not None:
        rise = rise + arc * (way.arcs.plane[blocks] != PLANES.index("XY"))  # an arc in an upright plane may go up as far as it is long
    length = np.sqrt(np.maximum(go_first, arc) ** 2 + np.maximum(go_second, 0.0) ** 2 + go_up**2)
    count = np.ceil(np.maximum(length / step, rise / up) - 1e-9).astype(np.int64)
    parts = np.where(rapid[blocks] | (go_up > _STILL), 1.0, np.clip(np.ceil(length / solid.radius_mm), 1, MOST_PARTS)).astype(np.int64)
    return np.where(exact, parts, np.maximum(count, 1)), exact
