"""The stock as three bundles of lines: round and rectangular, off the axis, along any axis."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from posed import BLOCK, billet
from simulated import part
from steadyrest.errors import ToolpathError
from steadyrest.simulation.dexel import billet_of, stock_dexels

ROUND = {"shape": "round", "diameter": 20, "from": -5, "to": 25}
TOOL = {"number": 1, "shape": "flat", "diameter": 6}


@pytest.mark.parametrize("axis", ["X", "Y", "Z"])
@pytest.mark.parametrize("stock", [ROUND, ROUND | {"offset": [3, -7]}, BLOCK, BLOCK | {"offset": [3, -7]}])
def test_each_bundle_alone_has_the_volume_of_the_stock(stock: dict[str, Any], axis: str) -> None:
    asked = pi * 100 * 30 if stock["shape"] == "round" else 40 * 30 * 20

    np.testing.assert_allclose(stock_dexels(billet(stock, axis), 0.25).volumes_mm3(), asked, rtol=2e-3)


@pytest.mark.parametrize(
    ("axis", "low", "high"),
    [("X", (-5, -7, -17), (25, 13, 3)), ("Y", (-7, -5, -17), (13, 25, 3)), ("Z", (-7, -17, -5), (13, 3, 25))],
)
def test_the_offset_of_a_stock_counts_along_the_two_other_axes_in_their_order(axis: str, low: Any, high: Any) -> None:
    found = billet(ROUND | {"offset": [3, -7]}, axis)

    np.testing.assert_allclose([found.low, found.high], [low, high])
    assert "XYZ"[found.round_along or 0] == axis


def test_lines_hold_just_what_is_inside_the_stock() -> None:
    stock = billet(ROUND | {"offset": [3, -7]}, "Y")
    dexels, rng = stock_dexels(stock, 0.5), np.random.default_rng(5)
    for along, bundle in enumerate(dexels.bundles):
        w = rng.uniform(dexels.low[along] - 1, dexels.high[along] + 1, bundle.held.shape)
        u, v = np.broadcast_arrays(bundle.u[:, None], bundle.v)
        points = np.roll(np.column_stack([u.ravel(), v.ravel(), w.ravel()]), along + 1, axis=1)
        inside = (bundle.held > 0) & (w > bundle.ends[..., 0, 0]) & (w < bundle.ends[..., 0, 1])
        np.testing.assert_array_equal(inside.ravel(), stock.holds(points))


def test_a_piece_of_the_stock_has_lines_within_its_box_alone() -> None:
    dexels = stock_dexels(billet(BLOCK), 0.5, within=(np.array([-5.0, -50, 0]), np.array([5.0, 0, 4])))

    np.testing.assert_allclose(dexels.volumes_mm3(), 10 * 15 * 4)


def test_lines_lie_a_fifth_apart_and_wider_where_there_would_be_too_many() -> None:
    small, large = (stock_dexels(billet({"shape": "rectangular", "across": [2, 2], "from": 0, "to": to}), most_lines=100) for to in (4, 40))

    assert 0.2 == pytest.approx(small.cell_mm)
    assert 0.4 == pytest.approx(large.cell_mm)


def test_a_copy_is_cut_apart_from_what_it_was_copied_from() -> None:
    first = stock_dexels(billet(BLOCK), 1.0)
    first.copy().bundles[1].held[:] = 0

    assert 40 * 30 * 20 == pytest.approx(first.volume_mm3())


def test_a_toolpath_without_stock_has_nothing_to_cut() -> None:
    with pytest.raises(ToolpathError, match="no stock"):
        billet_of(part([TOOL], None))
