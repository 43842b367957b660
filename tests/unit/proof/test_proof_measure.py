"""Distances and lengths by closely set points."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from steadyrest.columns import Floats
from steadyrest.proof.measure import curve_lengths, from_line, points_for


def arc(radius: float, sweep: float, count: int, rise: float = 0.0) -> Floats:
    u = np.linspace(0.0, 1.0, count)
    return np.column_stack([radius * np.cos(sweep * u), radius * np.sin(sweep * u), rise * u])[None]


@pytest.mark.parametrize(("sweep", "count"), [(0.0, 16), (0.8, 16), (0.81, 18), (-2 * pi, 126), (1e9, 20_000)])
def test_an_arc_is_looked_at_every_three_degrees(sweep: float, count: int) -> None:
    assert points_for(sweep) == count


def test_the_length_of_a_helix_is_that_of_its_developed_triangle() -> None:
    assert curve_lengths(arc(10, pi, 33, rise=5))[0] == pytest.approx(np.hypot(10 * pi, 5), rel=1e-6)


def on_line(*x: float, y: float = 0.0) -> Floats:
    return np.array([[(one, y, 0.0) for one in x]])


START, END = np.array([[0.0, 0.0, 0.0]]), np.array([[10.0, 0.0, 0.0]])


def test_a_curve_along_a_line_at_its_own_pace_is_not_apart_from_it() -> None:
    assert from_line(on_line(0, 1, 9, 10), START, END)[0] == pytest.approx(0.0)
    assert from_line(on_line(0, 1, 9, 10, y=0.3), START, END)[0] == pytest.approx(0.3)


def test_beyond_its_ends_a_curve_is_apart_by_what_it_overshoots() -> None:
    assert from_line(on_line(0, 5, 10, 12), START, END)[0] >= 2.0
    assert from_line(on_line(-1, 0, 5, 10), START, END)[0] >= 1.0


def test_a_curve_that_runs_back_along_its_line_is_not_excused_by_its_pace() -> None:
    assert from_line(on_line(0, 6, 5.9, 10), START, END)[0] == np.inf
    assert from_line(on_line(0, 6, 6, 10), START, END)[0] < 0.1


def test_between_the_points_a_curve_may_bulge_by_an_eighth_of_its_second_difference() -> None:
    bulge = np.array([[(0, 0, 0), (5, 0.4, 0), (10, 0, 0)]], dtype=np.float64)
    assert from_line(bulge, START, END)[0] == pytest.approx(0.4 + 1.25 * 0.8 / 8)


def test_a_line_without_length_is_a_point() -> None:
    assert from_line(on_line(0, 0.2, 0.1), START, START)[0] == pytest.approx(0.2 + 1.25 * 0.3 / 8)
