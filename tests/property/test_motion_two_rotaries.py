"""Any path of tips and tool axes on any chain: within tolerance all along, continuous within a cut, through and beside the poles."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chain_paths import CHAINS, planned, run_of, strays
from steadyrest.errors import PlanError
from steadyrest.motion.chain import tool_axis

angles = st.floats(-1.2, 1.2)
beside = st.tuples(st.sampled_from([0.0, 1e-7, 1e-4, 1e-3, 0.02, 0.2]), st.floats(0, 6.3))
leans = st.one_of(st.tuples(angles, angles).map(list), beside.map(lambda two: two))
place = st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(0, 40))
moves = st.lists(st.tuples(place, leans, st.sampled_from([1, 1, 1, 0]), st.booleans()), min_size=1, max_size=8)


def reject_others(refused: PlanError) -> None:
    assert "out of reach" in refused.wrong or "half a turn" in refused.wrong


@settings(deadline=None, max_examples=40)
@given(name=st.sampled_from(list(CHAINS)), path=moves, cuts=st.lists(st.integers(1, 7), max_size=2))
def test_tip_and_tool_axis_stay_within_tolerance_and_the_angles_are_continuous(name: str, path: list, cuts: list[int]) -> None:
    lines = CHAINS[name]
    axes: list[np.ndarray] = []
    for _, lean, _, same in path:
        if same and axes:
            axes.append(axes[-1])
        elif isinstance(lean, tuple):  # so far from the first line, if the machine gets there
            off, round_ = lean
            first = lines[0].direction
            aside = np.linalg.svd(first[None])[2][1:]
            axis = np.cos(off) * first + np.sin(off) * (np.array([np.cos(round_), np.sin(round_)]) @ aside)
            axes.append(axis)
        else:
            axes.append(tool_axis(np.array([lean[: len(lines)]]), lines)[0])
    whole = run_of([move[0] for move in path], axes, kind=[move[2] for move in path])
    ends = sorted({0, len(path), *(cut for cut in cuts if cut < len(path))})
    runs = [whole.rows(first, last) for first, last in pairwise(ends)]
    try:
        _, made = planned(runs, lines)
    except PlanError as refused:
        reject_others(refused)
        return
    last = None
    for run, course in zip(runs, made, strict=True):
        tip_off, axis_off = strays(course, lines, points=17)
        assert tip_off <= 0.01 * 1.02
        assert axis_off <= 0.1 * 1.02
        assert np.array_equal(np.unique(course.row), np.arange(len(run)))
        if last is not None and run.kind[course.row[0]]:
            np.testing.assert_allclose(course.alpha_rad[0], last, atol=1e-9)
        last = course.alpha_rad[-1]
