"""Which F makes the tool tip move over the part at the speed that was asked, and what is in the way?

The time of a block is the way of the tip over the part by the asked speed, raised to what the slowest axis and the largest
F allow and never lowered. F follows from the time and from what this controller's F means (NISTIR 6556 2.1.2.5 for the
reference: X, Y and Z alone, as if the rotary stood still; degrees per minute when the rotary moves alone).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion.model import INVERSE, PER_MINUTE
from steadyrest.profile.axes import Feed, LinearAxis, Rotary

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


@dataclass(frozen=True, slots=True)
class PlannedFeed:
    """The feed of consecutive blocks, one row a block.

    mode       (n,) uint8, PER_MINUTE or INVERSE
    word       (n,) float, F as the mode means it, exact
    minutes    (n,) float, how long the block takes
    slowed     (n,) bool, slower than asked
    slowed_by  (n,) uint8, index into SLOWED_BY: what asks for the longest time
    counted    (n,) float, the length (or turn) of which F per minute is the speed, in program units or degrees: where the
               rounding of positions is not small against it, F per minute says little about the tip
    least      (n,) float, minutes that the axes and the largest F need at least
    """

    mode: Codes
    word: Floats
    minutes: Floats
    slowed: Bools
    slowed_by: Codes
    counted: Floats
    least: Floats


def planned_feed(
    d_xyz: Floats,
    d_w_deg: Floats,
    tip_length: Floats,
    asked: Floats,
    rotary: Rotary | None,
    linear: Mapping[str, LinearAxis],
    feed: Feed,
    inch: bool,
    still: float = STILL,
) -> PlannedFeed:
    """Mode, F and time of each block.

    d_xyz       (n, 3) float, way of X, Y, Z, program units
    d_w_deg     (n,) float, turn of the rotary, degrees
    tip_length  (n,) float, way of the tip over the part, program units
    asked       (n,) float, speed of the tip over the part, program units per minute, above 0
    rotary      as it is mounted; None: there is none, and no row may turn
    linear      the linear axes by letter; those left out have the defaults
    inch        the program's unit is the inch
    still       an axis that moves less stands still (program units, degrees). What a controller sees are rounded words, so
                where F counts X, Y and Z alone the way of the axes should come from positions as they will be written

    A rotary that hangs on the drive of a linear axis (`replaces`) counts in F as that axis does: by the mm of its drive.
    A block in which nothing moves gets the mode of linear moves, and per minute the asked feed; in inverse time the
    largest F, or one second, since F may not be 0. Where F is the tip's speed and the tip stays on its point while the
    rotary turns, F is the asked one. F in degrees per minute has the same largest value as other F of the program.
    raises      PlanError when something turns and there is no rotary
    source      time per block >= greatest of way by highest speed over all axes; F in 1/min = 1 / minutes (NISTIR 6556 3.5.19)
    """
    unit_mm = 25.4 if inch else 1.0
    turn = np.abs(d_w_deg)
    way = np.sqrt(np.einsum("ij,ij->i", d_xyz, d_xyz))
    turns, goes = turn > still, way > still
    wanted = tip_length / asked
    least = np.zeros(len(turn))
    slowed_by = np.zeros(len(turn), dtype=np.uint8)
    for column, letter in enumerate("XYZ"):
        fastest = linear[letter].fastest if letter in linear else LinearAxis().fastest
        _at_least(least, np.abs(d_xyz[:, column]), unit_mm / fastest, column + 1, slowed_by)
    drive = 0.0
    if rotary is not None:
        per_degree = 1.0 / rotary.fastest
        if rotary.replaces:
            drive = abs(rotary.mm_per_degree) / unit_mm
            letter = rotary.replaces
            fastest = linear[letter].fastest if letter in linear else LinearAxis().fastest
            per_degree = max(per_degree, abs(rotary.mm_per_degree) / fastest)
        _at_least(least, turn, per_degree, 4, slowed_by)
    elif turns.any():
        raise PlanError("the rotary has to turn, and this controller profile has none", cure="add a table `[rotary.A]` to the profile")

    mode = np.array([_MODE[feed.linear], _MODE[feed.linear], _MODE[feed.rotary], _MODE[feed.combined]], dtype=np.uint8)[
        goes.view(np.uint8) + 2 * turns.view(np.uint8)
    ]
    counted = _counted(feed, way, turn, tip_length, goes, drive)
    inverse = mode == INVERSE
    largest = feed.largest_inch if inch else feed.largest_mm
    shortest = counted / largest
    shortest[inverse] = _SHORTEST[feed.inverse_is] / feed.largest_inverse
    _at_least(least, shortest, 1.0, 5, slowed_by)
    minutes = np.maximum(wanted, least)

    with np.errstate(divide="ignore", invalid="ignore"):
        word = counted / minutes
        if inverse.any():
            timed = minutes[inverse]
            if feed.inverse_is == "per_minute":
                word[inverse] = 1.0 / timed
            elif feed.inverse_is == "per_second":
                word[inverse] = 1.0 / (60.0 * timed)
            else:
                word[inverse] = 60.0 * timed
    moves = goes | turns
    unnamed = ~(counted > still) & ~inverse
    if unnamed.any():
        word[unnamed] = np.minimum(asked[unnamed], largest)
    if not moves.all():
        _stand(np.flatnonzero(~moves), inverse, word, minutes, slowed_by, feed)
    slowed = minutes > wanted * (1.0 + 1e-9)
    slowed &= moves
    slowed_by[~slowed] = 0
    return PlannedFeed(mode, word, minutes, slowed, slowed_by, counted, least)


_MODE = {"per_minute": PER_MINUTE, "inverse": INVERSE}
_SHORTEST = {"per_minute": 1.0, "per_second": 1.0 / 60.0, "seconds": 0.0}
"""The least time in minutes at F = 1; a plain time in seconds has no least."""


def _at_least(least: Floats, way: Floats, minutes_per_way: float, reason: int, slowed_by: Codes) -> None:
    """Raise the times to what a way needs, and note the reason where they were raised."""
    needed = way * minutes_per_way
    late = needed > least
    if late.any():
        slowed_by[late] = reason
        np.maximum(least, needed, out=least)


def _counted(feed: Feed, way: Floats, turn: Floats, tip_length: Floats, goes: Bools, drive: float) -> Floats:
    """The length of which F per minute is the speed."""
    if feed.per_minute_counts == "tip":
        return tip_length.copy()
    if drive:
        return np.asarray(np.sqrt(way * way + (turn * drive) ** 2))
    if feed.per_minute_counts == "all_axes":
        return np.asarray(np.sqrt(way * way + turn * turn))
    return np.where(goes, way, turn)


def _stand(rows: Ints, inverse: Bools, word: Floats, minutes: Floats, slowed_by: Codes, feed: Feed) -> None:
    """Blocks in which nothing moves: F has to be something, and not 0."""
    minutes[rows] = 0.0
    slowed_by[rows] = 0
    timed = rows[inverse[rows]]
    if feed.inverse_is == "seconds":
        word[timed], minutes[timed] = 1.0, 1.0 / 60.0
    else:
        word[timed], minutes[timed] = feed.largest_inverse, _SHORTEST[feed.inverse_is] / feed.largest_inverse


def said_feed(feed: PlannedFeed, decimals: int, inverse_decimals: int, inverse_is: str) -> tuple[Floats, Floats]:
    """F as the program will say it, where that is not simply the nearest; and how many times as fast as it should each block gets so.

    decimals, inverse_decimals   of F per minute and in inverse time
    returns    word (n,) and faster (n,), 1 and less where the block takes no less than its time
    source     rounding must not break a limit: where the nearest count of F would, it is the next one on the slow side; where F is a
               time, a block so short that the nearest would be more than a percent too fast takes a count more
    """
    inverse = feed.mode == INVERSE
    scale = np.where(inverse, 10.0**inverse_decimals, 10.0**decimals) if inverse.any() else 10.0**decimals
    timed = inverse if inverse_is == "seconds" else np.zeros(len(inverse), dtype=bool)
    counts = feed.word * scale
    near = np.maximum(np.rint(counts), 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        faster = np.where(timed, counts / near, near / counts) if timed.any() else near / counts
    broken = (faster > 1.0 + OVER_LIMIT) & (feed.minutes < feed.least * faster * (1.0 - OVER_LIMIT))
    over = np.flatnonzero(broken | (timed & (faster > FASTEST)))
    word = feed.word
    if over.size:
        there = timed[over]
        slow = np.where(there, np.ceil(counts[over] - 1e-6), np.maximum(np.floor(counts[over] + 1e-6), 1.0))
        word = word.copy()
        word[over] = slow / (scale[over] if isinstance(scale, np.ndarray) else scale)
        faster[over] = np.where(there, counts[over] / slow, slow / counts[over])
    return word, faster


def inverse_pieces(minutes: Floats, decimals: int, feed: Feed) -> Floats:
    """Into how many equal blocks a long move must be cut so that its F in inverse time says its speed.

    minutes    (n,) float, the time of the whole move; 0 where nothing moves
    decimals   of the F word
    returns    (n,) whole numbers: 1 where F written with so many decimals is within 0.05 percent, else enough blocks to make it
               so, each with a larger F. Where F is a time in seconds: 1, since a short move only gets shorter, but
               as many as it takes to stay below the largest F
    source     F 0.0123 written with two decimals is 19 percent slow
    """
    if feed.inverse_is == "seconds":
        return np.maximum(1.0, np.ceil(minutes * (60.0 / feed.largest_inverse) - 1e-9))
    per_minute = 1.0 if feed.inverse_is == "per_minute" else 60.0
    counts = 10.0**decimals / np.maximum(per_minute * minutes, 1e-99)  # no time: no F is too coarse for it
    answer = np.ones(len(counts))
    coarse = np.flatnonzero(np.abs(np.rint(counts) - counts) > FEED_ERROR * counts)
    if coarse.size:
        answer[coarse] = np.ceil(0.5 / FEED_ERROR / counts[coarse])
    return answer
