"""What of a block is carried out when, and with which motion."""

from __future__ import annotations

import math

import pytest
from reading_parts import TAIL, blocks, read, refusal, same, told

from steadyrest.profile import load_profile
from steadyrest.reading import EventRead, read_program


def test_stops_are_told_apart() -> None:
    assert [("stop", None, "M0"), ("optional_stop", None, "M1")] == told("M0\nM1")


def test_auxiliary_codes_act_before_the_motion_of_their_block_and_stops_after_it() -> None:
    items = list(read_program(b"%\nG17 G21 G90 G94\nX2 G0 M0 M9 M5 (n)\nM2\n%", load_profile("rs274ngc")))
    kinds = [item.kind if isinstance(item, EventRead) else "motion" for item in items]
    assert ["program_start", "mode", "comment", "spindle", "coolant", "motion", "stop", "program_end"] == kinds


@pytest.mark.parametrize(
    ("head", "block", "words"),
    [
        ("G17 G90 G94", "G0 X1", "G21 or G20 must be stated"),
        ("G17 G21 G94", "G0 X1", "G90 or G91 must be stated"),
        ("G21 G90 G94", "G0 X1 Y0\nG2 X3 I1 F100", "G17 or G18 or G19 must be stated"),
        ("G17 G21 G90", "G1 X1 F100", "G94 or G93 must be stated"),
        ("G17 G21 G90 G94", "X1", "no motion code is active"),
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


def test_a_reference_beside_a_motion_code_is_refused() -> None:
    assert "both use the axis words" in refusal("G28 G1 Z0").wrong


def test_rows_know_the_line_they_stand_in() -> None:
    assert [4, 6] == list(blocks("(a)\nG0 X1\n\nX2").column("line"))


def test_a_tool_is_selected_then_changed_with_the_spindle_stopped() -> None:
    expected = [
        ("spindle", 500, "clockwise"),
        ("tool_selected", 3, ""),
        ("tool_change", 3, ""),
        ("spindle", None, "stop"),
    ]
    assert expected == told("S500 M3\nM6 T3")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("M6", "without a tool"),
        ("T100", "numbered from 0 to 99"),
        ("T1.5", "whole number"),
        ("M3", "without a speed"),
        ("S30000", "from 0 to 24000"),
        ("S-1", "from 0 to 24000"),
        ("G43", "H missing"),
        ("G43 H100", "numbered from 0 to 99"),
        ("G4", "P missing"),
        ("G4 P-1", "cannot be negative"),
    ],
)
def test_an_event_without_what_it_needs_is_refused(text: str, words: str) -> None:
    assert words in refusal(text).wrong


def test_a_new_speed_of_a_turning_spindle_is_an_event() -> None:
    assert [("spindle", 500, "counterclockwise"), ("spindle", 900, "counterclockwise")] == told("M4 S500\nS900")


def test_a_speed_alone_starts_nothing() -> None:
    assert [] == told("S900")


def test_coolants_are_told_apart() -> None:
    assert [("coolant", None, "mist"), ("coolant", None, "flood"), ("coolant", None, "off")] == told("M7\nM8\nM9")
    assert [("coolant", None, "air"), ("coolant", None, "through")] == told("M50\nM51", "absolute-centres")


def test_a_coolant_that_the_controller_lacks_is_refused() -> None:
    assert "M50 is not a code" in refusal("M50").wrong


@pytest.mark.parametrize(("profile", "text"), [("rs274ngc", "G4 P0.5"), ("absolute-centres", "G4 U0.5"), ("counts-numbered", "G04 P500")])
def test_a_pause_is_in_seconds_whatever_the_dialect(profile: str, text: str) -> None:
    assert [("dwell", 0.5, "")] == told(text, profile)


def test_the_time_of_a_pause_is_no_axis_word_even_with_the_letter_of_an_axis() -> None:
    said = load_profile("rs274ngc")
    with_x = said.model_copy(update={"codes": said.codes.model_copy(update={"dwell_letter": "X"})})
    got = read("%\nG21 G90\nG0 X1\nG4 X2\nM2\n%", with_x)
    assert [2.0] == [event.number for event in got.of("dwell")]
    assert [1.0] == [end[0] for end in got.ends]


def test_clamp_codes_are_those_of_the_rotary() -> None:
    assert [("clamp", None, "M10"), ("unclamp", None, "M11")] == told("M10\nM11", "fixed-steps")
    assert "M10 is not a code" in refusal("M10").wrong


def test_a_length_offset_and_its_end_are_events() -> None:
    assert [("length_offset", 4, "on"), ("length_offset", 0, "off")] == told("G43 H4\nG49")


def test_a_units_code_counts_for_the_numbers_of_its_own_block() -> None:
    same([(25.4, math.nan, math.nan, math.nan)], blocks("G0 G20 X1").ends)


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


def test_in_inverse_time_each_block_states_its_own_f() -> None:
    assert [0.5, 0.25] == blocks("G0 X0 Y0 Z0 A0\nG93 G1 X1 F2\nX2 F4").minutes[1:]
    assert "F" in refusal("G0 X0 Y0 Z0 A0\nG93 G1 X1 F2\nX2").wrong
