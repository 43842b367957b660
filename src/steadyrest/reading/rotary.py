"""Where the rotary stands after a word of its own, unwound: whole turns are counted, whatever the controller shows."""

from __future__ import annotations

import math

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.reading.block_words import BlockWords

HALF_TURN_NEAR_DEG = 1e-9


def unwound(degrees: Floats, part_turn_deg: float, turns: int, rule: str) -> tuple[Floats, Floats, Bools]:
    """Words of a rotary whose positions roll over, one after the other.

    degrees   (n,) the words
    part_turn_deg, turns   it stands at 360 turns + part_turn_deg before the first; NaN: not known
    rule      "shortest": a position 0 to 360 is reached the nearest way, 359.999 to 0.001 goes on to 360.001. "sign": the number without
              its sign is the position, the sign the direction, and the position it stands at is no motion
    returns   (n,) each: where it stands, the part of a turn in it, and whether the word is wrong: outside 0 to 360 or half a turn away,
              which could go either way; minus zero, a sign without a direction
    source    common practice, stated by the profile
    """
    parts = np.abs(degrees) % 360.0
    steps = np.diff(parts, prepend=part_turn_deg)
    if rule == "shortest":
        wrong = (degrees < 0) | (degrees > 360) | (np.abs(np.abs(steps) - 180.0) <= HALF_TURN_NEAR_DEG)
        over = (steps < -180.0).astype(np.int64) - (steps > 180.0)
    else:
        negative = np.signbit(degrees)
        wrong = negative & (degrees == 0)
        over = (~negative & (steps < 0)).astype(np.int64) - (negative & (steps > 0))
    return 360.0 * (turns + np.cumsum(over)) + parts, parts, wrong


def rotary_target(block: BlockWords, *, incremental: bool) -> float:
    """W in degrees after the block, by the rules of the profile's travel; unchanged without a word.

    raises   ProgramError for a step from an unknown angle, an angle outside 0 to 360 where only those exist, half a turn the shortest way
    source   without rollover NISTIR 6556, 2.1.2.9 (no modulo, no shortest way)
    """
    state, dialect = block.state, block.dialect
    rotary = dialect.rotary
    word = block.take(dialect.rotary_letter) if rotary is not None else None
    if word is None or rotary is None:
        return state.w_deg
    degrees = block.length_mm(word) / rotary.mm_per_degree if rotary.replaces else block.value(word, "angle")
    if incremental:
        if math.isnan(state.w_deg):
            block.fail(f"{word.text} is a step from an unknown angle", "state the angle as a position first", word)
        target = state.w_deg + degrees
        if dialect.rolls_over:
            state.turns = math.floor(target / 360)
            state.part_turn_deg = round(target - 360 * state.turns, 9) % 360
        return target
    if not dialect.rolls_over:
        return degrees
    stands, parts, wrong = unwound(np.array([degrees]), state.part_turn_deg, state.turns, rotary.travel.rule)
    if wrong[0] and rotary.travel.rule != "shortest":
        block.fail(f"{word.text}: the sign is the direction, and minus zero has none", "write 0 or -360", word)
    if wrong[0] and not 0 <= degrees <= 360:
        block.fail(f"{word.text}: positions of this rotary are from 0 to 360 degrees", "give the position within one turn", word)
    if wrong[0]:
        wrong_way = f"{word.text} is exactly half a turn from {state.part_turn_deg:g}: which way to turn is not clear"
        block.fail(wrong_way, "go there in two steps", word)
    state.stand_within_a_turn(float(stands[0]), float(parts[0]))
    return float(stands[0])
