"""The quick look agrees with the whole simulation on what touches, whatever the program; and it ends in time."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from simulation_parts import BLOCK, quick, whole

from simulated import BAR


def test_what_takes_too_long_is_said_and_not_called_simulated() -> None:
    found = quick("G0 X10 Y0 A0\nG0 Z25\nG1 Z17\n" + "G1 X20\nG0 X10\n" * 200, seconds=0.0)

    assert found.not_simulated.startswith("after line ")


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
