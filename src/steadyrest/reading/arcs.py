"""Arcs in every form: centre or radius, any plane, helical, full circles."""

from __future__ import annotations

import math

from steadyrest.reading.blocks import Word
from steadyrest.reading.dialect import CENTRES, LINEAR, MM_PER_INCH
from steadyrest.reading.model import CLOCKWISE, COUNTERCLOCKWISE, PLANE_XY, PLANE_XZ, PLANE_YZ
from steadyrest.reading.moves import Point, feed_in_force, is_incremental, linear_target
from steadyrest.reading.rotary import rotary_target
from steadyrest.reading.words_in_hand import WordsInHand

# First, second and third axis of each plane: from first to second is counterclockwise seen from the third (NISTIR 6556, 3.5.3).
AXES = {PLANE_XY: (0, 1, 2), PLANE_XZ: (2, 0, 1), PLANE_YZ: (1, 2, 0)}
PLANE_NAMES = {PLANE_XY: "XY", PLANE_XZ: "XZ", PLANE_YZ: "YZ"}
RADIUS_MISMATCH_MM = 0.002  # NISTIR 6556, 3.5.3.2
RADIUS_MISMATCH_INCH = 0.0002
SAME_PLACE_MM = 1e-9  # positions are decimals: what differs by less is the same number
SWEEP_NEAR_DEG = 1e-3  # of the profile's widest arc: rounded end points may show this much more


def arc(block: WordsInHand, motion: int) -> None:
    """An arc of the plane in force to the block's end point, one row (NISTIR 6556, 3.5.3).

    raises   ProgramError for what 3.5.3 calls an error and for what the profile says the controller does not speak
    """
    state, dialect = block.state, block.dialect
    plane = _plane(block)
    first, second, third = AXES[plane]
    letters = LINEAR[first] + LINEAR[second]
    incremental = is_incremental(block)
    if not any(letter in block.words for letter in letters):
        block.fail(
            f"an arc without an end point: neither {letters[0]} nor {letters[1]} is given", "give the end point, also when it is the start"
        )
    start = state.position_mm
    if dialect.replaced in (first, second):
        block.fail(f"an arc in {PLANE_NAMES[plane]}, where {LINEAR[dialect.replaced]} turns the rotary", "choose another plane")
    if math.isnan(start[first]) or math.isnan(start[second]):
        block.fail("an arc from a place that is not known", f"go to a position with {letters[0]} and {letters[1]} first")
    helical = LINEAR[third] in block.words
    end = linear_target(block, incremental=incremental)
    w_deg = rotary_target(block, incremental=incremental)
    radius_word = block.take("R")
    if radius_word is not None:
        centre = _centre_from_radius(block, radius_word, (start[first], start[second]), (end[first], end[second]), motion)
    else:
        centre = _centre(block, first, second, start)
    radius, full_turns, sweep = _shape(block, centre, (start[first], start[second]), (end[first], end[second]), motion)
    _check_spoken(block, radius, sweep + 2 * math.pi * full_turns, full_turns, helical and end[third] != start[third])
    feed = feed_in_force(block)
    if helical and third == 2:
        state.clear = False
    rise = end[third] - start[third] if helical else 0.0
    length = math.hypot(radius * (sweep + 2 * math.pi * full_turns), rise)
    middle = [0.0, 0.0, 0.0]
    middle[first], middle[second], middle[third] = centre[0], centre[1], start[third]
    block.out.row(
        state,
        block.line,
        motion,
        end,
        w_deg,
        feed_word=feed,
        clear=state.clear,
        arc=(middle[0], middle[1], middle[2], plane, full_turns, length),
    )


def _plane(block: WordsInHand) -> int:
    """The plane in force, if the controller speaks arcs in it."""
    codes, arcs = block.dialect.profile.codes, block.dialect.profile.arcs
    plane = block.state.plane
    if plane is None:
        block.must_state("the plane of arcs", [codes.plane_xy, codes.plane_xz, codes.plane_yz], "the first arc")
    if PLANE_NAMES[plane] not in arcs.planes:
        block.fail(
            f"an arc in {PLANE_NAMES[plane]}: this controller has arcs in {', '.join(arcs.planes)} only", "write it in straight blocks"
        )
    return plane


def _centre(block: WordsInHand, first: int, second: int, start: Point) -> tuple[float, float]:
    """The centre in the plane from I, J, K: increments from the start whatever the distance mode says, or positions, by the profile."""
    arcs = block.dialect.profile.arcs
    if arcs.form == "radius" and any(letter in block.words for letter in CENTRES):
        block.fail("an arc with a centre: this controller speaks radius words only", "give the radius R instead")
    centre: list[float] = []
    given = 0
    for axis in (first, second):
        word = block.take(CENTRES[axis])
        if word is not None:
            given += 1
            centre.append(block.length_mm(word) + (0.0 if arcs.centre_is == "absolute" else start[axis]))
        else:
            centre.append(start[axis])
    needed = 2 if arcs.centre_is == "absolute" else 1
    low, high = sorted((CENTRES[first], CENTRES[second]))
    for letter in CENTRES:
        if letter in block.words and letter not in (low, high):
            word, plane = block.words[letter], PLANE_NAMES[block.state.plane or 0]
            block.fail(f"{word.text} in the plane {plane}, where the centre is {low} and {high}", "correct the letter or the plane", word)
    if given < needed:
        names = f"{low} {'and' if needed == 2 else 'or'} {high}"
        block.fail(f"an arc without its centre: {names} missing", f"give {names}")
    return centre[0], centre[1]


def _centre_from_radius(
    block: WordsInHand, word: Word, start: tuple[float, float], end: tuple[float, float], motion: int
) -> tuple[float, float]:
    """The centre of an arc with R: up to half a turn for a positive R, more for a negative one (NISTIR 6556, 3.5.3.1)."""
    for letter in CENTRES:
        if letter in block.words:
            block.fail(f"R and {letter} on one arc", "keep either the radius or the centre", block.words[letter])
    radius = block.length_mm(word)
    across, up = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(across, up)
    if chord <= SAME_PLACE_MM:
        block.fail("an arc with R that ends where it starts: its centre could be anywhere", "give the centre", word)
    half = chord / 2
    if half > abs(radius) + SAME_PLACE_MM:
        block.fail(
            f"{word.text} is too small: half the way from start to end is {half / block.mm_per_unit():g}", "correct the radius", word
        )
    off = math.sqrt(max(radius * radius - half * half, 0.0))
    side = 1.0 if (motion == COUNTERCLOCKWISE) == (radius > 0) else -1.0
    return (
        (start[0] + end[0]) / 2 - side * off * up / chord,
        (start[1] + end[1]) / 2 + side * off * across / chord,
    )


def _shape(
    block: WordsInHand, centre: tuple[float, float], start: tuple[float, float], end: tuple[float, float], motion: int
) -> tuple[float, int, float]:
    """Radius in mm, whole turns, and sweep in radians beyond them; the two radii may differ by what 3.5.3.2 allows."""
    from_start = (start[0] - centre[0], start[1] - centre[1])
    from_end = (end[0] - centre[0], end[1] - centre[1])
    radius, other = math.hypot(*from_start), math.hypot(*from_end)
    allowed = RADIUS_MISMATCH_INCH * MM_PER_INCH if block.state.inch else RADIUS_MISMATCH_MM
    if abs(radius - other) > allowed + SAME_PLACE_MM:
        block.fail(
            f"the arc's radius is {radius:.4f} mm at its start and {other:.4f} mm at its end; they may differ by {allowed:g} mm",
            "correct the end point or the centre",
        )
    if min(radius, other) <= SAME_PLACE_MM:
        block.fail("an arc without a radius: its centre is its own start or end", "correct the centre")
    if math.hypot(end[0] - start[0], end[1] - start[1]) <= SAME_PLACE_MM:
        return radius, 1, 0.0
    cross = from_start[0] * from_end[1] - from_start[1] * from_end[0]
    dot = from_start[0] * from_end[0] + from_start[1] * from_end[1]
    sweep = math.atan2(cross, dot)
    if motion == CLOCKWISE:
        sweep = -sweep
    if sweep <= 0:
        sweep += 2 * math.pi
    if sweep > 1.5 * math.pi and math.hypot(end[0] - start[0], end[1] - start[1]) <= RADIUS_MISMATCH_MM:
        block.fail(
            "an arc that ends almost where it starts: whether it is nothing or a full circle hangs on the last digit",
            "end a full circle exactly at its start, or leave the arc out",
        )
    return radius, 0, sweep


def _check_spoken(block: WordsInHand, radius: float, sweep: float, full_turns: int, helical: bool) -> None:
    """Refuse an arc that the profile says its controller does not have."""
    arcs = block.dialect.profile.arcs
    if full_turns and not arcs.full_circles:
        block.fail("a full circle: this controller has none", "write it as two arcs")
    if helical and not arcs.helical:
        block.fail("a helical arc: this controller has none", "write it in straight blocks")
    slack = RADIUS_MISMATCH_MM
    if not arcs.smallest_radius - slack <= radius <= arcs.largest_radius + slack:
        block.fail(
            f"an arc of radius {radius:g} mm: this controller has arcs from {arcs.smallest_radius:g} to {arcs.largest_radius:g} mm",
            "write it in straight blocks",
        )
    if math.degrees(sweep) > arcs.largest_sweep + SWEEP_NEAR_DEG:
        block.fail(
            f"an arc of {math.degrees(sweep):.3f} degrees: this controller has arcs up to {arcs.largest_sweep:g} degrees",
            "write it as several arcs",
        )
