"""Planes in which a head lays the tool along another direction than Z: coming and leaving along the tool, holes in single moves.

From where the head turned the tool is brought over the first point, clear of all that the stock can be turned to, and comes down along
its own axis; after the last move it leaves along it as far before it goes up. A rapid of several axes need not be
straight on the machine, so whatever goes along a leaning tool, or in its plane, goes at feed, as fast as the slowest linear axis.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.conventions import AXES, LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.feeds import fastest
from steadyrest.motion.holes import check_pecks, dwell_word, steps_of
from steadyrest.motion.links import Moves, rapids
from steadyrest.motion.lying import Lying
from steadyrest.motion.model import NAN, Asked, Event, Motion, Spot, Stand, after, constant, motion, spot
from steadyrest.motion.setup import Setup
from steadyrest.toolpath import Holes


def quick(setup: Setup) -> float:
    """The feed of what is not cut with a leaning tool, program units per minute: what every linear axis and F can do."""
    feed = setup.profile.feed
    axes = min(fastest(setup.profile.linear, axis) for axis in AXES) * setup.mm
    return min(axes, feed.largest_inch if setup.inch else feed.largest_mm)


def come(lying: Lying, first: Spot, stand: Stand, operation: int, setup: Setup, *, cutting: bool) -> Moves:
    """From the machine's own zero over the first point (in the plane), and down to it; for a cut only over it.

    A cut then goes down to its first point at its own feed.
    """
    over = (first[0], first[1], max(first[2], lying.over))
    x, y, z = spot(lying.placed(np.array([over]))[0])
    if lying.frame is None and not cutting:
        over, z = first, float(lying.placed(np.array([first]))[0, 2])
    rows, stand = rapids([(x, y, NAN), (NAN, NAN, z)], stand, operation, "approach")
    yield rows
    stand = stand._replace(point=over)
    if not cutting:
        stand = yield from _straight(lying, [first], stand, operation, setup)
    return stand


def leave(lying: Lying, stand: Stand, operation: int, setup: Setup) -> Moves:
    """Along a leaning tool until it is clear of all that the stock can be turned to."""
    x, y, z = stand.point
    if z < lying.over and lying.frame is not None:
        stand = yield from _straight(lying, [(x, y, lying.over)], stand, operation, setup, rule="retract")
    return stand


def _straight(lying: Lying, points: list[Spot], stand: Stand, operation: int, setup: Setup, rule: str = "approach") -> Moves:
    """Straight through points of the plane at the quick feed, those left out at which the tool stands."""
    places = lying.placed(np.array(points))
    goes = np.abs(np.diff(np.vstack([stand.xyz, places]), axis=0)).max(axis=1) > 1e-9
    if goes.any():
        still = constant(NAN, (len(points), len(stand.rotary_deg)))
        rows = motion(LINE, places, still, feed=quick(setup), tip=NAN, operation=operation, rule=rule)
        rows = take(rows, np.flatnonzero(goes))
        yield Asked(rows, stand)
        stand = after(rows, stand)
    return stand._replace(point=points[-1])


def at_feed(rows: Motion, setup: Setup) -> Motion:
    """The rows with their rapids at the quick feed, in straight lines."""
    rapid = rows.kind == RAPID
    if not rapid.any():
        return rows
    return replace(rows, kind=np.where(rapid, LINE, rows.kind).astype(np.uint8), feed=np.where(rapid, quick(setup), rows.feed))


def drilled_leaning(groups: Iterable[Holes], lying: Lying, stand: Stand, operation: int, setup: Setup) -> Moves:
    """Holes of a plane, each group alike, in single moves along the tool; in the plane's coordinates, program units.

    raises    PlanError for a tap, which single moves cannot drive
    """
    for holes in groups:
        first = holes.hole(0)
        if first.peck is not None:
            check_pecks(first, first.peck, operation, setup)
        if first.cycle == "tap":
            raise PlanError(
                "the tapping cycle goes along Z, the tool leans here, and a tap cannot be driven by single moves",
                place=setup.place(operation, first.move),
                cure="tap in a plane that the table brings upright, or mill the thread",
            )
        setup.seen[operation].written_out[first.cycle, "the tool leans here, and cycles go along Z"] += len(holes)
        for (x, y), move in zip(holes.xy.tolist(), holes.move.tolist(), strict=True):
            hole = replace(first, move=move, x=x, y=y)
            if np.isnan(stand.point[0]):
                stand = yield from come(lying, (x, y, hole.retract), stand, operation, setup, cutting=False)
            else:
                px, py, pz = stand.point
                high = max(pz, hole.retract)
                way: list[Spot] = [(px, py, high), (x, y, high), (x, y, hole.retract)]
                stand = yield from _straight(lying, way, stand, operation, setup, rule="hole")
            *down, out = steps_of(hole, setup)
            stand = yield from _in_hole(lying, (x, y), down, hole.feed, move, stand, operation, setup)
            if hole.dwell:
                yield Event("dwell", operation, "hole", move=move, words={"time": dwell_word(hole.dwell, setup)})
            stand = yield from _in_hole(lying, (x, y), [out], hole.feed, move, stand, operation, setup)
    return stand


def _in_hole(
    lying: Lying, xy: tuple[float, float], steps: list[tuple[float, bool]], feed: float, move: int, stand: Stand, number: int, setup: Setup
) -> Moves:
    """Through heights over a place: down always at the hole's feed, up at it where the cycle says so, else as fast as the axes go."""
    heights: Floats = np.array([height for height, _ in steps])
    downward = np.diff(heights, prepend=stand.point[2]) < 0
    feeds = np.where(downward | np.array([asked for _, asked in steps]), feed, quick(setup))
    places = lying.placed(np.column_stack([np.full((len(steps), 2), xy), heights]))
    still = constant(NAN, (len(steps), len(stand.rotary_deg)))
    rows = motion(LINE, places, still, feed=feeds, tip=NAN, move=move, operation=number, rule="hole")
    yield Asked(rows, stand)
    return after(rows, stand)._replace(point=(*xy, float(heights[-1])))
