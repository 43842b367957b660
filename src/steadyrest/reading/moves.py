"""Straight motion: where the axis words lead, rapids and lines, and the ways to go clear in machine coordinates."""

from __future__ import annotations

import math

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.conventions import AXES, INVERSE, LINE, PER_MINUTE, RAPID
from steadyrest.profile import Rotary
from steadyrest.reading.block_words import BlockWords, Word
from steadyrest.reading.dialect import Dialect
from steadyrest.reading.state import UNKNOWN, State

HALF_TURN_NEAR_DEG = 1e-9
MACHINE_NEAR_MM = 0.001
Point = tuple[float, float, float]


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


def rotary_targets(block: BlockWords) -> tuple[float, ...]:
    """The words of the rotaries in degrees after the block, each by the rules of its travel; unchanged without a word.

    raises   ProgramError for a step from an unknown angle, an angle outside 0 to 360 where only those exist, half a turn the shortest way
    source   without rollover NISTIR 6556, 2.1.2.9 (no modulo, no shortest way)
    """
    rotaries = enumerate(block.dialect.rotaries.items())
    return tuple(_rotary_target(block, at, block.take(letter), rotary) for at, (letter, rotary) in rotaries)


def _rotary_target(block: BlockWords, at: int, word: Word | None, rotary: Rotary) -> float:
    state = block.state
    before = state.rotary_deg[at]
    if word is None:
        return before
    degrees = block.length_mm(word) / rotary.mm_per_degree if rotary.replaces else block.value(word, "angle")
    if is_incremental(block):
        if math.isnan(before):
            block.fail(f"{word.text} is a step from an unknown angle", "state the angle as a position first", word)
        target = before + degrees
        if rotary.rolls_over:
            state.turns[at] = math.floor(target / 360)
            state.part_turn_deg[at] = round(target - 360 * state.turns[at], 9) % 360
        return target
    if not rotary.rolls_over:
        return degrees
    stands, parts, wrong = unwound(np.array([degrees]), state.part_turn_deg[at], state.turns[at], rotary.travel.rule)
    if wrong[0]:
        if rotary.travel.rule != "shortest":
            block.fail(f"{word.text}: the sign is the direction, and minus zero has none", "write 0 or -360", word)
        if not 0 <= degrees <= 360:
            block.fail(f"{word.text}: positions of this rotary are from 0 to 360 degrees", "give the position within one turn", word)
        unclear = f"{word.text} is exactly half a turn from {state.part_turn_deg[at]:g}: which way to turn is not clear"
        block.fail(unclear, "go there in two steps", word)
    state.stand_within_a_turn(at, float(stands[0]), float(parts[0]))
    return float(stands[0])


def is_incremental(block: BlockWords) -> bool:
    """The distance mode in force; refused as long as the program has not stated it."""
    codes = block.dialect.profile.codes
    return block.stated(block.state.incremental, "positions or steps", [codes.absolute, codes.incremental], "the first motion")


def linear_target(block: BlockWords) -> Point:
    """X, Y, Z in mm after the block (NISTIR 6556, 3.5.17); an axis without a word stays."""
    incremental = is_incremental(block)
    ends = list(block.state.position_mm)
    for axis, letter in enumerate(AXES):
        word = block.take(letter) if axis != block.dialect.replaced else None
        if word is not None:
            ends[axis] = block.length_mm(word) + (ends[axis] if incremental else 0.0)
            if math.isnan(ends[axis]):
                block.fail(f"{word.text} is a step from an unknown position", f"state {letter} as a position first", word)
    return ends[0], ends[1], ends[2]


def largest_feed(state: State, dialect: Dialect) -> float:
    """The largest F of the controller in the mode and the unit in force."""
    feed = dialect.profile.feed
    if state.feed_mode == INVERSE:
        return feed.largest_inverse
    return feed.largest_inch if state.inch else feed.largest_mm


def feed_in_force(block: BlockWords) -> float:
    """The F of a block that moves at feed; refused when it is not known which that is (NISTIR 6556, 2.1.2.5, 3.5.19)."""
    state, feed = block.state, block.dialect.profile.feed
    word = block.words.get("F")
    codes, told = [feed.per_minute_code, feed.inverse_code], "F per minute (no feed mode in the program)"
    state.feed_mode = block.stated(state.feed_mode, "the unit of F", codes, "the first motion at feed", PER_MINUTE, told)
    if state.feed_mode == INVERSE and word is None:
        block.fail(f"a block at feed without F under {feed.inverse_code}: each block states its own time", "give the block its F")
    if state.feed is None:
        again = f" must be stated again after {state.stale_feed}" if state.stale_feed else " is not stated before the first motion at feed"
        block.fail(f"F{again}", "add F to this block")
    largest = largest_feed(state, block.dialect)
    if state.feed > largest:
        block.fail(f"F {state.feed:g} is above the largest of this controller, {largest:g}", "state a smaller F", word)
    return state.feed


def straight(block: BlockWords, motion: int) -> None:
    """A rapid or a line to the block's axis words (NISTIR 6556, 3.5.1, 3.5.2)."""
    state = block.state
    end, rotary_deg = linear_target(block), rotary_targets(block)
    feed = feed_in_force(block) if motion == LINE else UNKNOWN
    if "Z" in block.words and block.dialect.replaced != 2:
        state.clear = False
    block.out.row(state, block.line, motion, end, rotary_deg, feed_word=feed)


def _no_rotary(block: BlockWords, told: str) -> None:
    """Refuse a word of a rotary where it would count from a zero of the machine."""
    for word in (block.words[letter] for letter in block.dialect.rotaries if letter in block.words):
        block.fail(f"{word.text} {told}, is not known", "turn it in a block of its own", word)


def machine_move(block: BlockWords, motion: int) -> None:
    """A block in machine coordinates (NISTIR 6556, 3.5.12): where it ends in work coordinates is not known, Z is clear of everything.

    The row that goes up is not clear itself, and its end is NaN; a `retract` stands before it.
    raises   ProgramError with steps in force, for the rotary, and for a Z below the profile's clear height in the machine
    """
    state, profile, code = block.state, block.dialect.profile, block.codes["one block"][0].code
    if is_incremental(block):
        block.fail(f"{code} while incremental positions are active", f"state {profile.codes.absolute or 'positions'} first", "one block")
    _no_rotary(block, "in machine coordinates: where the rotary's machine zero is")
    words = [block.take(letter) for letter in AXES]
    ends = [place if word is None else UNKNOWN for word, place in zip(words, state.position_mm, strict=True)]
    z_word, lowest = words[2], profile.retract.machine_z
    if z_word is not None:
        height = block.length_mm(z_word)
        if height < lowest - MACHINE_NEAR_MM and (not block.lenient or motion == LINE):
            block.fail(
                f"{z_word.text} in machine coordinates is {height:g} mm, below the clear height {lowest:g} mm",
                "go to the clear height, or correct `retract.machine_z` in the profile",
                z_word,
            )
    feed = feed_in_force(block) if motion == LINE else UNKNOWN
    if z_word is not None:
        block.out.event(block.line, "retract")
    block.out.row(state, block.line, motion, (ends[0], ends[1], ends[2]), state.rotary_deg, feed_word=feed)
    state.clear = state.clear or z_word is not None


def reference_move(block: BlockWords) -> None:
    """A rapid by way of the point given to the reference point (NISTIR 6556, 3.5.10), two rows; Z has to be among the axes.

    Where the profile retracts this way, and in a program from elsewhere, only the axes named go on to the reference point (common
    practice); in the latter Z may be missing once it is clear. In any other profile the rule of NISTIR 6556 holds, that all axes go, so
    that no position is known afterwards.
    """
    state, dialect, code = block.state, block.dialect, block.codes["one block"][0].code
    if ("Z" not in block.words and not (block.lenient and state.clear)) or dialect.replaced == 2:
        block.fail(f"{code} without Z: the tool does not go clear along the spindle", "name Z", "one block")
    _no_rotary(block, f"with {code}: where the rotary's reference point is")
    named = [letter in block.words for letter in AXES]
    middle = state.position_mm
    if not _stays(block):
        middle = linear_target(block)
    if not same_place(middle, state.position_mm):
        state.clear = False
        block.out.row(state, block.line, RAPID, middle, state.rotary_deg)
    block.out.event(block.line, "retract")
    all_go = dialect.profile.retract.form != "reference" and not block.lenient
    ends = [UNKNOWN if all_go or goes else place for goes, place in zip(named, middle, strict=True)]
    if dialect.replaced >= 0:
        ends[dialect.replaced] = 0.0
    rotary_deg = (UNKNOWN,) * len(dialect.rotaries) if all_go else state.rotary_deg
    block.out.row(state, block.line, RAPID, (ends[0], ends[1], ends[2]), rotary_deg)
    state.clear = True
    if all_go:
        state.lose_rotaries()


def _stays(block: BlockWords) -> bool:
    """Whether every axis named is given a step of zero, so that the way goes from the present place, known or not."""
    named = [letter for letter in AXES if letter in block.words]
    return is_incremental(block) and all(block.words[letter].value == 0 for letter in named) and all(map(block.take, named))


def same_place(one: Point, other: Point) -> bool:
    """Equal, where an unknown coordinate equals an unknown one."""
    return all(a == b or (math.isnan(a) and math.isnan(b)) for a, b in zip(one, other, strict=True))
