"""Is the tip as fast as it should be? Time by the F word against the time that feed, axes and F allow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.geometry import Floats
from steadyrest.proof.lowered import LEAST_KEPT

PART_IN = 1e-3
"""How far a speed may be off, as a fraction, before the rounding of F has to explain it."""
FASTEST_BY_ROUNDING = 1e-2
"""As much too fast, as a fraction, the rounding of F may make a block that is not itself hardly longer than the rounding of its ends."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Of k blocks: the first that is wrong and why, or None; the largest excess of speed; how many were slowed, and the slowest.

    Speeds are fractions of the feed. `lowered` (k,): which are slower than they have to be, but not by so much that it is wrong;
    `kept` (k,): the speed of each as a fraction of the highest that feed, axes and F allow.
    """

    wrong: tuple[int, str] | None
    lowered: NDArray[np.bool_]
    kept: Floats
    faster: float
    slowed: int
    slowest: float


def judge(
    minutes: Floats,
    feed: Floats,
    largest_feed: Floats,
    intended_mm: Floats,
    program_mm: Floats,
    machine: Floats,
    least: Floats,
    count: Floats,
    travel_mm: Floats,
    rounding_mm: float,
) -> Timing:
    """Judge k blocks at feed.

    minutes      by the F word; `feed` (k,) what the tip is to do over the part, mm per minute; `largest_feed` where several may be meant
    intended_mm, program_mm   length of the tip's path over the part, as intended and with the words' rounding: a block is right by either
    machine      the least time of the axes, `least` that of the largest F, minutes; `count` one count of F, as a fraction
    travel_mm    the way of the axes; it stands in for the path where the tip hardly moves over the part (it only turns about the tip)
    rounding_mm  by how much the rounding of its two ends may lengthen or shorten a block
    """
    near, far = np.minimum(intended_mm, program_mm), np.maximum(intended_mm, program_mm)
    short = np.maximum(near - rounding_mm, 0.0) / largest_feed
    long = far / feed
    turning = np.where(intended_mm <= rounding_mm, travel_mm / feed, 0.0)
    bound = np.maximum(machine, least)
    slow = np.maximum(np.maximum(long, bound) * (1 + rounding_mm / np.maximum(far, 1e-12)), turning)
    # F was rounded by half a count at most: the F meant is no less than F minus that.
    allowed_fast = np.maximum(1 + PART_IN, 1 / (1 - np.minimum(0.5 * count, 0.9))) + 1e-9
    allowed_fast[near > 4 * rounding_mm] = np.minimum(allowed_fast[near > 4 * rounding_mm], 1 + FASTEST_BY_ROUNDING + 1e-9)
    allowed_slow = 1 + np.maximum(PART_IN, count) + 1e-9
    too_fast = ~(minutes * allowed_fast >= short - 1e-12)  # a time that is not known is wrong as well
    lowered = ~(minutes <= slow * allowed_slow + 1e-12)
    too_slow = lowered & ~(minutes * LEAST_KEPT <= slow * allowed_slow + 1e-12)
    known = np.where(minutes > 0, minutes, 1.0)
    ratio = np.where(minutes > 0, short / known, np.where(short > 0, np.inf, 0.0))
    kept = np.where(minutes > 0, far / feed / known, 1.0)
    held_back = (kept < 1 - 2 * PART_IN) & (kept < 1 - 2 * count) & (bound > long)
    wrong = _first(too_fast, too_slow, ratio, kept)
    if wrong is None:
        wrong = _sum_too_short(minutes, largest_feed, intended_mm, program_mm, allowed_fast, rounding_mm)
    slowest = float(kept[held_back].min(initial=1.0))
    return Timing(
        wrong,
        lowered,
        np.maximum(np.maximum(long, bound), turning) / known,
        float(ratio.max(initial=0.0)) - 1.0,
        int(held_back.sum()),
        slowest,
    )


def _first(too_fast: NDArray[np.bool_], too_slow: NDArray[np.bool_], ratio: Floats, kept: Floats) -> tuple[int, str] | None:
    bad = too_fast | too_slow
    if not bad.any():
        return None
    row = int(np.argmax(bad))
    if np.isnan(ratio[row]) or np.isnan(kept[row]):
        return row, "how fast the tip moves cannot be told: the block begins where the tool's place is not known"
    if too_fast[row]:
        return row, f"the tip moves {_times(float(ratio[row]))} as fast as the feed"
    return row, f"the tip moves {_times(float(kept[row]))} as fast as the feed, and no limit of the machine explains it"


def _times(ratio: float) -> str:
    return "without any time" if not np.isfinite(ratio) else f"{ratio:.4g} times"


def _sum_too_short(
    minutes: Floats, feed: Floats, intended_mm: Floats, program_mm: Floats, allowed: Floats, rounding_mm: float
) -> tuple[int, str] | None:
    """The blocks together: the rounding of positions, which excuses much in a very short block, grows only as the root of their number."""
    share = 1 / (feed * allowed)
    needed = min(float((intended_mm * share).sum()), float((program_mm * share).sum()))
    excused = 2 * rounding_mm * float(np.sqrt((share * share).sum()))
    took = float(minutes.sum())
    if took >= needed * (1 - PART_IN) - excused - 1e-12:
        return None
    return 0, f"over {len(minutes)} blocks from here the tip moves {needed / took:.4g} times as fast as the feed"
