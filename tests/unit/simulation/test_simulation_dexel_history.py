"""How dexels came to be: at any time what is seen stands as it was cut by then, or as it was before that pass, and never further."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from posed import BLOCK, billet, great_circles, tool, unit
from steadyrest.columns import Floats
from steadyrest.simulation import History, dexel_history
from steadyrest.simulation.dexel import stock_dexels
from steadyrest.simulation.dexel_carving import DexelCarver
from steadyrest.simulation.dexel_history import DexelRecorder
from steadyrest.simulation.dexel_view import Looking, Sight
from steadyrest.simulation.dexel_way import Steps, poses_of
from steadyrest.simulation.solid import solids_of

SIDES: tuple[Looking, ...] = ("outward", "from the high end", "from the low end")
UP, LEANING, ASIDE = [0, 0, 1], unit([0.5, 0, 1]), [0, -1, 0]
TIPS = [[-9, -4, 24], [-9, -4, 14], [5, -4, 14], [5, 4, 15], [0, 0, 30], [2, 1, 16], [6, 3, 12], [0, -14, 0], [0, -9, 0], [10, -9, 2]]
AXES = [UP, UP, UP, UP, LEANING, LEANING, LEANING, ASIDE, ASIDE, ASIDE]
"""From above, through that with the tool leaning, and a slot in the upright side; between them through the air."""


@cache
def done(blocks: int, between: int = 30, axis: str = "Z") -> tuple[tuple[History, ...], tuple[Floats, ...]]:
    """The histories of so many blocks by a ball of 5 mm, and what is seen at the end of their lines."""
    dexels = stock_dexels(billet(BLOCK, axis), 0.8)
    sights = tuple(Sight(dexels, axis, looking) for looking in SIDES)
    carver, solid, way = DexelCarver(dexels, axis, "arrays"), tool({"shape": "ball", "diameter": 5}), great_circles(TIPS, AXES)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(dexel_history, "POSES_BETWEEN", between)
        recorder = DexelRecorder(carver, sights, (60, 80))
        rapid = np.isin(np.arange(9), [3, 6])
        for table, block, share in poses_of(
            way, np.arange(blocks), rapid, Steps(dexels.low, dexels.high, 0.05, 0.2), solid, min(between, 16)
        ):
            carver.carve(table, 1, solids_of(solid, 0.1), 0.1)
            recorder.add(block + share, table, solid)
        histories = recorder.histories()
    seen = tuple(sight.side(carver.dexels).field.outer_mm for sight in sights)
    return histories, tuple(outer[np.ix_(one.rows, one.columns)] for outer, one in zip(seen, histories, strict=True))


def alike(one: Floats, other: Floats) -> bool:
    """But for a few lines at edges, which are seen a little otherwise after the ones beside them were cut."""
    return bool(np.count_nonzero(np.abs(one - other) > 0.03) < 0.02 * one.size)


@pytest.mark.parametrize("axis", [pytest.param("Y", marks=pytest.mark.long), "Z"])
def test_nothing_is_gone_before_it_was_cut_and_at_the_end_all_is(axis: str) -> None:
    whole, left = done(9, 4, axis)
    for history, at_end in zip(whole, left, strict=True):
        assert alike(history.at(9), at_end)
        assert (np.diff(history.blocks) >= 0).all()
    for blocks in (2, 5, 8):
        for history, at_end in zip(whole, done(blocks, 4, axis)[1], strict=True):
            over = history.at(blocks) - at_end
            assert np.count_nonzero(over < -0.03) < 0.01 * over.size
            assert np.count_nonzero(over > 0.1) < 0.04 * over.size


def test_a_slot_in_the_upright_side_is_not_there_until_it_is_cut() -> None:
    (around, *_), _ = done(9)
    in_slot = np.unravel_index(around.line[around.blocks > 8], around.before_mm.shape)
    assert len(in_slot[0]) > 5
    np.testing.assert_allclose(around.before_mm[in_slot], around.at(7)[in_slot], atol=0.1)
    assert (around.at(9)[in_slot] < around.at(7)[in_slot] - 0.1).all()
    angle = np.linspace(-180, 180, around.before_mm.shape[1])[in_slot[1]]
    assert (-140 < angle).all()
    assert (angle < 0).all()


def test_looked_at_more_rarely_it_tells_the_same_but_for_what_was_cut_twice_in_between() -> None:
    for often, rarely in zip(done(9)[0], done(9, 10_000)[0], strict=True):
        assert len(rarely) <= len(often)
        assert alike(often.at(9), rarely.at(9))
        assert np.count_nonzero(rarely.at(5) < often.at(5) - 0.03) < 0.01 * often.before_mm.size
        assert np.count_nonzero(rarely.at(5) > often.at(5) + 0.1) < 0.05 * often.before_mm.size


def test_however_long_the_program_it_is_looked_at_so_many_times(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dexel_history, "MOST_LOOKS", 4)
    looks: list[Any] = []
    look = DexelRecorder._look
    monkeypatch.setattr(DexelRecorder, "_look", lambda one: (looks.append(one), look(one)))
    done.cache_clear()
    histories, left = done(9, 8)
    done.cache_clear()
    assert 4 < len(looks) < 16
    assert alike(histories[0].at(9), left[0])


def test_where_there_are_too_many_poses_to_ask_a_line_has_changed_at_the_last_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    exact = done(9)[0]
    monkeypatch.setattr(dexel_history, "MOST_PAIRS", 0)
    done.cache_clear()
    late = done(9)[0]
    done.cache_clear()
    for one, other in zip(late, exact, strict=True):
        assert (one.at(5) >= other.at(5) - 0.03).all()
    many, few = (len(np.unique(np.concatenate([one.blocks for one in each]))) for each in (exact, late))
    assert few < many
