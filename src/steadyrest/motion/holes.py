"""Holes: spoken as drilling cycles where the controller has them, else written out in single moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.feeds import FASTEST, SLOWED_BY, fastest
from steadyrest.motion.links import rapids
from steadyrest.motion.model import NAN, Asked, Event, HoleRow, Motion, Quantity, Stand, Step, after, constant, motion
from steadyrest.motion.setup import Setup
from steadyrest.toolpath import Hole, Holes

PITCH_ERROR = 1e-3
"""By this part the pitch of a tap may be off."""
MOST_PECKS = 10_000
"""Of one hole."""


def why_written_out(hole: Hole, setup: Setup) -> str:
    """Why a cycle is not spoken; empty when it is. Of the cycles only dwell-drill takes a pause at the bottom (NISTIR 6556 3.5.16)."""
    if setup.profile.feed.linear == "inverse":
        return f"{setup.profile.name} feeds in inverse time, which allows no cycles"
    if not getattr(setup.profile.cycles, hole.cycle.replace("-", "_")):
        return f"{setup.profile.name} has no such cycle"
    if hole.dwell > 0 and hole.cycle != "dwell-drill":
        return "it has a pause at the bottom, which only dwell-drill takes"
    return ""


def alike(holes: Holes, xy: Floats, height: float, setup: Setup) -> Iterator[Holes]:
    """A toolpath's holes in program units, those that go into one cycle together: all the same but for the place.

    xy        (n, 2) work coordinates, program units
    height    what is added to their heights, program units: the surface's height over the work coordinates' origin, 0 when indexed
    """
    scale = setup.scale
    retract, bottom = holes.retract * scale + height, holes.bottom * scale + height
    return replace(holes, xy=xy, retract=retract, bottom=bottom, peck=holes.peck * scale, feed=holes.feed * scale).alike()


def drilled(holes: Holes, stand: Stand, operation: int, setup: Setup) -> Iterator[Step]:
    """One cycle, or the same in single moves, for holes that are all alike; the tool ends over the last at its retract level.

    holes     in work coordinates and program units
    raises    PlanError for tapping on a controller without a tapping cycle
    """
    first = holes.hole(0)
    if first.peck is not None:
        check_pecks(first, first.peck, operation, setup)
    if first.cycle == "tap" and setup.operation(operation).spindle.turns != "clockwise":
        raise PlanError(
            "a tapping cycle drives a right-hand tap: the spindle must turn clockwise (NISTIR 6556 3.5.16.5), not counterclockwise",
            place=setup.place(operation, first.move),
            cure="turn the spindle clockwise, or cut the left-hand thread in another way",
        )
    written_out = why_written_out(first, setup)
    if not written_out:
        if setup.profile.cycles.depth_from == "r_level":
            # R counts from the present level: standing on it, the same words serve every hole of the cycle.
            way, stand = _way_to(first, stand, operation)
            yield way
        feed = _cycle_feed(first, len(holes), operation, setup)
        yield _cycle(first, HoleRow(holes.xy, holes.move), feed, stand, setup, operation)
        return
    if first.cycle == "tap":
        raise PlanError(
            f"the tapping cycle cannot be written ({written_out}), and a tap cannot be driven by single moves",
            place=setup.place(operation, first.move),
            cure="tap by hand or mill the thread; or set cycles.tap in the profile, if that is what is missing",
        )
    setup.seen[operation].written_out[first.cycle, written_out] += len(holes)
    for (x, y), move in zip(holes.xy.tolist(), holes.move.tolist(), strict=True):
        yield from _single_moves(replace(first, move=move, x=x, y=y), stand, operation, setup)
        stand = stand._replace(xyz=(x, y, first.retract))


def check_pecks(hole: Hole, peck: float, operation: int, setup: Setup) -> None:
    """PlanError for a step that the controller's words cannot say, or that makes too many pecks."""
    cycles = setup.profile.cycles
    count = 1.0 / setup.counts("length", cycles.peck_letter)
    steps = (hole.retract - hole.bottom) / peck
    if peck < count / 2:
        wrong = f"a peck of {peck:.3g} is less than half of {count:g}, the least that {cycles.peck_letter} says"
    elif steps > MOST_PECKS:
        wrong = f"the hole would be drilled in {steps:.4g} pecks; {MOST_PECKS:,} are allowed"
    else:
        return
    raise PlanError(wrong, place=setup.place(operation, hole.move), cure="correct the step: peck")


def _cycle_feed(hole: Hole, holes: int, operation: int, setup: Setup) -> float:
    """F of a cycle: as asked, held to what Z and the largest F allow, which is noted; a tap's exactly, or not at all.

    raises    PlanError for F that is too coarse, or a tap whose pitch would not be the asked one
    """
    asked = hole.feed
    most, by = _fastest_down(setup)
    feed = min(asked, most)
    scale = setup.counts("feed")
    said = max(1, round(feed * scale)) / scale
    if said > most:
        said = max(1, int(feed * scale + 1e-6)) / scale
    if hole.cycle == "tap":
        _check_pitch(hole, said, operation, setup)
        return said
    if said > FASTEST * feed:
        raise PlanError(
            f"a hole needs F {feed:.3g}, but F is written in steps of {1 / scale:g}: the tool would go {said / feed:.3g} times as fast "
            "as it should",
            place=setup.place(operation, hole.move),
            cure="give F more decimals (numbers.feed.decimals) if the controller takes them, or a feed that fits",
        )
    if feed < asked:
        setup.seen[operation].slow(holes, asked, feed, by)
    return said


def _fastest_down(setup: Setup) -> tuple[float, str]:
    """The highest feed per minute of Z in a cycle, program units, and what limits it."""
    feed = setup.profile.feed
    largest = feed.largest_inch if setup.inch else feed.largest_mm
    axis = fastest(setup.profile.linear, "Z") * setup.mm
    return (axis, SLOWED_BY[3]) if axis < largest else (largest, SLOWED_BY[5])


def _check_pitch(hole: Hole, said: float, operation: int, setup: Setup) -> None:
    """A tap moves by its pitch in a turn, so F and S as written have to keep to that; no limit may slow it.

    source    NISTIR 6556 3.5.16.5: feed and speed are synchronised by the program's own numbers; 0.1 percent is common practice
    """
    rpm = setup.operation(operation).spindle.rpm
    pitch = hole.feed / rpm if rpm else 0.0
    speeds, feeds = setup.counts("spindle"), setup.counts("feed")
    most, by = _fastest_down(setup)
    turns = round(rpm * speeds) / speeds
    if not pitch > 0 or not turns > 0:
        raise PlanError("a tap needs a spindle that turns", place=setup.place(operation, hole.move), cure="give the spindle a speed")
    if abs(said / turns / pitch - 1.0) <= PITCH_ERROR:
        return
    fits = _speed_that_fits(pitch, min(rpm, most / pitch), speeds, feeds)
    unit = "inch" if setup.toolpath.units == "inch" else "mm"
    why = f"{by} allows F {most:g}" if hole.feed > most else f"it is written as S{turns:g} F{said:.6g}"
    raise PlanError(
        f"a tap of {pitch / setup.scale:.5g} {unit} pitch at {rpm:g} rpm needs F {hole.feed:.6g}, but {why}: "
        f"the pitch would be off by {100 * abs(said / turns / pitch - 1.0):.2g} percent, and the tap would break",
        place=setup.place(operation, hole.move),
        cure=f"tap at {fits[0]:g} rpm with a feed of {fits[1] / setup.scale:.6g} {unit}/min, which can be written"
        if fits
        else "give F more decimals (numbers.feed.decimals) if the controller takes them",
    )


def _speed_that_fits(pitch: float, highest: float, speeds: float, feeds: float) -> tuple[float, float] | None:
    """The highest speed up to `highest`, and its F, whose pitch as written is the one; None where there is none. In counts of S and F."""
    speed = np.arange(np.floor(highest * speeds + 1e-9), 0, -1)[:100_000] / speeds
    feed = np.rint(speed * pitch * feeds) / feeds
    good = np.flatnonzero((np.abs(feed / speed / pitch - 1.0) <= PITCH_ERROR / 2) & (feed <= highest * pitch * (1 + 1e-9)))
    return (float(speed[good[0]]), float(feed[good[0]])) if len(good) else None


def _cycle(hole: Hole, holes: HoleRow, feed: float, stand: Stand, setup: Setup, operation: int) -> Event:
    cycles = setup.profile.cycles
    from_r = cycles.depth_from == "r_level"
    # R is a height like Z and stands on the same counts, even where the profile gives its letter more decimals for arcs.
    counts = setup.counts("length", "Z")
    top = _on_counts(hole.retract, counts)
    r = _on_counts(hole.retract - stand.xyz[2], counts) if from_r else top
    z = _on_counts(hole.bottom, counts) - top if from_r else hole.bottom
    words = {
        "r": Quantity(cycles.r_letter, r, "length"),
        "z": Quantity("Z", z, "length"),
        "feed": Quantity("F", feed, "feed"),
    }
    if hole.peck is not None:
        words["peck"] = Quantity(cycles.peck_letter, hole.peck, "length")
    if hole.cycle == "dwell-drill":
        words["dwell"] = Quantity(cycles.dwell_letter, hole.dwell, "dwell")
    return Event("cycle", operation, "hole", move=hole.move, facts={"cycle": hole.cycle}, words=words, holes=holes)


def _on_counts(height: float, counts: float) -> float:
    """A height on the counts of a word, rounded as every word is: half of a count that is no half in decimals, as 1.412215, too."""
    return round(height * counts) / counts


def _single_moves(hole: Hole, stand: Stand, operation: int, setup: Setup) -> Iterator[Step]:
    """One hole in single moves, as NISTIR 6556 3.5.16 describes its cycles, with return to the R level."""
    way, stand = _way_to(hole, stand, operation)
    yield way
    *down, up = steps_of(hole, setup)
    if not hole.dwell:
        down.append(up)
    rows = _vertical(hole, stand, down, operation)
    yield Asked(rows, stand)
    stand = after(rows, stand)
    if hole.dwell:
        yield Event("dwell", operation, "hole", move=hole.move, words={"time": dwell_word(hole.dwell, setup)})
        yield Asked(_vertical(hole, stand, [up], operation), stand)


def _way_to(hole: Hole, stand: Stand, operation: int) -> tuple[Motion, Stand]:
    """Up to the retract level if below it, over the hole, down to the retract level: the way into any cycle."""
    up = [(NAN, NAN, hole.retract)] if stand.xyz[2] < hole.retract else []
    return rapids([*up, (hole.x, hole.y, NAN), (NAN, NAN, hole.retract)], stand, operation, "hole")


def dwell_word(seconds: float, setup: Setup) -> Quantity:
    """A pause of so many seconds; writing turns it into the profile's unit."""
    return Quantity(setup.profile.codes.dwell_letter, seconds, "dwell")


def steps_of(hole: Hole, setup: Setup) -> list[tuple[float, bool]]:
    """Heights to go to in turn, and whether at feed: the last but one is the bottom, the last the way up."""
    if hole.peck is None:
        return [(hole.bottom, True), (hole.retract, hole.cycle == "bore")]
    rise, gap = setup.profile.cycles.chip_break_rise * setup.mm, setup.profile.cycles.peck_gap * setup.mm
    steps: list[tuple[float, bool]] = []
    depth = hole.retract
    while depth - hole.peck > hole.bottom + 1e-9:
        depth -= hole.peck
        steps.append((depth, True))
        if hole.cycle == "peck":
            steps += [(hole.retract, False), (min(depth + gap, hole.retract), False)]
        else:
            steps.append((min(depth + rise, hole.retract), False))
    return [*steps, (hole.bottom, True), (hole.retract, False)]


def _vertical(hole: Hole, stand: Stand, steps: list[tuple[float, bool]], operation: int) -> Motion:
    z = np.array([height for height, _ in steps])
    cutting = np.array([at_feed for _, at_feed in steps])
    return motion(
        np.where(cutting, LINE, RAPID),
        np.column_stack([np.full((len(z), 2), (hole.x, hole.y)), z]),
        constant(NAN, (len(z), len(stand.rotary_deg))),
        feed=np.where(cutting, hole.feed, np.nan),
        tip=np.abs(np.diff(z, prepend=stand.xyz[2])),
        move=hole.move,
        operation=operation,
        rule="hole",
    )
