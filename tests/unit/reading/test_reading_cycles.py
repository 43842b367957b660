"""Drilling cycles carried out as single motions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import Reading, blocks, read, refusal

START = "G0 X0 Y0 Z10 A0\nF100 G99\n"


def levels(got: Reading) -> list[float]:
    """Z after each row of a cycle."""
    return np.round(got.column("end_mm")[got.column("cycle")][:, 2], 9).tolist()


def test_a_drilled_hole_is_four_motions() -> None:
    got = blocks(START + "G81 X5 Y6 Z-3 R2")
    assert [(5, 6, 10, 0), (5, 6, 2, 0), (5, 6, -3, 0), (5, 6, 2, 0)] == got.ends[1:]
    assert [0, 0, 1, 0] == list(got.column("motion"))[1:]
    assert ["drill"] == [event.text for event in got.of("cycle")]


def test_the_next_hole_needs_only_its_place() -> None:
    got = blocks(START + "G81 X5 Y6 Z-3 R2\nX7")
    assert [(7, 6, 2, 0), (7, 6, -3, 0), (7, 6, 2, 0)] == got.ends[5:]
    assert [5, 6] == [event.line for event in got.of("cycle")]


def test_the_return_to_the_old_level_is_the_higher_of_the_two() -> None:
    assert 10 == levels(blocks("G0 X0 Y0 Z10\nF9 G98\nG81 X5 Z-3 R2"))[-1]
    assert 2 == levels(blocks("G0 X0 Y0 Z1\nF9 G98\nG81 X5 Z-3 R2"))[-1]


def test_from_below_r_the_tool_goes_up_before_it_goes_across() -> None:
    assert [(0, 0, 2), (5, 0, 2)] == [end[:3] for end in blocks("G0 X0 Y0 Z1\nF9 G99\nG81 X5 Z-3 R2").ends[1:3]]


def test_a_pause_stands_at_the_bottom() -> None:
    got = blocks(START + "G82 X5 Z-3 R2 P0.7")
    assert ["cycle", "dwell"] == got.kinds
    assert [0.7] == [event.number for event in got.of("dwell")]
    assert -3 == got.runs[-2].end_mm[-1, 2]


def test_a_peck_goes_up_to_r_and_down_to_just_above_each_time() -> None:
    expected = [10, 2, 0, 2, 0.254, -2, 2, -1.746, -3, 2]
    assert expected == levels(blocks(START + "G83 X5 Z-3 R2 Q2"))


def test_a_chip_is_broken_by_a_short_way_up() -> None:
    got = read("%\nG17 G21 G90 G94\n" + START + "G73 X5 Z-3 R2 K2\nM30\n%", "absolute-centres")
    assert [10, 2, 0, 0.25, -2, -1.75, -3, 2] == levels(got)
    assert ["chip-break"] == [event.text for event in got.of("cycle")]


@pytest.mark.parametrize(("code", "name"), [("G84", "tap"), ("G85", "bore")])
def test_a_tap_and_a_bore_come_up_at_feed(code: str, name: str) -> None:
    got = blocks("S500 M3\n" + START + f"{code} X5 Z-3 R2")
    assert [0, 0, 1, 1] == list(got.column("motion"))[1:]
    assert [name] == [event.text for event in got.of("cycle")]


def test_repeats_in_steps_go_on_from_hole_to_hole() -> None:
    got = blocks(START + "G91 G81 X5 Z-3 R-8 L3")
    assert 3 == len(got.of("cycle"))
    assert [(5, -1), (10, -1), (15, -1)] == [(end[0], end[2]) for end in got.ends if end[2] == -1]


def test_a_depth_from_the_r_level_is_signed_and_r_counts_from_the_present_level() -> None:
    got = read("%\nG17 G21 G91 G94 G99\nG0 X0 Y0 Z-100\nG81 X5 Z-3 R-48 F9\nX5\nM30\n%", "incremental")
    assert [50, 2, -1, 2, 2, -1, 2] == levels(got)


def test_z_and_peck_do_not_hold_for_another_cycle_but_r_does() -> None:
    assert "Z missing" in refusal(START + "G81 X5 Z-3 R2\nG82 X6 P1").wrong
    assert 2 == levels(blocks(START + "G81 X5 Z-3 R2\nG82 X6 P1 Z-4"))[-1]


def test_a_hole_from_a_clear_height_that_is_not_known_goes_down_to_r() -> None:
    got = blocks("G0 X0 Y0\nG53 G0 Z0\nF9 G99\nG81 X5 Z-3 R2")
    assert math.isnan(got.ends[2][2])
    assert [True, False, False] == list(got.column("clear"))[2:5]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G81 X5 Z-3", "R missing"),
        ("G81 X5 R2", "Z missing"),
        ("G82 X5 Z-3 R2", "P missing"),
        ("G83 X5 Z-3 R2", "Q missing"),
        ("G83 X5 Z-3 R2 Q0", "above zero"),
        ("G82 X5 Z-3 R2 P-1", "cannot be negative"),
        ("G81 X5 Z-3 R-4", "above the R level"),
        ("G81 X5 Z-3 R2 L0", "repeated 1 to"),
        ("G81 X5 Z-3 R2 L1.5", "whole number"),
        ("G81 X5 Z-3 R2 A5", "the rotary would turn"),
        ("G93 G81 X5 Z-3 R2 F9", "under G93"),
        ("G18 G81 X5 Z-3 R2", "another plane"),
        ("G84 X5 Z-3 R2", "does not turn clockwise"),
        ("G81 R2", "without an axis word"),
        ("G81 X5 Z-3 R2 Q1", "uses Q"),
    ],
)
def test_a_cycle_that_cannot_be_carried_out_is_refused(text: str, words: str) -> None:
    assert words in refusal(START + text).wrong


def test_a_rotary_word_equal_to_the_present_angle_is_taken() -> None:
    assert 0.0 == blocks(START + "G81 X5 Z-3 R2 A0").angles[-1]


def test_a_return_to_an_unknown_level_is_refused() -> None:
    assert "unknown" in refusal("G0 X0 Y0\nG53 G0 Z0\nF9 G98\nG81 X5 Z-3 R2").wrong


@pytest.mark.parametrize("block", ["G81 Y6 Z-3 R2", "G91 G81 X5 Y6 Z-3 R2"])
def test_a_hole_needs_a_place_that_is_known(block: str) -> None:
    start = "G0 Y0 Z10 A0\nF100 G99\n"
    assert "a hole at an unknown position: X missing" in refusal(start + block).wrong
    assert (5, 6, 2, 0) == blocks(start + "G81 X5 Y6 Z-3 R2").ends[-1]
