"""Signs end to end: programs written by hand come out on the part where ISO 841 (from memory) says.

The tables are those that follow from ISO 841:2001 (from memory: tool moving round a standing workpiece; A, B, C advance a right-hand screw
along +X, +Y, +Z) for a rotary that carries the work: q = R(-A) p, worked out by hand and computed independently of this code.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from steadyrest.profile import Profile
from steadyrest.proof import prove
from steadyrest.proof.geometry import Frame
from steadyrest.reading import MotionRead, read_program, sigma
from steadyrest.toolpath import parse_toolpath

# word, work point, where it is in the machine then
TABLE = [
    ("A", 90, (0, 1, 0), (0, 0, -1)),
    ("A", 90, (0, 0, 1), (0, 1, 0)),
    ("A", 30, (0, 10, 0), (0, 8.660254, -5)),
    ("A", 30, (0, 0, 25), (0, 12.5, 21.650635)),
    ("B", 90, (1, 0, 0), (0, 0, 1)),
    ("B", 90, (0, 0, 1), (-1, 0, 0)),
    ("C", 90, (1, 0, 0), (0, -1, 0)),
    ("C", 90, (0, 1, 0), (1, 0, 0)),
]
AXIS = {"A": "X", "B": "Y", "C": "Z"}
# p = (30, 10, 25): word, centre of rotation, machine position, tool axis in the part
WORKED = [
    ("A", 30, (0, 0, 0), (30, 21.160254, 16.650635), (0, -0.5, 0.8660254)),
    ("A", -30, (0, 0, 0), (30, -3.839746, 26.650635), (0, 0.5, 0.8660254)),
    ("A", 90, (0, 0, 0), (30, 25, -10), (0, -1, 0)),
    ("A", 30, (0, 2, -5), (30, 23.928203, 16.980762), (0, -0.5, 0.8660254)),
    ("A", 90, (0, 2, -5), (30, 32, -13), (0, -1, 0)),
    ("A", 180, (0, 2, -5), (30, -6, -35), (0, 0, -1)),
    ("B", 30, (0, 0, 0), (13.480762, 10, 36.650635), (0.5, 0, 0.8660254)),
    ("B", 90, (0, 0, 0), (-25, 10, 30), (1, 0, 0)),
]


def controller(letter: str, faces: str = "+", turns: str = "clockwise", decimals: int = 6) -> Profile:
    axis = AXIS[letter]
    return Profile.model_validate(
        {
            "name": "hand",
            "speaks": "six decimals, so that the tables can be written as they stand",
            "program": {"start_mark": "", "end_mark": ""},
            "numbers": {"length": {"decimals": decimals}, "angle": {"decimals": decimals}},
            "feed": {"inverse_code": "G93", "rotary": "inverse", "combined": "inverse"},
            "rotary": {letter: {"along": axis, "chuck_faces": faces + axis, "positive_turns_chuck": turns}},
        }
    )


@pytest.mark.parametrize(("letter", "word", "point", "machine"), TABLE)
def test_a_point_of_the_work_is_where_iso_841_says(letter: str, word: float, point: tuple[float, ...], machine: tuple[float, ...]) -> None:
    profile = controller(letter)
    x, y, z = machine
    text = f"G17 G21 G90 G94\nG54\nG0 {letter}{word}\nG0 X{x} Y{y} Z{z}\nM30\n"
    last = [item for item in read_program(text.encode(), profile) if isinstance(item, MotionRead)][-1]
    rotary = profile.rotary[letter]  # type: ignore[index]
    sense = sigma(rotary.chuck_faces, rotary.positive_turns_chuck)
    frame = Frame(AXIS[letter], np.zeros(3))
    found = frame.to_part(last.end_mm[-1], np.radians(sense * last.rotary_deg[-1, 0]))
    np.testing.assert_allclose(np.array(point, dtype=float), found, atol=1e-6)


@pytest.mark.parametrize(
    ("faces", "turns", "sense"),
    [("+", "clockwise", -1), ("+", "counterclockwise", 1), ("-", "clockwise", 1), ("-", "counterclockwise", -1)],
)
def test_each_fact_of_the_mounting_turned_turns_the_sign(faces: str, turns: str, sense: int) -> None:
    """Looking at a face is looking against the way it faces: there, counterclockwise is right-hand (definition of a right-hand turn)."""
    rotary = controller("A", faces, turns).rotary["A"]
    assert sense == sigma(rotary.chuck_faces, rotary.positive_turns_chuck)


def program(letter: str, word: float, machine: tuple[float, float, float]) -> bytes:
    x, y, z = machine
    return (
        "G17 G40 G49 G80\nG21 G90 G94\nG54\nG53 G0 Z0\nT1 M6\nG0 G43 H1 Z80\nG53 G0 Z0 S1000 M3\n"
        f"G0 {letter}{word}\nX{x} Y{y}\nZ200\nG1 Z{z + 1} F100\nZ{z}\nG53 G0 Z0\nM5\nM9\nM30\n"
    ).encode()


def part(letter: str, centre: tuple[float, ...], point: tuple[float, ...], axis: tuple[float, ...]) -> Any:
    before = [p + a for p, a in zip(point, axis, strict=True)]
    cut = {"feed": 100, "tool_axis": list(axis)}
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "axis": AXIS[letter],
            "centre": list(centre),
            "clearance": 60,
            "tools": [{"number": 1, "shape": "ball", "diameter": 6}],
            "operations": [
                {
                    "tool": 1,
                    "spindle": {"rpm": 1000, "turns": "clockwise"},
                    "rotary": {"intent": "simultaneous"},
                    "moves": [{"cut": before, **cut}, {"cut": list(point), **cut}],
                }
            ],
        }
    )


@pytest.mark.parametrize(("letter", "word", "centre", "machine", "axis"), WORKED)
def test_a_program_with_the_worked_positions_is_proved(
    letter: str, word: float, centre: tuple[float, ...], machine: tuple[float, float, float], axis: tuple[float, ...]
) -> None:
    toolpath = part(letter, centre, (30, 10, 25), axis)
    verdict = prove(program(letter, word, machine), toolpath, controller(letter), tolerance=1e-5)
    assert verdict.proved, verdict.text()


@pytest.mark.parametrize(("letter", "word", "centre", "machine", "axis"), [row for row in WORKED if row[1] % 180])
def test_the_same_program_on_a_rotary_the_other_way_round_is_refused(
    letter: str, word: float, centre: tuple[float, ...], machine: tuple[float, float, float], axis: tuple[float, ...]
) -> None:
    toolpath = part(letter, centre, (30, 10, 25), axis)
    assert not prove(program(letter, word, machine), toolpath, controller(letter, faces="-")).proved
    assert not prove(program(letter, word, machine), toolpath, controller(letter, turns="counterclockwise")).proved
    both = controller(letter, faces="-", turns="counterclockwise")
    assert prove(program(letter, word, machine), toolpath, both, tolerance=1e-5).proved
