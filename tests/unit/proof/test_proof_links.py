"""What lies between cuts: distances that decide whether the tool is where it may be."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.proof.links import _aside


@pytest.mark.parametrize(
    ("point", "off"),
    [((15, 3), 3), ((20, 3), 3), ((7, 4), 5), ((23, -4), 5), ((12, 0), 0)],
)
def test_how_far_a_point_is_beside_a_straight_way(point: tuple[float, float], off: float) -> None:
    assert off == pytest.approx(_aside(np.array(point, dtype=float), np.array([10.0, 0.0]), np.array([20.0, 0.0])))


def test_beside_a_way_of_no_length_is_its_distance_and_beside_an_unknown_one_without_end() -> None:
    here = np.array([3.0, 4.0])
    assert _aside(here, np.zeros(2), np.zeros(2)) == 5
    assert _aside(here, np.full(2, np.nan), np.zeros(2)) == np.inf
