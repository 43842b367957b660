"""Motion gets its F: each block gets the F that makes the tip go as fast as asked, within the limits."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion.feeds import FASTEST, SLOWED_BY, PlannedFeed, inverse_pieces, planned_feed, said_feed
from steadyrest.motion.model import INVERSE, LINE, RAPID, STILL_DEG, Arcs, Motion, Stand, starts
from steadyrest.motion.parting import countable, split
from steadyrest.motion.setup import Setup
from steadyrest.notices import FeedSlowed
from steadyrest.profile import NumberFormat
from steadyrest.profile.axes import LinearAxis

TOLD = 1e-3
"""By so much, as a part, a speed has to be off before that is told."""
SEEN_COUNTS = 4


@dataclass(slots=True)
class Slowed:
    """What was slowed in one operation, gathered over its runs: how many blocks, the feed asked and the slowest made of it."""

    blocks: int = 0
    asked: float = 0.0
    lowest: float = float("inf")
    limits: tuple[str, ...] = ()

    def add(self, blocks: int, asked: float, made: float, *limits: str) -> None:
        """So many blocks more, the slowest of which was made `made` of `asked`."""
        self.blocks += blocks
        self.limits = tuple(dict.fromkeys((*self.limits, *limits)))
        if made < self.lowest:
            self.lowest, self.asked = made, asked

    def notice(self, operation: int, setup: Setup) -> FeedSlowed | None:
        """One notice for the operation, speeds in toolpath units per minute; None when nothing was slowed."""
        if not self.blocks:
            return None
        asked, lowest = self.asked / setup.scale, self.lowest / setup.scale
        return FeedSlowed(setup.place(operation), self.blocks, asked, lowest, ", ".join(self.limits))


def with_feeds(rows: Motion, stand: Stand, operation: int, rule: str, setup: Setup, slowed: Slowed | None = None) -> tuple[Motion, Stand]:
    """These rows with F in every feed block, and where the machine stands after it.

    A block so long that F in inverse time has too few digits for it is cut into equal parts. PlanError for an F that is too coarse.
    """
    mode, word = np.zeros(len(rows), dtype=np.uint8), np.full(len(rows), np.nan)
    at = np.flatnonzero(rows.kind != RAPID)
    if len(at):
        feed = _planned(rows, stand, at, setup)
        parts = _parts(rows, at, feed, operation, setup)
        if parts is not None:
            rows = split(rows, stand, parts, setup)
            mode, word = np.zeros(len(rows), dtype=np.uint8), np.full(len(rows), np.nan)
            at = np.flatnonzero(rows.kind != RAPID)
            feed = _planned(rows, stand, at, setup)
        mode[at], word[at] = feed.mode, _said(rows, at, feed, operation, setup)
        if slowed is not None:
            _gather(slowed, rows, at, feed, setup)
    return replace(rows, feed=word, feed_mode=mode, operation=operation, rule=rule), _after(rows, stand)


def _planned(rows: Motion, stand: Stand, at: Ints, setup: Setup) -> PlannedFeed:
    """The feed of the rows `at`; all of them at once without a copy where every row is a cut."""
    rows, stand = _as_said(rows, stand, setup)
    xyz0, w0 = starts(rows, stand)
    d_xyz = rows.xyz - xyz0
    if rows.arcs is not None:
        d_xyz = _arc_travel(rows, rows.arcs, d_xyz, setup)
    d_w = np.nan_to_num(rows.rotary_deg - w0).sum(axis=1)  # of one rotary, or none
    pick = slice(None) if len(at) == len(rows) else at
    linear = {str(letter): axis for letter, axis in setup.profile.linear.items()}
    feed = setup.profile.feed
    return planned_feed(d_xyz[pick], d_w[pick], rows.tip[pick], rows.feed[pick], setup.rotary, linear, feed, setup.inch)


def _as_said(rows: Motion, stand: Stand, setup: Setup) -> tuple[Motion, Stand]:
    """Positions rounded as the program will say them, where the controller counts F per minute over turning axes.

    A way of half a count makes the difference between F in degrees and F in millimetres, and between F 1 and F 0.1.
    """
    feed = setup.profile.feed
    if setup.rotary is None or feed.combined == feed.rotary == "inverse" or feed.per_minute_counts == "tip":
        return rows, stand
    length, angle = (10.0 ** decimals_of(form, setup) for form in (setup.profile.numbers.length, setup.profile.numbers.angle))
    said = replace(rows, xyz=np.rint(rows.xyz * length) / length, rotary_deg=np.rint(rows.rotary_deg * angle) / angle)
    return said, replace(stand, xyz=np.rint(stand.xyz * length) / length, rotary_deg=np.rint(stand.rotary_deg * angle) / angle)


def decimals_of(form: NumberFormat, setup: Setup) -> int:
    """The decimals of a kind of number in the units of the program."""
    return form.inch_decimals if setup.inch and form.inch_decimals is not None else form.decimals


def _parts(rows: Motion, at: Ints, feed: PlannedFeed, operation: int, setup: Setup) -> Ints | None:
    """Into how many blocks each row has to go for F in inverse time to hold its speed; None when all stay whole."""
    inverse = (feed.mode == INVERSE) & (rows.kind[at] == LINE)
    if not inverse.any():
        return None
    decimals = decimals_of(setup.profile.numbers.inverse_feed, setup)
    parts = np.ones(len(rows))
    parts[at[inverse]] = inverse_pieces(feed.minutes[inverse], decimals, setup.profile.feed)
    return countable(parts, rows.move, operation, setup) if float(parts.max()) > 1 else None


def _said(rows: Motion, at: Ints, feed: PlannedFeed, operation: int, setup: Setup) -> Floats:
    """F (n,) of the blocks `at`, put onto a count of its word where the nearest one would break a limit.

    raises    PlanError where F is so coarse that the tip would be more than a percent too fast
    """
    numbers, said = setup.profile.numbers, setup.profile.feed
    decimals, inverse_decimals = decimals_of(numbers.feed, setup), decimals_of(numbers.inverse_feed, setup)
    word, faster = said_feed(feed, decimals, inverse_decimals, said.inverse_is)
    slower = np.flatnonzero(feed.slowed & (faster < 1.0 - TOLD))
    feed.minutes[slower] /= faster[slower]  # what was slowed is told as it is written
    coarse = np.flatnonzero(faster > FASTEST)
    if coarse.size:
        # Of a block that is hardly longer than the rounding of its ends nobody can tell the speed; what a limit holds back is told.
        seen = rows.tip[at[coarse]] > SEEN_COUNTS * 10.0 ** -decimals_of(numbers.length, setup)
        coarse = coarse[seen | (feed.slowed[coarse] & (feed.minutes[coarse] > 0))]
    if not coarse.size:
        return word
    row = int(coarse[0])
    inverse = feed.mode[row] == INVERSE
    key, least = ("inverse_feed", 10.0**-inverse_decimals) if inverse else ("feed", 10.0**-decimals)
    raise PlanError(
        f"a block wants F {feed.word[row]:.3g}, and F is written in steps of {least:g}: the tip would move {faster[row]:.3g} times as fast "
        "as it should",
        place=setup.place(operation, int(rows.move[at[row]]) or None),
        cure=f"give F more decimals (numbers.{key}.decimals) if the controller takes them, or say another way to give F while the rotary "
        "turns (feed.combined)",
    )


def _gather(slowed: Slowed, rows: Motion, at: Ints, feed: PlannedFeed, setup: Setup) -> None:
    # A block shorter than half a count is never written: how slow it would have been is nobody's concern.
    unseen = 0.5 * 10.0 ** -decimals_of(setup.profile.numbers.length, setup)
    here = np.flatnonzero(feed.slowed & (rows.tip[at] > unseen))
    if not len(here):
        return
    speed = rows.tip[at][here] / feed.minutes[here]
    slowest = int(np.argmin(speed))
    limits = (SLOWED_BY[int(reason)] for reason in np.unique(feed.slowed_by[here]))
    slowed.add(len(here), float(rows.feed[at][here][slowest]), float(speed[slowest]), *limits)


def _arc_travel(rows: Motion, arcs: Arcs, d_xyz: Floats, setup: Setup) -> Floats:
    """Travel of arcs as if their whole length lay on the slower axis of their plane: each of the two reaches the full speed."""
    linear = setup.profile.linear
    fastest = [linear[letter].fastest if letter in linear else LinearAxis().fastest for letter in ("X", "Y", "Z")]
    at = np.flatnonzero(rows.kind > LINE)
    out = d_xyz.copy()
    for plane, axes in enumerate(((0, 1), (0, 2), (1, 2))):
        slower = min(axes, key=lambda axis: fastest[axis])
        here = at[arcs.plane[at] == plane]
        across = d_xyz[here, 3 - sum(axes)]
        out[here[:, None], axes] = 0.0
        out[here, slower] = np.sqrt(np.maximum(rows.tip[here] ** 2 - across**2, 0.0))
    return out


def _after(rows: Motion, stand: Stand) -> Stand:
    """Where the machine stands after the rows: NaN in a row means that the axis was not commanded and stays."""
    turned = bool(np.nanmax(np.abs(rows.rotary_deg - stand.rotary_deg), initial=0.0) > STILL_DEG)
    arrived = stand.arrived and not turned
    return replace(stand, xyz=_last_known(rows.xyz, stand.xyz), rotary_deg=_last_known(rows.rotary_deg, stand.rotary_deg), arrived=arrived)


def _last_known(places: Floats, before: Floats) -> Floats:
    """The last place (k,) of each axis that is no NaN, of rows (n, k) and what was before them."""
    places = np.vstack([before, places])
    last = len(places) - 1 - np.argmax(~np.isnan(places)[::-1], axis=0)
    return np.asarray(places[last, np.arange(places.shape[1])])
