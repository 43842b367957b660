"""Wrapped drawings on two rotaries, proved as on a machine whose only rotary turns about the drawing's axis."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from chain_programs import C_ON_A, LEANING, machine, part, turning, verdict
from steadyrest.motion import plan
from steadyrest.profile import shared_templates_folder
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
    planned = plan(toolpath, profile)
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
