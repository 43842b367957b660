"""The rotary's word unwound."""

from __future__ import annotations

import pytest
from reading_parts import blocks, read, refusal

from steadyrest.profile import load_profile

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
