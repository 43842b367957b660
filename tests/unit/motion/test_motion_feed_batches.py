"""Feeds are worked out for many runs at once: each run gets what it would get by itself, and of two mistakes the first is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from planning_parts import indexed, items_of, operation, toolpath

from steadyrest.errors import PlanError, SteadyrestError
from steadyrest.motion import Event, Motion, feeds, plan
from steadyrest.profile import find_profiles, resolve
from steadyrest.toolpath import load_toolpath

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
