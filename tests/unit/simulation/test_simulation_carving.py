"""Whole arrays and compiled loops take out the same, and every line knows who cut it last."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from simulated import END_MILL, cut, hidden_mm, reference
from steadyrest.simulation.carving import Carver

SLOT = "G0 X-5 Y0 A{angle}\nG0 Z25\nG1 Z17\nG1 X45\nG53 G0 Z0\n"
TWO = SLOT.format(angle=0) + SLOT.format(angle=90)
BEGIN = {"operation_lines": [1, 11]}  # of the second slot: `cut` puts five lines before the program


def test_every_line_knows_who_cut_it_last() -> None:
    done = cut(TWO, along=40, around=360, **BEGIN)
    top, side = (int(np.argmin(np.abs(done.field.second - angle))) for angle in (0, pi / 2))

    assert (1, 2, 0) == (done.last_cut[20, top], done.last_cut[20, side], done.last_cut[20, 5])
    assert np.uint16 == done.last_cut.dtype


def test_cutting_air_where_another_has_cut_changes_no_label() -> None:
    done = cut(SLOT.format(angle=0) * 2, along=40, around=360, **BEGIN)

    assert {0, 1} == set(np.unique(done.last_cut))
    assert 0.0 == pytest.approx(done.operations[1].removed_mm3)


@pytest.mark.parametrize("carving", ["arrays", "compiled"])
def test_a_drill_that_goes_past_the_axis_is_seen_only_where_it_went_in(carving: Any) -> None:
    if carving == "compiled":
        pytest.importorskip("numba")
    drill = {"number": 1, "shape": "drill", "diameter": 6, "point_angle": 118}
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z-6", tools=[drill], along=80, around=360, carving=carving)
    cut_by = done.last_cut == 1

    assert cut_by.any()
    assert np.degrees(np.abs(done.field.second[cut_by.any(axis=0)])).max() < np.degrees(np.arcsin(3 / 20)) + 1
    np.testing.assert_array_equal(cut_by, done.field.outer_mm < 20 - 1e-3)


@pytest.mark.parametrize("carving", ["arrays", "compiled"])
def test_a_cell_is_coloured_where_what_can_be_seen_of_it_changed_and_nowhere_else(carving: Any) -> None:
    if carving == "compiled":
        pytest.importorskip("numba")
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    along, past_the_axis = SLOT.format(angle=0), "G0 X20 Y-25 A90\nG0 Z25\nG1 Z-5\nG1 Y25\nG53 G0 Z0\n"
    before, done = (cut(text, stock=block, along=80, around=360, carving=carving, **BEGIN) for text in (along, along + past_the_axis))
    changed = before.field.outer_mm - done.field.outer_mm > 1e-3

    assert hidden_mm(done.field).any()
    np.testing.assert_array_equal(changed, done.last_cut == 2)
    np.testing.assert_array_equal(~changed & (before.last_cut == 1), done.last_cut == 1)


def test_arrays_and_compiled_loops_take_out_the_same() -> None:
    pytest.importorskip("numba")
    tools = [
        END_MILL,
        {"number": 2, "shape": "ball", "diameter": 5},
        {"number": 3, "shape": "bullnose", "diameter": 8, "corner_radius": 2},
        {"number": 4, "shape": "chamfer", "diameter": 8, "tip_diameter": 1, "included_angle": 90, "cutting_length": 3, "length": 5},
    ]
    program = "".join(
        f"T{t} M6\nG0 X10 Y{3 * t} A{50 * t}\nG0 Z25\nG1 Z14 F100\nG1 X20 Y{-2 * t} Z12\nG93\nG1 A{50 * t + 60} F0.1\nG94\nG0 X25\nG0 Z25\n"
        for t in (1, 2, 3, 4)
    )
    lines = [at for at, line in enumerate(program.splitlines(), 6) if line.endswith("M6")]
    one, other = (
        cut(program, tools=tools, along=80, around=360, off_mm=0.05, carving=carving, operation_lines=lines)
        for carving in ("arrays", "compiled")
    )

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-3)
    np.testing.assert_allclose(hidden_mm(one.field), hidden_mm(other.field), atol=1e-3)
    assert (one.last_cut != other.last_cut).mean() < 1e-3
    assert 4 == len(one.operations)
    for a, b in zip(one.operations, other.operations, strict=True):
        assert (a.removed_mm3, a.axial_mm, a.radial_mm) == pytest.approx((b.removed_mm3, b.axial_mm, b.radial_mm), rel=1e-5)
        assert 50 < a.removed_mm3
    for which in ("rapid", "shank", "holder"):
        assert one.touches[which].line.tolist() == other.touches[which].line.tolist()
        assert one.touches[which].depth_mm == pytest.approx(other.touches[which].depth_mm, abs=1e-3)
    assert len(one.touches["shank"]) > 0 < len(one.touches["rapid"])


def test_compiled_carving_of_upright_lines_agrees_as_well() -> None:
    pytest.importorskip("numba")
    tool = {"number": 1, "shape": "bullnose", "diameter": 8, "corner_radius": 2, "cutting_length": 4, "length": 6}
    program = "G0 X-10 Y3 A30\nG0 Z45\nG1 Z37\nG1 X10 Y-3\nG1 X12 Y8 Z33\nG0 X0 Y0 Z36\nG0 Z45"
    about_z = reference("rotary.A.along=Z", "rotary.A.chuck_faces=+Z")
    one, other = (
        cut(program, tools=[tool], toolpath={"axis": "Z"}, profile=about_z, along=80, around=90, carving=carving)
        for carving in ("arrays", "compiled")
    )

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-3)
    assert one.operations[0].removed_mm3 == pytest.approx(other.operations[0].removed_mm3, rel=1e-5)
    assert one.touches["shank"].line.tolist() == other.touches["shank"].line.tolist() != []


def test_without_the_compiler_arrays_are_used_and_compiled_loops_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.simulation.carving.find_spec", lambda name: None)
    monkeypatch.setattr("steadyrest.simulation.carving.WORTH_COMPILING", 0)
    with_arrays = cut(TWO, along=40, around=360, carving="arrays")

    assert with_arrays.operations == cut(TWO, along=40, around=360).operations
    with pytest.raises(ValueError, match=r"install steadyrest\[fast\]"):
        cut(TWO, carving="compiled")


def test_the_compiler_is_started_once_enough_positions_have_come(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    used: list[int] = []
    loops = Carver._compiled
    monkeypatch.setattr(Carver, "_compiled", lambda self, table, *rest: used.append(self.done) or loops(self, table, *rest))
    enough = cut(SLOT.format(angle=0), along=40, around=360).operations[0].positions
    monkeypatch.setattr("steadyrest.simulation.carving.WORTH_COMPILING", enough)

    assert 0 < cut(SLOT.format(angle=0), along=40, around=360).removed_mm3
    assert [] == used
    assert 0 < cut(TWO, along=40, around=360).removed_mm3
    assert [2 * enough] == used
