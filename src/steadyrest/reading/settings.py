"""What a block says before its motion: modes, feed, speed, tool, spindle, coolant, clamp, pause, offsets."""

from __future__ import annotations

from steadyrest.conventions import MM_PER_INCH
from steadyrest.reading.block_words import BlockWords
from steadyrest.reading.motion_read import FEED_INVERSE, FEED_PER_MINUTE, PLANE_XY, PLANE_XZ, PLANE_YZ
from steadyrest.reading.state import UNKNOWN

OF_ANOTHER_TOOL = -1
PLANE_CODES = {"plane_xy": PLANE_XY, "plane_xz": PLANE_XZ, "plane_yz": PLANE_YZ}


def before_motion(block: BlockWords) -> None:
    """Everything that NISTIR 6556, table 8, puts before the motion, in its order."""
    _feed_mode(block)
    take_feed(block)
    _speed(block)
    _tool(block)
    _spindle(block)
    coolant, clamp = block.code("coolant"), block.code("clamp")
    if coolant is not None:
        block.out.event(block.line, "coolant", text=coolant.does)
    if clamp is not None:  # not in NISTIR 6556; they act before the motion of their block, as other auxiliary codes do
        block.out.event(block.line, "clamp" if clamp.does == "clamp" else "unclamp", text=clamp.code)
    _dwell(block)
    _plane_and_units(block)
    _length_offset(block)
    _work_offset(block)
    distance, back = block.code("distance"), block.code("cycle return")
    if distance is not None:
        block.state.incremental = distance.does == "incremental"
    if back is not None:
        block.state.return_to_r = back.does == "return_to_r"


def _feed_mode(block: BlockWords) -> None:
    """Per minute or inverse time; after a change F has to be stated again (NISTIR 6556, 3.5.19 and its source)."""
    code, state = block.code("feed mode"), block.state
    mode = FEED_INVERSE if code is not None and code.does == "inverse" else FEED_PER_MINUTE
    if code is not None and state.feed_mode != mode:
        if state.feed_mode is not None or state.feed is not None:
            state.stale_feed = code.code
        state.feed_mode, state.feed = mode, None


def take_feed(block: BlockWords) -> None:
    """The F word, if there is one: it holds from here on, in inverse time for its block."""
    word = block.take("F")
    if word is not None:
        feed = block.value(word, "inverse_feed" if block.state.feed_mode == FEED_INVERSE else "feed")
        if feed <= 0:
            block.fail(f"{word.text}: a feed must be above zero", "correct F", word)
        block.state.feed = feed


def _speed(block: BlockWords) -> None:
    word, state = block.take("S"), block.state
    if word is None:
        return
    speed, largest = block.value(word, "spindle"), block.dialect.profile.spindle.largest_rpm
    if not 0 <= speed <= largest:
        block.fail(f"{word.text}: spindle speeds go from 0 to {largest:g}", "correct S", word)
    if speed != state.speed_rpm and state.spindle != "stop" and "spindle" not in block.codes:
        block.out.event(block.line, "spindle", speed, state.spindle)
    state.speed_rpm = speed


def _number(block: BlockWords, letter: str, kind: str) -> int | None:
    """The number of a tool or an offset, None without its word."""
    word, largest = block.take(letter), block.dialect.profile.tool.largest
    if word is None:
        return None
    number = block.whole(word)
    if not 0 <= number <= largest:
        block.fail(f"{word.text}: {kind}s are numbered from 0 to {largest}", "correct the number", word)
    return number


def _tool(block: BlockWords) -> None:
    """Select, then change; a change ends with the spindle stopped (NISTIR 6556, 3.6.3)."""
    state, letter = block.state, block.dialect.profile.tool.letter
    number = _number(block, letter, "tool")
    if number is not None:
        state.tool = number
        block.out.event(block.line, "tool_selected", float(number))
    code = block.code("tool change")
    if code is None:
        return
    if state.tool is None:
        wrong, cure = f"{code.code} without a tool: no {letter} before it", f"select the tool with {letter} first"
        block.fail(wrong, cure, "tool change")
    block.out.event(block.line, "tool_change", float(state.tool))
    if state.spindle != "stop":
        _stop_spindle(block)
    if state.offset:  # the same offset number means another length for another tool
        state.offset = OF_ANOTHER_TOOL


def _stop_spindle(block: BlockWords) -> None:
    block.state.spindle = "stop"
    block.out.event(block.line, "spindle", UNKNOWN, "stop")


def _spindle(block: BlockWords) -> None:
    code, state = block.code("spindle"), block.state
    if code is None:
        return
    if code.does == "spindle_stop":
        _stop_spindle(block)
        return
    if state.speed_rpm is None:
        block.fail(f"{code.code} without a speed: no S before it", "state S first", "spindle")
    state.spindle = code.does
    block.out.event(block.line, "spindle", state.speed_rpm, code.does)


def _dwell(block: BlockWords) -> None:
    """A pause, its time in the unit and letter of the profile (NISTIR 6556, 3.5.4: P, seconds)."""
    code, letter = block.code("one block"), block.dialect.profile.codes.dwell_letter
    if code is not None and code.does == "dwell":
        if block.pause is None:
            block.fail(f"{code.code} without its time: {letter} missing", f"give {letter}", "one block")
        block.out.event(block.line, "dwell", block.seconds(block.pause))


def _plane_and_units(block: BlockWords) -> None:
    """After other units F has to be stated again (NISTIR 6556, 4.3.3.3: stored feeds are not converted)."""
    plane, units, state = block.code("plane"), block.code("units"), block.state
    if plane is not None:
        state.plane = PLANE_CODES[plane.does]
    mm_per_unit = MM_PER_INCH if units is not None and units.does == "inch" else 1.0
    if units is not None and state.mm_per_unit != mm_per_unit:
        block.out.close_run()
        state.mm_per_unit = mm_per_unit
        if state.feed is not None:
            state.feed, state.stale_feed = None, units.code
        state.cycle.r = state.cycle.bottom = state.cycle.peck = None


def _length_offset(block: BlockWords) -> None:
    """Changes the number of Z at the present place without motion (NISTIR 6556, 2.1.2.10).

    Z is not known once another offset, or the same for another tool, counts; the first cancelling code of a program changes nothing.
    """
    code, state, letter = block.code("tool length offset"), block.state, block.dialect.profile.tool.offset_letter
    if code is None or code.does not in ("offset", "no_offset"):
        return
    number: int | None = 0
    if code.does == "offset":
        number = _number(block, letter, "offset")
    if number is None:
        wrong = f"{code.code} without the offset's number: {letter} missing"
        block.fail(wrong, f"give {letter}", "tool length offset")
    if number != (state.offset or 0) and block.dialect.replaced != 2:
        state.position_mm = (state.position_mm[0], state.position_mm[1], UNKNOWN)
    state.offset = number
    block.out.event(block.line, "length_offset", float(number), "on" if code.does == "offset" else "off")


def _work_offset(block: BlockWords) -> None:
    """Changes the numbers of the present place without motion (NISTIR 6556, 3.5.13)."""
    code, state, dialect = block.code("work offset"), block.state, block.dialect
    if code is None:
        return
    # What is known under none stated is not known under this one, but for a place that the profile says itself.
    in_doubt = dialect.lenient is not None and dialect.profile.program.start_position is None
    if state.work_offset != code.code and (state.work_offset or in_doubt):
        x, y, z = (0.0 if axis == dialect.replaced else UNKNOWN for axis in range(3))
        state.position_mm = (x, y, z)
        if state.work_offset:
            state.w_deg = UNKNOWN if dialect.rotary is not None else state.w_deg
            state.part_turn_deg, state.turns = UNKNOWN, 0
    state.work_offset = code.code
    block.out.event(block.line, "work_offset", float(code.number), code.code)
