"""Why would the tip be too fast or too slow? The F word of the failing block, read in other ways."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import tip_length
from steadyrest.proof.setting import MM_PER_INCH, Setting
from steadyrest.reading.model import FEED_INVERSE

if TYPE_CHECKING:
    from steadyrest.proof.following import Follower

_LIKE = 0.03
"""How near, as a fraction, a ratio has to be."""


def feed_cause(cursor: Cursor, setting: Setting, follower: Follower) -> str:
    """A sentence, or nothing when no other reading of F gives the right speed."""
    rows, elements = cursor.rows, follower.moves_left
    if rows is None or elements is None or follower.next_move >= len(elements) or cursor.at >= len(rows):
        return ""
    row = follower.wrong_row if follower.wrong_row is not None else cursor.at
    feed = follower.wrong_feed
    word, minutes = float(rows.feed_word[row]), float(rows.minutes[row])
    length = float(tip_length(rows.motions(setting.frame.along, row, row + 1, 0.0))[0])
    if not (np.isfinite(feed) and minutes > 0 and length > 0):
        return ""
    right = length / feed

    def like(value: float) -> bool:
        return abs(value / right - 1) < _LIKE

    inverse = rows.feed_mode[row] == FEED_INVERSE
    linear = float(np.linalg.norm(rows.vertex[row + 1] - rows.vertex[row]))
    turn = abs(float(rows.word_deg[row + 1] - rows.word_deg[row]))
    scale = setting.program_scale
    if inverse:
        if like(length / scale / word) or like(linear / scale / word):
            return "the feed mode: F would be right per minute, and is read as inverse time"
        for name, value in (("1 over minutes", 1 / word), ("1 over seconds", 1 / word / 60), ("seconds", word / 60)):
            if like(value) and not np.isclose(value, minutes):
                return f"the unit of inverse time: F would be right as {name}; look at feed.inverse_is"
    else:
        for name, value in (("1 over minutes", 1 / word), ("1 over seconds", 1 / word / 60), ("seconds", word / 60)):
            if like(value):
                return f"the feed mode: F would be right in inverse time, {name}, and is read per minute"
        counted = {
            "linear_axes": (linear or turn * scale) / scale,
            "all_axes": float(np.hypot(linear / scale, turn)),
            "tip": length / scale,
        }
        for name, way in counted.items():
            if way > 0 and like(way / word) and not np.isclose(way / word, minutes):
                return f"what F counts while the rotary moves: it would be right as `{name}`; look at feed.per_minute_counts"
    for factor, words in (
        (MM_PER_INCH, "units: 25.4 times too slow, an inch for a millimetre"),
        (1 / MM_PER_INCH, "units: 25.4 times too fast, a millimetre for an inch"),
        (10.0, "a decimal: ten times too slow"),
        (0.1, "a decimal: ten times too fast"),
    ):
        if abs(minutes / right / factor - 1) < _LIKE:
            return words
    if row > 0 and rows.feed_mode[row - 1] == rows.feed_mode[row] and rows.feed_word[row - 1] == rows.feed_word[row]:
        return "F is left over from the block before"
    return ""
