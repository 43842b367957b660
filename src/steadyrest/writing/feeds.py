"""F words: which mode, which count, where they have to be written, and how far rounding takes the tip's speed off."""

from __future__ import annotations

import math

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import INVERSE, PER_MINUTE
from steadyrest.writing.numbers import to_counts
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import WordColumn, code_letter, first_after, lasts, news, scattered
from steadyrest.writing.word_formats import WordFormat

COARSE_PERCENT = 0.1
"""A feed rounded further off than this is told to the user."""


def feed_columns(
    cutting: Bools, mode: Codes, feed: Floats, forgotten: Ints, form: WordFormat, was: Held, held: Held
) -> tuple[list[WordColumn], list[tuple[Ints, Floats]]]:
    """Feeds of a batch as words, the words of their modes first; `was` is what the controller held before it, `held` what it holds after.

    cutting     (n,) bool, the row moves at feed; mode (n,) uint8; feed (n,) float64, exact F words
    forgotten   rows before which every word has to be said again
    returns     the columns; and rows (k,) with the percentage (k,) by which the speed of a coarse F word is off
    raises      PlanError for a feed that is no positive number, or a mode that the controller does not have
    """
    n, rows = len(mode), np.flatnonzero(cutting)
    if not len(rows):
        return [], []
    modes, feeds = (mode, feed) if len(rows) == n else (mode[rows], feed[rows])
    if not feeds.min() > 0:
        raise PlanError("a block moves at feed without a feed above zero", cure="give every cut a feed")
    _check_modes(modes, form)
    changed = news(modes, was.mode, first_after(forgotten, rows))
    columns: list[WordColumn] = []
    all_coarse: list[tuple[Ints, Floats]] = []
    if form.has_inverse and changed.any():
        columns.append(scattered(code_letter(form.mode_codes), modes.astype(np.int64), changed, form.mode_codes, rows, n))
    is_held = lasts(forgotten, int(rows[-1]))
    for one in (PER_MINUTE, INVERSE):
        here = modes == one
        if not here.any():
            continue
        among = slice(None) if here.all() else np.flatnonzero(here)
        counts, off_percent = feed_counts(feeds[among], one, form)
        coarse = np.flatnonzero(off_percent > COARSE_PERCENT)
        if len(coarse):
            all_coarse.append((rows[among][coarse], off_percent[coarse]))
        said = np.ones(len(counts), bool)
        if one == PER_MINUTE and not form.profile.words.repeat_feed:
            said = changed[among] | news(counts, was.feed, rows[:0])
        if said.any():
            columns.append(scattered("F", counts, said, form.feed[one], rows[among], n))
        if modes[-1] == one:
            held.feed = int(counts[-1]) if one == PER_MINUTE and is_held else None
    held.mode_now = int(modes[-1])
    held.mode = held.mode_now if is_held else None
    return columns, all_coarse


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
