"""Distances of the proof against other people's: shapely's Frechet and Hausdorff distance, scipy's integration and dense sampling."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from steadyrest.profile import Profile
from steadyrest.proof import Verdict, prove
from steadyrest.proof.geometry import Motions, between, frechet_bound, tip_length
from steadyrest.toolpath import parse_toolpath

PROFILE = Profile.model_validate(
    {
        "name": "hand",
        "speaks": "six decimals and no rotary",
        "program": {"start_mark": "", "end_mark": ""},
        "numbers": {"length": {"decimals": 6}, "feed": {"decimals": 6}},
    }
)


def verdict_of(intended: list[tuple[float, float]], programmed: list[tuple[float, float]], tolerance: float) -> Verdict:
    """The proof of a flat path against another; each begins with a point reached from above. The feed is so slow that it says nothing."""
    first, *rest = intended
    moves: list[dict[str, Any]] = [{"rapid": [*first, 5]}, {"cut": [*first, 0], "feed": 1e-3}, *({"cut": [*point, 0]} for point in rest)]
    toolpath = parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "clearance": 1,
            "tools": [{"number": 1, "shape": "flat", "diameter": 1}],
            "operations": [{"tool": 1, "spindle": {"rpm": 100, "turns": "clockwise"}, "rotary": {"intent": "still"}, "moves": moves}],
        }
    )
    (x, y), *others = programmed
    body = "\n".join(f"X{x:.6f} Y{y:.6f}" for x, y in others)
    text = (
        "G17 G40 G49 G80\nG21 G90 G94\nG54\nG53 G0 Z0\nT1 M6\nG0 G43 H1 Z80\nG53 G0 Z0 S100 M3\n"
        f"G0 X{x:.6f} Y{y:.6f}\nZ5\nG1 Z0 F0.001\n{body}\nG53 G0 Z0\nM5\nM30\n"
    )
    return prove(text.encode(), toolpath, PROFILE, tolerance=tolerance)


coordinate = st.integers(-40, 40).map(lambda n: n / 4)
point = st.tuples(coordinate, coordinate)
path = st.lists(point, min_size=2, max_size=8)
wobble = st.tuples(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))


@given(path, st.data())
def test_what_is_proved_is_within_the_frechet_distance(intended: list[tuple[float, float]], data: st.DataObject) -> None:
    """Frechet's distance knows about order: backwards, twice or left out is far. shapely's is taken of densely set points."""
    programmed = []
    for x, y in intended:
        if data.draw(st.integers(0, 9)) == 0 and programmed:
            continue
        dx, dy = data.draw(wobble)
        programmed.append((round(x + dx, 6), round(y + dy, 6)))
    if data.draw(st.booleans()) and len(programmed) > 2:
        at = data.draw(st.integers(1, len(programmed) - 1))
        programmed.insert(at, data.draw(st.sampled_from(programmed)))
    assume(len(programmed) >= 2)
    tolerance = data.draw(st.sampled_from([0.05, 0.15, 0.3, 1.0]))
    verdict = verdict_of(intended, programmed, tolerance)
    one, other = shapely.LineString(intended), shapely.LineString(programmed)
    if one.length == 0 or other.length == 0:
        return
    frechet = shapely.frechet_distance(one, other, densify=0.02)
    step = 0.02 * max(one.length, other.length)
    if verdict.proved:
        assert frechet <= tolerance + step
        hausdorff = shapely.hausdorff_distance(one, other, densify=0.02)
        assert verdict.farthest >= hausdorff - step
        assert verdict.farthest <= tolerance + 1e-5


@given(path, st.data())
def test_points_moved_by_less_than_the_tolerance_and_more_points_between_are_proved(
    intended: list[tuple[float, float]], data: st.DataObject
) -> None:
    programmed = [intended[0]]
    for (x, y), (nx, ny) in pairwise(intended):
        parts = data.draw(st.integers(1, 4))
        for k in range(1, parts + 1):
            u = k / parts
            dx, dy = data.draw(st.floats(-0.003, 0.003)), data.draw(st.floats(-0.003, 0.003))
            programmed.append((round(x + u * (nx - x) + dx, 6), round(y + u * (ny - y) + dy, 6)))
    verdict = verdict_of(intended, programmed, 0.01)
    assert verdict.proved, verdict.text()


angle = st.floats(-7, 7)
across = st.complex_numbers(max_magnitude=50, allow_nan=False, allow_infinity=False)
along = st.floats(-50, 50)


def motion(along0: float, along1: float, across0: complex, across1: complex, phi0: float, phi1: float) -> Motions:
    return between(np.array([along0, along1]), np.array([across0, across1]), np.array([phi0, phi1]))


def tip(m: Motions, u: float) -> tuple[float, complex]:
    """The definition, written out: everything linear in u, the part turned by phi."""
    phi = (1 - u) * float(m.phi_at(0)[0]) + u * float(m.phi_at(1)[0])
    return (1 - u) * m.along[0][0] + u * m.along[1][0], ((1 - u) * m.across[0][0] + u * m.across[1][0]) * np.exp(-1j * phi)


def farthest_apart(one: Motions, other: Motions) -> float:
    def apart(u: float) -> float:
        (a, w), (b, v) = tip(one, u), tip(other, u)
        return math.hypot(a - b, abs(w - v))

    grid = np.linspace(0, 1, 201)
    best = int(np.argmax([apart(u) for u in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, 200)]
    found = minimize_scalar(lambda u: -apart(u), bounds=(low, high), method="bounded")
    return max(apart(grid[best]), -float(found.fun))


def straight(along: Any, across: Any) -> Motions:
    """A straight way over a part that does not turn."""
    return Motions((along[:-1], along[1:]), (across[:-1], across[1:]), 0.0)


@given(along, along, across, across, angle, angle, st.floats(-0.1, 0.1), st.floats(-0.001, 0.001))
def test_the_leash_is_never_shorter_than_the_tips_get_apart(
    x0: float, x1: float, a0: complex, a1: complex, phi0: float, phi1: float, off: float, turned: float
) -> None:
    """scipy searches for the farthest; both the bound for two that turn and the one for a straight line in the part."""
    program = motion(x0, x1, a0, a1, phi0, phi1)
    near = motion(x0 + off, x1 - off, a0 + off, a1 + 1j * off, phi0 + turned, phi1 - turned)
    assert frechet_bound(program, near)[0] >= farthest_apart(program, near) - 1e-9
    (b0, w0), (b1, w1) = tip(program, 0.0), tip(program, 1.0)
    chord = straight(np.array([b0 + off, b1]), np.array([w0, w1]))
    turning = motion(b0 + off, b1, w0, w1, 0.0, 0.0)
    assert frechet_bound(program, chord)[0] >= farthest_apart(program, turning) - 1e-9


def test_the_leash_to_a_chord_is_close_for_the_steps_of_a_subdivided_path() -> None:
    """A tip at rest over the part, 30 from the axis, while the part turns by 2 degrees: 30 (1 - cos 1 degree), by elementary geometry."""
    turn = math.radians(2)
    program = motion(0, 0, 30, 30 * np.exp(1j * turn), 0, turn)
    rest = straight(np.zeros(2), np.array([30 + 0j, 30 + 0j]))
    true = 30 * (1 - math.cos(turn / 2))
    assert true <= frechet_bound(program, rest)[0] <= 1.001 * true


@given(along, along, st.floats(5, 40), st.floats(-1, 1), angle, st.floats(-1.5, 1.5))
def test_the_tips_length_over_the_part_is_the_integral_of_its_speed(
    x0: float, x1: float, radius: float, rise: float, phi0: float, turn: float
) -> None:
    """A helix on a cylinder or a slightly rising one, integrated by scipy from the definition."""
    m = motion(x0, x1, 1j * radius, 1j * (radius + rise), phi0, phi0 + turn)

    def speed(u: float) -> float:
        w = 1j * (radius + u * rise)
        over = 1j * rise - 1j * turn * w
        return math.sqrt((x1 - x0) ** 2 + abs(over) ** 2)

    assert quad(speed, 0, 1)[0] == pytest.approx(float(tip_length(m)[0]), rel=2e-4, abs=1e-9)


@pytest.mark.parametrize(
    ("dx", "turn_deg", "radius", "length"),
    [(10, 0, 20, 10), (10, 90, 20, 32.969083), (0, 90, 20, 31.415927), (0.001, 90, 20, 31.415927), (50, 360, 12.5, 93.104794)],
)
def test_lengths_on_a_cylinder_are_those_of_the_developed_triangle(dx: float, turn_deg: float, radius: float, length: float) -> None:
    """sqrt(dx^2 + (r dtheta)^2), elementary geometry of the helix."""
    m = motion(0, dx, 1j * radius, 1j * radius, 0, math.radians(turn_deg))
    assert pytest.approx(length, abs=1e-6) == float(tip_length(m)[0])
