"""Whether there is material where a rapid, a shank or a holder goes at any tilt, told without carving, as dexels tell it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from posed import BLOCK, billet, cut_poses, great_circles, tool, unit
from steadyrest.columns import Floats
from steadyrest.simulation.dexel_stock import RemainingBillet, UncutBillet
from steadyrest.simulation.dexel_way import Steps, poses_of
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK
from steadyrest.simulation.solid import solids_of

TOUCH = 0.06
LEANING = unit([1, 2, 3])
ASIDE = unit(np.cross(LEANING, [1, 0, 0]))
FLAT = {"shape": "flat", "diameter": 6}
SHORT = {"shape": "flat", "diameter": 6, "cutting_length": 6, "length": 14}
IN, OUT, DEEP = 14 * LEANING, 20 * LEANING, 4 * LEANING
WAYS: dict[str, tuple[list[Floats], list[Floats], list[bool]]] = {
    "in and out of a hole along the tool": ([OUT, DEEP, OUT], [LEANING] * 3, [False, True]),
    "a rapid into the block": ([OUT, DEEP], [LEANING] * 2, [True]),
    "a rapid back through its own slot": ([OUT, DEEP, DEEP + 8 * ASIDE, DEEP], [LEANING] * 4, [False, False, True]),
    "a rapid beside its own slot": ([OUT, DEEP, DEEP + 8 * ASIDE, DEEP + 8 * ASIDE - LEANING], [LEANING] * 4, [False, False, True]),
    "a turn in a hole": ([OUT, DEEP, DEEP], [LEANING, LEANING, unit([1, 2, 4])], [False, True]),
    "a turn in the air": ([OUT, OUT], [LEANING, unit([-1, 2, 3])], [True]),
    "past an edge, leaning away": ([np.array([25.0, 0, 12]), np.array([25.0, 0, -12])], [unit([1, 0, 1])] * 2, [True]),
    "past an edge, leaning over it": ([np.array([25.0, 0, 12]), np.array([25.0, 0, 6])], [unit([-1, 0, 0.2])] * 2, [True]),
}
TOUCHING = {
    "a rapid into the block": {"rapid": [1]},
    "a rapid beside its own slot": {"rapid": [3]},
    "a turn in a hole": {"rapid": [2]},
    "past an edge, leaning over it": {"rapid": [1]},
}


def looked_at(carver: UncutBillet, shape: dict[str, Any], name: str) -> dict[str, list[int]]:
    tips, axes, rapid = WAYS[name]
    way, solids = great_circles(tips, axes), solids_of(tool(shape), TOUCH)
    steps, fast = Steps(carver.billet.low, carver.billet.high, 0.01, 0.1), np.array(rapid)
    lines: dict[str, list[int]] = {}
    for table, block, _ in poses_of(way, np.arange(len(rapid)), fast, steps, solids.cut):
        taken = carver.carve(table, 1, solids, TOUCH)
        for kind, column in (("rapid", DEPTH), ("shank", SHANK), ("holder", HOLDER)):
            touched = np.unique(block[taken[:, column] > 0.01]) + 1
            if len(touched):
                lines[kind] = sorted({*lines.get(kind, []), *touched.tolist()})
    return lines


@pytest.mark.parametrize("name", WAYS)
def test_what_is_left_is_told_as_dexels_tell_it(name: str) -> None:
    tips, axes, rapid = WAYS[name]
    account = cut_poses(billet(BLOCK), FLAT, tips, axes, rapid=np.array(rapid), touch_mm=TOUCH)[2]
    carved = [int(line) for line in account.touches(DEPTH).line]
    found = looked_at(RemainingBillet(billet(BLOCK), "X"), FLAT, name)

    assert TOUCHING.get(name, {}) == found
    assert TOUCHING.get(name, {}).get("rapid", []) == carved


@pytest.mark.parametrize("name", WAYS)
def test_what_touches_is_never_clear_of_the_uncut_stock(name: str) -> None:
    uncut = looked_at(UncutBillet(billet(BLOCK), "X"), FLAT, name)

    assert set(TOUCHING.get(name, {}).get("rapid", [])) <= set(uncut.get("rapid", []))


@pytest.mark.parametrize("name", ["a turn in the air", "past an edge, leaning away"])
def test_what_stays_clear_of_the_uncut_stock_needs_no_second_look(name: str) -> None:
    assert {} == looked_at(UncutBillet(billet(BLOCK), "X"), FLAT, name)


@pytest.mark.parametrize(("depth", "kinds"), [(5.0, set()), (9.0, {"shank"}), (17.0, {"shank", "holder"})])
def test_a_shank_and_a_holder_deeper_in_a_leaning_slot_than_they_may_be(depth: float, kinds: set[str]) -> None:
    """The slot is cut by a long tool, then a thicker and shorter one goes along it; the block is `depth` deep up the tool axis at most."""
    stock, shape = billet({"shape": "rectangular", "across": [60, 60], "from": -30, "to": 30}), SHORT | {"diameter": 6.4}
    axis = unit([0.0, 0.3, 1])
    tips = [np.array([-40.0, 0, 30]) - depth * axis, np.array([40.0, 0, 30]) - depth * axis]
    remaining, steps = RemainingBillet(stock, "X"), Steps(stock.low, stock.high, 0.01, 0.1)
    for thin, wanted in ((FLAT, set()), (shape, kinds)):
        found, solids = set(), solids_of(tool(thin), TOUCH)
        for table, _, _ in poses_of(great_circles(tips, [axis] * 2), np.arange(1), np.zeros(1, dtype=np.bool_), steps, solids.cut):
            taken = remaining.carve(table, 1, solids, TOUCH)
            found |= {kind for kind, column in (("shank", SHANK), ("holder", HOLDER)) if (taken[:, column] > 0.1).any()}
        assert wanted == found


def test_the_place_of_a_touch_is_that_of_the_material() -> None:
    remaining, solids = RemainingBillet(billet(BLOCK), "X"), solids_of(tool(FLAT), TOUCH)
    table = np.array([[12.0, 3, 6, 0, 0, 1, 0, 0, 0, 0, 0, 1]])
    found = remaining.carve(table, 1, solids, TOUCH)[0]

    assert 4 - TOUCH == pytest.approx(found[DEPTH], abs=0.5)
    assert (12, np.arctan2(-3, 8)) == pytest.approx(tuple(found[DEPTH + 1 : DEPTH + 3]), abs=0.3)
