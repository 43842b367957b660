"""The quick look agrees with the whole simulation on what touches, whatever the program; and it ends in time."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulated import BAR, END_MILL, part, reference
from steadyrest.reading import pieces, read_program
from steadyrest.simulation import Hazards, Simulation, Watch

HEAD = "G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nG43 H1\nF100\n"
BLOCK = {"shape": "rectangular", "across": [30, 20], "from": 0, "to": 40}
SHORT = END_MILL | {"cutting_length": 4, "length": 30}


def quick(program: str, tool: dict[str, Any] = END_MILL, stock: dict[str, Any] = BAR, seconds: float = 60.0, **more: Any) -> Hazards:
    profile, job = reference(), part([tool], stock, **more)
    text = f"{HEAD}{program}\nM2\n".encode()
    watch = Watch(job, profile, "A")
    for piece in pieces(read_program(text, profile)):
        watch.look(piece)
    return watch.hazards(lambda: read_program(text, profile), seconds)


def whole(program: str, tool: dict[str, Any] = END_MILL, stock: dict[str, Any] = BAR) -> Hazards:
    profile = reference()
    text = f"{HEAD}{program}\nM2\n".encode()
    return Hazards.of(Simulation(part([tool], stock), profile, along=200, around=720).of(read_program(text, profile)))


PROGRAMS = [
    ("a rapid through material", "G0 X20 Y0 A0\nG0 Z25\nG0 Z17\nG0 Z25"),
    ("a rapid back through its own cut", "G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 X-5\nG0 X20\nG0 Z25"),
    ("a rapid beside its own cut", "G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 X-5 Y2\nG0 Z25"),
    ("a part turned under the tool", "G0 X20 Y0 A0\nG0 Z25\nG1 Z17\nG0 A30\nG0 Z25"),
    ("a plunge into a pocket that is there", "G0 X10 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 Z25\nG0 X15\nG0 Z17.5\nG1 Z16\nG0 Z25"),
    ("a plunge past the pocket's floor", "G0 X10 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 Z25\nG0 X15\nG0 Z16\nG0 Z25"),
    ("the pocket of another face", "G0 X10 Y0 A0\nG0 Z25\nG1 Z15\nG1 X20\nG0 Z25\nG0 A90\nG0 Z15.5\nG0 Z25"),
    ("along the axis under the skin", "G0 X-5 Y0 A0\nG0 Z25\nG0 Z19\nG0 X20\nG0 Z25"),
    ("beside the bar", "G0 X20 Y30 A0\nG0 Z25\nG0 Z-5\nG0 Z25"),
    ("through the bar from the side", "G0 X20 Y30 A0\nG0 Z25\nG0 Z5\nG0 Y-30\nG0 Z25"),
]


@pytest.mark.parametrize("stock", [BAR, BLOCK], ids=["bar", "block"])
@pytest.mark.parametrize(("what", "program"), PROGRAMS, ids=[what for what, _ in PROGRAMS])
def test_the_quick_look_finds_the_rapids_that_the_whole_simulation_finds(what: str, program: str, stock: dict[str, Any]) -> None:
    found, all_of_it = quick(program, stock=stock), whole(program, stock=stock)

    assert "" == found.not_simulated
    assert {k: v.line.tolist() for k, v in all_of_it.touches.items()} == {k: v.line.tolist() for k, v in found.touches.items()}


@pytest.mark.parametrize("depth", [17, 16.2, 15.4, 14, 10])
def test_the_quick_look_finds_the_shank_that_the_whole_simulation_finds(depth: float) -> None:
    program = f"G0 X-5 Y0 A0\nG0 Z25\nG1 Z{depth}\nG1 X20\nG0 Z25"
    found, all_of_it = quick(program, SHORT), whole(program, SHORT)

    assert ("shank" in all_of_it.touches) == ("shank" in found.touches) == (depth < 16)


def test_a_hole_deeper_than_the_edges_touches_with_no_shank_of_the_same_thickness() -> None:
    assert {} == quick("G0 X20 Y0 A0\nG0 Z25\nG1 Z5\nG0 Z25", SHORT).touches


def test_what_takes_too_long_is_said_and_not_called_simulated() -> None:
    found = quick("G0 X10 Y0 A0\nG0 Z25\nG1 Z17\n" + "G1 X20\nG0 X10\n" * 200, seconds=0.0)

    assert found.not_simulated.startswith("after line ")


def test_too_little_to_be_seen_does_not_count() -> None:
    assert {} == quick("G0 X20 Y0 A0\nG0 Z25\nG0 Z19.999\nG0 Z25").touches


SPOTS = st.tuples(st.integers(-6, 46), st.integers(-24, 24), st.integers(8, 24), st.sampled_from([0, 30, 90, 200]))


@given(st.lists(st.tuples(st.booleans(), SPOTS), min_size=1, max_size=6), st.sampled_from([BAR, BLOCK]))
def test_no_drawn_program_hides_a_rapid_from_the_quick_look(
    moves: list[tuple[bool, tuple[int, int, int, int]]], stock: dict[str, Any]
) -> None:
    """Deep touches that the whole simulation finds are found; and what is found is there."""
    lines = ["G0 X-20 Y0 A0", "G0 Z30"]
    for cuts, (x, y, z, a) in moves:
        lines += ["G0 Z30", f"G0 X{x} Y{y} A{a}", f"{'G1' if cuts else 'G0'} Z{z}", f"{'G1' if cuts else 'G0'} X{x + 4}"]
    program = "\n".join([*lines, "G0 Z30"])
    found, all_of_it = quick(program, stock=stock), whole(program, stock=stock)

    there = set(all_of_it.touches["rapid"].line.tolist()) if "rapid" in all_of_it.touches else set()
    deep = all_of_it.touches.get("rapid")
    deep_lines = set(deep.line[deep.depth_mm > 1.5].tolist()) if deep is not None else set()
    seen = set(found.touches["rapid"].line.tolist()) if "rapid" in found.touches else set()
    assert "" == found.not_simulated
    assert deep_lines <= seen
    assert seen <= there
