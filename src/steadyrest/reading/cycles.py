"""Drilling cycles, carried out as single motions: rows flagged `cycle`, with an event before each hole.

Lines that only give further places are carried out many at once, in `runs`.
"""

from __future__ import annotations

import math

from steadyrest.reading.dialect import CYCLES, LINEAR
from steadyrest.reading.model import FEED_INVERSE, LINE, PLANE_XY, RAPID
from steadyrest.reading.moves import Point, feed_in_force, is_incremental
from steadyrest.reading.rotary import rotary_target
from steadyrest.reading.state import CycleWords
from steadyrest.reading.words_in_hand import WordsInHand

UNKNOWN = float("nan")
ABOVE_LAST_DEPTH_MM = 0.254  # NISTIR 6556, 3.5.16.4 and its source: a peck goes on at feed from just above the last depth, 0.010 inch
MOST_REPEATS = 1_000
MOST_PECKS = 10_000
MOST_MOVES = 100_000  # of one block: a program of such blocks takes as long as its text is long
NEAR_MM = 1e-9


def drilling_cycle(block: WordsInHand, kind: str, *, stated: bool) -> None:
    """The cycle in force at the place or places that the block gives (NISTIR 6556, 3.5.16).

    kind     a key of CYCLES
    stated   the block has the cycle's code, so that it may be another cycle than the one before
    raises   ProgramError for what 3.5.16 calls an error, and for planes other than XY
    """
    state, dialect = block.state, block.dialect
    _check_modes(block)
    mm = block.mm_per_unit()
    incremental = is_incremental(block)
    from_r_level = dialect.profile.cycles.depth_from == "r_level"
    if stated and state.motion != kind:
        state.cycle = CycleWords(r=state.cycle.r, level_mm=UNKNOWN)
    state.motion = kind
    cycle = state.cycle
    turning = block.words.get(dialect.rotary_letter)
    if not any(letter in block.words for letter in LINEAR) and (dialect.foreign is None or turning is None):
        block.fail("a cycle without X, Y or Z", "give the place of the hole")
    r_given = _take_words(block, kind)
    was_deg = state.w_deg
    w_deg = rotary_target(block, incremental=incremental)
    if dialect.foreign is None or "L" in block.words:
        if w_deg != was_deg and not math.isnan(was_deg):
            block.fail("the rotary would turn in a drilling cycle", "turn it in a block of its own, before", turning)
        if turning is not None and math.isnan(was_deg):
            block.fail(
                "a rotary word in a drilling cycle, and where the rotary stands is not known",
                "turn it in a block of its own, before",
                turning,
            )
    feed = feed_in_force(block)
    across = _steps(block, incremental)
    x, y, old_level = state.position_mm
    assert cycle.r is not None
    assert cycle.bottom is not None
    if from_r_level:
        if r_given or stated or math.isnan(cycle.level_mm):
            cycle.level_mm = old_level + cycle.r * mm
        level = cycle.level_mm
    else:
        level = old_level + cycle.r * mm if incremental else cycle.r * mm
    bottom = level + cycle.bottom * mm if incremental or from_r_level else cycle.bottom * mm
    if math.isnan(level):
        block.fail(
            "R counts from a level that is not known", "go to a position with Z first", block.words.get(dialect.profile.cycles.r_letter)
        )
    if bottom > level + NEAR_MM:
        block.fail(f"the bottom at Z {bottom / mm:g} is above the R level at {level / mm:g}", "put R above the bottom")
    clear_level = level
    if not state.return_to_r:
        if math.isnan(old_level):
            block.fail("a return to the level from before the cycle, which is not known", "go to a position with Z first")
        clear_level = max(old_level, level)
    if old_level < level:
        _traverse(block, (x, y, level))
    if turning is not None and w_deg != was_deg:  # from elsewhere only: to another hole round the part
        block.out.row(state, block.line, RAPID, state.position_mm, w_deg, clear=state.clear)
    repeats = _repeats(block)
    if kind in ("peck", "chip_break") and cycle.peck is not None:
        moves = repeats * math.ceil(max(0.0, level - bottom) / (cycle.peck * mm)) * 3
        if moves > MOST_MOVES:
            block.fail(
                f"the cycle makes {moves:,} moves, {repeats:,} holes with the pecks of each; {MOST_MOVES:,} are allowed",
                "correct the step of the peck, or L",
            )
    for _ in range(repeats):
        x, y = across(x, 0), across(y, 1)
        _hole(block, kind, (x, y), level, bottom, clear_level, feed)


def _check_modes(block: WordsInHand) -> None:
    """Per minute, XY plane, a stated return level, spindle right for a tap (NISTIR 6556, 3.5.16)."""
    state, profile = block.state, block.dialect.profile
    if state.feed_mode == FEED_INVERSE:
        block.fail(f"a drilling cycle under {profile.feed.inverse_code}", f"state {profile.feed.per_minute_code} and F first")
    if state.plane is None and block.granted("holes are along Z, no plane is stated"):
        state.plane = PLANE_XY
    if state.plane is None:
        block.must_state("the plane", [profile.codes.plane_xy], "the first cycle")
    if state.plane != PLANE_XY:
        block.fail("a drilling cycle in another plane than XY: only holes along Z are read", f"state {profile.codes.plane_xy} first")
    if block.dialect.replaced >= 0 and block.dialect.replaced == 2:
        block.fail("a drilling cycle, where Z turns the rotary", "take the cycle out")
    if state.return_to_r is None and block.granted("after a hole the tool returns to the height from before, none is stated"):
        state.return_to_r = False
    if state.return_to_r is None:
        block.must_state("the level after a hole", [profile.cycles.return_to_r, profile.cycles.return_to_old], "the first cycle")


def _take_words(block: WordsInHand, kind: str) -> bool:
    """Read R, Z, peck and dwell into the words that hold; say whether R was among them."""
    cycle, cycles = block.state.cycle, block.dialect.profile.cycles
    r_word = block.take(cycles.r_letter)
    if r_word is not None:
        cycle.r = block.value(r_word, "length")
    if cycle.r is None:
        block.fail(f"a cycle without its R level: {cycles.r_letter} missing", f"give {cycles.r_letter}")
    z_word = block.take("Z")
    if z_word is not None:
        cycle.bottom = block.value(z_word, "length")
    if cycle.bottom is None:
        block.fail("a cycle without its bottom: Z missing", "give Z")
    if kind in ("peck", "chip_break"):
        word = block.take(cycles.peck_letter)
        if word is not None:
            cycle.peck = block.value(word, "length")
            if cycle.peck <= 0:
                block.fail(f"{word.text}: the step of a peck must be above zero", "correct it", word)
        if cycle.peck is None:
            block.fail(f"a peck cycle without its step: {cycles.peck_letter} missing", f"give {cycles.peck_letter}")
    if kind == "dwell_drill":
        word = block.take(cycles.dwell_letter)
        if word is not None:
            cycle.dwell = block.seconds(word)
        if cycle.dwell is None:
            block.fail(f"a cycle with a pause without its time: {cycles.dwell_letter} missing", f"give {cycles.dwell_letter}")
    if kind == "tap" and block.state.spindle != "clockwise":
        block.fail("a tapping cycle, and the spindle does not turn clockwise", f"state {block.dialect.profile.spindle.clockwise} first")
    return r_word is not None


class _steps:
    """Where the next hole is along an axis: the position given, or one step further at each repeat."""

    def __init__(self, block: WordsInHand, incremental: bool) -> None:
        self.incremental = incremental
        self.given: list[float | None] = [None, None]
        for axis, letter in enumerate("XY"):
            word = block.take(letter) if axis != block.dialect.replaced else None
            place = block.state.position_mm[axis]
            if word is not None:
                self.given[axis] = block.length_mm(word)
            if math.isnan(place) and (word is None or incremental):
                block.fail(f"a hole at a place that is not known: {letter} missing", f"give {letter}", word)

    def __call__(self, place: float, axis: int) -> float:
        given = self.given[axis]
        if given is None:
            return place
        return place + given if self.incremental else given


def _repeats(block: WordsInHand) -> int:
    """How often the block's cycle is carried out; L holds for its block only."""
    word = block.take("L")
    if word is None:
        return 1
    repeats = block.whole(word)
    if not 1 <= repeats <= MOST_REPEATS:
        block.fail(f"{word.text}: a cycle is repeated 1 to {MOST_REPEATS} times", "correct L", word)
    return repeats


def _hole(block: WordsInHand, kind: str, place: tuple[float, float], level: float, bottom: float, clear_level: float, feed: float) -> None:
    """One hole: over the place, to R, down, and up again (NISTIR 6556, 3.5.16.2 to 3.5.16.6)."""
    state = block.state
    x, y = place
    block.out.event(block.line, "cycle", text=CYCLES[kind])
    _traverse(block, (x, y, state.position_mm[2]))
    _traverse(block, (x, y, level))
    if kind in ("peck", "chip_break"):
        _pecks(block, kind, place, level, bottom, feed)
    _feed(block, (x, y, bottom), feed)
    if kind == "dwell_drill" and state.cycle.dwell is not None:
        block.out.event(block.line, "dwell", state.cycle.dwell)
    if kind in ("tap", "bore"):
        _feed(block, (x, y, level), feed)
    _traverse(block, (x, y, clear_level))


def _pecks(block: WordsInHand, kind: str, place: tuple[float, float], level: float, bottom: float, feed: float) -> None:
    """All steps of a peck but the last: up to R and down again to just above, or up a little to break the chip."""
    assert block.state.cycle.peck is not None
    x, y = place
    step = block.state.cycle.peck * block.mm_per_unit()
    count = math.ceil((level - bottom - NEAR_MM) / step) - 1
    if count > MOST_PECKS:
        block.fail(f"a hole in {count} steps", "correct the step of the peck", block.words.get(block.dialect.profile.cycles.peck_letter))
    rise = block.dialect.profile.cycles.chip_break_rise
    for number in range(1, count + 1):
        depth = level - number * step
        _feed(block, (x, y, depth), feed)
        if kind == "peck":
            _traverse(block, (x, y, level))
            _traverse(block, (x, y, min(depth + ABOVE_LAST_DEPTH_MM, level)))
        else:
            _traverse(block, (x, y, min(depth + rise, level)))


def _traverse(block: WordsInHand, end: Point) -> None:
    """A rapid of the cycle, left out where it would go nowhere."""
    state = block.state
    here = state.position_mm
    if all(a == b or (math.isnan(a) and math.isnan(b)) for a, b in zip(here, end, strict=True)):
        return
    if not math.isnan(end[2]):
        state.clear = False
    block.out.row(state, block.line, RAPID, end, state.w_deg, clear=state.clear, cycle=True)


def _feed(block: WordsInHand, end: Point, feed: float) -> None:
    """A line of the cycle."""
    block.out.row(block.state, block.line, LINE, end, block.state.w_deg, feed_word=feed, cycle=True)
