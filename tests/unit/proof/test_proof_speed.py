"""The time of blocks against what feed, axes and F allow."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from proof_parts import profile, toolpath

from steadyrest.proof import setting_of
from steadyrest.proof.speed import Timing, judge, pause_slack_s, unlike


def timing(minutes: list[float], mm: float | list[float] = 10.0, feed: float = 100.0, starts: Sequence[int] = (0,), **other: Any) -> Timing:
    """Blocks of so many mm: machine and F set no limit, F has many digits, nothing is rounded."""
    n = len(minutes)
    way = np.broadcast_to(mm, n).astype(np.float64)
    given = {"largest": feed, "program": way, "machine": 0.0, "least": 0.0, "count": 0.0, "travel": way, **other}
    column = {name: np.broadcast_to(np.asarray(value, dtype=np.float64), n).copy() for name, value in given.items() if name != "rounding"}
    return judge(
        np.array(minutes),
        np.full(n, feed),
        column["largest"],
        way,
        column["program"],
        column["machine"],
        column["least"],
        column["count"],
        column["travel"],
        float(other.get("rounding", 0.0)),
        starts,
    )


def test_the_time_of_the_feed_is_right() -> None:
    found = timing([0.1, 0.1])
    assert (found.wrong, found.lowered.tolist(), found.slowed.tolist()) == (None, [False, False], [1.0, 1.0])
    assert found.faster == pytest.approx(0.0)


@pytest.mark.parametrize(("minutes", "words"), [(0.0998, "1.002 times"), (0.05, "2 times"), (0.0, "infinitely many times")])
def test_too_fast_is_said_by_how_much(minutes: float, words: str) -> None:
    assert timing([0.1, minutes, 0.1]).wrong == (1, f"the tip moves {words} as fast as the feed")


def test_one_part_in_a_thousand_is_neither_too_fast_nor_too_slow() -> None:
    assert timing([0.09995, 0.10005]).wrong is None
    assert timing([0.09991]).faster == pytest.approx(1 / 0.9991 - 1)


@pytest.mark.parametrize(
    ("minutes", "lowered", "wrong"), [(0.1, False, False), (0.15, True, False), (0.1666, True, False), (0.17, True, True)]
)
def test_slower_is_lowered_and_much_slower_is_wrong(minutes: float, lowered: int, wrong: bool) -> None:
    found = timing([minutes])
    assert (found.lowered.tolist(), found.wrong is not None) == ([lowered], wrong)
    assert found.kept[0] == pytest.approx(0.1 / minutes)


def test_a_limit_explains_what_is_slow_and_is_counted() -> None:
    for limit in ("machine", "least"):
        found = timing([0.1, 0.4], **{limit: [0.0, 0.4]})
        assert (found.wrong, found.lowered.tolist(), found.slowed.tolist()) == (None, [False, False], pytest.approx([1.0, 0.25]))
        assert found.kept.tolist() == pytest.approx([1.0, 1.0])


def test_a_block_hardly_slower_than_its_feed_is_not_counted_as_slowed() -> None:
    assert timing([0.1001], machine=0.1001).slowed == 1
    assert timing([0.11], machine=0.11, count=0.1).slowed == 1
    assert timing([0.11], machine=0.11, count=0.01).slowed == pytest.approx(1 / 1.1)


def test_the_rounding_of_f_excuses_half_a_count_too_fast_but_no_more_than_a_hundredth_in_a_long_block() -> None:
    assert timing([0.0996], count=0.01).wrong is None
    assert timing([0.0994], count=0.01).wrong is not None
    assert timing([0.0985], count=0.1, rounding=0.001).wrong is not None
    assert timing([0.0985], count=0.1, rounding=4.0).wrong is None


def test_the_rounding_of_the_ends_excuses_what_it_may_shorten_and_lengthen() -> None:
    assert timing([0.0951], rounding=0.5, program=9.5).wrong is None
    assert timing([0.0890], rounding=0.5, program=9.5).wrong is not None
    assert not timing([0.105], rounding=0.5).lowered[0]
    assert timing([0.106], rounding=0.5).lowered[0]


def test_of_two_lengths_the_one_that_fits_counts() -> None:
    assert timing([0.09], program=9.0).wrong is None
    assert not timing([0.11], program=11.0).lowered[0]


def test_where_the_tip_only_turns_the_way_of_the_axes_stands_in() -> None:
    assert not timing([0.1], mm=0.0, rounding=0.01, travel=10.0).lowered[0]
    assert timing([0.1], mm=0.5, rounding=0.01, travel=10.0).lowered[0]


def test_where_two_feeds_may_be_meant_the_faster_may_be_taken() -> None:
    assert timing([0.05], largest=200.0).wrong is None
    assert timing([0.049], largest=200.0).wrong is not None


@pytest.mark.parametrize(("minutes", "fits"), [(0.05, True), (0.1, True), (0.0499, False), (0.101, False)])
def test_straight_down_each_of_two_feeds_and_what_lies_between_may_be_meant(minutes: float, fits: bool) -> None:
    block: Any = SimpleNamespace(minutes=[minutes], count=[0.0], machine=[0.0], least=[0.0])
    setting = setting_of(toolpath([{"rapid": [0, 0, 30]}]), profile(), None, None)
    assert fits == (unlike(block, 0, setting, 10.0, (100.0, 200.0)) is None)


@pytest.mark.parametrize(("share", "fits"), [(0.92, True), (0.88, False)])
def test_a_short_way_down_may_be_as_much_faster_as_its_ends_are_rounded(share: float, fits: bool) -> None:
    block: Any = SimpleNamespace(minutes=[share * 1e-4], count=[0.0], machine=[0.0], least=[0.0])
    setting = setting_of(toolpath([{"rapid": [0, 0, 30]}]), profile(), None, None)
    way_mm = 20 * setting.rounding.linear_mm  # both ends, rounded, may be off by a tenth of it
    assert fits == (unlike(block, 0, setting, way_mm, (way_mm * 1e4, way_mm * 1e4)) is None)


def test_a_time_or_a_way_that_is_not_known_is_wrong() -> None:
    assert timing([0.1, float("nan")]).wrong == (1, "the tip moves infinitely many times as fast as the feed")
    assert timing([0.1, 0.1], mm=[10.0, float("nan")]).wrong == (
        1,
        "the speed of the tip is unknown: the block starts at an unknown position",
    )


def test_many_blocks_are_excused_as_the_root_of_their_number_only() -> None:
    fast = timing([0.00091] * 100, mm=0.1, rounding=0.01)
    assert fast.wrong == (0, "over 100 blocks from here on the tip moves 1.098 times as fast as the feed")
    assert timing([0.00098] * 100, mm=0.1, rounding=0.01).wrong is None
    assert timing([0.00091], mm=0.1, rounding=0.01).wrong is None


def test_of_several_stretches_each_is_judged_by_itself_and_the_first_that_is_wrong_is_told() -> None:
    fast, right = [0.00091] * 100, [0.1] * 5
    ways = {"rounding": 0.01, "mm": [0.1] * 100 + [10.0] * 5}
    together = "over 100 blocks from here on the tip moves 1.098 times as fast as the feed"
    assert timing(fast + right, starts=[0, 100], **ways).wrong == (0, together)
    assert timing(fast + right, starts=[*range(0, 101, 2)], **ways).wrong is None
    assert timing(fast + [0.05] * 5, starts=[0, 100], **ways).wrong == (0, together)
    ways["mm"] = [10.0] * 5 + [0.1] * 100
    assert timing(right + fast, starts=[0, 5], **ways).wrong == (5, together)
    assert timing([*right[1:], 0.05, *fast], starts=[0, 5], **ways).wrong == (4, "the tip moves 1.998 times as fast as the feed")


@pytest.mark.parametrize(("unit", "slack"), [("seconds", 0.5e-3 + 2e-3), ("milliseconds", 0.5e-6 + 2e-3)])
def test_a_pause_may_be_off_by_half_a_count_and_a_thousandth(unit: str, slack: float) -> None:
    controller = profile(codes={"dwell_unit": unit}, numbers={"dwell": {"decimals": 3}, "by_letter": {"U": {"decimals": 1}}})
    setting = setting_of(toolpath([{"rapid": [0, 0, 50]}]), controller, None, None)
    assert pause_slack_s(setting, 2.0) == pytest.approx(slack, abs=2e-9)
    assert pause_slack_s(setting, 0.0, "U") == pytest.approx(0.05 * (1e-3 if unit == "milliseconds" else 1), abs=2e-9)
