"""The simulated cut against volumes and sections that anybody can work out from a handbook."""

from __future__ import annotations

from math import acos, asin, pi, radians, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from simulated import BAR, cut, hidden_mm, not_held_mm3

RADIUS, LENGTH = 20.0, 40.0
BALL = {"number": 1, "shape": "ball", "diameter": 6}


def face(height: float, step: float = 5.0) -> str:
    """Face the whole bar down to a height, to and fro across it."""
    lines = [f"G0 X-5 Y-24 A{{angle}}\nG0 Z25\nG1 Z{height}"]
    for k in range(11):
        lines.append(f"G1 Y{24 if k % 2 == 0 else -24}\nG1 X{-5 + step * (k + 1)}")
    return "\n".join([*lines, "G53 G0 Z0"])


def circular_segment(radius: float, depth: float) -> float:
    """Area of a circular segment of height `depth` (any handbook of mathematics, mensuration of the circle)."""
    return radius**2 * acos((radius - depth) / radius) - (radius - depth) * sqrt(2 * radius * depth - depth**2)


@pytest.mark.parametrize("depth", [1.0, 5.0, 12.0])
def test_a_flat_takes_a_circular_segment_off_a_bar(depth: float) -> None:
    done = cut(face(RADIUS - depth).format(angle=0), along=80, around=512)

    assert circular_segment(RADIUS, depth) * LENGTH == pytest.approx(done.removed_mm3, rel=1e-3)
    assert RADIUS - depth == pytest.approx(float(done.field.outer_mm.min()), abs=1e-3)
    assert not hidden_mm(done.field).any()


def test_six_flats_make_a_hexagon_of_its_width_across_flats() -> None:
    across_flats = 32.0
    done = cut("\n".join(face(across_flats / 2).format(angle=60 * k) for k in range(6)), along=80, around=720)
    # Area of a regular hexagon from its width across flats: sqrt(3) / 2 times its square. Its corners lie inside the bar.
    area = sqrt(3) / 2 * across_flats**2

    assert across_flats / sqrt(3) < RADIUS
    assert area * LENGTH == pytest.approx(done.field.volume_mm3(), rel=1e-4)
    angle = np.abs((np.degrees(done.field.second) + 30) % 60 - 30)
    np.testing.assert_allclose(done.field.outer_mm[40], across_flats / 2 / np.cos(np.radians(angle)), atol=2e-3)
    assert 0 == pytest.approx(not_held_mm3(done), abs=1e-2)


def test_a_ball_leaves_the_lens_of_two_circles() -> None:
    """Two circles of radius r and R at distance d (mensuration of the lens): the ball's middle runs on the bar's surface."""
    r = 3.0
    done = cut("G0 X-5 Y0\nG0 Z25\nG1 Z17\nG1 X45", tools=[BALL], along=40, around=2048)
    d = RADIUS
    lens = (
        r**2 * acos((d**2 + r**2 - RADIUS**2) / (2 * d * r))
        + RADIUS**2 * acos((d**2 + RADIUS**2 - r**2) / (2 * d * RADIUS))
        - 0.5 * sqrt((-d + r + RADIUS) * (d + r - RADIUS) * (d - r + RADIUS) * (d + r + RADIUS))
    )

    assert lens * LENGTH == pytest.approx(done.removed_mm3, rel=1e-3)
    angle = done.field.second[np.abs(done.field.second) < asin(r / RADIUS) - 0.01]
    circle = RADIUS * np.cos(angle) - np.sqrt(r**2 - (RADIUS * np.sin(angle)) ** 2)
    shown = done.field.outer_mm[20][np.abs(done.field.second) < asin(r / RADIUS) - 0.01]
    np.testing.assert_allclose(shown, circle, atol=2e-3)


def test_a_hole_through_the_axis_is_the_common_part_of_two_cylinders() -> None:
    """Unequal cylinders that cross at a right angle: V = 8 int_0^a sqrt(a^2 - t^2) sqrt(R^2 - t^2) dt (Steinmetz)."""
    a = 3.0
    drill = {"number": 1, "shape": "drill", "diameter": 6, "point_angle": 118}
    done = cut("G0 X20 Y0\nG0 Z25\nG81 R22 Z-25 G99\nG80", tools=[drill], along=400, around=1024)
    common = 8 * quad(lambda t: sqrt(a**2 - t**2) * sqrt(RADIUS**2 - t**2), 0, a)[0]

    assert common == pytest.approx(done.removed_mm3, rel=2e-3)
    # Seen from the axis the hole's walls stand over what is behind them: held, and said.
    assert hidden_mm(done.field).any()


def test_blind_radial_holes_have_the_point_of_the_drill() -> None:
    drill = {"number": 1, "shape": "drill", "diameter": 6, "point_angle": 118}
    tip = 12.0
    holes = "".join(f"G0 X{x} Y0 A{angle}\nG0 Z25\nG1 Z{tip}\nG0 Z25\n" for x, angle in ((10, 0), (20, 120), (30, 240)))
    done = cut(holes, tools=[drill], along=500, around=1536)
    slope = 1 / tan(radians(118 / 2))

    def material(y: float, x: float) -> float:
        return sqrt(RADIUS**2 - y**2) - tip - slope * sqrt(x**2 + y**2)

    one = dblquad(material, -3, 3, lambda x: -sqrt(9 - x**2), lambda x: sqrt(9 - x**2))[0]

    assert 3 * one == pytest.approx(done.removed_mm3, rel=3e-3)
    assert 0 == len(done.touches["rapid"])
    assert 0 == pytest.approx(not_held_mm3(done), abs=1e-2)


@pytest.mark.parametrize("pitch", [8.0, 30.0])
def test_a_helical_groove_has_the_volume_of_its_band_at_every_radius(pitch: float) -> None:
    """At radius r the tool marks a centrally symmetric footprint; moved straight over the unrolled surface by a length L it sweeps
    its area plus L times its width across (mixed areas of convex bodies, Steiner and Minkowski). Integrated over the radius.
    """
    bottom, turns, r_tool = 17.0, 1.0, 3.0
    done = cut(
        f"G0 X5 Y0 A0\nG0 Z25\nG1 Z{bottom}\nG93\nG1 X{5 + pitch * turns} A{360 * turns} F0.1",
        stock=BAR | {"to": 5 + pitch + 5},
        along=400,
        around=1440,
        off_mm=0.01,
    )
    rise = pitch / (2 * pi)

    def layer(r: float) -> float:
        widest = min(asin(r_tool / r), acos(min(bottom / r, 1.0)))
        angle = np.linspace(-widest, widest, 2001)
        half_length = np.sqrt(np.maximum(r_tool**2 - (r * np.sin(angle)) ** 2, 0.0))
        area = float(np.trapezoid(2 * half_length, angle))
        width = 2 * float((half_length + rise * angle).max())
        return r * (area + 2 * pi * turns * width)

    radii = np.linspace(bottom, RADIUS, 241)
    expected = float(np.trapezoid([layer(float(r)) for r in radii], radii))

    assert expected == pytest.approx(done.removed_mm3, rel=5e-3)
    assert bottom == pytest.approx(float(done.field.outer_mm.min()), abs=5e-3)


def test_a_turn_under_a_standing_flat_tool_leaves_a_smaller_bar() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z18\nG93\nG1 A360 F0.1", along=200, around=720)

    np.testing.assert_allclose(done.field.outer_mm[np.abs(done.field.first_mm - 20) < 0.5], 18, atol=2e-3)


def test_a_round_pocket_by_full_circles_has_the_volume_of_its_disc() -> None:
    """A cutter of radius r whose axis goes round a circle of radius a < r clears a disc of radius a + r, here of a block's face."""
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    done = cut("G0 X22 Y0\nG0 Z25\nG1 Z15\nG2 X22 Y0 I-2 J0", stock=block, along=400, around=1024, off_mm=0.005)

    assert pi * 5**2 * 5 == pytest.approx(done.removed_mm3, rel=3e-3)


def test_a_helix_down_clears_the_same_pocket_as_a_plunge_and_a_circle() -> None:
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    program = "G0 X22 Y0\nG0 Z20.5\nG3 X22 Y0 Z15 I-2 J0\nG3 X22 Y0 I-2 J0"
    done = cut(program, stock=block, along=200, around=512, off_mm=0.01)

    assert pi * 5**2 * 5 == pytest.approx(done.removed_mm3, rel=5e-3)


def test_with_the_axis_upright_a_hole_is_a_cylinder_on_a_cone() -> None:
    drill = {"number": 1, "shape": "drill", "diameter": 6, "point_angle": 90}
    done = cut("G0 X5 Y5\nG0 Z45\nG1 Z30", tools=[drill], toolpath={"axis": "Z"}, along=800, around=800)
    cone = pi * 3**2 * 3 / 3

    assert pi * 3**2 * (10 - 3) + cone == pytest.approx(done.removed_mm3, rel=3e-3)
    assert pi * RADIUS**2 * LENGTH == pytest.approx(done.stock_mm3, rel=1e-3)


def test_a_slot_across_the_bars_end_face_is_as_long_as_the_bar_is_wide() -> None:
    done = cut("G0 X-25 Y0\nG0 Z45\nG1 Z35\nG1 X25", toolpath={"axis": "Z"}, along=800, around=800)
    # A strip of width 2a through a circle of radius R: 2 (a sqrt(R^2 - a^2) + R^2 asin(a / R)).
    strip = 2 * (3 * sqrt(RADIUS**2 - 9) + RADIUS**2 * asin(3 / RADIUS))

    assert strip * 5 == pytest.approx(done.removed_mm3, rel=2e-3)


def test_stock_off_the_axis_keeps_its_volume() -> None:
    for stock in (
        BAR | {"offset": [5, -3]},
        BAR | {"offset": [30, 10]},  # the axis runs outside
        {"shape": "rectangular", "across": [30, 12], "from": 0, "to": 40, "offset": [2, 9]},
    ):
        area = pi * RADIUS**2 if stock["shape"] == "round" else 30 * 12
        done = cut("G0 X0 Y0 Z200", stock=stock, along=16, around=2880)
        assert area * LENGTH == pytest.approx(done.stock_mm3, rel=2e-3)
        assert 0 == done.removed_mm3


def test_an_end_mill_slot_off_the_axis_has_the_volume_under_the_arc() -> None:
    """Walls at y = 7 and 13, floor at z = 12: the area between the floor and the circle. One wall leans over the axis."""
    done = cut("G0 X-5 Y10\nG0 Z25\nG1 Z12\nG1 X45", along=20, around=4096)
    area = quad(lambda y: sqrt(RADIUS**2 - y**2) - 12, 7, 13)[0]

    assert area * LENGTH == pytest.approx(done.removed_mm3, rel=2e-3)
    assert hidden_mm(done.field).any()
    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3(), rel=1e-6)


def test_sin_and_cos_of_the_field_point_where_the_contract_says() -> None:
    """Axis X, alpha = 90: the tool stands at R(90)(0, 0, 1) = (0, -1, 0), so a hole drilled there opens towards -y."""
    done = cut("G0 X20 Y0 A90\nG0 Z25\nG1 Z10", along=80, around=360)
    i, j = np.unravel_index(int(np.argmin(done.field.outer_mm)), done.field.shape)

    assert pi / 2 == pytest.approx(done.field.second[j], abs=0.3)
    assert 20 == pytest.approx(done.field.first_mm[i], abs=3)
