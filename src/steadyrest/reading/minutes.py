"""How long a block takes by its F word, as the profile says what F is the speed of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.profile.axes import Feed
from steadyrest.reading.model import FEED_INVERSE

Column = NDArray[np.float64]


def block_minutes(
    steps_mm: tuple[Column, Column, Column],
    turn_deg: Column,
    feed_word: Column,
    feed_mode: NDArray[np.uint8] | int,
    mm_per_unit: Column | float,
    feed: Feed,
    drive_mm_per_degree: float = 0.0,
    arc_mm: Column | None = None,
) -> Column:
    """Minutes from the F word, before any limit of the machine.

    steps_mm   (n,) each, how far X, Y, Z go
    turn_deg   (n,) how far the rotary turns
    feed_word  (n,) F as it stands in the program
    feed_mode  FEED_PER_MINUTE or FEED_INVERSE, one for all or one a row
    drive_mm_per_degree  where a linear axis' drive turns the rotary, its way per degree: to the controller it is a linear axis
    arc_mm     (n,) length of the path of an arc, along the helix; NaN in straight rows
    returns    (n,) minutes; NaN where the F word alone does not say: from an unknown place, or speed of the tip while the rotary turns
    source     NISTIR 6556, 2.1.2.5, 2.1.2.6, 3.5.19 for `linear_axes`; the other two are common practice, stated by the profile
    """
    modes = np.asarray(feed_mode)
    inverse = modes == FEED_INVERSE
    if inverse.all():
        return _inverse_minutes(feed_word, feed)
    dx, dy, dz = steps_mm
    square = dx * dx + dy * dy + dz * dz
    turn = turn_deg
    if drive_mm_per_degree:
        drive = turn_deg * drive_mm_per_degree
        square = square + drive * drive
        turn = np.zeros_like(turn_deg)
    way = np.sqrt(square)
    if arc_mm is not None:
        way = np.where(np.isnan(arc_mm), way, arc_mm)
    units = way / mm_per_unit
    if feed.per_minute_counts == "all_axes":
        length = np.sqrt(units * units + turn * turn)
    elif feed.per_minute_counts == "linear_axes":
        length = np.where(way == 0, np.abs(turn), units)
    else:
        length = np.where(turn_deg == 0, units, np.nan)
    minutes: Column = length / feed_word
    if inverse.any():
        minutes = np.where(inverse, _inverse_minutes(feed_word, feed), minutes)
    return minutes


def _inverse_minutes(feed_word: Column, feed: Feed) -> Column:
    """Minutes of a block in inverse time, by the unit that the profile states."""
    if feed.inverse_is == "per_minute":
        return 1.0 / feed_word
    if feed.inverse_is == "per_second":
        return 1.0 / (feed_word * 60.0)
    return feed_word / 60.0
