"""Everything that touches what it must not is said with its line."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import END_MILL, cut, hidden_mm

HEAD = 5  # lines that `cut` puts before the program


def test_a_rapid_through_material_is_named_with_its_line_and_depth() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG0 Z17\nG0 Z25", along=200, around=720)

    assert [HEAD + 3] == done.touches["rapid"].line.tolist()
    assert 3 == pytest.approx(done.touches["rapid"].depth_mm[0], abs=0.1)
    assert 20 == pytest.approx(done.touches["rapid"].first_mm[0], abs=3)
    assert 0 == pytest.approx(done.touches["rapid"].second[0], abs=0.2)
    assert 0 < done.operations[0].rapid_mm3 == pytest.approx(done.removed_mm3)


def test_a_rapid_back_through_its_own_cut_touches_nothing() -> None:
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 X-5\nG0 X20\nG0 Z25", along=200, around=720)

    assert 0 == len(done.touches["rapid"])


def test_a_rapid_over_a_wrapped_cut_touches_nothing() -> None:
    done = cut("G0 X10 Y0 A0\nG0 Z25\nG1 Z18\nG93\nG1 X30 A200 F0.1\nG0 X10 A0\nG0 Z25", along=200, around=720)

    assert 0 == len(done.touches["rapid"])


def test_a_rapid_that_turns_the_part_under_the_tool_is_named() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z17\nG0 A30\nG0 Z25", along=200, around=720)

    assert [HEAD + 4] == done.touches["rapid"].line.tolist()


def test_a_rapid_that_stays_over_the_stock_is_none() -> None:
    assert 0 == len(cut("G0 X20 Y0 A0\nG0 Z20.02\nG0 X30 A90").touches["rapid"])


def test_a_shank_that_enters_material_is_named_and_takes_nothing_out() -> None:
    short = END_MILL | {"cutting_length": 4, "length": 30}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z10\nG1 X20", tools=[short], along=100, around=720)
    whole = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z10\nG1 X20", along=100, around=720)

    assert [HEAD + 4] == done.touches["shank"].line.tolist()
    assert 6 == pytest.approx(done.touches["shank"].depth_mm[0], abs=0.1)
    assert done.removed_mm3 < 0.5 * whole.removed_mm3
    assert hidden_mm(done.field).any()


def test_a_shank_in_the_slot_that_its_edges_cut_touches_nothing() -> None:
    short = END_MILL | {"cutting_length": 6, "length": 30}
    passes = "".join(f"G0 X-5 Y0\nG0 Z25\nG1 Z{z}\nG1 X20\nG0 Z25\n" for z in (15, 10, 6))
    done = cut("G0 A0\n" + passes, tools=[short], along=100, around=720)

    assert 0 == len(done.touches["shank"])
    assert 0 == len(done.touches["rapid"])


def test_a_holder_that_enters_material_is_named() -> None:
    tool = END_MILL | {"cutting_length": 6, "length": 8}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z11\nG1 X20", tools=[tool], along=200, around=720)
    clear = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z13\nG1 X20", tools=[tool], along=200, around=720)

    assert [HEAD + 4] == done.touches["holder"].line.tolist()
    assert 1 == pytest.approx(done.touches["holder"].depth_mm[0], abs=0.1)
    assert 0 == len(clear.touches["holder"])


def test_with_the_axis_upright_shank_and_rapid_are_named_as_well() -> None:
    tool = END_MILL | {"cutting_length": 4, "length": 12}
    done = cut("G0 X0 Y0\nG0 Z45\nG1 Z36\nG0 Z30\nG0 X10", tools=[tool], toolpath={"axis": "Z"}, along=80, around=80)

    assert [HEAD + 4, HEAD + 5] == done.touches["rapid"].line.tolist()
    assert [HEAD + 5] == done.touches["shank"].line.tolist()


def test_touches_hold_the_deepest_of_each_line_in_order() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z17\nG0 X25 Y3 Z16\nG0 Z17\nG0 A40", along=100, around=360)

    assert np.all(np.diff(done.touches["rapid"].line) > 0)
    assert [HEAD + 2, HEAD + 3, HEAD + 5] == done.touches["rapid"].line.tolist()
