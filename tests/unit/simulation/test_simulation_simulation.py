"""Operations, tools and places of a program on its way through the stock."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import BAR, END_MILL, cut, part, reference
from steadyrest.errors import ProfileError, ProgramError
from steadyrest.reading import read_program
from steadyrest.simulation import Simulation

SLOT = "G0 X-5 Y0 A{angle}\nG0 Z25\nG1 Z17\nG1 X45\nG53 G0 Z0\n"
TWO = SLOT.format(angle=0) + SLOT.format(angle=90)


def test_lines_given_by_the_caller_set_the_operations() -> None:
    done = cut(TWO, along=40, around=360, operation_lines=[1, 6, 11])

    assert [1, 2, 3] == [one.number for one in done.operations]
    assert 0.0 == done.operations[0].removed_mm3
    assert 0.0 < done.operations[1].removed_mm3 == pytest.approx(done.operations[2].removed_mm3, rel=1e-6)
    assert done.removed_mm3 == pytest.approx(sum(one.removed_mm3 for one in done.operations))


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


def test_a_tool_that_the_toolpath_does_not_have_is_an_error_with_its_line() -> None:
    with pytest.raises(ProgramError, match=r"line 9: tool 7 is not in the toolpath, which has 1") as error:
        cut("T7 M6\nG0 X20 Y0 A0\nG0 Z25\nG1 Z15")

    assert "cure" in str(error.value)


def test_a_tool_that_stays_clear_needs_not_be_known() -> None:
    assert 0 == cut("T7 M6\nG0 X20 Y0 A0\nG0 Z25").removed_mm3


def test_a_rotary_that_is_not_there_is_an_error() -> None:
    with pytest.raises(ProfileError, match="no rotary C"):
        Simulation(part([END_MILL], BAR), reference(), rotary_letter="C")
    with pytest.raises(ProfileError, match="turns about X, but the toolpath's axis of rotation is Y"):
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
