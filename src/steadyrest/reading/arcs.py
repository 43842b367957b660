"""Arcs in every form: centre or radius, any plane, helical, full circles: many at once, or one with the words for what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

import numpy as np

from steadyrest.columns import Bools, Codes, Complexes, Floats, Ints
from steadyrest.conventions import ARC_CLOCKWISE, AXES, MM_PER_INCH, PLANE_AXES, PLANES, XY
from steadyrest.reading.block_words import BlockWords
from steadyrest.reading.dialect import CENTRES, RADIUS, Dialect
from steadyrest.reading.moves import feed_in_force, linear_target, rotary_targets

RADIUS_MISMATCH_MM = 0.002  # NISTIR 6556, 3.5.3.2
RADIUS_MISMATCH_INCH = 0.0002
SAME_PLACE_MM = 1e-9  # positions are decimals: what differs by less is the same number
SWEEP_NEAR_DEG = 1e-3  # of the profile's widest arc: rounded end points may show this much more


@dataclass(frozen=True, slots=True)
class ArcShapes:
    """n arcs in one plane.

    centre      (n,) mm, along the first axis of the plane and, as the imaginary part, the second
    radius, other_radius   (n,) mm, from the centre to the start and to the end
    half_chord  (n,) mm
    full_turns  (n,) whole turns in the sweep
    sweep_rad   (n,) from start to end, counterclockwise positive seen from the + end of the third axis
    length_mm   (n,) of the path, along the helix
    wrong       by rule, in the order in which they are asked, which arcs break it; what stands above is meaningless there
    """

    centre: Complexes
    radius: Floats
    other_radius: Floats
    half_chord: Floats
    full_turns: Ints
    sweep_rad: Floats
    length_mm: Floats
    wrong: dict[str, Bools]


def arcs_are_spoken(plane: int, dialect: Dialect) -> bool:
    """Whether the controller has arcs in a plane, and none of its two axes turns the rotary."""
    return PLANES[plane] in dialect.profile.arcs.planes and dialect.replaced not in PLANE_AXES[plane][:2]


def radius_mismatch_mm(*, inch: bool) -> float:
    """How far the radii at the two ends of an arc may differ (NISTIR 6556, 3.5.3.2)."""
    return RADIUS_MISMATCH_INCH * MM_PER_INCH if inch else RADIUS_MISMATCH_MM


def arc_shapes(
    motion: Codes,
    places: Sequence[Floats],
    named: Sequence[Bools],
    words: Mapping[str, Floats],
    plane: int,
    dialect: Dialect,
    *,
    inch: bool,
) -> ArcShapes:
    """What arcs of a plane are (NISTIR 6556, 3.5.3).

    motion  (n,) ARC_CLOCKWISE, seen from the + end of the third axis, or ARC_COUNTERCLOCKWISE
    places  X, Y, Z in mm, each (2, n): start and end
    named   X, Y, Z, each (n,): the block has a word of it
    words   I, J, K and R in mm, each (n,), NaN where the block has none. A centre counts from the start whatever the distance mode says,
            or is a position, by the profile; a radius is up to half a turn where it is positive, more where it is negative (3.5.3.1)
    """
    arcs = dialect.profile.arcs
    first, second, third = PLANE_AXES[plane]
    start, end = places[first] + 1j * places[second]  # in the plane, counterclockwise from its first axis to its second
    i, j, radius_word = words[CENTRES[first]], words[CENTRES[second]], words[RADIUS]
    no_i, no_j, by_radius, other = np.isnan(i), np.isnan(j), radius_word == radius_word, ~np.isnan(words[CENTRES[third]])
    neither = no_i & no_j
    some_centre = other | ~neither
    wrong: dict[str, Bools] = {
        "no end": ~(named[first] | named[second]),
        "no start": np.isnan(start),
        "both": by_radius & some_centre,
        "other letter": ~by_radius & other,
    }
    if arcs.form == "radius":
        wrong["centre"] = some_centre
    centre = np.where(no_i, 0.0, i) + 1j * np.where(no_j, 0.0, j)
    if arcs.centre_is == "absolute":
        neither = no_i | no_j
    else:
        centre += start
    wrong["no centre"] = ~by_radius & neither
    way = end - start
    chord = np.abs(way)
    clockwise = motion == ARC_CLOCKWISE
    if by_radius.any():
        wrong["anywhere"] = by_radius & (chord <= SAME_PLACE_MM)
        wrong["too small"] = by_radius & (chord / 2 > np.abs(radius_word) + SAME_PLACE_MM)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.sqrt(np.maximum(radius_word * radius_word - chord * chord / 4, 0.0)) / chord
            off = np.where(clockwise == (radius_word > 0), -off, off)
            centre = np.where(by_radius, (start + end) / 2 + 1j * off * way, centre)
    arm, last = start - centre, end - centre
    radius, other_radius = np.abs(arm), np.abs(last)
    turn = last * np.conj(arm)
    sweep = np.arctan2(turn.imag, turn.real)
    sweep = np.where(clockwise, -sweep, sweep)
    sweep = np.where(sweep <= 0, sweep + 2 * np.pi, sweep)
    closed = chord <= SAME_PLACE_MM
    wrong["mismatch"] = np.abs(radius - other_radius) > radius_mismatch_mm(inch=inch) + SAME_PLACE_MM
    wrong["no radius"] = np.minimum(radius, other_radius) <= SAME_PLACE_MM
    wrong["almost closed"] = ~closed & (sweep > 1.5 * np.pi) & (chord <= RADIUS_MISMATCH_MM)
    sweep = np.where(closed, 2 * np.pi, sweep)
    if not arcs.full_circles:
        wrong["full circle"] = closed
    rise = np.where(named[third], places[third][1] - places[third][0], 0.0)
    if not arcs.helical:
        wrong["helical"] = rise != 0
    wrong["radius"] = ~((arcs.smallest_radius - RADIUS_MISMATCH_MM <= radius) & (radius <= arcs.largest_radius + RADIUS_MISMATCH_MM))
    wrong["sweep"] = sweep > math.radians(arcs.largest_sweep + SWEEP_NEAR_DEG)
    length = np.hypot(radius * sweep, rise)
    signed = np.where(clockwise, -sweep, sweep)
    return ArcShapes(centre, radius, other_radius, chord / 2, closed.astype(np.int64), signed, length, wrong)


def arc(block: BlockWords, motion: int) -> None:
    """An arc of the plane in force to the block's end point, one row (NISTIR 6556, 3.5.3).

    raises   ProgramError for what 3.5.3 calls an error and for what the profile says the controller does not speak
    """
    state, dialect = block.state, block.dialect
    plane = _plane(block)
    first, second, third = PLANE_AXES[plane]
    start = state.position_mm
    named = [np.array([axis in block.words]) for axis in AXES]
    if not (named[first] | named[second]) and block.may_be_whole_circle():
        named[first] |= block.granted("an arc with a centre but no end point is a full circle")
    end, rotary_deg = linear_target(block), rotary_targets(block)
    words = {letter: np.array([block.length_mm(block.words[letter]) if letter in block.words else np.nan]) for letter in CENTRES + RADIUS}
    places = [np.array([[before], [after]]) for before, after in zip(start, end, strict=True)]
    shapes = arc_shapes(np.array([motion]), places, named, words, plane, dialect, inch=state.inch)
    broken = next((rule for rule, rows in shapes.wrong.items() if rows[0]), None)
    if broken is not None:
        _refuse(block, broken, shapes, plane)
    for letter in words:
        block.take(letter)
    feed = feed_in_force(block)
    if third == 2 and "Z" in block.words:
        state.clear = False
    middle = list(start)
    middle[first], middle[second] = float(shapes.centre.real[0]), float(shapes.centre.imag[0])
    shape = (float(shapes.sweep_rad[0]), int(shapes.full_turns[0]), float(shapes.length_mm[0]))
    arc = (middle[0], middle[1], middle[2], plane, *shape)
    block.out.row(state, block.line, motion, end, rotary_deg, feed_word=feed, arc=arc)


def _plane(block: BlockWords) -> int:
    """The plane in force, if the controller speaks arcs in it."""
    codes, arcs, replaced = block.dialect.profile.codes, block.dialect.profile.arcs, block.dialect.replaced
    told, planes = "arcs in the XY plane (no plane in the program)", [codes.plane_xy, codes.plane_xz, codes.plane_yz]
    plane = block.state.plane = block.stated(block.state.plane, "the plane of arcs", planes, "the first arc", XY, told)
    if PLANES[plane] not in arcs.planes:
        allowed = f"this controller has arcs in {', '.join(arcs.planes)} only"
        block.fail(f"an arc in {PLANES[plane]}: {allowed}", "write it in straight blocks")
    if not arcs_are_spoken(plane, block.dialect):
        block.fail(f"an arc in {PLANES[plane]}, where {AXES[replaced]} turns the rotary", "choose another plane")
    return plane


def _refuse(block: BlockWords, rule: str, shapes: ArcShapes, plane: int) -> NoReturn:
    """The message for the rule that an arc breaks."""
    arcs, mm = block.dialect.profile.arcs, block.mm_per_unit()
    first, second, third = PLANE_AXES[plane]
    one, two = AXES[first], AXES[second]
    low, high = sorted((CENTRES[first], CENTRES[second]))
    needed = f"{low} {'and' if arcs.centre_is == 'absolute' else 'or'} {high}"
    radius_word, other = block.words.get(RADIUS), block.words.get(CENTRES[third])
    centre = next((block.words[letter] for letter in CENTRES if letter in block.words), None)
    half_chord = float(shapes.half_chord[0]) / mm
    radius, at_end, degrees = float(shapes.radius[0]), float(shapes.other_radius[0]), math.degrees(abs(shapes.sweep_rad[0]))
    allowed = f"from {arcs.smallest_radius:g} to {arcs.largest_radius:g} mm"
    at = {"both": centre, "other letter": other, "anywhere": radius_word, "too small": radius_word}.get(rule)
    split, said = "write it in straight blocks", at.text if at is not None else ""
    may_differ = f"they may differ by {radius_mismatch_mm(inch=block.state.inch):g} mm"
    unclear = "the last digit decides between no arc and a full circle"
    wrong, cure = {
        "no end": (f"an arc without an end point: neither {one} nor {two} is given", "give the end point, also when it is the start"),
        "no start": ("an arc from an unknown position", f"go to a position with {one} and {two} first"),
        "both": (f"R and {said[:1]} on one arc", "keep either the radius or the centre"),
        "other letter": (
            f"{said} in the plane {PLANES[plane]}, where the centre is {low} and {high}",
            "correct the letter or the plane",
        ),
        "centre": ("an arc with a centre: this controller takes arcs by radius only", "give the radius R instead"),
        "no centre": (f"an arc without its centre: {needed} missing", f"give {needed}"),
        "anywhere": ("an arc with R that ends where it starts: its centre could be anywhere", "give the centre"),
        "too small": (f"{said} is too small: half the way from start to end is {half_chord:g}", "correct the radius"),
        "mismatch": (
            f"the arc's radius is {radius:.4f} mm at its start and {at_end:.4f} mm at its end; {may_differ}",
            "correct the end point or the centre",
        ),
        "no radius": ("an arc without a radius: its centre is its own start or end", "correct the centre"),
        "almost closed": (
            f"an arc that ends almost where it starts: {unclear}",
            "end a full circle exactly at its start, or leave the arc out",
        ),
        "full circle": ("a full circle: this controller has none", "write it as two arcs"),
        "helical": ("a helical arc: this controller has none", split),
        "radius": (f"an arc of radius {radius:g} mm: this controller has arcs {allowed}", split),
        "sweep": (
            f"an arc of {degrees:.3f} degrees: this controller has arcs up to {arcs.largest_sweep:g} degrees",
            "write it as several arcs",
        ),
    }[rule]
    block.fail(wrong, cure, at)
