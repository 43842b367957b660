"""Carries out one block, in the order of execution that NISTIR 6556, table 8, gives to what stands in it."""

from __future__ import annotations

from steadyrest.conventions import INVERSE, MM_PER_INCH, PER_MINUTE
from steadyrest.reading.arcs import arc
from steadyrest.reading.block_words import Block, BlockWords
from steadyrest.reading.collector import Collector
from steadyrest.reading.cycles import drilling_cycle
from steadyrest.reading.dialect import CLAMP, CYCLE_END, CYCLES, PATH_CONTROL, WORK_OFFSETS, Dialect, code_key
from steadyrest.reading.motion_read import BESIDE_WORDS, MOTIONS, PLANE_CODES, EventKind
from steadyrest.reading.moves import machine_move, reference_move, straight
from steadyrest.reading.state import UNKNOWN, State

ARCS = ("arc_clockwise", "arc_counterclockwise")
SWITCH_GROUPS = ("coolant", "spindle", "tool change")
SWITCHES = ("clamp", "unclamp", "dwell", "stop", "optional_stop")
OF_ANOTHER_TOOL = -1
STOPS: dict[str, EventKind] = {"stop": "stop", "optional_stop": "optional_stop", "end": "program_end"}


def carry_out(read: Block, state: State, dialect: Dialect, out: Collector, file: str | None = None) -> None:
    """Change the state by one block and give its motions and events to `out`.

    raises   ProgramError with line and column for every condition that NISTIR 6556 calls an error and that concerns a single block
    """
    for comment in read.comments:
        out.event(read.line, "comment", BESIDE_WORDS if read.words and dialect.lenient is not None else UNKNOWN, comment)
    block = BlockWords(read, state, dialect, out, file)
    if not read.words:
        return
    if read.skip:
        wrong = "a block with / runs or not by a switch at the machine: neither can be proved"
        block.fail(wrong, "take the / or the block out")
    for group, (code, _) in block.codes.items() if not block.lenient else ():
        if group == PATH_CONTROL or (not out.moved and code_key(code.code) in dialect.safe_start):
            out.event(block.line, "path_mode" if group == PATH_CONTROL else "mode", text=code.code)
    _before_motion(block)
    _motion(block)
    block.check_all_used()
    stop = block.code("stop")
    if stop is not None:  # after the motion of its block
        out.event(block.line, STOPS[stop.does], text=stop.code)
        state.ended = stop.does == "end"


def only_switches(block: Block, dialect: Dialect) -> bool:
    """Whether a plain block neither moves anything nor changes what motion depends on, but may switch something, pause or stop."""
    codes, profile = dialect.codes, dialect.profile
    others = "S" + profile.tool.letter + profile.program.block_numbers.letter
    meant = {word: codes[key] for word in block.words if (key := (word.letter, round(word.value * 10))) in codes}
    others += profile.codes.dwell_letter if any(meaning.does == "dwell" for meaning in meant.values()) else ""
    switching = all(code.group in SWITCH_GROUPS or code.does in SWITCHES for code in meant.values())
    return switching and all(word in meant or word.letter in others for word in block.words)


def _motion(block: BlockWords) -> None:
    """The block's motion: that of its own code, or of the one that holds (NISTIR 6556, 3.4: only one code may use the axis words)."""
    state, codes = block.state, block.dialect.profile.codes
    one_block, code = block.code("one block"), block.code("motion")
    stated = code.does if code is not None and code.does != "cancel" else None
    if one_block is not None and one_block.does == "reference":
        if stated in MOTIONS and block.lenient:
            state.motion = stated
        elif code is not None and stated is not None:
            block.fail(f"{one_block.code} and {code.code} both use the axis words", "put them into two blocks", "motion")
        reference_move(block)
        return
    if code is not None and stated is None:
        state.motion = "cancel"
    if block.code(CYCLE_END) is not None and state.motion in CYCLES:
        state.motion = state.motion_before_cycle
    motion = stated or state.motion
    if one_block is not None and one_block.does == "machine":
        if motion not in ("rapid", "line") or not block.has_axis_words():
            block.fail(f"{one_block.code} needs a rapid or a line, and an axis word", "complete the block", "one block")
        state.motion = motion
        machine_move(block, MOTIONS[motion])
        return
    if not block.has_axis_words() and not (motion in ARCS and block.may_be_whole_circle()):
        if stated in MOTIONS and block.lenient:
            state.motion = stated
        elif code is not None and stated is not None:
            block.fail(f"{code.code} without an axis word", "give the position, or take the code out", "motion")
        return
    block.check_modes_ended(motion)
    if motion is None or motion == "cancel":
        after = f" after {block.dialect.profile.cycles.cancel}" if motion else " before the first motion code"
        block.fail(f"axis words{after}: no motion code is active", f"state {codes.rapid} or {codes.line}")
    if motion in CYCLES:
        state.motion_before_cycle = state.motion_before_cycle if state.motion in CYCLES else state.motion
        drilling_cycle(block, motion, stated=code is not None)
    else:
        (arc if motion in ARCS else straight)(block, MOTIONS[motion])
        state.motion = motion


def _before_motion(block: BlockWords) -> None:
    """Everything that NISTIR 6556, table 8, puts before the motion, in its order."""
    state, code, out = block.state, block.code, block.out
    _feed(block)
    _spindle_and_tool(block)
    if (coolant := code("coolant")) is not None:
        out.event(block.line, "coolant", text=coolant.does)
    for letter in block.dialect.rotaries:  # not in NISTIR 6556; before the motion of their block, as other auxiliary codes
        if (clamp := code(CLAMP + letter)) is not None:
            out.event(block.line, "clamp" if clamp.does == "clamp" else "unclamp", text=clamp.code)
    if (dwell := code("one block")) is not None and dwell.does == "dwell":  # NISTIR 6556, 3.5.4: P, seconds
        if block.pause is None:
            letter = block.dialect.profile.codes.dwell_letter
            block.fail(f"{dwell.code} without its time: {letter} missing", f"give {letter}", "one block")
        out.event(block.line, "dwell", block.seconds(block.pause))
    if (plane := code("plane")) is not None:
        state.plane = PLANE_CODES[plane.does]
    if (units := code("units")) is not None:
        mm_per_unit = MM_PER_INCH if units.does == "inch" else 1.0
        if state.mm_per_unit != mm_per_unit:
            out.close_run()
            state.mm_per_unit = mm_per_unit
            if state.feed is not None:  # to be stated again: stored feeds are not converted (NISTIR 6556, 4.3.3.3)
                state.feed, state.stale_feed = None, units.code
            state.cycle = {name: value for name, value in state.cycle.items() if name in ("dwell", "level_mm")}
    _offsets(block)
    if (distance := code("distance")) is not None:
        state.incremental = distance.does == "incremental"
    if (back := code("cycle return")) is not None:
        state.return_to_r = back.does == "return_to_r"


def _feed(block: BlockWords) -> None:
    """The feed mode, after which F has to be stated again (NISTIR 6556, 3.5.19 and its source), and F, in inverse time for its block."""
    code, word, state = block.code("feed mode"), block.take("F"), block.state
    mode = INVERSE if code is not None and code.does == "inverse" else PER_MINUTE
    if code is not None and state.feed_mode != mode:
        if state.feed_mode is not None or state.feed is not None:
            state.stale_feed = code.code
        state.feed_mode, state.feed = mode, None
    if word is not None:
        feed = block.value(word, "inverse_feed" if state.feed_mode == INVERSE else "feed")
        if feed <= 0:
            block.fail(f"{word.text}: a feed must be above zero", "correct F", word)
        state.feed = feed


def _spindle_and_tool(block: BlockWords) -> None:
    """The speed; the tool, selected and then changed, which ends with the spindle stopped (NISTIR 6556, 3.6.3); the spindle."""
    state, out, letter = block.state, block.out, block.dialect.profile.tool.letter
    turns, change = block.code("spindle"), block.code("tool change")
    if (word := block.take("S")) is not None:
        speed, largest = block.value(word, "spindle"), block.dialect.profile.spindle.largest_rpm
        if not 0 <= speed <= largest:
            block.fail(f"{word.text}: spindle speeds go from 0 to {largest:g}", "correct S", word)
        if speed != state.speed_rpm and state.spindle != "stop" and turns is None:
            out.event(block.line, "spindle", speed, state.spindle)
        state.speed_rpm = speed
    if (number := _number(block, letter, "tool")) is not None:
        state.tool = number
        out.event(block.line, "tool_selected", float(number))
    if change is not None:
        if state.tool is None:
            wrong = f"{change.code} without a tool: no {letter} before it"
            block.fail(wrong, f"select the tool with {letter} first", "tool change")
        out.event(block.line, "tool_change", float(state.tool))
        if state.offset:  # the same offset number means another length for another tool
            state.offset = OF_ANOTHER_TOOL
    if (change is not None and state.spindle != "stop") or (turns is not None and turns.does == "spindle_stop"):
        state.spindle = "stop"
        out.event(block.line, "spindle", UNKNOWN, "stop")
    if turns is not None and turns.does != "spindle_stop":
        if state.speed_rpm is None:
            block.fail(f"{turns.code} without a speed: no S before it", "state S first", "spindle")
        state.spindle = turns.does
        out.event(block.line, "spindle", state.speed_rpm, turns.does)


def _number(block: BlockWords, letter: str, kind: str) -> int | None:
    """The number of a tool or an offset, None without its word."""
    word, largest = block.take(letter), block.dialect.profile.tool.largest
    if word is None:
        return None
    number = block.whole(word)
    if not 0 <= number <= largest:
        block.fail(f"{word.text}: {kind}s are numbered from 0 to {largest}", "correct the number", word)
    return number


def _offsets(block: BlockWords) -> None:
    """Changes the numbers of the place without motion: Z by the tool's length (NISTIR 6556, 2.1.2.10), all by the work offset (3.5.13).

    Z is not known once another offset, or the same for another tool, counts; the first cancelling code of a program changes nothing.
    """
    state, dialect, length, work = block.state, block.dialect, block.code("tool length offset"), block.code("work offset")
    if length is not None and length.does in ("offset", "no_offset"):
        letter = dialect.profile.tool.offset_letter
        number = _number(block, letter, "offset") if length.does == "offset" else 0
        if number is None:
            wrong = f"{length.code} without the offset's number: {letter} missing"
            block.fail(wrong, f"give {letter}", "tool length offset")
        if number != (state.offset or 0) and dialect.replaced != 2:
            state.position_mm = (*state.position_mm[:2], UNKNOWN)
        state.offset = number
        block.out.event(block.line, "length_offset", float(number), "on" if length.does == "offset" else "off")
    if work is None:
        return
    # What is known under none stated is not known under this one, but for a place that the profile says itself.
    in_doubt = dialect.lenient is not None and dialect.profile.program.start_position is None
    if state.work_offset != work.code and (state.work_offset or in_doubt):
        x, y, z = (0.0 if axis == dialect.replaced else UNKNOWN for axis in range(3))
        state.position_mm = (x, y, z)
        if state.work_offset:
            state.lose_rotaries()
    state.work_offset = work.code
    number = WORK_OFFSETS.index(work.code) + 1 if work.code in WORK_OFFSETS else 1
    block.out.event(block.line, "work_offset", float(number), work.code)
