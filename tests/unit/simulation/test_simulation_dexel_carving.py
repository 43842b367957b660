"""Whole arrays and compiled loops take the same out of dexels, and what a tool touches is told with its depth and place."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from posed import BLOCK, billet, cut_poses, unit
from simulated import SHAPES, part
from steadyrest.simulation.dexel import stock_dexels
from steadyrest.simulation.dexel_carving import DexelCarver, seen_about
from steadyrest.simulation.field import stock_field
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK

TILTED = unit([1, -2, 3])
LONG_REACH = {"shape": "flat", "diameter": 6, "cutting_length": 5, "length": 12}


@pytest.mark.parametrize("shape", [*SHAPES.values(), LONG_REACH], ids=[*SHAPES, "short"])
def test_arrays_and_compiled_loops_take_out_the_same(shape: dict[str, Any]) -> None:
    pytest.importorskip("numba")
    tips = [[-18, -4, 11], [-18, -4, 7], [4, 5, 7], [6, 6, 4], [6, 6, 4]]
    axes = [[0, 0, 1], [0, 0, 1], [0, 0, 1], TILTED, [0, -0.3, 1]]
    done = [cut_poses(billet(BLOCK), shape, tips, axes, cell_mm=0.8, off_mm=0.05, carving=way) for way in ("arrays", "compiled")]
    (one, took, touched), (other, took_too, touched_too) = done

    for here, there in zip(one.bundles, other.bundles, strict=True):
        np.testing.assert_array_equal(here.held, there.held)
        there_is = np.arange(2) < here.held[..., None]
        np.testing.assert_allclose(here.ends[..., :2, :][there_is], there.ends[..., :2, :][there_is], atol=1e-6)
        np.testing.assert_array_equal(here.cut_by[..., :2, :][there_is], there.cut_by[..., :2, :][there_is])
    for name in ("removed_mm3", "axial_mm", "radial_mm", "positions"):
        assert getattr(took, name) == pytest.approx(getattr(took_too, name))
    for column in (DEPTH, SHANK, HOLDER):
        np.testing.assert_allclose(touched.touches(column).depth_mm, touched_too.touches(column).depth_mm)


@pytest.mark.parametrize("carving", ["arrays", "compiled"])
def test_lines_get_room_for_as_many_holes_as_they_cross(carving: Any) -> None:
    if carving == "compiled":
        pytest.importorskip("numba")
    holes = [(x, height) for x in range(-16, 17, 4) for height in (12, -12, 12)]
    tips = [[x, 0, height] for x, height in holes]
    dexels, took, _account = cut_poses(
        billet(BLOCK), {"shape": "flat", "diameter": 2}, tips, [[0, 0, 1]] * len(tips), cell_mm=0.2, carving=carving
    )

    assert 9 * pi * 20 == pytest.approx(took.removed_mm3, rel=0.03)
    assert 10 == dexels.bundles[0].held.max()
    np.testing.assert_allclose(dexels.volumes_mm3(), 24000 - 9 * pi * 20, rtol=2e-3)
    assert took.removed_mm3 == pytest.approx(24000 - dexels.volume_mm3(), abs=1e-3)


def test_a_rapid_through_material_is_told_with_the_depth_that_its_tip_goes_in() -> None:
    way, axes = [[-16, 0, 12], [-16, 0, 12], [10, 0, 8.5], [10, 0, 30]], [[0, 0, 1]] * 4
    account = cut_poses(billet(BLOCK), {"shape": "ball", "diameter": 8}, way, axes, rapid=np.array([True, True, True]))[2]
    touches = account.touches(DEPTH)

    assert [2] == touches.line.tolist()
    assert 1.5 == pytest.approx(touches.depth_mm[0], abs=0.3)
    assert -2 < touches.first_mm[0] < 14
    assert abs(touches.second[0]) < 0.4


def test_a_rapid_back_out_of_a_tilted_cut_touches_nothing() -> None:
    off, deep = 12 * TILTED, unit(np.cross(TILTED, [1, 0, 0]))
    tips = [off, 0 * TILTED, 6 * deep - TILTED, off + 6 * deep]
    shape = {"shape": "bullnose", "diameter": 6, "corner_radius": 1}
    took, account = cut_poses(billet(BLOCK), shape, tips, [TILTED] * 4, rapid=np.array([False, False, True]))[1:]

    assert took.removed_mm3 > 200
    assert [] == account.touches(DEPTH).line.tolist()


def test_shank_and_holder_that_lean_into_a_wall_are_told_and_take_nothing_out() -> None:
    slot, leaning = [[-30, 0, 4], [30, 0, 4]], [[0, 0, 4.5], [0, 0, 4.5]]
    stock = billet({"shape": "rectangular", "across": [40, 40], "from": -20, "to": 20})
    cut_out = cut_poses(stock, {"shape": "flat", "diameter": 8}, slot, [[0, 0, 1]] * 2)[0]
    upright = cut_poses(cut_out, LONG_REACH | {"diameter": 7}, leaning, [[0, 0, 1]] * 2)
    left, took, account = cut_poses(cut_out, LONG_REACH | {"diameter": 7}, leaning, [[0, 0, 1], [0, 0.25, 1]])

    for column in (SHANK, HOLDER):
        assert 0 == len(upright[2].touches(column))
        assert [1] == account.touches(column).line.tolist()
    # The shank's top, 12 mm up, has gone 12 * 0.25 mm sideways, a little less by the tilt, with half a millimetre of clearance.
    assert 12 * 0.243 - 0.5 == pytest.approx(account.touches(SHANK).depth_mm[0], abs=0.5)
    assert took.removed_mm3 == pytest.approx(cut_out.volume_mm3() - left.volume_mm3(), abs=1e-3)


def test_labels_are_those_of_the_operation_that_cut_the_surface() -> None:
    dexels = cut_poses(billet(BLOCK), {"shape": "flat", "diameter": 6}, [[-30, 0, 5], [30, 0, 5]], [[0, 0, 1]] * 2)[0]
    upright = dexels.bundles[2]
    floor = upright.ends[..., 0, 1] < 9.9

    assert floor.any()
    np.testing.assert_array_equal(floor, upright.cut_by[..., 0, 1] == 1)
    assert not upright.cut_by[..., 0, 0].any()


@pytest.mark.parametrize("axis", ["X", "Y", "Z"])
def test_places_are_told_as_the_field_of_radii_and_heights_tells_them(axis: str) -> None:
    """A narrow bar off the axis lies at the angle at which the field of radii has material."""
    stock = {"shape": "round", "diameter": 1, "from": 0, "to": 10, "offset": [4, -9]}
    here = billet(stock, axis)
    first, second = seen_about(here.middle[None], axis)[0]
    job = part([{"number": 1, "shape": "flat", "diameter": 6}], stock, axis=axis)
    field = stock_field(job, 64, 720)
    j = int(field.outer_mm.argmax()) % field.outer_mm.shape[1]
    if axis == "Z":
        assert (4, -9) == pytest.approx((first, second))
    else:
        assert field.second[j] == pytest.approx(second, abs=0.02)
    assert field.first_mm[0] <= first <= field.first_mm[-1]


def test_compiled_carving_without_the_compiler_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.simulation.dexel_carving.find_spec", lambda _: None)
    with pytest.raises(ValueError, match="needs numba"):
        DexelCarver(stock_dexels(billet(BLOCK), 2.0), "X", "compiled")
