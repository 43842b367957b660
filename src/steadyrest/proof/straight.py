"""Is the tool as fast as it should be straight down, and out again? Plunges and holes, block by block."""

from __future__ import annotations

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.lowered import LEAST_KEPT
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.proof.speed import FASTEST_BY_ROUNDING, PART_IN
from steadyrest.proof.words import feed_word, speed


def judge_straight(
    cursor: Cursor,
    setting: Setting,
    operation: int,
    move: int | None,
    way_mm: float,
    feeds: tuple[float, float],
    what: str,
) -> None:
    """Judge the next block, straight along the spindle.

    feeds    mm per minute: the least and the largest that may be meant
    what     what the tool does, for the sentence
    raises   Mismatch of kind "feed"; what is lowered by a little is noted
    """
    rows, at = cursor.rows, cursor.at
    assert rows is not None
    unlike = _unlike(rows, at, setting, way_mm, feeds)
    if unlike is None:
        return
    too_fast, fastest, bound = unlike
    minutes, least, most = float(rows.minutes[at]), way_mm / feeds[1], way_mm / feeds[0]
    said, asked = feed_word(rows, at, setting, way_mm / minutes if minutes > 0 else float("inf")), speed(setting, feeds[1])
    if too_fast or not minutes * LEAST_KEPT <= bound:
        ratio = (least if too_fast else most) / minutes if minutes > 0 else float("inf")
        why = "" if too_fast else ", and no limit explains it"
        raise Mismatch(
            "feed", f"{said}; the toolpath asks for {asked}: {what} {ratio:.4g} times as fast as the feed{why}", line=cursor.line, move=move
        )
    cursor.lowered.note(operation, cursor.line, said, asked, fastest / minutes)


def is_as_asked(rows: Rows, at: int, setting: Setting, way_mm: float, feeds: tuple[float, float]) -> bool:
    """Whether `judge_straight` has nothing to say of block `at`."""
    return _unlike(rows, at, setting, way_mm, feeds) is None


def _unlike(rows: Rows, at: int, setting: Setting, way_mm: float, feeds: tuple[float, float]) -> tuple[bool, float, float] | None:
    """None for a block as fast as it should be; else whether it is too fast, and the longest time that limits explain, minutes.

    That time twice: bare, and with rounding.
    """
    minutes, count, linear = float(rows.minutes[at]), float(rows.count[at]), setting.rounding.linear_mm
    if way_mm <= 2 * linear:
        return None
    rounded = 2 * linear / way_mm  # F may be that of the step before its ends were rounded
    least, most = way_mm / feeds[1], way_mm / feeds[0]
    fastest = max(most, float(rows.machine[at]), float(rows.least[at]))
    bound = fastest * (1 + max(PART_IN, count)) * (1 + rounded) + 1e-9
    too_fast = not minutes * (1 + max(PART_IN, min(0.5 * count, FASTEST_BY_ROUNDING))) >= least * (1 - rounded) - 1e-9
    return None if not too_fast and minutes <= bound else (too_fast, fastest, bound)
