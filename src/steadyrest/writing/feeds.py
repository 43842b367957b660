"""F words: which mode, which count, where they have to be written, and how far rounding takes the tip's speed off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import INVERSE, PER_MINUTE
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import Spelling, to_counts
from steadyrest.writing.slots import Flags, Slot, number_slot

COARSE_PERCENT = 0.1
"""A feed rounded further off than this is told to the user."""


@dataclass(slots=True)
class FeedWords:
    """The F words and mode words of a chunk.

    slots        F words, one slot a mode
    mode         (n,) int64, the mode of each row; mode_said (n,) bool where its word has to be written, None: nowhere
    coarse       rows whose speed is off by more than `COARSE_PERCENT`; worst_percent the worst of them
    """

    slots: list[Slot]
    mode: Ints
    mode_said: Flags | None
    coarse: int
    worst_percent: float


def feed_words(cutting: Flags, mode: Codes, feed: Floats, dialect: Dialect, modal: Modal) -> FeedWords:
    """Feeds of a chunk as words; `modal` is brought up to date.

    cutting   (n,) bool, the row moves at feed; mode (n,) uint8; feed (n,) float64, exact F words
    raises    PlanError for a feed that is no positive number, or a mode that the controller does not have
    """
    n = len(mode)
    rows = np.flatnonzero(cutting)
    if not len(rows):
        return FeedWords([], np.zeros(n, np.int64), None, 0, 0.0)
    every = len(rows) == n
    modes, feeds = (mode, feed) if every else (mode[rows], feed[rows])
    if not feeds.min() > 0:
        raise PlanError("a block moves at feed without a feed above zero", cure="give every cut a feed")
    before = np.empty(len(rows), np.int64)
    before[0] = -1 if modal.mode is None else modal.mode
    before[1:] = modes[:-1]
    changed = modes != before
    _check_modes(modes, dialect)
    result = FeedWords([], np.zeros(n, np.int64), None, 0, 0.0)
    if dialect.has_inverse and changed.any():
        result.mode[rows] = modes
        result.mode_said = np.zeros(n, bool)
        result.mode_said[rows] = changed
    for one in (PER_MINUTE, INVERSE):
        here = modes == one
        if not here.any():
            continue
        among = None if here.all() else np.flatnonzero(here)
        counts, off_percent = feed_counts(feeds if among is None else feeds[among], one, dialect)
        coarse = off_percent > COARSE_PERCENT
        if coarse.any():
            result.coarse += int(np.count_nonzero(coarse))
            result.worst_percent = max(result.worst_percent, float(off_percent.max()))
        said = np.ones(len(counts), bool)
        if one == PER_MINUTE and not dialect.profile.words.repeat_feed:
            said[0] = modal.feed is None or counts[0] != modal.feed
            said[1:] = counts[1:] != counts[:-1]
            said |= changed if among is None else changed[among]
        all_counts, all_said = counts, said
        if among is not None or not every:
            at = rows if among is None else rows[among]
            all_counts, all_said = np.zeros(n, np.int64), np.zeros(n, bool)
            all_counts[at], all_said[at] = counts, said
        if all_said.any():
            spelled = dialect.feed if one == PER_MINUTE else dialect.inverse_feed
            result.slots.append(number_slot("F", all_counts, spelled, None if all_said.all() else all_said))
        if int(modes[-1]) == one:
            modal.feed = int(counts[-1]) if one == PER_MINUTE else None
    modal.mode = modal.mode_now = int(modes[-1])
    return result


def feed_counts(feeds: Floats, mode: int, dialect: Dialect) -> tuple[Ints, Floats]:
    """F words in counts, and by how many percent each takes the speed off what was asked.

    A feed never becomes zero: the least is one count. None is above the controller's largest F.
    """
    spelled: Spelling = dialect.feed if mode == PER_MINUTE else dialect.inverse_feed
    largest = dialect.largest_feed(mode)
    is_time = mode == INVERSE and dialect.profile.feed.inverse_is == "seconds"
    if is_time and feeds.max() > largest * (1 + 1e-9):
        raise PlanError(
            f"a block takes {float(feeds.max()):g} seconds, and the largest F is {largest:g}: cut down, it would move too fast",
            cure="split the move, or raise the feed",
        )
    counts = np.clip(to_counts(feeds, spelled), 1, max(1, math.floor(largest * spelled.scale + 1e-6)))
    written = counts / spelled.scale
    off = np.abs(feeds / written - 1) if is_time else np.abs(written / feeds - 1)
    return counts, 100 * off


def _check_modes(modes: Codes, dialect: Dialect) -> None:
    if not dialect.has_inverse and (modes == INVERSE).any():
        raise PlanError("the controller has no inverse-time feed", cure="set feed.inverse_code, or feed.combined to 'per_minute'")
    if dialect.has_inverse and not dialect.profile.feed.per_minute_code and (modes == PER_MINUTE).any():
        raise PlanError("the controller has no code to go back to feed per minute", cure="set feed.per_minute_code")
