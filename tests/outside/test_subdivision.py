"""Arcs and chords against the handbook's sagitta, NISTIR 6556's arcs, and worked deviations of turning moves.

Sources: chord error s = r (1 - cos(step / 2)), step = 2 acos(1 - s / r) (Machinery's Handbook, formula from memory); NISTIR
6556 3.5.3 and C.1 for arcs; the deviation of a linear move of axes, <= (dA^2 r + 2 dA dq) / 8, worked by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from arc_rows import arc, flattened, in_blocks, length, sweep_deg
from steadyrest.motion.arcs import chords
from steadyrest.motion.subdivision import pieces
from strayed import measured_deviation, turned_back


@pytest.mark.parametrize(
    ("radius", "step_deg", "sagitta"), [(10, 5, 0.009518), (25, 5, 0.023794), (50, 5, 0.047589), (50, 10, 0.190265), (100, 1, 0.003808)]
)
def test_chords_of_a_step_stand_off_by_the_sagitta(radius: float, step_deg: float, sagitta: float) -> None:
    circle = arc((radius, 0.0, 0.0), (radius, 0.0, 0.0))
    points = in_blocks(circle, np.array([round(360 / step_deg)]))
    middle = (points[0] + points[1]) / 2
    assert radius - math.hypot(middle[0], middle[1]) == pytest.approx(sagitta, abs=5e-7)


@pytest.mark.parametrize(
    ("radius", "tolerance", "steps"), [(10, 0.01, 71), (25, 0.01, 112), (50, 0.01, 158), (50, 0.005, 223), (100, 0.01, 223)]
)
def test_a_turn_takes_the_steps_of_the_handbook(radius: float, tolerance: float, steps: int) -> None:
    assert chords(arc((radius, 0.0, 0.0), (radius, 0.0, 0.0)), tolerance) == steps


def test_the_reports_arc_has_its_sweep_and_length() -> None:
    """NISTIR 6556 3.5.3.2: at (7,7), G17 G2 X10 Y16 I3 J4 has its centre at (10,11) and radius 5."""
    reported = arc((7.0, 7.0, 0.0), (10.0, 16.0, 0.0), (10.0, 11.0, 0.0), clockwise=True)
    assert sweep_deg(reported) == pytest.approx(-143.130102, abs=5e-7)
    assert length(reported) == pytest.approx(12.490458, abs=5e-7)


def test_the_reports_engraving_arcs_have_their_lengths() -> None:
    """NISTIR 6556 C.1: g3 x13.5 y0 i-2.5 from (16,2.5) is 270 degrees long; g2 x32.5 j2.5 a full circle."""
    first = arc((16.0, 2.5, 0.0), (13.5, 0.0, 0.0), (13.5, 2.5, 0.0))
    assert (sweep_deg(first), length(first)) == pytest.approx((270.0, 11.780972), abs=5e-7)
    second = arc((32.5, 0.0, 0.0), (32.5, 0.0, 0.0), (32.5, 2.5, 0.0), clockwise=True)
    assert (sweep_deg(second), length(second)) == pytest.approx((-360.0, 15.707963), abs=5e-7)


def test_in_xz_counterclockwise_runs_from_z_to_x() -> None:
    """NISTIR 6556 3.5.3: seen from the + end of Y; on paper with X right and Z up it looks clockwise."""
    start, end = (0.0, 0.0, 10.0), (10.0, 0.0, 0.0)
    assert sweep_deg(arc(start, end, plane="XZ")) == pytest.approx(90.0)
    assert sweep_deg(arc(start, end, plane="XZ", clockwise=True)) == pytest.approx(-270.0)


def test_in_yz_counterclockwise_runs_from_y_to_z() -> None:
    assert sweep_deg(arc((0.0, 10.0, 0.0), (0.0, 0.0, 10.0), plane="YZ")) == pytest.approx(90.0)


def test_chords_lie_within_tolerance_of_the_circle_of_an_independent_library() -> None:
    wide = arc((12.0, 5.0, 0.0), (-13.0, 0.0, 0.0))
    line = shapely.LineString(np.vstack([wide.start, flattened(wide, 0.02)])[:, :2])
    fine = shapely.LineString(np.vstack([wide.start, in_blocks(wide, np.array([5000]))])[:, :2])
    assert 0.019 < shapely.hausdorff_distance(fine, line) <= 0.02 + 1e-6


def test_machine_at_rest_and_part_turning_cuts_the_arc_that_is_expected() -> None:
    """Y and Z at rest, radius 50, A turns 10 degrees: the tip strays 0.190265 from the chord."""
    work = np.array([[0.0, 0.0, 50.0]])
    tip0, tip1 = turned_back(work, 0.0, "X", (0, 0, 0)), turned_back(work, 10.0, "X", (0, 0, 0))
    deviation = measured_deviation(tip0, tip1, np.array([0.0]), np.array([10.0]), "X", (0, 0, 0))
    assert deviation[0] == pytest.approx(0.190265, abs=5e-7)


def test_a_tip_that_stays_beside_the_axis_while_the_part_turns_strays_as_expected() -> None:
    """The tip meant to stay at (0, 30) across the axis while X moves 10 and A turns 20 degrees strays 30 (1 - cos 10)."""
    tip0, tip1 = np.array([[0.0, 0.0, 30.0]]), np.array([[10.0, 0.0, 30.0]])
    deviation = measured_deviation(tip0, tip1, np.array([0.0]), np.array([20.0]), "X", (0, 0, 0))
    assert deviation[0] == pytest.approx(30 * (1 - math.cos(math.radians(10))), abs=1e-9)
    assert deviation[0] == pytest.approx(0.455767, abs=5e-7)


def test_never_more_pieces_than_the_bound_of_the_literature_asks_for() -> None:
    """(dA^2 r + 2 dA dq) / 8 with dq the machine's way across the axis of rotation, fourfold less with twice the pieces."""
    tip0, tip1 = np.array([[0.0, 0.0, 30.0]]), np.array([[10.0, 0.0, 30.0]])
    turn = math.radians(20.0)
    bound = (turn**2 * 30 + 2 * turn * 2 * 30 * math.sin(turn / 2)) / 8
    assert bound == pytest.approx(1.366, abs=3e-3)
    assert pieces(tip0, tip1, np.array([20.0]), "X", (0, 0, 0), 0.01)[0] < math.ceil(math.sqrt(bound / 0.01))
