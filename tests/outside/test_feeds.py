"""Feeds against NISTIR 6556 and worked numbers of wrapped moves.

Sources: NISTIR 6556 2.1.2.5, 2.1.2.6, 3.5.19 for what F means; the rows are worked by hand from them (way over the surface
by the speed is the time). Time of a block >= the greatest of way by highest speed over its axes: the same report, 2.1.2.4.
"""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.conventions import INVERSE
from steadyrest.motion.feeds import PlannedFeed, planned_feed
from steadyrest.motion.kinematics import wrapped_length
from steadyrest.profile.axes import Feed, LinearAxis, Rotary

REFERENCE = Feed(inverse_code="G93", rotary="inverse", combined="inverse")
PER_MINUTE_ONLY = Feed()
ROWS = [
    # dx, dA, r, v, way, F in 1/min, seconds, F per minute
    (10, 0, 20, 300, 10, 30, 2, 300),
    (10, 90, 20, 300, 32.969083, 9.099434, 6.593817, 90.994341),
    (0, 90, 20, 300, 31.415927, 9.549297, 6.283185, 859.436693),
    (0.001, 90, 20, 300, 31.415927, 9.549297, 6.283185, 0.009549),
    (50, 360, 12.5, 400, 93.104794, 4.296234, 13.965719, 214.811709),
]


def planned(row: tuple[float, ...], feed: Feed) -> PlannedFeed:
    dx, turn, radius, speed = (np.array([float(value)]) for value in row[:4])
    rotary = Rotary(along="X", chuck_faces="+X", positive_turns_chuck="clockwise", fastest=1e6)
    fast = {letter: LinearAxis(fastest=1e6) for letter in "XYZ"}
    d_xyz = np.column_stack([dx, np.zeros(1), np.zeros(1)])
    return planned_feed(d_xyz, turn[:, None], wrapped_length(dx, turn, radius, radius), speed, [rotary], fast, feed, False)


@pytest.mark.parametrize("row", ROWS)
def test_inverse_time_is_the_speed_by_the_way_over_the_surface(row: tuple[float, ...]) -> None:
    feed = planned(row, Feed(inverse_code="G93", linear="inverse", rotary="inverse", combined="inverse"))
    assert feed.mode[0] == INVERSE
    assert feed.word[0] == pytest.approx(row[5], abs=5e-7)
    assert feed.minutes[0] * 60 == pytest.approx(row[6], abs=5e-7)


@pytest.mark.parametrize("row", ROWS)
def test_f_per_minute_counts_x_y_z_alone_or_degrees_when_they_stand(row: tuple[float, ...]) -> None:
    assert planned(row, PER_MINUTE_ONLY).word[0] == pytest.approx(row[7], abs=5e-7)


@pytest.mark.parametrize("row", ROWS)
def test_the_time_is_the_same_whatever_f_means(row: tuple[float, ...]) -> None:
    for feed in (REFERENCE, PER_MINUTE_ONLY, Feed(per_minute_counts="all_axes"), Feed(per_minute_counts="tip")):
        assert planned(row, feed).minutes[0] * 60 == pytest.approx(row[6], abs=5e-7)


def test_a_short_move_at_speed_needs_a_large_f() -> None:
    """A 0.25 mm move at 600 mm per minute is F2400 in inverse time."""
    everything = Feed(inverse_code="G93", linear="inverse", rotary="inverse", combined="inverse")
    assert planned((0.25, 0, 20, 600), everything).word[0] == pytest.approx(2400.0)


def test_a_pure_turn_in_degrees_per_minute_is_speed_by_radius() -> None:
    """F = v 180 / (pi r) degrees per minute."""
    assert planned((0, 33, 17, 250), PER_MINUTE_ONLY).word[0] == pytest.approx(250 * 180 / (np.pi * 17))
