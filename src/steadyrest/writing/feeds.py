"""F words: which mode, which count, where they have to be written, and how far rounding takes the tip's speed off."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import INVERSE, PER_MINUTE
from steadyrest.writing.numbers import to_counts
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import WordColumn, code_letter, scattered
from steadyrest.writing.word_formats import WordFormat

COARSE_PERCENT = 0.1
"""A feed rounded further off than this is told to the user."""


def feed_columns(
    cutting: Bools, mode: Codes, feed: Floats, form: WordFormat, held: Held, found: Callable[[int, float], None]
) -> list[WordColumn]:
    """Feeds of a chunk as words, the words of their modes first; `held` is brought up to date.

    cutting   (n,) bool, the row moves at feed; mode (n,) uint8; feed (n,) float64, exact F words
    found     takes the rows and the worst percentage of coarse F words
    raises    PlanError for a feed that is no positive number, or a mode that the controller does not have
    """
    n, rows = len(mode), np.flatnonzero(cutting)
    if not len(rows):
        return []
    modes, feeds = (mode, feed) if len(rows) == n else (mode[rows], feed[rows])
    if not feeds.min() > 0:
        raise PlanError("a block moves at feed without a feed above zero", cure="give every cut a feed")
    _check_modes(modes, form)
    changed = np.append(modes[0] != held.mode, modes[1:] != modes[:-1])
    columns: list[WordColumn] = []
    if form.has_inverse and changed.any():
        columns.append(scattered(code_letter(form.mode_codes), modes.astype(np.int64), changed, form.mode_codes, rows, n))
    for one in (PER_MINUTE, INVERSE):
        here = modes == one
        if not here.any():
            continue
        among = slice(None) if here.all() else np.flatnonzero(here)
        counts, off_percent = feed_counts(feeds[among], one, form)
        coarse = np.count_nonzero(off_percent > COARSE_PERCENT)
        if coarse:
            found(int(coarse), float(off_percent.max()))
        said = np.ones(len(counts), bool)
        if one == PER_MINUTE and not form.profile.words.repeat_feed:
            said = changed[among] | np.append(counts[0] != held.feed, counts[1:] != counts[:-1])
        if said.any():
            columns.append(scattered("F", counts, said, form.feed[one], rows[among], n))
        if modes[-1] == one:
            held.feed = int(counts[-1]) if one == PER_MINUTE else None
    held.mode = held.mode_now = int(modes[-1])
    return columns


def feed_counts(feeds: Floats, mode: int, form: WordFormat) -> tuple[Ints, Floats]:
    """F words in counts, and by how many percent each takes the speed off what was asked.

    A feed never becomes zero: the least is one count. None is above the controller's largest F.
    """
    spelled = form.feed[mode]
    largest = form.largest_feed(mode)
    is_time = mode == INVERSE and form.profile.feed.inverse_is == "seconds"
    if is_time and feeds.max() > largest * (1 + 1e-9):
        raise PlanError(
            f"a block takes {float(feeds.max()):g} seconds, but the largest F is {largest:g}: with that it would move too fast",
            cure="split the move, or raise the feed",
        )
    counts = np.clip(to_counts(feeds, spelled), 1, max(1, math.floor(largest * spelled.scale + 1e-6)))
    written = counts / spelled.scale
    off = np.abs(feeds / written - 1) if is_time else np.abs(written / feeds - 1)
    return counts, 100 * off


def _check_modes(modes: Codes, form: WordFormat) -> None:
    if not form.has_inverse and (modes == INVERSE).any():
        raise PlanError("the controller has no inverse-time feed", cure="set feed.inverse_code, or feed.combined to 'per_minute'")
    if form.has_inverse and not form.profile.feed.per_minute_code and (modes == PER_MINUTE).any():
        raise PlanError("the controller has no code to go back to feed per minute", cure="set feed.per_minute_code")
