"""The toolpaths drawn for property tests are as sensible as they promise to be."""

import numpy as np
from hypothesis import given

from steadyrest.columns import Floats
from steadyrest.testing import toolpaths
from steadyrest.toolpath import CUT, RAPID, MoveColumns, Toolpath


def heights(toolpath: Toolpath, ends: Floats) -> Floats:
    """Distances of points of the part frame from the axis of rotation, (n,)."""
    across = np.delete(ends - np.array(toolpath.centre), "XYZ".index(toolpath.axis), axis=1)
    return np.hypot(across[:, 0], across[:, 1])


@given(toolpaths(intents=("simultaneous",)))
def test_rapids_of_a_simultaneous_operation_end_outside_the_swept_radius(toolpath: Toolpath) -> None:
    for operation in toolpath.operations:
        for run in operation.stream():
            assert isinstance(run, MoveColumns)
            assert np.all(heights(toolpath, run.end[run.kind == RAPID]) > toolpath.swept_radius)


@given(toolpaths(intents=("simultaneous",)))
def test_tool_axes_stand_across_the_axis_and_turn_by_less_than_a_quarter_turn(toolpath: Toolpath) -> None:
    for operation in toolpath.operations:
        for run in operation.stream():
            assert isinstance(run, MoveColumns)
            assert run.tool_axis is not None
            assert np.all(run.tool_axis[:, "XYZ".index(toolpath.axis)] == 0.0)
            assert np.all(np.einsum("ij,ij->i", run.tool_axis[1:], run.tool_axis[:-1]) > 0.0)


@given(toolpaths(intents=("indexed", "still")))
def test_rapids_of_a_flat_operation_end_above_the_swept_radius_and_cuts_within_the_stock(toolpath: Toolpath) -> None:
    assert toolpath.stock is not None
    at = "XYZ".index(toolpath.axis)
    low, high = (toolpath.centre[at] + end for end in toolpath.stock.along(toolpath.axis))
    for operation in toolpath.operations:
        for run in operation.stream():
            if isinstance(run, MoveColumns):
                assert np.all(run.end[run.kind == RAPID, 2] - toolpath.centre[2] > toolpath.swept_radius)
                along = run.end[run.kind == CUT, at]
                assert np.all((low - 1e-5 <= along) & (along <= high + 1e-5))


@given(toolpaths(axis="Y", units="inch", centred=True, arcs=False, events=False, intents=("wrapped",)))
def test_what_is_asked_for_is_drawn(toolpath: Toolpath) -> None:
    assert ("Y", "inch", (0.0, 0.0, 0.0)) == (toolpath.axis, toolpath.units, toolpath.centre)
    for operation in toolpath.operations:
        assert "wrapped" == operation.rotary.intent
        for run in operation.stream():
            assert isinstance(run, MoveColumns)
            assert run.arcs is None
