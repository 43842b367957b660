"""Where the rotary stands after a word of its own, unwound: whole turns are counted, whatever the controller shows."""

from __future__ import annotations

import math

from steadyrest.reading.blocks import Word
from steadyrest.reading.words_in_hand import WordsInHand

HALF_TURN_NEAR_DEG = 1e-9
SMALLEST_DEG = 1e-9


def rotary_target(block: WordsInHand, *, incremental: bool) -> float:
    """W in degrees after the block, by the rules of the profile's travel; unchanged without a word.

    raises   ProgramError for a step from an unknown angle, an angle outside 0 to 360 where only those exist, half a turn the shortest way
    source   without rollover NISTIR 6556, 2.1.2.9 (no modulo, no shortest way); the rollover rules: common practice, stated by the profile
    """
    state, dialect = block.state, block.dialect
    rotary = dialect.rotary
    word = block.take(dialect.rotary_letter) if rotary is not None else None
    if word is None or rotary is None:
        return state.w_deg
    if rotary.replaces:
        degrees = block.length_mm(word) / rotary.mm_per_degree
    else:
        degrees = block.value(word, "angle")
    if incremental:
        if math.isnan(state.w_deg):
            block.fail(f"{word.text} is a step from an angle that is not known", "state the angle as a position first", word)
        target = state.w_deg + degrees
        if rotary.travel.kind == "rollover":
            state.turns = math.floor(target / 360)
            state.part_turn_deg = round(target - 360 * state.turns, 9) % 360
        return target
    if rotary.travel.kind != "rollover" or rotary.replaces:
        return degrees
    if rotary.travel.rule == "shortest":
        return _shortest(block, word, degrees)
    return _by_sign(block, word, degrees)


def _shortest(block: WordsInHand, word: Word, degrees: float) -> float:
    """The position 0 to 360 is reached the nearest way, 359.999 to 0.001 goes on to 360.001; half a turn could go either way."""
    state = block.state
    if not 0 <= degrees <= 360:
        block.fail(f"{word.text}: the positions of this rotary go from 0 to 360", "give the position within one turn", word)
    part = degrees % 360
    if not math.isnan(state.part_turn_deg):
        step = part - state.part_turn_deg
        if abs(abs(step) - 180) <= HALF_TURN_NEAR_DEG:
            block.fail(
                f"{word.text} is exactly half a turn from {state.part_turn_deg:g}: which way it goes is not said",
                "go there in two steps",
                word,
            )
        state.turns += (step < -180) - (step > 180)
    state.part_turn_deg = part
    return 360 * state.turns + part


def _by_sign(block: WordsInHand, word: Word, degrees: float) -> float:
    """The number without its sign is the position, the sign the direction; the position it stands at is no motion."""
    state = block.state
    if degrees == 0 and math.copysign(1, degrees) < 0:
        block.fail(f"{word.text}: the sign is the direction, and minus zero has none", "write 0 or -360", word)
    part = abs(degrees) % 360
    if not math.isnan(state.part_turn_deg):
        step = part - state.part_turn_deg
        state.turns += (degrees >= 0 and step < 0) - (degrees < 0 and step > 0)
    state.part_turn_deg = part
    return 360 * state.turns + part
