"""Arcs in every form, and the arcs that a controller does not speak."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import Reading, blocks, read, refusal

from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, XY, XZ, YZ


def last(got: Reading) -> dict[str, object]:
    run = got.runs[-1]
    assert run.arcs is not None
    return {
        "end": tuple(run.end_mm[-1].tolist()),
        "centre": tuple(run.arcs.centre_mm[-1].tolist()),
        "plane": int(run.arcs.plane[-1]),
        "turns": int(run.arcs.full_turns[-1]),
        "motion": int(run.motion[-1]),
        "mm": float(run.minutes[-1] * run.feed_word[-1]),
    }


def arc(text: str, profile: str = "rs274ngc", *sets: str) -> dict[str, object]:
    end = "M2" if profile == "rs274ngc" else "M30"
    return last(read(f"%\nG17 G21 G90 G94\nG0 X0 Y0 Z0 A0\n{text} F100\n{end}\n%", profile, *sets))


@pytest.mark.parametrize(
    ("text", "centre", "plane", "motion", "mm"),
    [
        ("G2 X10 Y0 I5", (5, 0, 0), XY, ARC_CLOCKWISE, 5 * math.pi),
        ("G3 X5 Y5 J5", (0, 5, 0), XY, ARC_COUNTERCLOCKWISE, 2.5 * math.pi),
        ("G2 X5 Y5 J5", (0, 5, 0), XY, ARC_CLOCKWISE, 7.5 * math.pi),
        ("G18 G3 X5 Z5 I5", (5, 0, 0), XZ, ARC_COUNTERCLOCKWISE, 2.5 * math.pi),
        ("G18 G2 X5 Z5 I5", (5, 0, 0), XZ, ARC_CLOCKWISE, 7.5 * math.pi),
        ("G19 G3 Y5 Z5 K5", (0, 0, 5), YZ, ARC_COUNTERCLOCKWISE, 2.5 * math.pi),
    ],
)
def test_a_centre_counts_from_the_start(text: str, centre: tuple[float, ...], plane: int, motion: int, mm: float) -> None:
    got = arc(text)
    assert (centre, plane, motion) == (got["centre"], got["plane"], got["motion"])
    assert mm == pytest.approx(got["mm"])


def test_centres_of_steps_stay_steps_and_ends_add_up() -> None:
    got = last(blocks("G0 X1 Y1 Z0\nG91 G2 X10 Y0 I5 F9"))
    assert ((11, 1, 0), (6, 1, 0)) == (got["end"], got["centre"])


def test_centres_may_be_positions() -> None:
    got = last(read("%\nG17 G21 G90 G94\nG0 X10 Y0 Z0\nG3 X0 Y10 I0 J0 F9\nM30\n%", "absolute-centres"))
    assert (0, 0, 0) == got["centre"]
    assert 5 * math.pi == pytest.approx(got["mm"])


def test_a_centre_that_is_a_position_needs_both_letters() -> None:
    assert "I and J missing" in refusal("%\nG17 G21 G90\nG0 X0 Y0\nG2 X3 I5 F9\nM30\n%", "absolute-centres", whole=True).wrong


def test_a_full_circle_ends_where_it_starts() -> None:
    got = arc("G2 X0 Y0 I5")
    assert (1, 10 * math.pi) == (got["turns"], pytest.approx(got["mm"]))


def test_a_helix_is_timed_along_its_path() -> None:
    assert math.hypot(10 * math.pi, 3) == pytest.approx(arc("G3 X0 Y0 I5 Z3")["mm"])


def test_the_rotary_may_turn_during_an_arc() -> None:
    assert 90.0 == blocks("G0 X0 Y0 Z0 A0\nG2 X10 Y0 I5 A90 F9").angles[-1]


def test_an_arc_that_comes_down_is_no_longer_clear() -> None:
    got = blocks("G0 X0 Y0\nG53 G0 Z0\nG2 X10 Y0 I5 F9\nG2 X0 I-5 Z3")
    assert [True, False] == list(got.column("clear"))[-2:]


@pytest.mark.parametrize(("radius", "centre_y", "mm"), [("5", -3, 10 * math.asin(0.8)), ("-5", 3, 10 * (math.pi - math.asin(0.8)))])
def test_a_negative_radius_goes_the_long_way_round(radius: str, centre_y: float, mm: float) -> None:
    got = arc(f"G2 X8 Y0 R{radius}")
    np.testing.assert_allclose(got["centre"], (4, centre_y, 0), atol=1e-12)
    assert mm == pytest.approx(got["mm"])


@pytest.mark.parametrize(("code", "radius", "centre_y"), [("G2", 0.5, -0.3), ("G3", 0.5, 0.3), ("G2", -0.5, 0.3), ("G3", -0.5, -0.3)])
def test_a_small_radius_is_on_the_same_side_as_a_large_one(code: str, radius: float, centre_y: float) -> None:
    """A chord of 0.8 at a radius of 0.5: the centre is 0.3 beside its middle, right of the way for the short way clockwise."""
    (arcs,) = (run.arcs for run in blocks(f"G0 X0 Y0 Z0\n{code} X0.8 Y0 R{radius} F100").runs if run.arcs is not None)
    assert arcs.centre_mm[-1, :2] == pytest.approx((0.4, centre_y))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G2 X10 Y0 I4", "radius is 4.0000 mm at its start and 6.0000 mm at its end"),
        ("G2 X10 Y0", "I or J missing"),
        ("G2 Z1 I5", "without an end point: neither X nor Y"),
        ("G2 X10 K5", "in the plane XY, where the centre is I and J"),
        ("G18 G2 X10 Z0 J5", "in the plane XZ, where the centre is I and K"),
        ("G2 X0 Y0 R5", "ends where it starts"),
        ("G2 X10 Y0 R4.9", "too small"),
        ("G2 X10 Y0 R6 I5", "R and I on one arc"),
        ("G2 X0 Y5 I0 J0", "radius"),
        ("G2 X0.001 Y0 I5", "ends almost where it starts"),
    ],
)
def test_an_arc_that_is_none_is_refused(text: str, words: str) -> None:
    assert words in refusal(f"G0 X0 Y0 Z0\n{text} F100").wrong


def test_a_mismatch_of_rounding_is_taken() -> None:
    assert 1 == arc("G2 X10 Y0 I5.001")["motion"] - 1


def test_an_arc_from_an_unknown_place_is_refused() -> None:
    assert "from an unknown position" in refusal("G0 X0\nG2 X10 Y0 I5 F9").wrong


@pytest.mark.parametrize(
    ("text", "sets", "words"),
    [
        ("G2 X10 I5", ["arcs.form=radius", "arcs.full_circles=false"], "by radius only"),
        ("G2 X0 Y0 I5", ["arcs.full_circles=false"], "a full circle"),
        ("G2 X10 I5 Z1", ["arcs.helical=false"], "helical"),
        ("G2 X10 I5", ["arcs.largest_radius=4"], "arcs from 0 to 4 mm"),
        ("G2 X10 I5", ["arcs.smallest_radius=6"], "arcs from 6 to"),
        ("G2 X10 I5", ["arcs.full_circles=false", "arcs.largest_sweep=165"], "up to 165 degrees"),
        ("G18 G2 X10 I5", ['arcs.planes=["XY"]'], "has arcs in XY only"),
    ],
)
def test_an_arc_that_the_controller_does_not_speak_is_refused(text: str, sets: list[str], words: str) -> None:
    assert words in refusal(f"G0 X0 Y0 Z0\n{text} F100", "rs274ngc", *sets).wrong


def test_without_arcs_their_codes_do_not_exist() -> None:
    assert "G2 is not a code" in refusal("G0 X0 Y0 Z0\nG2 X10 F9\nM30", "plain-lines", whole=True).wrong


def test_an_arc_in_the_plane_of_a_substituted_axis_is_refused() -> None:
    text = "%\nG17 G21 G90 G94\nG0 X0 Y0 Z0\nG2 X10 I5 F9\nM30\n%"
    assert "has arcs in XZ only" in refusal(text, "y-drives-rotary", whole=True).wrong


def test_a_radius_that_is_too_small_is_told_with_half_the_way_in_the_units_of_the_program() -> None:
    assert "half the way from start to end is 0.5" in refusal("G20\nG0 X0 Y0 Z0 A0\nG2 X1 Y0 R0.4 F9").wrong
