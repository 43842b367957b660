"""Which F makes the tool tip move over the part at the speed that was asked, and what is in the way?

The time of a block is the way of the tip over the part by the asked speed, raised to what the slowest axis and the largest
F allow and never lowered. F follows from the time and from what this controller's F means (NISTIR 6556 2.1.2.5 for the
reference: X, Y and Z alone, as if the rotary stood still; degrees per minute when the rotary moves alone).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, distinct, gathered, join, or_zero, take
from steadyrest.conventions import AXES, INVERSE, LINE, MM_PER_INCH, PER_MINUTE, PLANE_AXES, RAPID
from steadyrest.errors import PlanError, SteadyrestError
from steadyrest.motion.model import Arcs, Asked, Motion, PlanItem, Step
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import split
from steadyrest.profile import Feed, LinearAxis, Rotary

SLOWED_BY = ("", "the X axis", "the Y axis", "the Z axis", "the rotary", "the largest F")
"""What `PlannedFeed.slowed_by` means."""
STILL = 1e-9
"""Movement below this, in program units or degrees, is the noise of arithmetic."""
FEED_ERROR = 5e-4
"""How far the speed may be off by the decimals of an F in inverse time."""
FASTEST = 1.01
"""As fast as this the rounding of F may make a block."""
OVER_LIMIT = 1e-6
"""By so little, as a part, a limit is not broken: it is the noise of arithmetic, and of angles as they are rounded."""
TOLD = 1e-3
"""By so much, as a part, a speed has to be off before that is told."""
SEEN_COUNTS = 4
BATCH, MOST_STEPS = 8192, 1024
"""Rows, and steps, of which the feeds are worked out at once; a longer run by itself."""
_MODE = {"per_minute": PER_MINUTE, "inverse": INVERSE}
_SHORTEST = {"per_minute": 1.0, "per_second": 1.0 / 60.0, "seconds": 0.0}
"""The least time in minutes at F = 1; a plain time in seconds has no least."""


@dataclass(frozen=True, slots=True)
class PlannedFeed:
    """The feed of consecutive blocks, one row a block.

    mode       (n,) uint8, PER_MINUTE or INVERSE
    word       (n,) float, F as the mode means it, exact
    minutes    (n,) float, how long the block takes
    slowed_by  (n,) uint8, index into SLOWED_BY: what asks for the longest time; 0: the block is as fast as asked
    least      (n,) float, minutes that the axes and the largest F need at least
    """

    mode: Codes
    word: Floats
    minutes: Floats
    slowed_by: Codes
    least: Floats


def fastest(linear: Mapping[Any, LinearAxis], letter: str) -> float:
    """The highest speed of a linear axis, mm per minute; one that the profile leaves out has the default."""
    return linear.get(letter, LinearAxis()).fastest


def planned_feed(
    d_xyz: Floats,
    d_w_deg: Floats,
    tip_length: Floats,
    asked: Floats,
    rotaries: Sequence[Rotary],
    linear: Mapping[Any, LinearAxis],
    feed: Feed,
    inch: bool,
) -> PlannedFeed:
    """Mode, F and time of each block.

    d_xyz       (n, 3) float, way of X, Y, Z, program units. What a controller sees are rounded words, so where F counts X, Y
                and Z alone the ways should come from positions as they will be written
    d_w_deg     (n, r) float, turns of the r rotaries, degrees
    tip_length  (n,) float, way of the tip over the part, program units
    asked       (n,) float, speed of the tip over the part, program units per minute, above 0; NaN in a rapid, which then is not slowed
    rotaries    as they are mounted; where there is none, no row may turn
    linear      the linear axes by letter; those left out have the defaults
    inch        the program's unit is the inch

    A rotary that hangs on the drive of a linear axis (`replaces`) counts in F as that axis does: by the mm of its drive.
    A block in which nothing moves gets the mode of linear moves, and per minute the asked feed; in inverse time the
    largest F, or one second, since F may not be 0. Where F is the tip's speed and the tip stays on its point while a
    rotary turns, F is the asked one. F in degrees per minute has the same largest value as other F of the program; of two
    rotaries it is the root of the sum of the squares of their turns (NISTIR 6556 2.1.2.5).
    raises      PlanError when something turns and there is no rotary
    source      time per block >= greatest of way by highest speed over all axes; F in 1/min = 1 / minutes (NISTIR 6556 3.5.19)
    """
    unit_mm = MM_PER_INCH if inch else 1.0
    each = np.abs(d_w_deg)
    turn = each[:, 0] if len(rotaries) == 1 else np.sqrt(np.einsum("ij,ij->i", each, each))
    way = np.sqrt(np.einsum("ij,ij->i", d_xyz, d_xyz))
    turns, goes = turn > STILL, way > STILL
    wanted = tip_length / asked
    needed = np.zeros((len(SLOWED_BY), len(turn)))  # minutes, by what limits the speed
    for column, letter in enumerate(AXES):
        needed[column + 1] = np.abs(d_xyz[:, column]) * (unit_mm / fastest(linear, letter))
    drive = 0.0
    for at, rotary in enumerate(rotaries):
        per_degree = 1.0 / rotary.fastest
        if rotary.replaces:
            drive = abs(rotary.mm_per_degree) / unit_mm
            per_degree = max(per_degree, abs(rotary.mm_per_degree) / fastest(linear, rotary.replaces))
        needed[4] = np.maximum(needed[4], each[:, at] * per_degree) if at else each[:, at] * per_degree
    if not rotaries and turns.any():
        raise PlanError("the rotary has to turn, and this controller profile has no rotary", cure="add a table `[rotary.A]` to the profile")

    modes = np.array([_MODE[feed.linear], _MODE[feed.linear], _MODE[feed.rotary], _MODE[feed.combined]], dtype=np.uint8)
    mode = modes[goes.view(np.uint8) + 2 * turns.view(np.uint8)]
    counted = _counted(feed, way, turn, tip_length, goes, drive)
    inverse = mode == INVERSE
    largest = feed.largest_inch if inch else feed.largest_mm
    needed[5] = np.where(inverse, _SHORTEST[feed.inverse_is] / feed.largest_inverse, counted / largest)
    least = needed.max(axis=0)
    minutes = np.maximum(wanted, least)
    with np.errstate(divide="ignore", invalid="ignore"):
        word = counted / minutes
        if inverse.any():
            times = _times(minutes[inverse], feed)
            word[inverse] = times if feed.inverse_is == "seconds" else 1.0 / times
    unnamed = ~(counted > STILL) & ~inverse
    if unnamed.any():
        word[unnamed] = np.minimum(asked[unnamed], largest)
    moves = goes | turns
    if feed.inverse_is == "seconds":  # where nothing moves F has to be something, and not 0
        word[inverse & ~moves], minutes[inverse & ~moves] = 1.0, 1.0 / 60.0
    slowed = np.flatnonzero((minutes > wanted * (1.0 + 1e-9)) & moves)
    slowed_by = np.zeros(len(turn), dtype=np.uint8)
    slowed_by[slowed] = needed[:, slowed].argmax(axis=0)
    return PlannedFeed(mode, word, minutes, slowed_by, least)


def _counted(feed: Feed, way: Floats, turn: Floats, tip_length: Floats, goes: Bools, drive: float) -> Floats:
    """The length of which F per minute is the speed."""
    if feed.per_minute_counts == "tip":
        return tip_length
    if drive:
        return np.asarray(np.sqrt(way * way + (turn * drive) ** 2))
    if feed.per_minute_counts == "all_axes":
        return np.asarray(np.sqrt(way * way + turn * turn))
    return np.where(goes, way, turn)


def _times(minutes: Floats, feed: Feed) -> Floats:
    return minutes * (1.0 if feed.inverse_is == "per_minute" else 60.0)


def inverse_pieces(minutes: Floats, counts: float, feed: Feed) -> Floats:
    """Into how many equal blocks a long move must be cut so that its F in inverse time says its speed.

    minutes    (n,) float, the time of the whole move; 0 where nothing moves
    counts     of the F word in one of its unit: 10 to the power of its decimals
    returns    (n,) whole numbers: 1 where F on its counts is within 0.05 percent, else enough blocks to make it
               so, each with a larger F. Where F is a time in seconds: 1, since a short move only gets shorter, but
               as many as it takes to stay below the largest F
    source     F 0.0123 written with two decimals is 19 percent slow
    """
    times = _times(minutes, feed)
    if feed.inverse_is == "seconds":
        return np.maximum(1.0, np.ceil(times / feed.largest_inverse - 1e-9))
    words = counts / np.maximum(times, 1e-99)  # no time: no F is too coarse for it
    coarse = np.abs(np.rint(words) - words) > FEED_ERROR * words
    return np.where(coarse, np.ceil(0.5 / FEED_ERROR / words), 1.0)


def with_feeds(steps: Iterable[Step], setup: Setup) -> Iterator[PlanItem]:
    """The steps of a plan with F in every feed block in place of the speed that is asked, worked out for many runs at once.

    A block so long that F in inverse time has too few digits for it is cut into equal parts. PlanError for an F that is too coarse.
    What was planned counts as done once whoever takes the steps has done with them.
    """
    wrong: list[SteadyrestError] = []

    def before_wrong() -> Iterator[tuple[Step, int]]:
        try:
            for step in steps:
                yield step, setup.work.begun
        except SteadyrestError as error:  # of what comes before it may be wrong too, and is said first
            wrong.append(error)

    for batch in gathered(
        before_wrong(), lambda each: len(each[0].rows) if isinstance(each[0], Asked) else 0, BATCH, min(BATCH, MOST_STEPS)
    ):
        runs = _runs([step for step, _ in batch if isinstance(step, Asked)], setup)
        for step, begun in batch:
            yield next(runs) if isinstance(step, Asked) else step
            setup.work.to(begun)
    for error in wrong:
        raise error


class _Joined:
    """Runs one after another: their rows, where each row begins, and the first row of each and the end."""

    def __init__(self, asked: list[Asked]) -> None:
        self.asked, self.rows = asked, join([one.rows for one in asked])
        self.bounds = np.cumsum([0, *(len(one.rows) for one in asked)])
        rows, first = self.rows, self.bounds[:-1]
        self.xyz0, self.w0 = np.roll(rows.xyz, 1, axis=0), np.roll(rows.rotary_deg, 1, axis=0)
        self.xyz0[first], self.w0[first] = [one.stand.xyz for one in asked], [one.stand.rotary_deg for one in asked]
        if np.isnan(rows.tip).any():
            step = rows.xyz - self.xyz0
            self.rows = replace(rows, tip=np.where(np.isnan(rows.tip), np.sqrt(np.einsum("ij,ij->i", step, step)), rows.tip))

    def parts(self) -> Iterator[tuple[Asked, slice]]:
        """The runs, and the rows of each."""
        return ((one, slice(low, high)) for one, (low, high) in zip(self.asked, pairwise(self.bounds.tolist()), strict=True))


def _runs(asked: list[Asked], setup: Setup) -> Iterator[Motion]:
    joined = _Joined(asked)
    feed = _planned(joined, setup)
    inverse, parts = (feed.mode == INVERSE) & (joined.rows.kind == LINE), np.ones(len(feed.mode))
    parts[inverse] = inverse_pieces(feed.minutes[inverse], setup.counts("inverse_feed"), setup.profile.feed)
    if parts.max(initial=1.0) > 1:
        cut = [split(_part(joined.rows, one, at), one.stand, parts[at], setup) for one, at in joined.parts()]
        joined = _Joined([one._replace(rows=rows) for one, rows in zip(asked, cut, strict=True)])
        feed = _planned(joined, setup)
    rapid = joined.rows.kind == RAPID
    word = np.where(rapid, np.nan, _said(joined, feed, setup))
    mode = np.where(rapid, PER_MINUTE, feed.mode).astype(np.uint8)
    _gather(joined, feed, setup)
    said = replace(joined.rows, feed=word, feed_mode=mode)
    yield from (_part(said, one, at) for one, at in joined.parts())


def _part(rows: Motion, one: Asked, at: slice) -> Motion:
    arcs = None if one.rows.arcs is None or rows.arcs is None else take(rows.arcs, at)
    kind, xyz, w_deg, feed, move, tip = rows.kind[at], rows.xyz[at], rows.rotary_deg[at], rows.feed[at], rows.move[at], rows.tip[at]
    return Motion(kind, xyz, w_deg, feed, move, tip, rows.feed_mode[at], arcs, one.rows.operation, one.rows.rule)


def _planned(joined: _Joined, setup: Setup) -> PlannedFeed:
    """The feed of all rows; what is said of rapids, whose asked speed is NaN, has no meaning."""
    rows, feed, linear = joined.rows, setup.profile.feed, setup.profile.linear
    xyz0, w0, xyz, w_deg = joined.xyz0, joined.w0, rows.xyz, rows.rotary_deg
    if setup.rotaries and {feed.combined, feed.rotary} != {"inverse"} and feed.per_minute_counts != "tip":
        # F counts turning axes: half a count makes the difference between F in degrees and F in millimetres, and between F 1 and F 0.1.
        length, angle = setup.counts("length"), setup.counts("angle")
        xyz0, xyz = (np.rint(place * length) / length for place in (xyz0, xyz))
        w0, w_deg = (np.rint(place * angle) / angle for place in (w0, w_deg))
    d_xyz = xyz - xyz0
    if rows.arcs is not None:
        _as_arcs(d_xyz, rows, rows.arcs, setup)
    d_w = or_zero(w_deg - w0)
    return planned_feed(d_xyz, d_w, rows.tip, rows.feed, tuple(setup.rotaries.values()), linear, feed, setup.inch)


def _as_arcs(d_xyz: Floats, rows: Motion, arcs: Arcs, setup: Setup) -> None:
    """The travel of arcs, as if their whole length lay on the slower axis of their plane: each of the two reaches the full speed."""
    for plane, (*axes, across) in enumerate(PLANE_AXES):
        here = np.flatnonzero((rows.kind > LINE) & (arcs.plane == plane))
        slower = min(sorted(axes), key=lambda axis: fastest(setup.profile.linear, AXES[axis]))
        d_xyz[here[:, None], axes] = 0.0
        d_xyz[here, slower] = np.sqrt(np.maximum(rows.tip[here] ** 2 - d_xyz[here, across] ** 2, 0.0))


def _said(joined: _Joined, feed: PlannedFeed, setup: Setup) -> Floats:
    """F (n,) of the blocks as the program will say it, where that is not simply the nearest count of its word.

    raises    PlanError where F is so coarse that the tip would be more than a percent too fast
    source    rounding must not break a limit: where the nearest count of F would, it is the next one on the slow side; where F is a
              time, a block so short that the nearest would be more than a percent too fast takes a count more
    """
    rows, inverse = joined.rows, feed.mode == INVERSE
    timed = inverse & (setup.profile.feed.inverse_is == "seconds")
    counts = np.where(inverse, setup.counts("inverse_feed"), setup.counts("feed"))
    exact = feed.word * counts
    near = np.maximum(np.rint(exact), 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        faster = np.where(timed, exact / near, near / exact)
    broken = (faster > 1.0 + OVER_LIMIT) & (feed.minutes < feed.least * faster * (1.0 - OVER_LIMIT))
    over = np.flatnonzero(broken | (timed & (faster > FASTEST)))
    word = feed.word
    if over.size:
        word, exact = word.copy(), exact[over]
        slow = np.where(timed[over], np.ceil(exact - 1e-6), np.maximum(np.floor(exact + 1e-6), 1.0))
        word[over] = slow / counts[over]
        faster[over] = np.where(timed[over], exact / slow, slow / exact)
    slower = np.flatnonzero((feed.slowed_by > 0) & (faster < 1.0 - TOLD))
    feed.minutes[slower] /= faster[slower]  # what was slowed is told as it is written
    coarse = np.flatnonzero(faster > FASTEST)
    if coarse.size:
        # Of a block that is hardly longer than the rounding of its ends nobody can tell the speed; what a limit holds back is told.
        seen = rows.tip[coarse] > SEEN_COUNTS / setup.counts("length")
        coarse = coarse[seen | ((feed.slowed_by[coarse] > 0) & (feed.minutes[coarse] > 0))]
    if not coarse.size:
        return word
    row = int(coarse[0])
    key = "inverse_feed" if inverse[row] else "feed"
    operation = next(one.rows.operation for one, at in joined.parts() if row < at.stop)
    raise PlanError(
        f"a block needs F {feed.word[row]:.3g}, but F is written in steps of {1 / counts[row]:g}: "
        f"the tip would move {faster[row]:.3g} times as fast as it should",
        place=setup.place(operation, int(rows.move[row])),
        cure=f"give F more decimals (numbers.{key}.decimals) if the controller takes them, "
        "or choose another way to give F while the rotary turns (feed.combined)",
    )


def _gather(joined: _Joined, feed: PlannedFeed, setup: Setup) -> None:
    # A block shorter than half a count is never written: how slow it would have been is nobody's concern.
    rows = joined.rows
    slow = (feed.slowed_by > 0) & (rows.tip > 0.5 / setup.counts("length"))
    if not slow.any():
        return
    for one, at in joined.parts():
        here = np.flatnonzero(slow[at]) + at.start
        if len(here):
            speed = rows.tip[here] / feed.minutes[here]
            slowest = int(np.argmin(speed))
            limits = (SLOWED_BY[reason] for reason in distinct(feed.slowed_by[here]))
            setup.seen[one.rows.operation].slow(len(here), float(rows.feed[here[slowest]]), float(speed[slowest]), *limits)
