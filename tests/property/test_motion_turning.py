"""Rules of turning, unwinding, wrapping and subdividing that hold for all inputs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from steadyrest.motion.kinematics import phi_of_tool_axis, turned, unwound, wrapped_axes, wrapped_length
from steadyrest.motion.subdivision import expand, pieces
from strayed import measured_deviation, turned_back

lengths = st.floats(-300, 300)
spots = st.tuples(lengths, lengths, lengths)
turns = st.floats(-179, 179)
any_axis = st.sampled_from(["X", "Y", "Z"])
across = st.sampled_from(["X", "Y"])


@given(point=spots, phi=st.floats(-1e5, 1e5), axis=any_axis, centre=spots)
def test_turning_keeps_distances_and_is_undone(point: tuple, phi: float, axis: str, centre: tuple) -> None:
    start = np.array([point])
    end = turned(start, phi, axis, centre)  # type: ignore[arg-type]
    assert np.linalg.norm(end - centre) == pytest.approx(np.linalg.norm(start - centre), abs=1e-9)
    np.testing.assert_allclose(turned_back(end, phi, axis, centre), start, atol=1e-9)  # type: ignore[arg-type]


@given(angle=st.floats(-180, 180), lean=st.floats(-89, 89), axis=across)
def test_a_tool_axis_turned_by_its_angle_stands_as_upright_as_it_can(angle: float, lean: float, axis: str) -> None:
    a, b = np.deg2rad(angle), np.deg2rad(lean)
    along, side, up = np.sin(b), np.cos(b) * np.sin(a), np.cos(b) * np.cos(a)
    tool_axis = np.array([[along, side, up]] if axis == "X" else [[side, along, up]])
    phi, miss = phi_of_tool_axis(tool_axis, axis)  # type: ignore[arg-type]
    after = turned(tool_axis, phi, axis, (0, 0, 0))[0]  # type: ignore[arg-type]
    assert after[1 if axis == "X" else 0] == pytest.approx(0.0, abs=1e-12)
    assert after[2] > 0
    assert miss[0] == pytest.approx(abs(lean), abs=1e-9)


@given(phi=npst.arrays(np.float64, st.integers(1, 40), elements=st.floats(-720, 720)), before=st.floats(-1e6, 1e6))
def test_unwound_angles_mean_the_same_and_never_jump(phi: np.ndarray, before: float) -> None:
    result = unwound(phi, before)
    whole = (result - phi) / 360.0
    np.testing.assert_allclose(whole, np.rint(whole), atol=1e-9)
    steps = np.diff(result, prepend=before)
    assert (steps >= -180 - 1e-9).all()
    assert (steps <= 180 + 1e-9).all()


@given(phi=npst.arrays(np.float64, st.integers(2, 40), elements=st.floats(-720, 720)), before=st.floats(-1e6, 1e6), cut=st.integers(1, 39))
def test_unwinding_in_chunks_is_unwinding_at_once(phi: np.ndarray, before: float, cut: int) -> None:
    cut = min(cut, len(phi) - 1)
    first = unwound(phi[:cut], before)
    rest = unwound(phi[cut:], float(first[-1]))
    steps = np.abs(np.diff(np.concatenate([[before], first, rest])))
    if not (np.abs(steps - 180) < 1e-6).any():  # half a turn is an error for whoever plans
        np.testing.assert_allclose(np.concatenate([first, rest]), unwound(phi, before), atol=1e-6)


@settings(max_examples=300)
@given(
    start=spots,
    end=spots,
    dphi=turns,
    phi=st.floats(-720, 720),
    axis=any_axis,
    centre=spots,
    tolerance=st.sampled_from([0.001, 0.01, 0.1, 2.0, 50.0]),
)
def test_subdivided_moves_keep_the_tip_within_tolerance(
    start: tuple, end: tuple, dphi: float, phi: float, axis: str, centre: tuple, tolerance: float
) -> None:
    tip0, tip1 = np.array([start]), np.array([end])
    count = pieces(tip0, tip1, np.array([dphi]), axis, centre, tolerance).astype(np.int64)  # type: ignore[arg-type]
    tips, _ = expand(tip0, tip1, count)
    phis, _ = expand(np.array([phi]), np.array([phi + dphi]), count)
    before_tips = np.vstack([tip0, tips[:-1]])
    before_phis = np.concatenate([[phi], phis[:-1]])
    deviation = measured_deviation(before_tips, tips, before_phis, phis, axis, centre, samples=9)  # type: ignore[arg-type]
    assert deviation.max() <= tolerance * (1 + 1e-9) + 1e-9


@settings(max_examples=200)
@given(start=spots, way=st.tuples(st.floats(-5, 5), st.floats(-5, 5), st.floats(-5, 5)), dphi=st.floats(-20, 20))
def test_moves_are_not_cut_where_their_true_deviation_is_far_below(start: tuple, way: tuple, dphi: float) -> None:
    """The bound is never much above the deviation measured against the same point of the line."""
    tip0 = np.array([start])
    tip1 = tip0 + np.array([way])
    count = int(pieces(tip0, tip1, np.array([dphi]), "X", (0, 0, 0), 0.01)[0])
    u = np.linspace(0, 1, 41)[:, None]
    m = turned(tip0, 0.0, "X", (0, 0, 0)) * (1 - u) + turned(tip1, dphi, "X", (0, 0, 0)) * u
    off = turned_back(m, dphi * u[:, 0], "X", (0, 0, 0)) - (tip0 * (1 - u) + tip1 * u)
    least = np.sqrt(np.linalg.norm(off, axis=1).max() / 0.01)
    # where the two terms nearly cancel in the middle but not at the ends, the ends count: a few pieces more
    assert count <= 1.5 * least + 2


@given(st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3), st.integers(1, 9)), min_size=1, max_size=20))
def test_columns_cut_into_pieces_end_exactly_and_rise_evenly(moves: list) -> None:
    start, end, parts = np.array([m[0] for m in moves]), np.array([m[1] for m in moves]), np.array([m[2] for m in moves])
    rows, source = expand(start, end, parts)
    assert np.bincount(source).tolist() == parts.tolist()
    last = np.cumsum(parts) - 1
    np.testing.assert_array_equal(rows[last], end)
    for move, count in enumerate(parts):
        np.testing.assert_allclose(np.diff(rows[source == move], prepend=start[move]), (end[move] - start[move]) / count, atol=1e-9)


@given(
    point=st.tuples(lengths, lengths, st.floats(-9, 50)),
    diameter=st.floats(20, 300),
    start_angle=st.floats(-360, 360),
    axis=across,
    centre=spots,
)
def test_a_wrapped_point_lies_at_its_height_and_its_angle_on_the_part(
    point: tuple, diameter: float, start_angle: float, axis: str, centre: tuple
) -> None:
    xyz, phi = wrapped_axes(np.array([point]), diameter, start_angle, "surface", axis, centre)  # type: ignore[arg-type]
    part = turned_back(xyz, phi, axis, centre)[0] - centre  # type: ignore[arg-type]
    radius = diameter / 2
    alpha = np.deg2rad(start_angle) + (-point[1] / radius if axis == "X" else point[0] / radius)
    height = radius + point[2]
    sideways = -np.sin(alpha) if axis == "X" else np.sin(alpha)
    assert part[1 if axis == "X" else 0] == pytest.approx(height * sideways, abs=1e-8)
    assert part[2] == pytest.approx(height * np.cos(alpha), abs=1e-8)


@given(d_along=lengths, turn=st.floats(-4000, 4000), h0=st.floats(0, 100), h1=st.floats(0, 100))
def test_the_way_of_a_wrapped_move_is_that_of_many_short_chords(d_along: float, turn: float, h0: float, h1: float) -> None:
    u = np.linspace(0, 1, 20001)
    height, angle = h0 + u * (h1 - h0), np.deg2rad(turn) * u
    path = np.column_stack([d_along * u, height * np.cos(angle), height * np.sin(angle)])
    chords = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
    length = wrapped_length(np.array([d_along]), np.array([turn]), np.array([h0]), np.array([h1]))[0]
    assert length == pytest.approx(chords, rel=2e-6, abs=1e-9)
