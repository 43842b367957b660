"""Programs for two rotaries, cut out of dexels and looked at: what one rotary does too comes out as the field of radii has it."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from simulation_parts import HEAD

from chained import chained
from simulated import BAR, END_MILL, cut, part
from steadyrest.errors import InputError
from steadyrest.reading import pieces, read_program
from steadyrest.simulation import Hazards, Simulation, Watch, find_walls
from steadyrest.simulation.dexel import billet_of, stock_dexels

SHORT = END_MILL | {"cutting_length": 4, "length": 30}
BALL = {"number": 1, "shape": "ball", "diameter": 6}
PROGRAMS: dict[str, tuple[dict[str, Any], str]] = {
    "slot": (END_MILL, "G0 X-5 Y0 A35 C0\nG0 Z25\nG1 Z17\nG1 X45\nG0 Z25"),
    "turn": (BALL, "G0 X20 Y0 A0 C0\nG0 Z25\nG1 Z17\nG93\nG1 X25 A70 F0.1\nG94\nG0 Z25"),
    "arc": (END_MILL, "G0 X22 Y0 A-20 C0\nG0 Z25\nG1 Z15 F100\nG2 X22 Y0 I-4 J0\nG0 Z25"),
    "rapid": (END_MILL, "G0 X20 Y0 A10 C0\nG0 Z25\nG0 Z17\nG0 X30\nG0 Z25"),
    "shank": (SHORT, "G0 X-5 Y0 A0 C0\nG0 Z25\nG1 Z12\nG1 X20\nG0 Z25"),
    "back": (END_MILL, "G0 X-5 Y0 A0 C0\nG0 Z25\nG1 Z17\nG1 X20\nG0 X-5\nG0 X20\nG0 Z25"),
    "turned in the part": (END_MILL, "G0 X20 Y0 A0 C0\nG0 Z25\nG1 Z17\nG0 A30\nG0 Z25"),
}
FEW = {"along": 40, "around": 180}
"""Lines of what is seen of the part."""
PLATE = {"shape": "rectangular", "across": [40, 20], "from": -20, "to": 20}


def watched(program: str, tool: dict[str, Any], stock: dict[str, Any] = BAR) -> Hazards:
    profile, job, text = chained(), part([tool], stock), f"{HEAD}{program}\nM2\n".encode()
    watch = Watch(job, profile, None)
    for piece in pieces(read_program(text, profile)):
        watch.look(piece)
    return watch.hazards(lambda: read_program(text, profile), 60.0)


@pytest.mark.parametrize("name", PROGRAMS)
def test_what_one_rotary_does_too_comes_out_the_same(name: str) -> None:
    tool, program = PROGRAMS[name]
    tilted = cut(program, tools=[tool], profile=chained(), **FEW)
    radii = cut(program.replace(" C0", ""), tools=[tool], along=200, around=1440)

    assert radii.stock_mm3 == pytest.approx(tilted.stock_mm3, rel=2e-3)
    assert radii.removed_mm3 == pytest.approx(tilted.removed_mm3, rel=0.03)
    assert radii.operations[0].axial_mm == pytest.approx(tilted.operations[0].axial_mm, abs=0.1)
    assert radii.operations[0].radial_mm == pytest.approx(tilted.operations[0].radial_mm, abs=0.5)
    assert {kind: one.line.tolist() for kind, one in radii.touches.items()} == {
        kind: one.line.tolist() for kind, one in tilted.touches.items()
    }
    assert (None, 0.2) == (radii.dexel_mm, pytest.approx(tilted.dexel_mm))


@pytest.mark.parametrize("name", PROGRAMS)
def test_the_quick_look_finds_what_the_whole_simulation_finds(name: str) -> None:
    tool, program = PROGRAMS[name]
    found, whole = watched(program, tool), Hazards.of(cut(program, tools=[tool], profile=chained(), **FEW))

    assert "" == found.not_simulated
    # Straight up out of a slot that it has cut too deep, the shank's place is taken by the edges: the quick look leaves that out.
    wanted = {kind: one.line.tolist() for kind, one in whole.touches.items() if (name, kind) != ("shank", "rapid")}
    assert wanted == {kind: one.line.tolist() for kind, one in found.touches.items()}


def test_a_hole_leans_as_both_rotaries_turn_the_part() -> None:
    """A 40 degrees and C 30: a drill down Z through the centre goes through a plate 20 thick by 20 over the cosine of 40."""
    drill = {"number": 1, "shape": "flat", "diameter": 4}
    for c in (0, 30, 90):
        done = cut(f"G0 X0 Y0 A40 C{c}\nG0 Z40\nG1 Z-40\nG0 Z40", tools=[drill], stock=PLATE, profile=chained(), **FEW)
        assert pi * 4 * 20 / np.cos(np.radians(40)) == pytest.approx(done.removed_mm3, rel=0.02)
        assert [] == done.touches["rapid"].line.tolist()


def test_a_hole_goes_where_the_chain_says_and_the_label_is_that_of_its_operation() -> None:
    """C, turned clockwise seen from above by a positive word as A is, carries the part: +X then lies where the part's -Y was."""
    profile = chained()
    program = "G0 X15 Y0 A0 C90\nG0 Z25\nG1 Z-25\nG0 Z25"
    job = part([END_MILL], PLATE | {"across": [40, 20]})
    text = f"{HEAD}{program}\nM2\n".encode()
    simulation = Simulation(job, profile, stock=stock_dexels(billet_of(job), 0.5), operation_lines=[1, 7], along=40, around=180)
    done = simulation.of(read_program(text, profile))
    lines = simulation.left().bundles[2]
    gone = np.argwhere(lines.held == 0)

    assert [0.0, done.removed_mm3] == [one.removed_mm3 for one in done.operations]
    middle = lines.u[gone[:, 0]].mean(), lines.v[gone[:, 1]].mean()
    assert (0, pytest.approx(15, abs=0.1)) == (pytest.approx(middle[0], abs=0.1), abs(middle[1]))


def test_a_head_turns_the_tool_about_its_pivot_by_the_gauge_length() -> None:
    """The tip swings sideways by the height of the pivot over it times the sine; X takes that back."""
    head = chained(
        "part C bed B spindle", C={"along": "Z", "chuck_faces": "+Z"}, B={"along": "Y", "chuck_faces": "+Y", "pivot": [0, 0, 100]}
    )
    job, arm, turn = part([END_MILL | {"length": 30}], PLATE), 150.0, np.radians(90)
    swing = arm * np.sin(turn), arm * (1 - np.cos(turn))
    found = []
    for sign in (1, -1):  # whichever way it turns: level along X, 4 mm into the end of the plate
        x, z = sign * swing[0], -swing[1]
        text = f"{HEAD}G0 X{x + sign * 40} Y0 Z{z} B90 C0\nG1 X{x + sign * 16} F100\nG0 X{x + sign * 60}\nM2\n".encode()
        done = Simulation(job, head, gauge_lengths={1: 50.0}, along=40, around=180).of(read_program(text, head))
        found.append(done.removed_mm3)

    assert pi * 9 * 4 == pytest.approx(max(found), rel=0.03)
    assert 0 == min(found)


def test_walls_of_dexels_are_not_looked_for() -> None:
    profile, job = chained(), part([END_MILL], BAR)
    items = list(read_program(f"{HEAD}{PROGRAMS['slot'][1]}\nM2\n".encode(), profile))
    done = Simulation(job, profile, **FEW).of(items)

    assert all(not one.any() and one.shape == done.field.shape for one in find_walls(items, job, profile, done))


def test_a_head_without_gauge_length_is_not_guessed() -> None:
    head = chained("part bed B spindle", B={"along": "Y", "chuck_faces": "+Y", "pivot": [0, 0, 100]})
    with pytest.raises(InputError, match="gauge length of tool 1"):
        Simulation(part([END_MILL], PLATE), head)
