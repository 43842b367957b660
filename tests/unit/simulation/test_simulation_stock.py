"""Whether there is material where a rapid or a shank goes, told without carving, as the whole simulation tells it."""

from __future__ import annotations

from typing import Any

import pytest
from simulation_parts import BLOCK, quick, whole

from simulated import BAR, END_MILL

SHORT = END_MILL | {"cutting_length": 4, "length": 30}
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


def test_too_little_to_be_seen_does_not_count() -> None:
    assert {} == quick("G0 X20 Y0 A0\nG0 Z25\nG0 Z19.999\nG0 Z25").touches
