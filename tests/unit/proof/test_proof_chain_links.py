"""Links on two rotaries: straight along the tool axis out and in, over the ball of the stock, and turned only high up."""

from __future__ import annotations

import numpy as np
import pytest

from chain_programs import GAUGE, HEAD_AND_TABLE, TWO_IN_HEAD, bowl, machine, planes, verdict, written

PART = planes()
LINES = written(PART).text
"""Per plane: up to zero, turned, over the place, down, nearer, down at feed, two cuts, out."""


def rule(text: list[str]) -> str:
    maker = written(PART)
    maker.text = text
    failure = verdict(maker.program(), PART).failure
    return failure.rule if failure is not None else ""


def changed(at: int, *instead: str) -> list[str]:
    return [*LINES[:at], *instead, *LINES[at + 1 :]]


def test_the_program_as_it_is_goes_safely() -> None:
    assert rule(LINES) == ""


def test_nothing_turns_low_down() -> None:
    """After the first plane the tool stays where it is, 60 mm over the plane, while both rotaries turn."""
    second = LINES.index("G53 G0 Z0", 1)
    assert rule(changed(second)) == "turn-low"


def test_a_rapid_goes_down_only_along_the_tool_axis_over_the_place() -> None:
    assert rule([*LINES[:2], LINES[3], LINES[2], *LINES[4:]]) in ("rapid-low", "unknown-place")
    aside = "G0 X40 " + LINES[4].split(" ", 2)[2]
    assert rule(changed(4, aside, LINES[4])) == "rapid-low"


def test_a_rapid_down_along_a_tool_axis_that_is_off_says_by_how_much() -> None:
    at = next(at for at, line in enumerate(LINES) if " C" in line and "X" not in line)
    word = next(word for word in LINES[at].split() if word[0] == "A")
    maker = written(PART)
    maker.text = changed(at, LINES[at].replace(word, f"A{float(word[1:]) + 2:g}"))
    failure = verdict(maker.program(), PART).failure
    assert failure is not None
    assert failure.sentence.endswith(", and the tool axis is 2 degrees off")


def test_from_an_unknown_height_the_tool_comes_down_along_z_alone() -> None:
    """From the machine's own zero aslant to the place: how flat that is nobody knows."""
    aslant = f"{LINES[2]} {LINES[3].removeprefix('G0 ')}"
    assert rule([*LINES[:2], aslant, *LINES[4:]]) == "rapid-low"


def test_right_to_the_start_of_a_cut_the_tool_comes_down_at_feed() -> None:
    assert LINES[5].startswith("G94 G1")
    moves = [{"cut": [0, 0, -1], "feed": 200}, {"cut": [8, 0, -1], "feed": 500}, {"rapid": [8, 0, 60]}]
    part = planes(moves)
    maker = written(part)
    down = next(at for at, line in enumerate(maker.text) if line.startswith("G94 G1"))
    maker.text[down] = "G0 " + maker.text[down].removeprefix("G94 G1 ").rsplit(" ", 1)[0]
    failure = verdict(maker.program(), part).failure
    assert failure is not None
    assert failure.rule == "rapid-plunge"


def test_the_first_cut_is_come_down_to_at_its_feed() -> None:
    moves = [{"cut": [0, 0, -1], "feed": 200}, {"cut": [8, 0, -1], "feed": 500}, {"rapid": [8, 0, 60]}]
    part = planes(moves)
    maker = written(part)
    assert verdict(maker.program(), part).proved
    maker.text = [line.replace("F200", "F500") for line in maker.text]
    failure = verdict(maker.program(), part).failure
    assert failure is not None
    assert failure.rule == "feed"


@pytest.mark.parametrize("which", [0, 1])
def test_inside_a_cut_the_tool_may_leave_turn_over_and_come_back_to_where_it_left(which: int) -> None:
    """Out along the tool axis, to the other solution, in along the new tool axis, which is the old one seen from the part."""
    part = bowl(400)
    left, right = written(part, which=which), written(part, which=1 - which)
    cuts = [at for at, line in enumerate(left.text) if line.startswith("G93")]
    here = cuts[200]
    back = written(part, which=1 - which)
    columns = next(part.operations[0].stream())
    back.text, back.words = [], None
    back.link(columns.end[201], columns.tool_axis[201], 60.0)  # type: ignore[union-attr]
    down = "G94 G1 " + back.say(back.words_of(columns.end[201], columns.tool_axis[201]), "XYZ") + " F600"  # type: ignore[union-attr]
    left.text = [*left.text[: here + 1], *back.text, down, *right.text[here + 1 :]]
    found = verdict(left.program(), part)
    assert found.failure is None, found.text()
    assert found.operations[0].lifted == 1
    assert [left.program().split("\n").index(back.text[0], here) + 1] == found.operations[0].lifted_lines
    left.text[here + 1 + len(back.text)] = "G94 G1 " + back.say(back.words_of(columns.end[230], columns.tool_axis[201]), "XYZ") + " F600"  # type: ignore[union-attr]
    failure = verdict(left.program(), part).failure
    assert failure is not None
    assert failure.rule in ("cut-elsewhere", "rapid-low")


def test_a_head_turns_only_at_the_machines_own_zero() -> None:
    profile, part = machine(HEAD_AND_TABLE), planes()
    maker = written(part, profile)
    assert verdict(maker.program(), part, profile, gauge_lengths=GAUGE).proved
    second = maker.text.index("G53 G0 Z0", 1)
    maker.text[second] = "G0 Z900"
    failure = verdict(maker.program(), part, profile, gauge_lengths=GAUGE).failure
    assert failure is not None
    assert failure.rule == "turn-low"
    assert "not retracted to the machine's own zero" in failure.sentence


@pytest.mark.parametrize("chain", [HEAD_AND_TABLE, TWO_IN_HEAD])
def test_where_a_profile_retracts_to_a_height_a_head_turns_over_all_that_its_tool_dips_to(chain: dict) -> None:
    """A ball of hypot(20, 40) about the centre at Z3, and the clearance of 5; an edge of 3 mm, p under the pivot, dips by its turn.

    The pivot 0.05 beside the tip brings the edge that much farther out: 3.05 for the head on C, which goes round Y, and 3.04 for C and A.
    """
    pivot, out = (150.0, 3.0) if chain is HEAD_AND_TABLE else (170.0, 3.04)
    clear = 3 + np.hypot(20, 40) + np.hypot(pivot, out) - pivot + 5
    profile, part = machine(chain, retract={"form": "height"}), planes()
    maker, found = written(part, profile), []
    text = maker.text
    for height in (clear + 0.001, clear - 0.02):
        maker.text = [line.replace("G53 G0 Z0", f"G0 Z{height:.4f}") for line in text]
        failure = verdict(maker.program(), part, profile, gauge_lengths=GAUGE).failure
        found.append(failure.rule if failure is not None else "")
    assert found == ["", "turn-low"]
