"""How long a block takes by its F word, and the rows of motion."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import blocks, read


def minutes(body: str, profile: str = "rs274ngc", *sets: str) -> float:
    end = "M2" if profile == "rs274ngc" else "M30"
    got = read(f"%\nG17 G21 G90 G94\nG0 X0 Y0 Z0 A0\n{body}\n{end}\n%", profile, *sets)
    return got.minutes[-1]


LINEAR, ALL, TIP = "linear-feed-only", "iso6983-degrees-in-f", "tip-feed"


def per_minute(body: str, profile: str) -> float:
    head = "G17 G71 G90 G94" if profile == ALL else "G17 G21 G90 G94"
    return read(f"%\n{head}\nG0 X0 Y0 Z0 A0\n{body}\nM30\n%", profile).minutes[-1]


@pytest.mark.parametrize(
    ("body", "profile", "expected"),
    [
        ("G1 X3 Y4 F100", LINEAR, 5 / 100),
        ("G1 X3 Y4 A90 F100", LINEAR, 5 / 100),
        ("G1 A90 F100", LINEAR, 90 / 100),
        ("G1 A-90 F100", LINEAR, 90 / 100),
        ("G1 X3 A4 F100", ALL, 5 / 100),
        ("G1 A90 F100", ALL, 90 / 100),
        ("G1 X3 Y4 F100", TIP, 5 / 100),
        ("G1 X3 Y4 A90 F100", TIP, math.nan),
        ("G1 X0 F100", LINEAR, 0.0),
    ],
)
def test_f_per_minute_is_the_speed_of_what_the_profile_says(body: str, profile: str, expected: float) -> None:
    np.testing.assert_allclose(per_minute(body, profile), expected)


def test_a_degree_counts_as_an_inch_where_f_counts_all_axes_of_an_inch_program() -> None:
    got = read("%\nG17 G70 G90 G94\nG0 X0 A0\nG1 X3 A4 F10\nM30\n%", ALL)
    assert 0.5 == pytest.approx(got.minutes[-1])


def test_f_in_inch_is_inches_per_minute_but_degrees_of_a_lone_rotary() -> None:
    got = read("%\nG17 G20 G90 G94\nG0 X0 A0\nG1 X5 F10\nA90\nM30\n%", LINEAR)
    assert [0.5, 9.0] == pytest.approx(got.minutes[1:])


@pytest.mark.parametrize(
    ("sets", "word", "expected"),
    [([], "20", 1 / 20), (["feed.inverse_is=per_second"], "2", 1 / 120), (["feed.inverse_is=seconds"], "3", 0.05)],
)
def test_inverse_time_is_read_in_the_unit_of_the_profile(sets: list[str], word: str, expected: float) -> None:
    assert expected == pytest.approx(minutes(f"G93 G1 X10 A90 F{word}", "rs274ngc", *sets))


def test_a_rapid_takes_no_time_by_f() -> None:
    got = blocks("G0 X1 F100\nG1 X2")
    assert math.isnan(got.minutes[0])
    assert math.isnan(got.column("feed_word")[0])
    assert 100.0 == got.column("feed_word")[1]


def test_the_feed_mode_stands_in_each_row() -> None:
    assert [0, 1] == list(blocks("G1 X1 F100\nG93 X2 F5").column("feed_mode"))
