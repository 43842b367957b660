"""What is seen of dexels from the axis, or from above, is what a field of radii or heights would hold."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray

from posed import BLOCK, billet, cut_poses, unit
from steadyrest.simulation.dexel import Dexels, stock_dexels
from steadyrest.simulation.dexel_view import Looking, Sight
from steadyrest.simulation.field import Field


def outside_of(dexels: Dexels, axis: str, *lines: int, looking: Looking = "outward") -> tuple[Field, NDArray[np.uint16]]:
    side = Sight(dexels, axis, looking, *lines).side(dexels)
    return side.field, side.last_cut


ROUND = {"shape": "round", "diameter": 20, "from": -5, "to": 25}


@pytest.mark.parametrize("axis", ["X", "Y"])
def test_the_outside_of_a_bar_lies_at_its_radius_all_round(axis: str) -> None:
    field, last = outside_of(stock_dexels(billet(ROUND, axis), 0.25), axis, 20, 360)

    np.testing.assert_allclose(field.outer_mm, 10.0, atol=0.15)
    assert np.quantile(np.abs(field.outer_mm - 10.0), 0.95) < 0.003  # between lines as well as on them
    assert not last.any()
    assert (-5, 25) == pytest.approx((field.first_mm[0] - field.first_step_mm / 2, field.first_mm[-1] + field.first_step_mm / 2))


@pytest.mark.parametrize(("axis", "along", "up"), [("X", 0, [0, -1, 0]), ("Y", 1, [1, 0, 0])])
def test_a_slot_at_ninety_degrees_is_seen_there_and_bears_its_operation(axis: str, along: int, up: list[float]) -> None:
    """Right-hand about the axis from +Z, ninety degrees on, is -Y about X and +X about Y."""
    stock, way = billet(ROUND, axis), np.zeros((2, 3))
    way[:, along], way[:] = (0, 0), 7.0 * unit(up)
    way[:, along] = 5.0, 12.0
    dexels = cut_poses(stock, {"shape": "flat", "diameter": 6}, way, [up] * 2)[0]
    field, last = outside_of(dexels, axis, 60, 360)
    i, j = int(np.argmin(np.abs(field.first_mm - 8))), int(np.argmin(np.abs(field.second - np.pi / 2)))

    assert 7.0 == pytest.approx(float(field.outer_mm[i, j]), abs=0.02)
    assert 1 == last[i, j]
    assert 10.0 == pytest.approx(float(field.outer_mm[i, 360 - j]), abs=0.15)
    assert 0 == last[i, 360 - j]
    assert not last[field.first_mm < 1.5].any()


def test_a_leaning_face_is_smooth_between_the_lines() -> None:
    """A face square to a direction that lies along none of the bundles, by a flat tool across the bar: x n = 6 on all of it."""
    normal, along = unit([0.2, -0.6, 0.7]), unit([0, 0.7, 0.6])
    dexels = cut_poses(billet(ROUND), {"shape": "flat", "diameter": 60}, [6 * normal - 20 * along, 6 * normal + 20 * along], [normal] * 2)[
        0
    ]
    field, last = outside_of(dexels, "X", 30, 360)
    x, angle = field.first_mm[:, None], field.second
    face = (6 - normal[0] * x) / (-normal[1] * np.sin(angle) + normal[2] * np.cos(angle))
    inside = (last == 1) & (face < 9.5) & (x > -4) & (x < 24)

    assert inside.sum() > 1000
    assert np.quantile(np.abs(field.outer_mm - face)[inside], 0.95) < 0.01


def test_where_the_axis_lies_outside_the_material_nothing_is_seen_on_the_other_side() -> None:
    field, _ = outside_of(stock_dexels(billet(ROUND | {"offset": [0, 30]}), 0.5), "X", 10, 360)

    assert 40 == pytest.approx(float(field.outer_mm[5].max()), abs=0.3)
    assert not field.outer_mm[:, np.abs(field.second) > np.pi / 4].any()


def test_from_above_is_seen_what_the_lines_along_z_hold() -> None:
    stock = billet(BLOCK, "Z")
    dexels = cut_poses(stock, {"shape": "ball", "diameter": 8}, [[-30, 0, 15], [30, 0, 15]], [[0, 0, 1]] * 2)[0]
    field, last = outside_of(dexels, "Z", looking="from the high end")
    i, j = int(np.argmin(np.abs(field.first_mm))), int(np.argmin(np.abs(field.second)))

    assert -20 == field.base_mm
    assert 35 == pytest.approx(float(field.outer_mm[i, j]), abs=0.01)
    assert (1, 0) == (last[i, j], last[i, 0])
    assert 40 == pytest.approx(float(field.outer_mm[i, 0]))
    assert dexels.volumes_mm3()[2] == pytest.approx(field.volume_mm3(), rel=1e-4)


@pytest.mark.parametrize("axis", ["X", "Z"])
def test_the_part_is_what_lies_within_all_its_sides(axis: str) -> None:
    """Places on a grid, by the cuts themselves: a slot in the side, one in either end."""
    stock, flat = billet(BLOCK, axis), {"shape": "flat", "diameter": 6}
    turn = (lambda x, y, z: [x, y, z]) if axis == "Z" else (lambda x, y, z: [z, x, y])
    dexels = stock_dexels(stock, 0.5)
    slots = [([0, 3, 0], [1, 0, 0], [11, -2, 5]), ([3, 0, 0], [0, 0, 1], [-5, 0, 16]), ([0, 4, 0], [0, 0, -1], [4, -3, -18])]
    for way, up, start in slots:
        ends = np.array([turn(*start), np.add(turn(*start), turn(*way))])
        dexels = cut_poses(dexels, flat, ends, [turn(*up)] * 2)[0]
    sides = [Sight(dexels, axis, looking).side(dexels) for looking in get_args(Looking)]
    for side in sides:
        np.testing.assert_allclose(side.rows @ side.rows.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(side.rows) == pytest.approx(1)
        assert not side.over(side.points()[side.field.outer_mm > 1])[0].any()
        assert side.last_cut.any()
    grid = np.stack(np.meshgrid(*(np.arange(low, high, 0.9) for low, high in zip(dexels.low - 1, dexels.high + 1, strict=True))), axis=-1)
    places = grid.reshape(-1, 3)
    outside = np.any([side.over(places)[0] for side in sides], axis=0)
    gone = ~stock.holds(places)
    assert outside[((places < dexels.low - 0.8) | (places > dexels.high + 0.8)).any(axis=1)].all()
    for way, up, start in slots:
        along = np.clip((places - turn(*start)) @ unit(turn(*way)), 0, np.linalg.norm(way))
        off = places - turn(*start) - along[:, None] * unit(turn(*way))
        height = off @ np.array(turn(*up))
        beside = np.linalg.norm(off - height[:, None] * np.array(turn(*up)), axis=1)
        gone |= (height > 0) & (beside < 3)
        assert outside[(height > 0.8) & (beside < 1.5)].all()
    assert not (outside & ~gone).any()
