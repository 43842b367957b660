"""Who cut what: operations, engagement, volume, and the field as it comes out."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from simulated import BAR, END_MILL, cut, part, reference
from steadyrest.reading import read_program
from steadyrest.simulation import Simulation, stock_field
from steadyrest.simulation.carving import Carver

SLOT = "G0 X-5 Y0 A{angle}\nG0 Z25\nG1 Z17\nG1 X45\nG53 G0 Z0\n"
TWO = SLOT.format(angle=0) + SLOT.format(angle=90)


def test_an_operation_begins_after_each_retract() -> None:
    done = cut(TWO, along=40, around=360)

    assert [1, 2] == [one.number for one in done.operations]
    assert [1, 1] == [one.tool for one in done.operations]
    assert done.operation_lines == tuple(one.first_line for one in done.operations)
    assert done.operations[0].removed_mm3 == pytest.approx(done.operations[1].removed_mm3, rel=1e-6)


def test_lines_given_by_the_caller_set_the_operations() -> None:
    done = cut(TWO, along=40, around=360, operation_lines=[1, 9, 11])

    assert (1, 9, 11) == done.operation_lines
    assert [1, 2, 3] == [one.number for one in done.operations]
    assert 0.0 == done.operations[0].removed_mm3
    assert done.removed_mm3 == pytest.approx(sum(one.removed_mm3 for one in done.operations))


def test_a_tool_change_begins_an_operation() -> None:
    ball = {"number": 2, "shape": "ball", "diameter": 6}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X10\nG0 Z25\nT2 M6\nG1 X20\nG1 Z17", tools=[END_MILL, ball], along=40, around=360)

    assert [1, 2] == [one.tool for one in done.operations]


def test_every_line_knows_who_cut_it_last() -> None:
    done = cut(TWO, along=40, around=360)
    top, side = (int(np.argmin(np.abs(done.field.second - angle))) for angle in (0, pi / 2))

    assert (1, 2, 0) == (done.last_cut[20, top], done.last_cut[20, side], done.last_cut[20, 5])
    assert np.uint16 == done.last_cut.dtype


def test_cutting_air_where_another_has_cut_changes_no_label() -> None:
    done = cut(SLOT.format(angle=0) * 2, along=40, around=360)

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
    before, done = (cut(text, stock=block, along=80, around=360, carving=carving) for text in (along, along + past_the_axis))
    changed = before.field.outer_mm - done.field.outer_mm > 1e-3

    assert done.field.hidden_mm().any()
    np.testing.assert_array_equal(changed, done.last_cut == 2)
    np.testing.assert_array_equal(~changed & (before.last_cut == 1), done.last_cut == 1)


def test_engagement_of_a_slot_is_its_depth_and_the_tools_diameter() -> None:
    done = cut(SLOT.format(angle=0), along=400, around=1440).operations[0]

    assert (3.0, 9) == (pytest.approx(done.axial_mm, abs=1e-2), done.axial_line)
    assert (6.0, 9) == (pytest.approx(done.radial_mm, abs=0.1), done.radial_line)


def test_engagement_of_a_side_cut_is_the_stepover() -> None:
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    cuts = "G0 X-5 Y21 A0\nG0 Z25\nG1 Z16\nG1 X45\nG53 G0 Z0\n"
    done = cut(cuts, stock=block, along=40, around=4000).operations[0]

    assert 4.0 == pytest.approx(done.axial_mm, abs=0.02)
    assert 2.0 == pytest.approx(done.radial_mm, abs=0.05)


def test_volume_rate_is_width_times_depth_times_feed() -> None:
    """Q = ap ae vf (any handbook of milling)."""
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z18\nG1 X0\n" + "".join(f"G1 X{x}\n" for x in range(1, 46)), stock=block, along=400, around=2000)

    assert 2 * 6 * 100 == pytest.approx(done.operations[0].rate_mm3_per_min, rel=0.06)


def test_a_drilled_hole_engages_its_depth_and_diameter() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z12", along=200, around=1440).operations[0]

    assert 8.0 == pytest.approx(done.axial_mm, abs=0.05)
    assert 6.0 == pytest.approx(done.radial_mm, abs=0.2)


def test_volumes_add_up() -> None:
    done = cut(TWO, along=40, around=720)

    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3(), rel=1e-9)


def test_where_a_face_is_cut_away_nothing_is_left() -> None:
    face = "".join(f"G0 X-2 Y{-22 if k % 2 else 22} A{90 * k}\nG0 Z25\nG1 Z-1\nG1 Y{22 if k % 2 else -22}\nG53 G0 Z0\n" for k in range(4))
    done = cut(face, tools=[END_MILL | {"diameter": 10}], along=40, around=360)

    np.testing.assert_array_equal(done.field.first_mm > 3, (done.field.outer_mm > 0).any(axis=1))
    assert 20.0 == pytest.approx(done.field.outer_mm.max())


def test_fed_item_by_item_and_in_pieces_it_is_the_same() -> None:
    profile = reference()
    text = f"G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nF100\n{TWO}M2\n".encode()
    job = part([END_MILL], BAR)
    calls: list[tuple[int, int]] = []
    simulation = Simulation(job, profile, along=40, around=360, progress=lambda line, positions: calls.append((line, positions)))
    for item in read_program((text[k : k + 7] for k in range(0, len(text), 7)), profile):
        simulation.take(item)
    done, whole = simulation.result(), Simulation(job, profile, along=40, around=360).of(read_program(text, profile))

    np.testing.assert_array_equal(whole.field.outer_mm, done.field.outer_mm)
    assert whole.operations == done.operations
    assert calls == sorted(calls)
    assert sum(one.positions for one in done.operations) == calls[-1][1]


def test_the_sense_of_rotation_comes_from_the_mounting() -> None:
    program = "G0 X20 Y0 A40\nG0 Z25\nG1 Z12"
    one = cut(program, along=40, around=360)
    other = cut(program, along=40, around=360, profile=reference("rotary.A.chuck_faces=-X"))

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm[:, ::-1], atol=1e-4)
    assert 40 == pytest.approx(np.degrees(one.field.second[np.argmin(one.field.outer_mm[20])]), abs=2)


def test_along_y_the_same_program_cuts_the_same_part() -> None:
    """Axis Y is axis X turned by 90 degrees about Z: X becomes Y, Y becomes -X."""
    about_y = reference("rotary.A.along=Y", "rotary.A.chuck_faces=+Y")
    one = cut("G0 X20 Y3 A40\nG0 Z25\nG1 Z12\nG1 X30 Y-2", along=40, around=360)
    other = cut("G0 X-3 Y20 A40\nG0 Z25\nG1 Z12\nG1 X2 Y30", along=40, around=360, profile=about_y, toolpath={"axis": "Y"})

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-4)


def test_an_axis_off_the_origin_is_measured_from_the_centre() -> None:
    one = cut("G0 X20 Y3 A40\nG0 Z25\nG1 Z12", along=40, around=360)
    other = cut("G0 X21 Y5 A40\nG0 Z28\nG1 Z15", along=40, around=360, toolpath={"centre": [1, 2, 3]})

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-4)


def test_a_toolpath_in_inch_cuts_its_stock_in_mm() -> None:
    stock = {"shape": "round", "diameter": 40 / 25.4, "from": 0, "to": 40 / 25.4}
    tool = END_MILL | {"diameter": 6 / 25.4}
    one = cut(TWO, along=40, around=360)
    other = cut(TWO, along=40, around=360, stock=stock, tools=[tool], toolpath={"units": "inch"})

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-4)


def test_what_one_program_left_is_the_stock_of_the_next() -> None:
    first = cut(SLOT.format(angle=0), along=40, around=360)
    before = first.field.outer_mm.copy()
    profile = reference()
    text = f"G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nF100\n{SLOT.format(angle=90)}M2\n".encode()
    second = Simulation(part([END_MILL], BAR), profile, stock=first.field).of(read_program(text, profile))

    np.testing.assert_allclose(cut(TWO, along=40, around=360).field.outer_mm, second.field.outer_mm, atol=1e-4)
    np.testing.assert_array_equal(before, first.field.outer_mm)


def test_the_field_is_as_fine_as_asked_and_fine_enough_by_default() -> None:
    job = part([END_MILL], BAR | {"to": 200})

    assert (50, 70) == stock_field(job, 50, 70).shape
    assert (1024, 2048) == stock_field(job).shape


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
    one, other = (cut(program, tools=tools, along=80, around=360, off_mm=0.05, carving=carving) for carving in ("arrays", "compiled"))

    np.testing.assert_allclose(one.field.outer_mm, other.field.outer_mm, atol=1e-3)
    np.testing.assert_allclose(one.field.hidden_mm(), other.field.hidden_mm(), atol=1e-3)
    assert (one.last_cut != other.last_cut).mean() < 1e-3
    for a, b in zip(one.operations, other.operations, strict=True):
        assert (a.removed_mm3, a.axial_mm, a.radial_mm) == pytest.approx((b.removed_mm3, b.axial_mm, b.radial_mm), rel=1e-5)
        assert 50 < a.removed_mm3
    for which in ("rapid_touches", "shank_touches", "holder_touches"):
        assert getattr(one, which).line.tolist() == getattr(other, which).line.tolist()
        assert getattr(one, which).depth_mm == pytest.approx(getattr(other, which).depth_mm, abs=1e-3)
    assert len(one.shank_touches) > 0 < len(one.rapid_touches)


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
    assert one.shank_touches.line.tolist() == other.shank_touches.line.tolist() != []


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


@pytest.mark.parametrize("cuts", ["G1 X105\n", "G1 X5\nG1 X20\nG1 X105\n"])
def test_the_volume_rate_counts_the_time_in_the_material_only(cuts: str) -> None:
    """Forty of the 205 mm of one block are in the material; it takes from there as fast as in blocks of a millimetre."""
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    done = cut("G0 X-100 Y0 A0\nG0 Z25\nG1 Z18\n" + cuts, stock=block, along=400, around=2000)

    assert 2 * 6 * 100 == pytest.approx(done.operations[0].rate_mm3_per_min, rel=0.06)


def test_a_plunge_from_far_above_takes_as_fast_as_its_feed_goes_down() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z60\nG1 Z12", along=400, around=2880).operations[0]

    assert pi * 3**2 * 100 == pytest.approx(done.rate_mm3_per_min, rel=0.06)
