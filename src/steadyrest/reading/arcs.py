"""Arcs in every form: centre or radius, any plane, helical, full circles."""

from __future__ import annotations

import math
from typing import NoReturn

import numpy as np

from steadyrest.reading.arc_shapes import ArcShapes, arc_shapes, radius_mismatch_mm
from steadyrest.reading.blocks import Word
from steadyrest.reading.dialect import CENTRES, LINEAR
from steadyrest.reading.model import CLOCKWISE, PLANE_XY, PLANE_XZ, PLANE_YZ
from steadyrest.reading.moves import Point, feed_in_force, is_incremental, linear_target
from steadyrest.reading.rotary import rotary_target
from steadyrest.reading.words_in_hand import WordsInHand

# First, second and third axis of each plane: from first to second is counterclockwise seen from the third (NISTIR 6556, 3.5.3).
AXES = {PLANE_XY: (0, 1, 2), PLANE_XZ: (2, 0, 1), PLANE_YZ: (1, 2, 0)}
PLANE_NAMES = {PLANE_XY: "XY", PLANE_XZ: "XZ", PLANE_YZ: "YZ"}


def arc(block: WordsInHand, motion: int) -> None:
    """An arc of the plane in force to the block's end point, one row (NISTIR 6556, 3.5.3).

    raises   ProgramError for what 3.5.3 calls an error and for what the profile says the controller does not speak
    """
    state, dialect = block.state, block.dialect
    plane = _plane(block)
    first, second, third = AXES[plane]
    letters = LINEAR[first] + LINEAR[second]
    incremental = is_incremental(block)
    if not any(letter in block.words for letter in letters) and not block.whole_circle():
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
    start_in_plane, end_in_plane = (start[first], start[second]), (end[first], end[second])
    radius_word = block.take("R")
    if radius_word is not None:
        _without_centre(block, radius_word)
        given, radius = start_in_plane, block.length_mm(radius_word)
    else:
        given, radius = _centre(block, first, second, start), math.nan
    shapes = arc_shapes(
        np.array([start_in_plane]),
        np.array([end_in_plane]),
        np.array([given]),
        np.array([radius]),
        np.array([motion == CLOCKWISE]),
        np.array([helical and end[third] != start[third]]),
        dialect.profile.arcs,
        inch=state.inch,
    )
    for rule, broken in shapes.wrong.items():
        if broken[0]:
            _refuse(block, rule, shapes, radius_word)
    feed = feed_in_force(block)
    if helical and third == 2:
        state.clear = False
    rise = end[third] - start[third] if helical else 0.0
    length = float(np.hypot(shapes.radius[0] * shapes.sweep_rad[0], rise))
    middle = [0.0, 0.0, 0.0]
    middle[first], middle[second], middle[third] = float(shapes.centre[0, 0]), float(shapes.centre[0, 1]), start[third]
    block.out.row(
        state,
        block.line,
        motion,
        end,
        w_deg,
        feed_word=feed,
        clear=state.clear,
        arc=(middle[0], middle[1], middle[2], plane, float(shapes.sweep_rad[0]), int(shapes.full_turns[0]), length),
    )


def _plane(block: WordsInHand) -> int:
    """The plane in force, if the controller speaks arcs in it."""
    codes, arcs = block.dialect.profile.codes, block.dialect.profile.arcs
    plane = block.state.plane
    if plane is None and block.granted("the plane of arcs is XY, none is stated"):
        plane = block.state.plane = PLANE_XY
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


def _without_centre(block: WordsInHand, word: Word) -> None:
    """Refuse a centre beside a radius."""
    for letter in CENTRES:
        if letter in block.words:
            block.fail(f"{word.letter} and {letter} on one arc", "keep either the radius or the centre", block.words[letter])


def _refuse(block: WordsInHand, rule: str, shapes: ArcShapes, word: Word | None) -> NoReturn:
    """The message for the rule that an arc breaks."""
    arcs = block.dialect.profile.arcs
    radius, other, degrees = float(shapes.radius[0]), float(shapes.other_radius[0]), math.degrees(abs(shapes.sweep_rad[0]))
    match rule:
        case "anywhere":
            block.fail("an arc with R that ends where it starts: its centre could be anywhere", "give the centre", word)
        case "too small":
            half = float(shapes.half_chord[0]) / block.mm_per_unit()
            text = word.text if word is not None else "R"
            block.fail(f"{text} is too small: half the way from start to end is {half:g}", "correct the radius", word)
        case "mismatch":
            allowed = radius_mismatch_mm(inch=block.state.inch)
            block.fail(
                f"the arc's radius is {radius:.4f} mm at its start and {other:.4f} mm at its end; they may differ by {allowed:g} mm",
                "correct the end point or the centre",
            )
        case "no radius":
            block.fail("an arc without a radius: its centre is its own start or end", "correct the centre")
        case "almost closed":
            block.fail(
                "an arc that ends almost where it starts: whether it is nothing or a full circle hangs on the last digit",
                "end a full circle exactly at its start, or leave the arc out",
            )
        case "full circle":
            block.fail("a full circle: this controller has none", "write it as two arcs")
        case "helical":
            block.fail("a helical arc: this controller has none", "write it in straight blocks")
        case "radius":
            block.fail(
                f"an arc of radius {radius:g} mm: this controller has arcs from {arcs.smallest_radius:g} to {arcs.largest_radius:g} mm",
                "write it in straight blocks",
            )
        case _:
            block.fail(
                f"an arc of {degrees:.3f} degrees: this controller has arcs up to {arcs.largest_sweep:g} degrees",
                "write it as several arcs",
            )
