"""Tool axes along a path: both solutions continuous, arcs to all digits."""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import CHAINS, Z
from steadyrest.motion.chain import tool_axis
from steadyrest.motion.orientations import arc_lengths, on_arcs, orientations


def round_a_cone(turns: float, points: int) -> np.ndarray:
    round_, lean = np.linspace(0, 2 * np.pi * turns, points), 0.5
    return np.column_stack([np.sin(lean) * np.cos(round_), np.sin(lean) * np.sin(round_), np.full(points, np.cos(lean))])


@pytest.mark.parametrize("name", [name for name, lines in CHAINS.items() if len(lines) == 2])
def test_both_solutions_are_continuous_and_give_the_tool_axes_they_are_for(name: str) -> None:
    axes, lines = round_a_cone(3, 400), CHAINS[name]
    found = orientations(axes, lines, 0.0)
    for alpha in found.alpha_rad:
        np.testing.assert_allclose(tool_axis(alpha, lines), axes, atol=1e-12)
        assert np.abs(np.diff(alpha, axis=0)).max() < 0.2
        if "A and B" not in name:  # their pole is not in the cone
            assert abs(alpha[-1, 0] - alpha[0, 0]) == pytest.approx(6 * np.pi)


def test_counting_goes_on_from_the_run_before() -> None:
    axes, lines = round_a_cone(2, 101), CHAINS["C on A"]
    whole = orientations(axes, lines, 0.0)
    first = orientations(axes[:60], lines, 0.0)
    second = orientations(axes[60:], lines, float(first.toward_rad[-1]))
    np.testing.assert_allclose(np.concatenate([first.alpha_rad, second.alpha_rad], axis=1), whole.alpha_rad, atol=1e-12)


def test_on_a_pole_the_first_rotary_stays_where_it_was_and_at_the_start_where_it_then_is() -> None:
    lean = np.array([[0.6, 0.0, 0.8], [0.0, 0.6, 0.8]])
    found = orientations(np.array([Z, lean[0], Z, Z, lean[1]]), CHAINS["C on A"], 0.0)
    assert found.free.tolist() == [True, False, True, True, False]
    first = found.alpha_rad[:, :, 0]
    np.testing.assert_allclose(first[:, :4], first[:, 1:2] + np.zeros(4), atol=1e-12)
    np.testing.assert_allclose(np.abs(first[:, 4] - first[:, 3]), np.pi / 2, atol=1e-12)


def test_arcs_keep_all_digits_where_they_are_short_and_near_half_a_turn() -> None:
    for angle in (1e-12, 1e-7, 0.3, 3.0, np.pi - 1e-7):
        axes = np.array([[0.0, 0.0, 1.0]]), np.array([[np.sin(angle), 0.0, np.cos(angle)]])
        assert arc_lengths(*axes)[0] == pytest.approx(angle, rel=1e-8)
        middle = on_arcs(*axes, np.array([0.25]))
        assert np.arctan2(middle[0, 0], middle[0, 2]) == pytest.approx(angle / 4, rel=1e-7)
        np.testing.assert_array_equal(on_arcs(*axes, np.array([1.0])), axes[1])
