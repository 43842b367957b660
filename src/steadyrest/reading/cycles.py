"""Drilling cycles, carried out as single motions: rows flagged `cycle`, with an event before each hole.

Lines that only give further places are carried out many at once, in `runs`.
"""

from __future__ import annotations

import math

from steadyrest.conventions import AXES, INVERSE, LINE, RAPID, XY
from steadyrest.reading.block_words import BlockWords
from steadyrest.reading.dialect import CYCLES
from steadyrest.reading.moves import Point, feed_in_force, is_incremental, rotary_targets, same_place

ABOVE_LAST_DEPTH_MM = 0.254  # NISTIR 6556, 3.5.16.4 and its source: a peck goes on at feed from just above the last depth, 0.010 inch
MOST_REPEATS = 1_000
MOST_PECKS = 10_000
MOST_MOVES = 100_000  # of one block: a program of such blocks takes as long as its text is long
NEAR_MM = 1e-9
PECKS = ("peck", "chip_break")


def drilling_cycle(block: BlockWords, kind: str, *, stated: bool) -> None:
    """The cycle in force at the place or places that the block gives (NISTIR 6556, 3.5.16).

    kind     a key of CYCLES
    stated   the block has the cycle's code, so that it may be another cycle than the one before
    raises   ProgramError for what 3.5.16 calls an error, and for planes other than XY
    """
    state, dialect = block.state, block.dialect
    _check_modes(block)
    mm = block.mm_per_unit()
    incremental = is_incremental(block)
    if stated and state.motion != kind:
        state.cycle = {name: value for name, value in state.cycle.items() if name == "r"}
    state.motion = kind
    turning = [letter for letter in dialect.rotaries if letter in block.words]
    if not any(letter in block.words for letter in AXES) and not (block.lenient and turning):
        block.fail("a cycle without X, Y or Z", "give the position of the hole")
    r_given = dialect.profile.cycles.r_letter in block.words
    r, depth, peck = _take_words(block, kind)
    were_deg, rotary_deg = dict(zip(dialect.rotaries, state.rotary_deg, strict=True)), rotary_targets(block)
    turned = [letter for letter, w_deg in zip(dialect.rotaries, rotary_deg, strict=True) if letter in turning and w_deg != were_deg[letter]]
    if turned and (not block.lenient or "L" in block.words):
        unknown = "a rotary word in a drilling cycle, and the rotary's position is unknown"
        wrong = unknown if math.isnan(were_deg[turned[0]]) else "the rotary would turn in a drilling cycle"
        block.fail(wrong, "turn it in a block of its own, before", block.words[turned[0]])
    feed = feed_in_force(block)
    x, y, old_level = state.position_mm
    places = _places(block, incremental)
    if dialect.profile.cycles.depth_from == "r_level":
        if r_given or stated or math.isnan(state.cycle.get("level_mm", math.nan)):
            state.cycle["level_mm"] = old_level + r * mm
        level = state.cycle["level_mm"]
        bottom = level + depth * mm
    else:
        level = old_level + r * mm if incremental else r * mm
        bottom = level + depth * mm if incremental else depth * mm
    if math.isnan(level):
        r_word = block.words.get(dialect.profile.cycles.r_letter)
        block.fail("R is measured from an unknown height", "go to a position with Z first", r_word)
    if bottom > level + NEAR_MM:
        block.fail(f"the bottom at Z {bottom / mm:g} is above the R level at {level / mm:g}", "put R above the bottom")
    if not state.return_to_r and math.isnan(old_level):
        block.fail("a return to the height before the cycle, which is unknown", "go to a position with Z first")
    clear_level = level if state.return_to_r else max(old_level, level)
    moves = len(places) * math.ceil(max(0.0, level - bottom) / (peck * mm)) * 3
    if moves > MOST_MOVES:
        wrong = f"the cycle makes {moves:,} moves, {len(places):,} holes with the pecks of each; {MOST_MOVES:,} are allowed"
        block.fail(wrong, "correct the step of the peck, or L")
    if old_level < level:
        _traverse(block, (x, y, level))
    if turned:  # from elsewhere only: to another hole round the part
        block.out.row(state, block.line, RAPID, state.position_mm, rotary_deg)
    for place in places:
        block.out.event(block.line, "cycle", text=CYCLES[kind])
        _hole(block, kind, place, level, bottom, clear_level, peck * mm, feed)


def _check_modes(block: BlockWords) -> None:
    """Per minute, XY plane, a stated return level (NISTIR 6556, 3.5.16)."""
    state, profile = block.state, block.dialect.profile
    if state.feed_mode == INVERSE:
        block.fail(f"a drilling cycle under {profile.feed.inverse_code}", f"state {profile.feed.per_minute_code} and F first")
    told = "holes along Z (no plane in the program)"
    state.plane = block.stated(state.plane, "the plane", [profile.codes.plane_xy], "the first cycle", XY, told)
    if state.plane != XY:
        block.fail("a drilling cycle in another plane than XY: only holes along Z are read", f"state {profile.codes.plane_xy} first")
    if block.dialect.replaced == 2:
        block.fail("a drilling cycle, where Z turns the rotary", "take the cycle out")
    told, codes = "after a hole the tool returns to the height before the cycle (none in the program)", profile.cycles
    levels = [codes.return_to_r, codes.return_to_old]
    state.return_to_r = block.stated(state.return_to_r, "the level after a hole", levels, "the first cycle", False, told)


def _take_words(block: BlockWords, kind: str) -> tuple[float, float, float]:
    """R, Z and the step of a peck (infinite without one) as numbers of the program, read into the words that hold, as the pause is."""
    cycle, cycles = block.state.cycle, block.dialect.profile.cycles
    words = [("r", cycles.r_letter, "a cycle without its R level"), ("bottom", "Z", "a cycle without its bottom")]
    if kind in PECKS:
        words.append(("peck", cycles.peck_letter, "a peck cycle without its step"))
    if kind == "dwell_drill":
        words.append(("dwell", cycles.dwell_letter, "a cycle with a pause without its time"))
    for name, letter, without in words:
        if (word := block.take(letter)) is not None:
            cycle[name] = block.seconds(word) if name == "dwell" else block.value(word, "length")
        if name not in cycle:
            block.fail(f"{without}: {letter} missing", f"give {letter}")
    step = cycle["peck"] if kind in PECKS else math.inf
    if step <= 0:
        word = block.words[cycles.peck_letter]
        block.fail(f"{word.text}: the step of a peck must be above zero", "correct it", word)
    if kind == "tap" and block.state.spindle != "clockwise":
        block.fail("a tapping cycle while the spindle does not turn clockwise", f"state {block.dialect.profile.spindle.clockwise} first")
    return cycle["r"], cycle["bottom"], step


def _places(block: BlockWords, incremental: bool) -> list[tuple[float, float]]:
    """Where the holes are: at the position given, as often as L says, or each one step further in incremental mode."""
    place, steps = list(block.state.position_mm[:2]), [0.0, 0.0]
    for axis, letter in enumerate("XY"):
        word = block.take(letter) if axis != block.dialect.replaced else None
        if math.isnan(place[axis]) and (word is None or incremental):
            block.fail(f"a hole at an unknown position: {letter} missing", f"give {letter}", word)
        if word is not None:
            (steps if incremental else place)[axis] = block.length_mm(word)
    word = block.take("L")
    repeats = block.whole(word) if word is not None else 1
    if not 1 <= repeats <= MOST_REPEATS:
        block.fail(f"{word.text if word else ''}: a cycle is repeated 1 to {MOST_REPEATS} times", "correct L", word)
    numbers = range(1, repeats + 1) if incremental else [0] * repeats
    return [(place[0] + n * steps[0], place[1] + n * steps[1]) for n in numbers]


def _hole(
    block: BlockWords, kind: str, place: tuple[float, float], level: float, bottom: float, clear_level: float, step: float, feed: float
) -> None:
    """One hole: over the place, to R, down, and up again, all mm (NISTIR 6556, 3.5.16.2 to 3.5.16.6)."""
    state = block.state
    _traverse(block, (*place, state.position_mm[2]))
    _traverse(block, (*place, level))
    pecks = math.ceil((level - bottom - NEAR_MM) / step) - 1
    if pecks > MOST_PECKS:
        peck_word = block.words.get(block.dialect.profile.cycles.peck_letter)
        block.fail(f"a hole in {pecks} steps", "correct the step of the peck", peck_word)
    for number in range(1, pecks + 1):  # all but the last: up to R and down again to just above, or up a little to break the chip
        depth = level - number * step
        _feed(block, (*place, depth), feed)
        if kind == "peck":
            _traverse(block, (*place, level))
        rise = ABOVE_LAST_DEPTH_MM if kind == "peck" else block.dialect.profile.cycles.chip_break_rise
        _traverse(block, (*place, min(depth + rise, level)))
    _feed(block, (*place, bottom), feed)
    if kind == "dwell_drill":
        block.out.event(block.line, "dwell", state.cycle["dwell"])
    if kind in ("tap", "bore"):
        _feed(block, (*place, level), feed)
    _traverse(block, (*place, clear_level))


def _traverse(block: BlockWords, end: Point) -> None:
    """A rapid of the cycle, left out where it would go nowhere."""
    state = block.state
    if not same_place(state.position_mm, end):
        if not math.isnan(end[2]):
            state.clear = False
        block.out.row(state, block.line, RAPID, end, state.rotary_deg, cycle=True)


def _feed(block: BlockWords, end: Point, feed: float) -> None:
    block.out.row(block.state, block.line, LINE, end, block.state.rotary_deg, feed_word=feed, cycle=True)
