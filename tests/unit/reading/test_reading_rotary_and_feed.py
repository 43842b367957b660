"""The rotary's word unwound, and what F means."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import blocks, read, refusal

from steadyrest.errors import ProfileError
from steadyrest.profile import Rotary, load_profile

ROLLOVER = {"shortest": "rollover-shortest", "sign": "rollover-sign"}


def turned(words: list[str], profile: str) -> list[float]:
    body = "\n".join(f"G0 A{word}" for word in words)
    return read(f"%\nG17 G21 G90 G94\n{body}\nM30\n%", profile).angles


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


def test_two_rotaries_need_to_be_told_apart() -> None:
    one = load_profile("rs274ngc")
    two = one.model_copy(update={"rotary": {**one.rotary, "B": Rotary(along="Y", chuck_faces="+Y", positive_turns_chuck="clockwise")}})
    with pytest.raises(ProfileError, match="several rotaries, A, B"):
        read("%\nM2\n%", two)
    assert [5.0] == read("%\nG21 G90\nG0 B5\nM2\n%", two, rotary_letter="B").angles


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


def test_the_feed_mode_stands_in_each_row() -> None:
    assert [0, 1] == list(blocks("G1 X1 F100\nG93 X2 F5").column("feed_mode"))
