"""Everything that is not motion: tools, spindle, coolant, pauses, clamps, stops, and their order inside a block."""

from __future__ import annotations

import math

import pytest
from reading_parts import blocks, read, refusal

from steadyrest.profile import load_profile
from steadyrest.reading import EventRead, read_program


def told(text: str, profile: str = "rs274ngc", *sets: str) -> list[tuple[str, float | None, str]]:
    end = "" if profile == "rs274ngc" else "M30\n%"
    got = blocks(text, profile, *sets) if not end else read(f"%\nG17 G21 G90 G94\n{text}\n{end}", profile, *sets)
    events = [event for event in got.events if event.kind not in ("program_start", "program_end", "mode")]
    return [(event.kind, None if math.isnan(event.number) else event.number, event.text) for event in events]


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


def test_stops_are_told_apart() -> None:
    assert [("stop", None, "M0"), ("optional_stop", None, "M1")] == told("M0\nM1")


def test_a_length_offset_and_its_end_are_events() -> None:
    assert [("length_offset", 4, "on"), ("length_offset", 0, "off")] == told("G43 H4\nG49")


def test_auxiliary_codes_act_before_the_motion_of_their_block_and_stops_after_it() -> None:
    items = list(read_program(b"%\nG17 G21 G90 G94\nX2 G0 M0 M9 M5 (n)\nM2\n%", load_profile("rs274ngc")))
    kinds = [item.kind if isinstance(item, EventRead) else "motion" for item in items]
    assert ["program_start", "mode", "comment", "spindle", "coolant", "motion", "stop", "program_end"] == kinds


def test_codes_of_the_safe_start_that_say_nothing_about_the_cut_are_taken_on_trust() -> None:
    assert [] == told("M48\nM49\nG40")
    assert [("path_mode", None, "G61"), ("path_mode", None, "G64")] == told("G61\nG0 X1\nG64")
    assert [] == told("G69", "rs274ngc", 'program.safe_start=["G17 G69"]')
