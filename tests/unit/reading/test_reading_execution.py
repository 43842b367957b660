"""What of a block is carried out when, and with which motion."""

from __future__ import annotations

import pytest
from reading_parts import TAIL, blocks, refusal, told

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
