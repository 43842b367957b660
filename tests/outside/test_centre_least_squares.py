"""Circles and runout against the general least squares of another library, and against an independent model of a bar in a chuck."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from steadyrest.centre import BallTouches, Touches, find_centre, find_line
from steadyrest.centre.estimates import circle, runout
from steadyrest.profile import Profile

SEEDS = range(8)
AXES = {"X": 0, "Y": 1, "Z": 2}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_circle_through_noisy_points_is_that_of_scipy(seed: int) -> None:
    random = np.random.default_rng(seed)
    angle = random.uniform(0, 2 * np.pi, 3 + seed)
    angle[:3] = [0.3, 2.2, 4.0]
    points = np.column_stack([np.cos(angle), np.sin(angle)]) * 18 + [-12.4, 55.1] + random.normal(0, 0.02, (len(angle), 2))

    def distances(said: np.ndarray) -> np.ndarray:
        return np.hypot(points[:, 0] - said[0], points[:, 1] - said[1]) - said[2]

    outside = least_squares(distances, [0.0, 50.0, 10.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    found = circle([tuple(point) for point in points], 0.001)
    assert pytest.approx(outside.x, abs=1e-7) == list(found.values)
    assert pytest.approx(np.sqrt(2 * outside.cost / len(points)), abs=1e-9) == found.residual_rms


@pytest.mark.parametrize("seed", SEEDS)
def test_the_uncertainty_of_a_circle_is_that_of_the_slopes_of_scipy(seed: int) -> None:
    random = np.random.default_rng(100 + seed)
    angle = np.linspace(0, 1.5 * np.pi, 7)
    points = np.column_stack([np.cos(angle), np.sin(angle)]) * 30 + random.normal(0, 0.02, (7, 2))
    outside = least_squares(lambda said: np.hypot(points[:, 0] - said[0], points[:, 1] - said[1]) - said[2], [1.0, 1.0, 25.0], xtol=1e-15)
    variance = np.linalg.inv(outside.jac.T @ outside.jac) * 2 * outside.cost / 4
    found = circle([tuple(point) for point in points], 1e-9)
    assert pytest.approx(np.sqrt(np.diag(variance))[:2], rel=1e-4) == list(found.uncertainties[:2])


def reading(radius: float, off: np.ndarray, outward: np.ndarray) -> float:
    """How far out along `outward` the surface of a round bar reaches whose middle is at `off`: solved as a crossing of line and circle."""
    sideways = off - (off @ outward) * outward
    return float(off @ outward + np.sqrt(radius**2 - sideways @ sideways))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_runout_of_an_eccentric_bar_is_found_to_the_second_order(seed: int) -> None:
    random = np.random.default_rng(seed)
    angles = np.sort(random.uniform(0, 360, 5 + seed))
    off = Rotation.from_euler("x", 0).apply([0.0, random.uniform(-2, 2), random.uniform(-2, 2)])
    readings = [reading(20.0, Rotation.from_euler("x", angle, degrees=True).apply(off), np.array([0.0, 0.0, 1.0])) for angle in angles]
    found = runout(angles.tolist(), readings, 1e-6, 20.0)
    assert pytest.approx([off[2], off[1]], abs=1e-9) == list(found.values[1:])


@given(
    along=st.sampled_from("XYZ"),
    side=st.sampled_from([(axis, sign) for axis in "XYZ" for sign in (1, -1)]),
    sense=st.sampled_from([1, -1]),
    at_deg=st.sampled_from([0.0, 30.0, 90.0, 205.0]),
    off=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)),
    centre=st.tuples(st.floats(-200, 200), st.floats(-200, 200)),
    diameter=st.floats(10, 80),
    first=st.floats(0, 90),
)
def test_touches_and_readings_of_a_bar_that_runs_out_lead_to_the_axis_of_rotation(
    along: str,
    side: tuple[str, int],
    sense: int,
    at_deg: float,
    off: tuple[float, float],
    centre: tuple[float, float],
    diameter: float,
    first: float,
) -> None:
    across = [axis for axis in "XYZ" if axis != along]
    outward_axis, sign = side if side[0] != along else ("Z" if along != "Z" else "Y", side[1])
    outward = sign * np.eye(3)[AXES[outward_axis]]
    middle = np.zeros(3)
    axis_at = np.zeros(3)
    for axis, shift, where in zip(across, off, centre, strict=True):
        middle[AXES[axis]] = shift
        axis_at[AXES[axis]] = where

    def turned(angle: float) -> np.ndarray:
        return np.asarray(Rotation.from_rotvec(np.radians(sense * angle) * np.eye(3)[AXES[along]]).apply(middle))

    readings = tuple((angle, reading(diameter / 2, turned(angle), outward)) for angle in first + np.arange(0, 360, 60))
    bar = axis_at + turned(at_deg)
    sides = tuple((axis, bar[AXES[axis]] - diameter / 2 - 5, bar[AXES[axis]] + diameter / 2 + 5) for axis in across if axis != "Z")
    top = (bar[2] + diameter / 2,) if along != "Z" else ()
    found = find_centre(
        Touches(
            along=along,
            diameter=diameter,
            tool=10.0,
            sides=sides,
            top=top,
            readings=readings,
            indicator=f"{'+' if sign > 0 else '-'}{outward_axis}",
            at_deg=at_deg,
            sense=sense,
        )
    )
    assert () == found.repeat
    assert pytest.approx([axis_at[AXES[axis]] for axis in across], abs=1e-6) == [each.value for each in found.coordinates]


@given(
    points=st.integers(4, 12),
    centre=st.tuples(st.floats(-300, 300), st.floats(-300, 300)),
    radius=st.floats(1, 150),
    start=st.floats(0, 360),
)
def test_points_on_a_circle_lead_to_its_centre(points: int, centre: tuple[float, float], radius: float, start: float) -> None:
    angle = np.radians(start + np.arange(points) * 300 / points)
    given_points = [(centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a)) for a in angle]
    found = circle(given_points, 0.01)
    assert pytest.approx([*centre, radius], abs=1e-8) == list(found.values)


@given(shift=st.floats(-100, 100), value=st.floats(-100, 100), other=st.floats(-100, 100))
def test_moving_all_touches_moves_the_centre_by_as_much(shift: float, value: float, other: float) -> None:
    here = find_centre(Touches(sides=(("Y", value, other),), top=(value,), diameter=10.0))
    there = find_centre(Touches(sides=(("Y", value + shift, other + shift),), top=(value + shift,), diameter=10.0))
    assert pytest.approx([each.value + shift for each in here.coordinates], abs=1e-9) == [each.value for each in there.coordinates]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_line_through_noisy_balls_is_that_of_scipy_with_its_uncertainty(seed: int) -> None:
    """Against a model of its own, with SciPy's rotations and a Jacobian by differences: a ball carried round a line along X."""
    random = np.random.default_rng(200 + seed)
    profile = Profile.model_validate(
        {
            "name": "made",
            "speaks": "made for one test",
            "chain": "part C A bed spindle",
            "rotary": {
                "A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "counterclockwise"},
                "C": {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise"},
            },
        }
    )
    angles = np.linspace(-70, 20 + 5 * seed, 4 + seed)
    turns = Rotation.from_rotvec(np.radians(angles)[:, None] * [1.0, 0.0, 0.0])
    balls = turns.apply([0, 60.0, 25.0]) + np.array([12.0, -3.5, 81.0]) + random.normal(0, 0.02, (len(angles), 3))

    def left(said: np.ndarray) -> np.ndarray:
        return ((turns.apply([0.0, *said[2:]]) + np.array([0.0, *said[:2]])) - balls)[:, 1:].ravel()

    outside = least_squares(left, [0.0, 0.0, 1.0, 1.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    found = find_line(profile, "A", BallTouches(tuple((w, *map(float, b)) for w, b in zip(angles, balls, strict=True)), 1e-6))
    assert pytest.approx(outside.x[:2], abs=1e-7) == list(found.place[1:])
    spread = np.sqrt(2 * outside.cost / (2 * len(angles) - 4))
    sure = spread * np.sqrt(np.diag(np.linalg.inv(outside.jac.T @ outside.jac)))[:2]
    assert pytest.approx(sure, rel=1e-5) == list(found.uncertainty[1:])
