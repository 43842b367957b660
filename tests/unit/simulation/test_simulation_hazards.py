"""Everything that touches what it must not, or cannot be shown, is said with its line."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import BAR, END_MILL, cut, part, reference
from steadyrest.errors import ProfileError, ProgramError, ToolpathError
from steadyrest.simulation import Simulation, stock_field

HEAD = 5  # lines that `cut` puts before the program


def test_a_rapid_through_material_is_named_with_its_line_and_depth() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG0 Z17\nG0 Z25", along=200, around=720)

    assert [HEAD + 3] == done.rapid_touches.line.tolist()
    assert 3 == pytest.approx(done.rapid_touches.depth_mm[0], abs=0.1)
    assert 20 == pytest.approx(done.rapid_touches.first_mm[0], abs=3)
    assert 0 == pytest.approx(done.rapid_touches.second[0], abs=0.2)
    assert [1] == done.rapid_touches.operation.tolist()
    assert 0 < done.operations[0].rapid_mm3 == pytest.approx(done.removed_mm3)


def test_a_rapid_back_through_its_own_cut_touches_nothing() -> None:
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z17\nG1 X20\nG0 X-5\nG0 X20\nG0 Z25", along=200, around=720)

    assert 0 == len(done.rapid_touches)


def test_a_rapid_over_a_wrapped_cut_touches_nothing() -> None:
    done = cut("G0 X10 Y0 A0\nG0 Z25\nG1 Z18\nG93\nG1 X30 A200 F0.1\nG0 X10 A0\nG0 Z25", along=200, around=720)

    assert 0 == len(done.rapid_touches)


def test_a_rapid_that_turns_the_part_under_the_tool_is_named() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z17\nG0 A30\nG0 Z25", along=200, around=720)

    assert [HEAD + 4] == done.rapid_touches.line.tolist()


def test_a_rapid_that_stays_over_the_stock_is_none() -> None:
    assert 0 == len(cut("G0 X20 Y0 A0\nG0 Z20.02\nG0 X30 A90").rapid_touches)


def test_a_shank_that_enters_material_is_named_and_takes_nothing_out() -> None:
    short = END_MILL | {"cutting_length": 4, "length": 30}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z10\nG1 X20", tools=[short], along=100, around=720)
    whole = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z10\nG1 X20", along=100, around=720)

    assert [HEAD + 4] == done.shank_touches.line.tolist()
    assert 6 == pytest.approx(done.shank_touches.depth_mm[0], abs=0.1)
    assert done.removed_mm3 < 0.5 * whole.removed_mm3
    assert done.field.hidden_mm().any()


def test_a_shank_in_the_slot_that_its_edges_cut_touches_nothing() -> None:
    short = END_MILL | {"cutting_length": 6, "length": 30}
    passes = "".join(f"G0 X-5 Y0\nG0 Z25\nG1 Z{z}\nG1 X20\nG0 Z25\n" for z in (15, 10, 6))
    done = cut("G0 A0\n" + passes, tools=[short], along=100, around=720)

    assert 0 == len(done.shank_touches)
    assert 0 == len(done.rapid_touches)


def test_a_holder_that_enters_material_is_named() -> None:
    tool = END_MILL | {"cutting_length": 6, "length": 8}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z11\nG1 X20", tools=[tool], along=200, around=720)
    clear = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z13\nG1 X20", tools=[tool], along=200, around=720)

    assert [HEAD + 4] == done.holder_touches.line.tolist()
    assert 1 == pytest.approx(done.holder_touches.depth_mm[0], abs=0.1)
    assert 0 == len(clear.holder_touches)


def test_with_the_axis_upright_shank_and_rapid_are_named_as_well() -> None:
    tool = END_MILL | {"cutting_length": 4, "length": 12}
    done = cut("G0 X0 Y0\nG0 Z45\nG1 Z36\nG0 Z30\nG0 X10", tools=[tool], toolpath={"axis": "Z"}, along=80, around=80)

    assert [HEAD + 4, HEAD + 5] == done.rapid_touches.line.tolist()
    assert [HEAD + 5] == done.shank_touches.line.tolist()


def test_a_void_under_material_is_held_and_said() -> None:
    done = cut("G0 X-5 Y12 A0\nG0 Z25\nG1 Z9\nG1 X45", along=20, around=1440)
    hidden = done.field.hidden_mm()

    assert 0 < hidden.max() < 20
    np.testing.assert_array_equal(hidden > 0, done.field.gaps_held > 0)
    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3())


def test_a_cut_free_of_undercuts_says_so() -> None:
    done = cut(
        "G0 X10 Y0 A0\nG0 Z25\nG1 Z18\nG1 X11",
        tools=[{"number": 1, "shape": "chamfer", "diameter": 10, "tip_diameter": 0, "included_angle": 90}],
    )

    assert not done.field.hidden_mm().any()


def test_more_voids_on_a_line_than_are_held_are_counted() -> None:
    """Thin fins, cut from the side with a short cutter: a line near the middle of the face goes through many of them."""
    saw = {"number": 1, "shape": "flat", "diameter": 1}
    slots = "".join(f"G0 X-5 Y{-16 + 2 * k}\nG0 Z22\nG1 Z2\nG1 X45\nG0 Z22\n" for k in range(9))
    done = cut("G0 A0\n" + slots, tools=[saw], along=8, around=720)

    shown_gone = done.stock_mm3 - done.field.volume_mm3()
    # Each slot is 0.5 to either side of its middle, from z = 2 up to the circle.
    across = (np.arange(1000) + 0.5) / 1000 - 0.5
    gone = sum(float((np.sqrt(400 - (y + across) ** 2) - 2).mean()) * 40 for y in range(-16, 1, 2))

    assert 0 < done.not_held_mm3
    assert shown_gone < gone - 1  # drawn with more material than there is, never with less
    assert gone <= (shown_gone + done.not_held_mm3) * 1.001  # the lines are 0.17 mm apart


def test_a_tool_that_the_toolpath_does_not_have_is_an_error_with_its_line() -> None:
    with pytest.raises(ProgramError, match=r"line 9: tool 7 is not in the toolpath, which has 1") as error:
        cut("T7 M6\nG0 X20 Y0 A0\nG0 Z25\nG1 Z15")

    assert "cure" in str(error.value)


def test_a_tool_that_stays_clear_needs_not_be_known() -> None:
    assert 0 == cut("T7 M6\nG0 X20 Y0 A0\nG0 Z25").removed_mm3


def test_without_stock_there_is_nothing_to_cut() -> None:
    with pytest.raises(ToolpathError, match="no stock is given"):
        Simulation(part([END_MILL], None), reference())


def test_a_rotary_that_is_not_there_is_an_error() -> None:
    with pytest.raises(ProfileError, match="no rotary C"):
        Simulation(part([END_MILL], BAR), reference(), rotary_letter="C")
    with pytest.raises(ProfileError, match="turns about X, the toolpath's axis of rotation is Y"):
        Simulation(part([END_MILL], BAR, axis="Y"), reference(), rotary_letter="A")


def test_motion_from_a_place_not_known_is_listed() -> None:
    text = "T1 M6\nG0 X20 Y0\nG1 Z15 F100\nG1 X25"
    done = cut(text)
    from steadyrest.reading import read_program

    profile = reference()
    raw = b"G21 G90 G94 G17 G54 G40\nT1 M6\nG0 X20 Y0 A0\nG1 Z15 F100\nG1 X25\nM2\n"
    unknown = Simulation(part([END_MILL], BAR), profile).of(read_program(raw, profile))

    assert () == done.unknown_lines
    assert (4,) == unknown.unknown_lines
    assert 0 < unknown.removed_mm3


@pytest.mark.parametrize("wrong", [{"along": 1}, {"around": 0}])
def test_a_field_of_no_width_is_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="at least 2 lines"):
        stock_field(part([END_MILL], BAR), **wrong)


def test_touches_hold_the_deepest_of_each_line_in_order() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z17\nG0 X25 Y3 Z16\nG0 Z17\nG0 A40", along=100, around=360)

    assert np.all(np.diff(done.rapid_touches.line) > 0)
    assert [HEAD + 2, HEAD + 3, HEAD + 5] == done.rapid_touches.line.tolist()
