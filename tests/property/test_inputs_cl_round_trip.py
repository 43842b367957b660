"""A toolpath written as CL data is taken as one that does the same, move by move, in the part frame."""

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cl_writer import cl_text, happenings
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest.inputs import Input, PartOptions, take
from steadyrest.testing import toolpaths
from steadyrest.toolpath import ARC_CLOCKWISE, MoveColumns, Toolpath

FLAT = ("indexed", "still", "simultaneous")


def taken(toolpath: Toolpath, text: str) -> Toolpath:
    part = PartOptions(
        axis=toolpath.axis, centre=toolpath.centre, stock=toolpath.stock, tools=toolpath.tools, name=toolpath.name, units=toolpath.units
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.cl"
        path.write_text(text)
        return take([Input(file=path, circle_points="one", circle_turns="right-hand")], part)


def same(expected: dict[str, Any], actual: dict[str, Any]) -> None:
    assert expected.keys() == actual.keys()
    for name, value in expected.items():
        if isinstance(value, str | bool | int):
            assert value == actual[name], name
        else:
            np.testing.assert_allclose(actual[name], value, rtol=1e-9, atol=1e-7, err_msg=name)


def one_turn_at_most(toolpath: Toolpath) -> bool:
    """CIRCLE has no word for more turns than one."""
    for operation in toolpath.operations:
        for item in operation.stream():
            if isinstance(item, MoveColumns) and item.arcs is not None and np.nanmax(np.abs(item.arcs.sweep_rad)) > 2 * np.pi + 1e-9:
                return False
    return True


@given(toolpaths(intents=FLAT, planes=False), st.booleans())
def test_what_is_cut_stays_the_same_through_cl_data(toolpath: Toolpath, with_axes: bool) -> None:
    assume(one_turn_at_most(toolpath))
    with_axes = with_axes and toolpath.axis != "Z"
    again = taken(toolpath, cl_text(toolpath, with_axes=with_axes))
    assert toolpath.units == again.units
    expected, actual = list(happenings(toolpath)), list(happenings(again))
    assert [kind for kind, _ in expected] == [kind for kind, _ in actual]
    for (_, one), (_, other) in zip(expected, actual, strict=True):
        same(one, other)


def flat_arcs_alone(toolpath: Toolpath) -> bool:
    """Arcs in XY of their operation: others lie in no plane of one whose x is worked out from its z, and become chords."""
    runs = (item for operation in toolpath.operations for item in operation.stream() if isinstance(item, MoveColumns))
    return all(run.arcs is None or not run.arcs.plane[run.kind >= ARC_CLOCKWISE].any() for run in runs)


def nearly_reached(tool_axis: np.ndarray, letter: str) -> bool:
    """Taken as what the rotary reaches, and so not the same: it lies out of there by less than the decimals of CL data tell."""
    along = "XYZ".index(letter)
    off = np.linalg.norm(np.delete(tool_axis, along)) if letter == "Z" else abs(tool_axis[along])
    return bool(1e-8 < off < 2e-4)


turns = st.floats(-180, 180)


@given(toolpaths(intents=FLAT, planes=False), turns, turns, turns)
def test_what_is_cut_stays_the_same_wherever_the_tool_points(toolpath: Toolpath, first: float, second: float, third: float) -> None:
    assume(one_turn_at_most(toolpath))
    assume(flat_arcs_alone(toolpath))
    leaning = Rotation.from_euler("ZXZ", [first, second, third], degrees=True)
    again = taken(toolpath, cl_text(toolpath, with_axes=True, leaning=leaning))
    expected, actual = list(happenings(toolpath, leaning)), list(happenings(again))
    assume(not any(nearly_reached(facts["axis"], toolpath.axis) for _, facts in expected if "axis" in facts))
    assert [kind for kind, _ in expected] == [kind for kind, _ in actual]
    for (_, one), (_, other) in zip(expected, actual, strict=True):
        same(one, other)


@given(toolpaths(intents=("simultaneous",), events=False))
def test_a_path_that_turns_stays_simultaneous(toolpath: Toolpath) -> None:
    again = taken(toolpath, cl_text(toolpath, with_axes=True))
    for operation in again.operations:
        axes = np.concatenate(
            [run.tool_axis for run in operation.stream() if isinstance(run, MoveColumns) and run.tool_axis is not None]
            or [np.zeros((0, 3))]
        )
        if operation.rotary.intent == "simultaneous":
            assert np.ptp(axes, axis=0).max() > 0


@given(toolpaths(intents=FLAT, planes=False, most_operations=1), st.data())
def test_a_file_cut_off_at_any_byte_is_never_a_shorter_toolpath(toolpath: Toolpath, data: st.DataObject) -> None:
    from steadyrest.errors import InputError

    assume(one_turn_at_most(toolpath))
    text = cl_text(toolpath, with_axes=False)
    end = data.draw(st.integers(1, len(text) - 2))
    with pytest.raises(InputError):
        taken(toolpath, text[:end])
