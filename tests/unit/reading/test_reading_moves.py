"""Straight motion, machine coordinates, the reference point, and which F holds."""

from __future__ import annotations

import math

import pytest
from reading_parts import HEAD, blocks, read, refusal, same

from steadyrest.profile import load_profile

UPRIGHT = "upright-c"


def whole(text: str) -> str:
    return HEAD + text + "\nM30\n%\n"


def test_an_axis_without_a_word_stays() -> None:
    assert [(1.0, 2.0, 3.0, 0.0), (5.0, 2.0, 3.0, 0.0)] == blocks("G0 X1 Y2 Z3 A0\nX5").ends


def test_steps_add_up_from_the_last_position() -> None:
    assert [(1.0, 2.0, 3.0, 10.0), (1.5, 2.0, 2.0, 0.0)] == blocks("G0 X1 Y2 Z3 A10\nG91 X0.5 Z-1 A-10").ends


def test_a_step_from_an_unknown_place_is_refused() -> None:
    assert "step from an unknown position" in refusal("G91 G0 X1").wrong


def test_inch_words_come_out_in_mm_and_angles_in_degrees() -> None:
    same([(25.4, 0.0, -12.7, 90.0)], blocks("G20\nG0 X1 Y0 Z-0.5 A90").ends)


def test_a_retract_in_machine_coordinates_leaves_z_unknown_and_clear_until_a_z_word() -> None:
    got = blocks("G0 X1 Y2 Z3\nG53 G0 Z0\nX5 A90\nZ4\nX6")
    same([3.0, math.nan, math.nan, 4.0, 4.0], [(end[2]) for end in got.ends])
    assert [False, False, True, False, False] == list(got.column("clear"))
    assert [4] == [event.line for event in got.of("retract")]


def test_the_machine_coordinates_hold_for_one_block() -> None:
    assert 7.0 == blocks("G53 G0 Z0\nZ7").ends[-1][2]


def test_a_way_in_machine_coordinates_below_the_clear_height_is_refused() -> None:
    assert "below the clear height 0 mm" in refusal("G53 G0 Z-50").wrong


def test_machine_coordinates_leave_the_other_axes_unknown() -> None:
    same([(math.nan, 2.0, 3.0, math.nan)], [blocks("G0 X1 Y2 Z3\nG53 G0 X0").ends[-1]])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G91 G53 G0 Z0", "while incremental positions are active"),
        ("G53 G0 A0", "machine coordinates"),
        ("G0 X0 Y0\nG2 X2 I1 F9\nG53 Z0", "needs a rapid or a line"),
        ("G53 G0", "needs a rapid or a line"),
    ],
)
def test_machine_coordinates_that_cannot_be_followed_are_refused(text: str, words: str) -> None:
    assert words in refusal(text).wrong


def test_the_way_to_the_reference_point_goes_by_the_point_given() -> None:
    got = read(whole("G0 X1 Y2 Z3 C4\nG28 Z30"), UPRIGHT)
    same([(1, 2, 3, 4), (1, 2, 30, 4), (1, 2, math.nan, 4)], got.ends)


def test_a_reference_by_way_of_the_present_place_is_one_row() -> None:
    got = read(whole("G0 X1 Y2 Z3 C4\nG91 G28 Z0\nG90 X5"), UPRIGHT)
    same([(1, 2, 3, 4), (1, 2, math.nan, 4), (5, 2, math.nan, 4)], got.ends)
    assert [False, False, True] == list(got.column("clear"))


def test_a_reference_by_way_of_a_step_of_one_axis_goes_that_step_first() -> None:
    got = read(whole("G0 X1 Y2 Z3 C4\nG91 G28 X0 Z5"), UPRIGHT)
    same([(1, 2, 3, 4), (1, 2, 8, 4), (math.nan, 2, math.nan, 4)], got.ends)


def test_in_the_language_of_the_report_all_axes_go_to_the_reference_point() -> None:
    same([(math.nan,) * 4], [blocks("G0 X1 Y2 Z3 A4\nG28 Z30").ends[-1]])


def test_a_reference_without_z_is_refused() -> None:
    assert "does not go clear" in refusal("G0 X1\nG28 X0").wrong


@pytest.mark.parametrize("clear_before", ["", "G91 G28 Z0\nG90 "])
def test_a_reference_without_z_is_refused_even_where_the_tool_is_clear_already(clear_before: str) -> None:
    assert "does not go clear" in refusal(f"G0 X1 Y2 Z3 C4\n{clear_before}G28 X0", UPRIGHT).wrong


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("G1 X1 F100\nG93 G1 X2", "without F under G93"),
        ("G93 G1 X1 F2\nX2", "without F under G93"),
        ("G93 G1 X1 F2\nG94 X2", "F must be stated again after G94"),
        ("G1 X1 F100\nG20 X2", "F must be stated again after G20"),
        ("G1 X1 F0", "above zero"),
        ("G1 X1 F-5", "above zero"),
        ("G1 X1 F100000", "above the largest"),
    ],
)
def test_an_f_that_does_not_hold_here_is_refused(body: str, words: str) -> None:
    assert words in refusal(body).wrong


def test_f_without_motion_holds_for_what_follows() -> None:
    assert 1 / 100 == pytest.approx(blocks("G0 X0 Y0 Z0 A0\nF100\nG1 X1").minutes[-1])


ROLLOVER = {"shortest": "rollover-shortest", "sign": "rollover-sign"}


def turned(words: list[str], profile: str) -> list[float]:
    body = "\n".join(f"G0 A{word}" for word in words)
    return read(f"%\nG17 G21 G90 G94\n{body}\nM30\n%", profile).angles


def test_a_substituted_axis_turns_the_rotary_and_has_no_position() -> None:
    got = read("%\nG17 G21 G90 G94\nG1 X0 Y9 Z5 F60\nY18\nM30\n%", "y-drives-rotary")
    assert [(0.0, 0.0, 5.0, 90.0), (0.0, 0.0, 5.0, 180.0)] == got.ends
    assert 9 / 60 == got.minutes[1]


def test_without_a_rotary_in_the_profile_its_word_is_refused_and_its_angle_is_zero() -> None:
    linear = load_profile("rs274ngc").model_copy(update={"rotary": {}})
    assert [(1.0, 2.0, 3.0, 0.0)] == blocks("G0 X1 Y2 Z3", linear).ends
    assert "rotary axis A" in refusal("G0 A1", linear).wrong


def test_an_unlimited_rotary_goes_where_the_word_says() -> None:
    assert [350.0, 10.0, 370.0, -720.5] == blocks("G0 A350\nA10\nA370\nA-720.5").angles


@pytest.mark.parametrize(
    ("words", "angles"),
    [
        (["350", "10"], [350, 370]),
        (["10", "350"], [10, -10]),
        (["359.999", "0.001"], [359.999, 360.001]),
        (["0", "179", "358", "177", "0"], [0, 179, 358, 537, 720 - 360]),
        (["360", "1"], [0, 1]),
        (["0", "90", "180", "270", "360", "90"], [0, 90, 180, 270, 360, 450]),
    ],
)
def test_the_shortest_way_is_unwound(words: list[str], angles: list[float]) -> None:
    assert angles == pytest.approx(turned(words, ROLLOVER["shortest"]), abs=1e-9)


def test_half_a_turn_by_the_shortest_way_is_refused() -> None:
    assert "exactly half a turn from 20" in refusal("%\nG21 G90\nG0 A20\nA200\nM30\n%", ROLLOVER["shortest"], whole=True).wrong


@pytest.mark.parametrize("word", ["-1", "360.001", "400"])
def test_a_position_outside_one_turn_is_refused_where_only_the_shortest_way_exists(word: str) -> None:
    assert "from 0 to 360" in refusal(f"%\nG21 G90\nG0 A{word}\nM30\n%", ROLLOVER["shortest"], whole=True).wrong
    many = "\n".join(f"X{k} A{k}" for k in range(90, 359))  # many blocks alike are read together
    assert (
        "from 0 to 360"
        in refusal(f"%\nG21 G90 G94\nG1 X0 A0 F100\n{many}\nX0 A{word}\nX1 A1\nM30\n%", ROLLOVER["shortest"], whole=True).wrong
    )


@pytest.mark.parametrize(
    ("words", "angles"),
    [
        (["0", "90", "-90"], [0, 90, 90]),
        (["0", "-90"], [0, -270]),
        (["0", "90", "-360", "-270"], [0, 90, 0, -90]),
        (["0", "270", "90", "90", "-30"], [0, 270, 450, 450, 390]),
        (["350", "10", "-350"], [350, 370, 350]),
        (["0", "+180", "+360", "+180"], [0, 180, 360, 540]),
    ],
)
def test_the_sign_is_the_direction(words: list[str], angles: list[float]) -> None:
    assert angles == turned(words, ROLLOVER["sign"])


def test_minus_zero_has_no_direction() -> None:
    assert "minus zero" in refusal("%\nG21 G90\nG0 A10\nA-0\nM30\n%", ROLLOVER["sign"], whole=True).wrong


def test_steps_of_a_rotary_that_rolls_over_are_signed() -> None:
    got = read("%\nG17 G21 G90 G94\nG0 A350\nG91 A20\nA-30\nG90 A5\nM30\n%", ROLLOVER["shortest"])
    assert [350, 370, 340, 365] == pytest.approx(got.angles)


def test_a_step_of_the_rotary_from_an_unknown_angle_is_refused() -> None:
    assert "step from an unknown angle" in refusal("G91 G0 A90").wrong


def test_a_reference_by_way_of_a_step_of_two_axes_one_of_them_zero_goes_that_step() -> None:
    """Only where no axis is given a step does the way go from where the tool stands, known or not."""
    assert "step from an unknown position" in refusal("G91 G28 X0 Z5").wrong
