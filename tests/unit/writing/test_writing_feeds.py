"""Which F a block says, in which mode; what is too coarse, too large or missing."""

from __future__ import annotations

import pytest
from writing_parts import NAN, profile, rows, text_of, writing, written

from steadyrest.errors import PlanError
from steadyrest.motion import INVERSE, LINE, PER_MINUTE, RAPID, Event


def test_inverse_time_says_f_in_every_block_and_per_minute_only_when_it_changes() -> None:
    run = rows([(i, 0, 0, 0) for i in range(6)], feed=[50, 50, 8, 8, 50, 50], mode=[0, 0, 1, 1, 0, 0])
    lines = ["G94 G1 X0 Y0 Z0 A0 F50", "X1", "G93 X2 F8", "X3 F8", "G94 X4 F50", "X5"]
    assert lines == written([run], profile())


def test_a_rapid_says_no_feed_and_does_not_change_the_mode() -> None:
    run = rows([(0, 0, 0, 0), (1, 0, 0, 0), (2, 0, 0, 0)], [LINE, RAPID, LINE], [8, NAN, 8], [INVERSE, PER_MINUTE, INVERSE])
    assert ["G93 G1 X0 Y0 Z0 A0 F8", "G0 X1", "G1 X2 F8"] == written([run], profile())


def test_inverse_time_without_a_code_is_refused() -> None:
    with pytest.raises(PlanError, match="no inverse-time feed"):
        written([rows([(0, 0, 0, 0)], mode=INVERSE)], profile(feed={"inverse_code": ""}))


def test_a_cut_without_a_feed_is_refused_and_named_by_its_operation() -> None:
    start = Event("operation_start", 1, facts={"number": 1, "name": "slot", "intent": "still"})
    with pytest.raises(PlanError, match=r"operation 1 'slot': a block moves at feed without a feed"):
        written([start, rows([(0, 0, 0, 0)], feed=NAN)], profile())


def test_a_feed_never_rounds_to_zero_and_the_loss_is_told() -> None:
    said = profile(numbers={"inverse_feed": {"decimals": 1}})
    one = writing([rows([(0, 0, 0, 0), (1, 0, 0, 0)], feed=[0.01, 20], mode=INVERSE)], said)
    assert ["G93 G1 X0 Y0 Z0 A0 F0.1", "X1 F20"] == text_of(one)
    (notice,) = one.notices
    assert notice.kind == "FeedRounded"
    assert (1, pytest.approx(900)) == (notice.facts["moves"], notice.facts["worst_percent"])


def test_coarse_feeds_of_one_operation_are_one_notice_and_fine_ones_none() -> None:
    runs = [rows([(i, 0, 0, 0)], feed=4.04 + i, operation=2) for i in range(3)]
    one = writing([*runs, rows([(9, 0, 0, 0)], feed=1000.04, operation=3)], profile())
    text_of(one)
    assert [(2, 3)] == [(n.place.operation, n.facts["moves"]) for n in one.notices if n.kind == "FeedRounded"]


def test_a_feed_is_never_written_above_the_largest() -> None:
    said = profile(feed={"largest_mm": 1234.56, "inverse_code": "G93"})
    assert "F1234.5" == written([rows([(0, 0, 0, 0)], feed=1234.56)], said)[0].split()[-1]


def test_a_time_above_the_largest_f_is_refused_because_cutting_it_down_would_speed_up() -> None:
    said = profile(feed={"inverse_code": "G93", "inverse_is": "seconds", "largest_inverse": 99})
    with pytest.raises(PlanError, match="it would move too fast"):
        written([rows([(0, 0, 0, 0)], feed=100, mode=INVERSE)], said)
