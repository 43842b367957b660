"""Walls stand where the cutters left them, far finer than the lines of the field lie; figures worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from simulated import BAR, END_MILL, part, reference
from steadyrest.columns import Floats
from steadyrest.reading import read_program
from steadyrest.simulation import PARTS, Field, Simulation, Walls, find_walls

HEAD = "G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nG43 H1\nF100\n"
SMALL = 0.03
"""Cells: what the 64th of a cell, and how far the swept tool may be missed, come to together."""
BLOCK = {"shape": "rectangular", "across": [30, 20], "from": 0, "to": 20}
ROUND_STOCK = {"shape": "round", "diameter": 31, "from": 0, "to": 20}


def walls_of(program: str, stock: dict[str, Any] = BAR, axis: str = "X", carving: Any = "arrays", **tool: Any) -> tuple[Field, Walls]:
    job, profile = part([END_MILL | tool], stock, axis=axis), reference()
    items = list(read_program(f"{HEAD}{program}\nG53 G0 Z0\nM2\n".encode(), profile))
    lines: dict[str, Any] = {"along": 120, "around": 360 if axis == "X" else 90, "off_mm": 0.002}
    cut = Simulation(job, profile, carving=carving, **lines).of(items)
    return cut.field, find_walls(items, job, profile, cut, off_mm=0.002, carving=carving)


def stands(field: Field, walls: Walls) -> tuple[Floats, Floats, Floats]:
    """Where all walls stand, mm, and the cell there: along and across of the line at its top, X and Y as seen from above."""
    first, second, cells = [], [], []
    for at, (share, step) in enumerate(zip(walls, (field.first_step_mm, field.second_step), strict=True)):
        i, j = np.nonzero(share)
        top = np.maximum(field.outer_mm[i, j], np.roll(field.outer_mm, -1, axis=at)[i, j])
        way = (share[i, j] - 0.5) / PARTS * step
        one, other = field.first_mm[i] + (way if at == 0 else 0), field.second[j] + (way if at == 1 else 0)
        radii = field.chart == "radii"
        first.append(one)
        second.append(-top * np.sin(other) if radii else other)  # Y
        cells.append(step * (top if radii and at == 1 else np.ones(len(i))))
    return np.concatenate(first), np.concatenate(second), np.concatenate(cells)


def from_slot(begin: complex, end: complex, radius: float) -> Callable[[Floats, Floats], NDArray[np.float64]]:
    """How far places are from the outline of a slot."""

    def off(first: Floats, second: Floats) -> NDArray[np.float64]:
        away = first + 1j * second - begin
        share = np.clip((away * np.conj(end - begin)).real / max(abs(end - begin) ** 2, 1e-9), 0, 1)
        return np.abs(np.abs(away - share * (end - begin)) - radius)

    return off


SLOTS = {
    "along the axis": ("G0 X-5 Y0.13 A0\nG0 Z25\nG1 Z17\nG1 X20.07", -5 + 0.13j, 20.07 + 0.13j),
    "across the axis": ("G0 X20.07 Y-2.9 A0\nG0 Z25\nG1 Z17\nG1 Y3.1", 20.07 - 2.9j, 20.07 + 3.1j),
    "oblique": ("G0 X10.05 Y-3 A0\nG0 Z25\nG1 Z17\nG1 X16.11 Y3.2", 10.05 - 3j, 16.11 + 3.2j),
    "a hole": ("G0 X20.07 Y0.13 A0\nG0 Z25\nG1 Z15", 20.07 + 0.13j, 20.07 + 0.13j),
    "a little at a time": ("G0 X10 Y0 A0\nG0 Z25\nG1 Z19\nG1 X20\nG1 Z17\nG1 X20.07\nG1 X10", 10 + 0j, 20.07 + 0j),
}


@pytest.mark.parametrize("what", SLOTS)
def test_walls_stand_within_a_small_part_of_a_cell_of_where_the_cutter_left_them(what: str) -> None:
    program, begin, end = SLOTS[what]
    first, second, cell = stands(*walls_of(program))

    assert 60 < len(first)
    assert (from_slot(begin, end, 3.0)(first, second) / cell).max() < SMALL


@pytest.mark.parametrize("what", ["along the axis", "oblique", "a hole"])
def test_over_the_chart_of_heights_too(what: str) -> None:
    program, begin, end = SLOTS[what]
    first, second, cell = stands(*walls_of(program.replace("A0", ""), BLOCK | {"across": [60, 30]}, "Z"))

    assert 40 < len(first)
    assert (from_slot(begin, end, 3.0)(first, second) / cell).max() < SMALL


def test_the_side_of_round_stock_stands_where_it_is() -> None:
    first, second, cell = stands(*walls_of("G0 X0 Y0\nG0 Z25\nG1 Z17", ROUND_STOCK, "Z"))
    off = np.minimum(np.abs(np.hypot(first, second) - 15.5), np.abs(np.hypot(first, second) - 3))

    assert 200 < len(first)
    assert (off / cell).max() < SMALL


def test_a_spring_pass_that_crosses_no_line_moves_the_wall() -> None:
    once = "G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X45"
    field, before = walls_of(once)
    again, after = walls_of(f"{once}\nG1 Y-0.07\nG1 X-5")

    np.testing.assert_array_equal(field.outer_mm > 19.9, again.outer_mm > 19.9)
    moved = after.second.astype(int) - before.second
    assert moved.max() * field.second_step * 20 * np.cos(np.arcsin(3 / 20)) / PARTS == pytest.approx(0.07, abs=0.01)
    assert np.count_nonzero(moved) == len(field.first_mm)


def test_a_slope_is_no_wall_and_neither_is_the_skin() -> None:
    field, walls = walls_of("G0 X20 Y0 A0\nG0 Z25\nG1 Z19.2", shape="chamfer", tip_diameter=1, included_angle=90)

    assert field.outer_mm.min() < 19.5
    assert not walls.second.any()
    assert not walls.first.any()


@pytest.mark.parametrize("axis", ["X", "Z"])
def test_arrays_and_compiled_loops_find_the_same(axis: str) -> None:
    pytest.importorskip("numba")
    turn = "G0 X30 A170\nG0 Z25\nG1 Z16\nG93\nG1 A200 X28 F0.1\nG94 F100\n" if axis == "X" else "G1 X5 Y5 Z14\n"
    program = SLOTS["oblique"][0].replace("A0", "A0" if axis == "X" else "") + f"\n{turn}"
    found = [walls_of(program, BLOCK | {"across": [40, 30]}, axis, carving)[1] for carving in ("arrays", "compiled")]

    for one, other in zip(*found, strict=True):
        np.testing.assert_array_equal(one > 0, other > 0)
        assert np.abs(one.astype(int) - other).max() <= 1
        assert one.any()
