"""Straight motion and its modes: positions and steps, units, going clear, offsets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import HEAD, TAIL, blocks, read, refusal

from steadyrest.profile import load_profile


def same(expected: list[tuple[float, ...]], actual: list[tuple[float, ...]]) -> None:
    np.testing.assert_allclose(np.array(actual), np.array(expected), rtol=0, atol=1e-12)


def test_an_axis_without_a_word_stays() -> None:
    assert [(1.0, 2.0, 3.0, 0.0), (5.0, 2.0, 3.0, 0.0)] == blocks("G0 X1 Y2 Z3 A0\nX5").ends


def test_what_nobody_has_said_is_not_known() -> None:
    got = blocks("G0 X1")
    same([(1.0, math.nan, math.nan, math.nan)], got.ends)
    assert np.isnan(got.runs[0].start_mm).all()


def test_steps_add_up_from_the_last_position() -> None:
    assert [(1.0, 2.0, 3.0, 10.0), (1.5, 2.0, 2.0, 0.0)] == blocks("G0 X1 Y2 Z3 A10\nG91 X0.5 Z-1 A-10").ends


def test_a_step_from_an_unknown_place_is_refused() -> None:
    assert "step from a position that is not known" in refusal("G91 G0 X1").wrong


def test_inch_words_come_out_in_mm_and_angles_in_degrees() -> None:
    same([(25.4, 0.0, -12.7, 90.0)], blocks("G20\nG0 X1 Y0 Z-0.5 A90").ends)


def test_a_units_code_counts_for_the_numbers_of_its_own_block() -> None:
    same([(25.4, math.nan, math.nan, math.nan)], blocks("G0 G20 X1").ends)


@pytest.mark.parametrize(
    ("head", "block", "words"),
    [
        ("G17 G90 G94", "G0 X1", "G21 or G20 must be stated"),
        ("G17 G21 G94", "G0 X1", "G90 or G91 must be stated"),
        ("G21 G90 G94", "G0 X1 Y0\nG2 X3 I1 F100", "G17 or G18 or G19 must be stated"),
        ("G17 G21 G90", "G1 X1 F100", "G94 or G93 must be stated"),
        ("G17 G21 G90 G94", "X1", "no motion is in force"),
        ("G17 G21 G90 G94", "G1 X1", "F is not stated"),
        ("G17 G21 G90 G94", "G0 X1 Y1 Z1\nG81 Z0 R1 F9", "G99 or G98 must be stated"),
    ],
)
def test_a_mode_that_nobody_has_set_is_not_guessed(head: str, block: str, words: str) -> None:
    assert words in refusal(f"%\n{head}\n{block}{TAIL}", whole=True).wrong


def test_axis_words_after_a_cancel_are_refused() -> None:
    assert "axis words after G80" in refusal("G0 X1\nG80\nX2").wrong


def test_a_motion_code_without_an_axis_word_is_refused() -> None:
    assert "G1 without an axis word" in refusal("G1 F100").wrong


@pytest.mark.parametrize("orphan", ["I1", "R2", "P1", "Q1", "L2", "H3", "K1"])
def test_a_word_that_nothing_uses_is_refused(orphan: str) -> None:
    assert f"uses {orphan[0]}" in refusal(f"G0 X1 {orphan}").wrong


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
        ("G91 G53 G0 Z0", "while steps are in force"),
        ("G53 G0 A0", "machine coordinates"),
        ("G0 X0 Y0\nG2 X2 I1 F9\nG53 Z0", "needs a rapid or a line"),
        ("G53 G0", "needs a rapid or a line"),
    ],
)
def test_machine_coordinates_that_cannot_be_followed_are_refused(text: str, words: str) -> None:
    assert words in refusal(text).wrong


UPRIGHT = "upright-c"


def whole(text: str) -> str:
    return HEAD + text + "\nM30\n%\n"


def test_the_way_to_the_reference_point_goes_by_the_point_given() -> None:
    got = read(whole("G0 X1 Y2 Z3 C4\nG28 Z30"), UPRIGHT)
    same([(1, 2, 3, 4), (1, 2, 30, 4), (1, 2, math.nan, 4)], got.ends)


def test_a_reference_by_way_of_the_present_place_is_one_row() -> None:
    got = read(whole("G0 X1 Y2 Z3 C4\nG91 G28 Z0\nG90 X5"), UPRIGHT)
    same([(1, 2, 3, 4), (1, 2, math.nan, 4), (5, 2, math.nan, 4)], got.ends)
    assert [False, False, True] == list(got.column("clear"))


def test_in_the_language_of_the_report_all_axes_go_to_the_reference_point() -> None:
    same([(math.nan,) * 4], [blocks("G0 X1 Y2 Z3 A4\nG28 Z30").ends[-1]])


def test_a_reference_without_z_is_refused() -> None:
    assert "does not go clear" in refusal("G0 X1\nG28 X0").wrong


def test_a_reference_beside_a_motion_code_is_refused() -> None:
    assert "both use the axis words" in refusal("G28 G1 Z0").wrong


def test_another_length_offset_leaves_z_unknown() -> None:
    same([(1, 2, math.nan, math.nan)], [blocks("G0 X1 Y2 Z3\nT4 M6\nG43 H4\nG0 X1").ends[-1]])


def test_the_same_length_offset_again_changes_nothing() -> None:
    assert 3.0 == blocks("G43 H4\nG0 X1 Y2 Z3\nG43 H4\nX1").ends[-1][2]


def test_a_z_word_beside_the_length_offset_is_known() -> None:
    assert 9.0 == blocks("G0 X1 Y2 Z3\nG43 H4 Z9").ends[-1][2]


def test_another_work_offset_leaves_every_position_unknown() -> None:
    got = blocks("G54\nG0 X1 Y2 Z3 A4\nG55\nX9")
    same([(9, math.nan, math.nan, math.nan)], [got.ends[-1]])
    assert [(1.0, "G54"), (2.0, "G55")] == [(event.number, event.text) for event in got.of("work_offset")]


def test_rows_know_the_line_they_stand_in() -> None:
    assert [4, 6] == list(blocks("(a)\nG0 X1\n\nX2").column("line"))


def test_steps_throughout_start_where_the_profile_says() -> None:
    got = read("%\nG17 G21 G91 G94\nG0 X1 Z-100\nM30\n%", "incremental")
    assert [(1.0, 0.0, 50.0, 0.0)] == got.ends


def test_a_substituted_axis_turns_the_rotary_and_has_no_position() -> None:
    got = read("%\nG17 G21 G90 G94\nG1 X0 Y9 Z5 F60\nY18\nM30\n%", "y-drives-rotary")
    assert [(0.0, 0.0, 5.0, 90.0), (0.0, 0.0, 5.0, 180.0)] == got.ends
    assert 9 / 60 == got.minutes[1]


def test_without_a_rotary_in_the_profile_its_word_is_refused_and_its_angle_is_zero() -> None:
    linear = load_profile("rs274ngc").model_copy(update={"rotary": {}})
    assert [(1.0, 2.0, 3.0, 0.0)] == blocks("G0 X1 Y2 Z3", linear).ends
    assert "rotary axis A" in refusal("G0 A1", linear).wrong
