"""Wrapped drawings on two rotaries, proved as on a machine whose only rotary turns about the drawing's axis."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, LEANING, TWO_IN_HEAD, machine, part, turning, verdict
from steadyrest.errors import PlanError
from steadyrest.motion import plan
from steadyrest.profile import shared_templates_folder
from steadyrest.proof import Verdict
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.intended_path import passes
from steadyrest.proof.setting import setting_of
from steadyrest.toolpath import Toolpath
from steadyrest.writing import write_program

A_ON_B = {"chain": "part A B bed spindle", "rotary": {"A": turning("X"), "B": turning("Y", point=[0, 0, -50])}}
MOVES = [
    {"rapid": [30, 0, 8]},
    {"cut": [30, 0, -1], "feed": 200},
    {"cut": [20, 60, -1], "feed": 500},
    {"cut": [10, 160, -2], "feed": 500},
    {"rapid": [10, 160, 8]},
]
UPRIGHT = {"origin": [1, 2, 0], "x": [0, 0, 1], "z": [1, 0, 0]}


def drawing(moves: list[dict[str, Any]] | None = None, plane: dict[str, Any] | None = UPRIGHT, **more: Any) -> Toolpath:
    intent = {"intent": "wrapped", "diameter": 40, "z_from": "surface", **({"plane": plane} if plane else {})}
    return part([{"rotary": intent, "moves": moves or MOVES}], **more)


def lying(moves: list[dict[str, Any]] | None = None) -> Toolpath:
    stock = {"shape": "round", "diameter": 40, "from": 0, "to": 60}
    return drawing(moves, None, axis="X", centre=[0, 0, 0], stock=stock)


def program(toolpath: Toolpath, chain: dict[str, Any]) -> str:
    profile = machine(chain, stops={"end": "M30"})
    planned = plan(toolpath, profile, gauge_lengths=GAUGE)
    lines = write_program(planned.items, profile, [shared_templates_folder()], inch=planned.inch, rotary_letters=planned.letters)
    return b"".join(lines).decode("ascii")


def rule(toolpath: Toolpath, chain: dict[str, Any], change: Callable[[str], str]) -> str:
    text = program(toolpath, chain)
    spoiled = change(text)
    assert spoiled != text
    failure = verdict(spoiled, toolpath, machine(chain, stops={"end": "M30"})).failure
    return failure.rule if failure is not None else ""


@pytest.mark.parametrize(
    ("toolpath", "chain"), [(drawing(), C_ON_A), (drawing(), LEANING), (lying(), A_ON_B)], ids=["C on A", "leaning", "A on B"]
)
def test_a_drawing_about_the_axis_of_either_rotary_is_proved(toolpath: Toolpath, chain: dict) -> None:
    found = verdict(program(toolpath, chain), toolpath, machine(chain, stops={"end": "M30"}))
    assert found.failure is None, found.text()
    assert found.operations[0].blocks > 2
    assert found.operations[0].axis_off_deg < 0.0005


def test_the_one_rotary_that_stands_in_turns_as_the_drawing_says() -> None:
    """About the upright axis, seen from its zero at +X: 20 mm on a radius of 20 are one radian, right-hand about x is y falling."""
    profile = machine(C_ON_A)
    (this,) = passes(setting_of(drawing(), profile, None, None))
    frame = this.frame
    assert isinstance(frame, DrawnOnChain)
    goal = frame.goal_of(np.array([30.0, 20.0, -1.0, 0.0]))
    np.testing.assert_allclose(goal[3:6], [np.cos(-1), np.sin(-1), 0], atol=1e-9)
    np.testing.assert_allclose(goal[:3], [1 + 19 * np.cos(-1), 2 + 19 * np.sin(-1), 30], atol=1e-9)


def later(pattern: str, by: Callable[[float], float]) -> Callable[[str], str]:
    """The number of the last block at inverse time with such a word changed."""

    def change(text: str) -> str:
        found = list(re.finditer(pattern, text))[-1]
        return f"{text[: found.start(1)]}{by(float(found[1])):.4f}{text[found.end(1) :]}"

    return change


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (later(r"C(-?\d+\.\d+) F", lambda word: word + 0.2), "ends-early"),
        (later(r"C(-?\d+\.\d+) F", lambda word: word + 360), "off-path"),
        (later(r"C(-?\d+\.\d+) F", lambda word: -word), "off-path"),
        (later(r"Y(-?\d+\.?\d*) ", lambda word: word + 0.05), "off-path"),
        (later(r"Z(-?\d+\.?\d*) C", lambda word: word - 0.05), "off-path"),
        (lambda text: text.replace(" C-368", " A90.2 C-368"), "off-path"),
        (lambda text: text.replace("A90 C90", "A91 C90"), "rapid-low"),
        (lambda text: text.replace("G93", "G94"), "feed"),
    ],
)
def test_what_is_not_as_it_is_drawn_is_refused(change: Callable[[str], str], told: str) -> None:
    assert rule(drawing(), C_ON_A, change) == told


def test_holes_of_a_drawing_are_drilled_wherever_the_rotary_has_wound_itself_to() -> None:
    moves = [*MOVES, *({"hole": [20, y], "cycle": "drill", "retract": 2, "bottom": -4, "feed": 100} for y in (160, 170))]
    found = verdict(program(drawing(moves), C_ON_A), drawing(moves), machine(C_ON_A, stops={"end": "M30"}))
    assert found.failure is None, found.text()
    assert found.operations[0].holes == 2


ABOUT_X = {"origin": [1, 2, 3], "x": [1, 0, 0], "z": [0, 0, 1]}
LEANING_HEAD = {
    "chain": "part bed C B spindle",
    "rotary": {"C": turning("Z"), "B": turning("Z", leans={"towards": "-Y", "by": 45}, pivot=[0, 0, 145])},
}
ROUND = {"C and A in the head": TWO_IN_HEAD, "C below, B in the head": HEAD_AND_TABLE, "leaning": LEANING_HEAD, "beside A": C_ON_A}
WITH_ARC: list[dict[str, Any]] = [
    {"rapid": [-18, -10, 8]},
    {"cut": [-18, -10, -1], "feed": 200},
    {"cut": [2, 20, -2], "feed": 500},
    {"arc": [12, 10, -2], "centre": [2, 10, -2], "turns": "clockwise", "feed": 400},
    {"rapid": [12, 10, 8]},
    {"rapid": [0, -15, 8]},
    {"cut": [0, -15, -1], "feed": 200},
    {"cut": [-9, 15, -1], "feed": 500},
    {"rapid": [-9, 15, 8]},
]


def about_x(moves: list[dict[str, Any]] | None = None, **intent: Any) -> Toolpath:
    stock = {"shape": "round", "diameter": 40, "from": -20, "to": 20}
    rotary = {"intent": "wrapped", "diameter": 40, "z_from": "surface", "plane": ABOUT_X, **intent}
    return part([{"rotary": rotary, "moves": moves or WITH_ARC}], axis="X", stock=stock)


def judged(text: str, chain: dict[str, Any], toolpath: Toolpath | None = None, gauge: dict[int, float] = GAUGE) -> Verdict:
    return verdict(text, toolpath or about_x(), machine(chain, stops={"end": "M30"}), gauge_lengths=gauge)


@pytest.mark.parametrize("name", ROUND)
def test_where_no_rotary_in_the_table_lies_along_its_axis_the_tool_goes_round_the_part(name: str) -> None:
    found = judged(program(about_x(), ROUND[name]), ROUND[name])
    assert found.failure is None, found.text()
    (figures,) = found.operations
    assert 0.002 < found.farthest < figures.limit
    assert 0.1 < figures.uneven_percent < 5
    # by hand, 18 to 19 mm over the axis: 20 mm along and 1.5 radians round, a quarter of a circle, 9 mm along and 1.5 round
    least = np.hypot(20, 1.5 * 18.5) / 500 + 0.9 * np.pi / 2 * 10 / 400 + np.hypot(9, 1.5 * 19) / 500
    assert least < figures.cutting_minutes < 2.5 * least


@pytest.mark.parametrize("name", ROUND)
@pytest.mark.parametrize(("letter", "by"), [("", 0.1), ("", 360.0), ("Y", 0.05), ("Z", -0.05)])
def test_a_word_that_is_not_as_the_tool_goes_round_is_refused(name: str, letter: str, by: float) -> None:
    """Of the block in the middle of the first cut; without a letter that of the rotary nearest to the spindle."""
    chain, pattern = ROUND[name], letter or list(ROUND[name]["rotary"])[-1]
    lines = program(about_x(), chain).splitlines()
    words = rf"(?<=\b{pattern})-?[\d.]+" if letter else rf"(?<={pattern})-?[\d.]+"
    rows = [at for at, line in enumerate(lines) if re.search(words, line) and " F" in line]
    at = rows[len(rows) // 4]
    lines[at] = re.sub(words, lambda found: f"{float(found[0]) + by:.4f}", lines[at])
    failure = judged("\n".join(lines) + "\n", chain).failure
    assert failure is not None
    assert failure.rule in ("off-path", "tool-axis"), failure.sentence


def test_another_diameter_start_or_gauge_length_than_the_tool_went_round_with_is_refused() -> None:
    text = program(about_x(), TWO_IN_HEAD)
    assert judged(text, TWO_IN_HEAD).proved
    for other in (about_x(diameter=40.1), about_x(start_angle=0.1)):
        assert not judged(text, TWO_IN_HEAD, other).proved
    assert not judged(text, TWO_IN_HEAD, gauge={1: GAUGE[1] + 0.1}).proved


def test_a_hole_and_a_rotary_that_only_indexes_are_refused_where_the_tool_goes_round() -> None:
    hole = {"hole": [0, 0], "cycle": "drill", "retract": 2, "bottom": -4, "feed": 100}
    with pytest.raises(PlanError, match="here the tool goes round"):
        program(about_x([*WITH_ARC, hole]), TWO_IN_HEAD)
    only = {**TWO_IN_HEAD["rotary"], "A": TWO_IN_HEAD["rotary"]["A"] | {"turns_while_cutting": False}}
    with pytest.raises(PlanError, match="A of hand only indexes"):
        program(about_x(), {**TWO_IN_HEAD, "rotary": only})
