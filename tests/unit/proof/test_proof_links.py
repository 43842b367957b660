"""What lies between cuts: distances that decide whether the tool is where it may be."""

from __future__ import annotations

import numpy as np
import pytest
from proof_parts import proof_of, toolpath

from steadyrest.proof.links import _aside


@pytest.mark.parametrize(
    ("point", "off"),
    [((15, 3), 3), ((20, 3), 3), ((7, 4), 5), ((23, -4), 5), ((12, 0), 0)],
)
def test_how_far_a_point_is_beside_a_straight_way(point: tuple[float, float], off: float) -> None:
    assert off == pytest.approx(_aside(np.array(point, dtype=float), np.array([10.0, 0.0]), np.array([20.0, 0.0])))


@pytest.mark.parametrize(("point", "off"), [((9.9, 8.2), 2), ((13.6, 9.8), 1), ((7, 1), 5)])
def test_how_far_a_point_is_beside_a_way_that_slants(point: tuple[float, float], off: float) -> None:
    """From X10 Y5 three along X and four along Y: beside its middle, beyond its end, before its start."""
    assert off == pytest.approx(_aside(point, (10.0, 5.0), (13.0, 9.0)))


def test_a_rapid_through_the_stock_is_told_with_its_height_and_how_much_it_is_too_low() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"rapid": [-10, 0, 30]}, {"cut": [-60, 0, 18], "feed": 200}]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nG0 Z19\nX-60\nG1 Z18 F200\n", toolpath(moves)).failure
    assert failure is not None
    assert "rapid-low" == failure.rule
    assert "19 mm above the axis of rotation" in failure.sentence
    assert failure.distance == pytest.approx(20 - 19)  # the bar reaches 20


def test_beside_a_way_of_no_length_is_its_distance_and_beside_an_unknown_one_without_end() -> None:
    here = np.array([3.0, 4.0])
    assert _aside(here, np.zeros(2), np.zeros(2)) == 5
    assert _aside(here, np.full(2, np.nan), np.zeros(2)) == np.inf
