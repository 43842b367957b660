"""Feeds: the mode and the F of each kind of move, and what slows a block."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from planning_parts import indexed, items_of, notices_of, operation, toolpath

from steadyrest.conventions import INVERSE, PER_MINUTE
from steadyrest.errors import PlanError, SteadyrestError
from steadyrest.motion import Event, Motion, feeds, plan
from steadyrest.motion.feeds import SLOWED_BY, PlannedFeed, inverse_pieces, planned_feed
from steadyrest.profile import find_profiles, resolve
from steadyrest.profile.axes import Feed, LinearAxis, Rotary
from steadyrest.toolpath import load_toolpath

FAST = {letter: LinearAxis(fastest=1e9) for letter in "XYZ"}


def rotary(**more: Any) -> Rotary:
    return Rotary.model_validate({"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "fastest": 1e9, **more})


def one(xyz: tuple[float, float, float], turn: float, tip: float, asked: float, feed: Feed, **more: Any) -> PlannedFeed:
    mounted = more.pop("rotary", rotary())
    settings: dict[str, Any] = {"rotaries": [mounted] if mounted else [], "linear": FAST, "inch": False, **more}
    return planned_feed(np.array([xyz]), np.array([[turn]]), np.array([tip]), np.array([asked]), feed=feed, **settings)


INVERSE_TIME = Feed(inverse_code="G93", rotary="inverse", combined="inverse")


def test_the_mode_follows_the_kind_of_move() -> None:
    d_xyz = np.array([[1.0, 0, 0], [0, 0, 0], [1.0, 0, 0], [0, 0, 0]])
    d_w = np.array([[0.0], [5.0], [-5.0], [0.0]])
    for feed, expected in (
        (INVERSE_TIME, [PER_MINUTE, INVERSE, INVERSE, PER_MINUTE]),
        (Feed(inverse_code="G93", combined="inverse"), [PER_MINUTE, PER_MINUTE, INVERSE, PER_MINUTE]),
        (Feed(inverse_code="G93", linear="inverse"), [INVERSE, PER_MINUTE, PER_MINUTE, INVERSE]),
    ):
        planned = planned_feed(d_xyz, d_w, np.array([1.0, 2.0, 2.0, 0.0]), np.full(4, 100.0), [rotary()], FAST, feed, False)
        assert planned.mode.tolist() == expected
        assert np.isfinite(planned.word).all()
        assert (planned.word > 0).all()


def test_inverse_time_comes_in_three_spellings() -> None:
    spellings = {"per_minute": 10.0, "per_second": 10.0 / 60.0, "seconds": 6.0}
    for spelling, expected in spellings.items():
        feed = Feed.model_validate({"inverse_code": "G93", "combined": "inverse", "inverse_is": spelling})
        assert one((1, 0, 0), 90, 30.0, 300.0, feed).word[0] == pytest.approx(expected)


def test_all_axes_count_a_degree_as_a_length() -> None:
    planned = one((3, 0, 0), 4, 10.0, 100.0, Feed(per_minute_counts="all_axes"))
    assert planned.word[0] == pytest.approx(50.0)
    assert planned.word[0] * planned.minutes[0] == pytest.approx(5.0)


def test_where_f_is_the_speed_of_the_tip_it_is_the_asked_one() -> None:
    assert one((3, 0, 0), 90, 10.0, 100.0, Feed(per_minute_counts="tip")).word[0] == pytest.approx(100.0)


def test_a_tip_that_stays_on_its_point_keeps_the_asked_f() -> None:
    planned = one((0, 0, 0), 90, 0.0, 100.0, Feed(per_minute_counts="tip"), rotary=rotary(fastest=900))
    assert planned.word[0] == 100.0
    assert planned.minutes[0] == pytest.approx(0.1)


def test_a_rotary_on_the_drive_of_y_counts_as_y() -> None:
    hung = rotary(replaces="Y", mm_per_degree=-0.5)
    planned = one((3, 0, 0), 8, 10.0, 100.0, Feed(), rotary=hung)
    assert planned.word[0] == pytest.approx(50.0)
    assert one((0, 0, 0), 8, 10.0, 100.0, Feed(), rotary=hung).word[0] == pytest.approx(40.0)


def test_a_rotary_on_the_drive_of_y_goes_no_faster_than_y() -> None:
    planned = one(
        (0, 0, 0), 90, 1.0, 1e6, Feed(largest_mm=1e9), rotary=rotary(replaces="Y", mm_per_degree=2), linear={"Y": LinearAxis(fastest=1000)}
    )
    assert planned.minutes[0] == pytest.approx(0.18)
    assert SLOWED_BY[planned.slowed_by[0]] == "the rotary"


def test_in_inch_the_drive_still_counts_mm() -> None:
    planned = one((0, 0, 0), 8, 1.0, 10.0, Feed(), rotary=rotary(replaces="Y", mm_per_degree=25.4), inch=True)
    assert planned.word[0] == pytest.approx(80.0)


def test_the_slowest_axis_sets_the_time() -> None:
    linear = {**FAST, "Y": LinearAxis(fastest=1000)}
    planned = one((10, 50, 0), 90, 60.0, 6000.0, INVERSE_TIME, linear=linear, rotary=rotary(fastest=3600))
    assert planned.minutes[0] == pytest.approx(0.05)
    assert planned.slowed_by[0]
    assert SLOWED_BY[planned.slowed_by[0]] == "the Y axis"


def test_an_inch_is_longer_for_an_axis() -> None:
    planned = one((1, 0, 0), 0, 1.0, 1e4, Feed(largest_inch=1e9), linear={"X": LinearAxis(fastest=254)}, inch=True)
    assert planned.minutes[0] == pytest.approx(0.1)


def test_the_rotary_slows_and_says_so() -> None:
    planned = one((0, 0, 0), 90, 1.0, 1000.0, INVERSE_TIME, rotary=rotary(fastest=900))
    assert planned.word[0] == pytest.approx(10.0)
    assert SLOWED_BY[planned.slowed_by[0]] == "the rotary"


def test_the_largest_f_slows_in_every_mode() -> None:
    for feed, largest in (
        (Feed(largest_mm=500), 500.0),
        (Feed(inverse_code="G93", linear="inverse", largest_inverse=40), 40.0),
        (Feed(inverse_code="G93", linear="inverse", inverse_is="per_second", largest_inverse=2), 2.0),
    ):
        planned = one((1, 0, 0), 0, 1.0, 1e5, feed)
        assert planned.word[0] == pytest.approx(largest)
        assert planned.minutes[0] > 1.0 / 1e5
        assert SLOWED_BY[planned.slowed_by[0]] == "the largest F"


def test_the_largest_f_of_an_inch_program_is_its_own() -> None:
    assert one((1, 0, 0), 0, 1.0, 1e5, Feed(largest_inch=77), inch=True).word[0] == pytest.approx(77.0)


def test_nothing_is_slowed_where_nothing_limits() -> None:
    planned = one((10, 0, 0), 90, 33.0, 300.0, INVERSE_TIME)
    assert not planned.slowed_by[0]
    assert SLOWED_BY[planned.slowed_by[0]] == ""


def test_a_block_in_which_nothing_moves_takes_no_time_and_has_an_f() -> None:
    still = one((0, 0, 0), 0, 0.0, 250.0, Feed())
    assert (still.word[0], still.minutes[0], bool(still.slowed_by[0])) == (250.0, 0.0, False)
    timed = one((0, 0, 0), 0, 0.0, 250.0, Feed(inverse_code="G93", linear="inverse", largest_inverse=999))
    assert timed.word[0] == 999.0
    seconds = one((0, 0, 0), 0, 0.0, 250.0, Feed(inverse_code="G93", linear="inverse", inverse_is="seconds"))
    assert seconds.word[0] == 1.0


def test_the_noise_of_arithmetic_is_no_move_of_x_y_z() -> None:
    planned = one((0, 1e-14, -1e-14), 90, 31.4, 300.0, Feed())
    assert planned.word[0] * planned.minutes[0] == pytest.approx(90.0)


def test_turning_without_a_rotary_is_an_error() -> None:
    with pytest.raises(PlanError, match="has no rotary"):
        one((0, 0, 0), 1, 1.0, 1.0, Feed(), rotary=None)


def test_without_a_rotary_and_without_turning_all_is_well() -> None:
    assert one((2, 0, 0), 0, 2.0, 100.0, Feed(), rotary=None).word[0] == pytest.approx(100.0)


def test_a_long_move_in_inverse_time_is_cut_until_its_f_says_its_speed() -> None:
    minutes = np.array([1.0 / 0.0123, 1.0 / 12.5, 1.0])
    pieces = inverse_pieces(minutes, 1000, INVERSE_TIME)
    assert pieces.tolist() == [82, 1, 1]
    written = np.rint(pieces / minutes * 1000) / 1000
    np.testing.assert_allclose(written, pieces / minutes, rtol=5e-4)


def test_inverse_time_per_second_needs_more_pieces() -> None:
    per_second = Feed(inverse_code="G93", combined="inverse", inverse_is="per_second")
    assert inverse_pieces(np.array([1.0 / 7.77]), 1000, per_second)[0] == np.ceil(60 / 7.77)


def test_seconds_are_cut_only_below_the_largest_f() -> None:
    seconds = Feed(inverse_code="G93", combined="inverse", inverse_is="seconds", largest_inverse=60)
    assert inverse_pieces(np.array([0.00001, 1.0, 2.5]), 100, seconds).tolist() == [1, 1, 3]


def test_a_move_that_takes_no_time_stays_whole() -> None:
    assert inverse_pieces(np.array([0.0, 1.0]), 1000, INVERSE_TIME).tolist() == [1, 1]


def test_wrapped_cut_runs_in_inverse_time_at_the_tip_speed() -> None:
    # standards: dx 10, dA 90 on radius 20 at 300 per minute is F 9.099434 in 1/min
    moves = [{"rapid": [0, 0, 6]}, {"cut": [0, 0, 0], "feed": 300}, {"cut": [10, 31.41592654, 0]}]
    items = items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, moves)))
    run = next(item for item in items if isinstance(item, Motion) and item.rule == "cut")
    assert [PER_MINUTE, INVERSE] == run.feed_mode.tolist()
    assert 9.099434 == pytest.approx(run.feed[-1], abs=1e-6)


def test_tip_slowed_by_the_rotary_gives_one_notice() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-5, 100, -1], "feed": 3000}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    found = [notice for notice in notices_of(path, "rs274ngc", "rotary.A.fastest=3600") if notice.kind == "FeedSlowed"]
    # ten turns a minute at radius 19: 2 pi 19 10 = 1193.8
    assert [(1, 3000.0)] == [(notice.facts["moves"], notice.facts["asked"]) for notice in found]
    assert 1193.805 == pytest.approx(found[0].facts["lowest"], abs=1e-3)


@pytest.mark.parametrize(("along", "word"), [(1.9, 1), (667.9, 667)])
def test_a_feed_that_a_limit_holds_is_told_as_it_is_written(along: float, word: int) -> None:
    # 300 degrees a minute of a radius of 20 mm would be F 1.9 (or 667.9) along X, and F has no decimals
    cut = {"cut": [-10 - along, -20 * np.pi * 5 / 3, 0], "feed": 5000}
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, 0], "feed": 100}, cut]))
    sets = ["rotary.A.fastest=300", "numbers.feed.decimals=0", "feed.per_minute_counts=linear_axes"]
    (slowed,) = [one for one in notices_of(path, "linear-feed-only", *sets) if one.kind == "FeedSlowed"]
    assert pytest.approx(np.hypot(along, 20 * np.pi * 5 / 3) * word / along, rel=1e-6) == slowed.facts["lowest"]


TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))
NAMES = [found.name for found in find_profiles() if found.where == "bundled"]


@pytest.mark.parametrize("name", NAMES)
def test_a_plan_is_the_same_however_few_runs_get_their_feeds_at_once(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    profile, planned_ones = resolve(name).profile, 0
    for path in TOUR:
        plans = []
        for batch in (8192, 3, 1):
            monkeypatch.setattr(feeds, "BATCH", batch)
            try:
                planned = plan(load_toolpath(path), profile)
                plans.append((list(planned.items), planned.notices))
            except SteadyrestError as error:
                plans.append(([], [str(error)]))
        for items, notices in plans[1:]:
            assert plans[0][1] == notices
            assert len(plans[0][0]) == len(items)
            for one, other in zip(plans[0][0], items, strict=True):
                assert type(one) is type(other)
                if isinstance(one, Event):
                    assert (one.name, one.facts, one.words) == (other.name, other.facts, other.words)
                else:
                    assert isinstance(one, Motion)
                    assert (one.operation, one.rule) == (other.operation, other.rule)
                    for column in ("kind", "xyz", "rotary_deg", "feed", "move", "tip", "feed_mode"):
                        np.testing.assert_array_equal(getattr(one, column), getattr(other, column))
        planned_ones += bool(plans[0][0])
    assert planned_ones > 0


def test_a_feed_that_is_too_coarse_is_told_before_a_later_operation_that_cannot_be_planned() -> None:
    coarse = indexed(0, moves=[{"rapid": [5, 0, 30]}, {"cut": [-20, 0, 17], "feed": 0.6}])
    tap = {"hole": [-1, 0], "cycle": "tap", "retract": 22, "bottom": 15, "feed": 100}
    left = operation({"intent": "indexed", "angles": [0]}, [{"rapid": [0, 0, 30]}, tap], spindle={"rpm": 100, "turns": "counterclockwise"})
    with pytest.raises(PlanError, match="F is written in steps of 1") as caught:
        items_of(toolpath(indexed(0), coarse, left), "rs274ngc", "numbers.feed.decimals=0")
    assert (2, 2) == (caught.value.place.operation, caught.value.place.move)
    with pytest.raises(PlanError, match="drives a right-hand tap"):
        items_of(toolpath(indexed(0), left, coarse), "rs274ngc", "numbers.feed.decimals=0")
