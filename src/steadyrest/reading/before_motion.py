"""What a block says before its motion: modes, feed, speed, tool, spindle, coolant, clamp, pause, offsets."""

from __future__ import annotations

from steadyrest.reading.dialect import MM_PER_INCH
from steadyrest.reading.model import FEED_INVERSE, FEED_PER_MINUTE, PLANE_XY, PLANE_XZ, PLANE_YZ
from steadyrest.reading.state import UNKNOWN
from steadyrest.reading.words_in_hand import WordsInHand

OF_ANOTHER_TOOL = -1
PLANES = {"plane_xy": PLANE_XY, "plane_xz": PLANE_XZ, "plane_yz": PLANE_YZ}


def before_motion(hand: WordsInHand) -> None:
    """Everything that NISTIR 6556, table 8, puts before the motion, in its order."""
    _feed_mode(hand)
    take_feed(hand)
    _speed(hand)
    _tool(hand)
    _spindle(hand)
    _coolant(hand)
    _clamp(hand)
    _dwell(hand)
    _modes(hand)
    _offsets(hand)
    _distance(hand)


def _feed_mode(hand: WordsInHand) -> None:
    """Per minute or inverse time; after a change F has to be stated again (NISTIR 6556, 3.5.19 and its source)."""
    code = hand.code("feed mode")
    if code is None:
        return
    mode = FEED_INVERSE if code.does == "inverse" else FEED_PER_MINUTE
    if hand.state.feed_mode != mode:
        if hand.state.feed_mode is not None or hand.state.feed is not None:
            hand.state.stale_feed = code.code
        hand.state.feed_mode = mode
        hand.state.feed = None


def take_feed(hand: WordsInHand) -> None:
    """The F word, if there is one: it holds from here on, in inverse time for its block."""
    word = hand.take("F")
    if word is None:
        return
    feed = hand.value(word, "inverse_feed" if hand.state.feed_mode == FEED_INVERSE else "feed")
    if feed <= 0:
        hand.fail(f"{word.text}: a feed must be above zero", "correct F", word)
    hand.state.feed = feed


def _speed(hand: WordsInHand) -> None:
    word = hand.take("S")
    if word is None:
        return
    speed = hand.value(word, "spindle")
    largest = hand.dialect.profile.spindle.largest_rpm
    if not 0 <= speed <= largest:
        hand.fail(f"{word.text}: spindle speeds go from 0 to {largest:g}", "correct S", word)
    changed = speed != hand.state.speed_rpm
    hand.state.speed_rpm = speed
    if changed and hand.state.spindle != "stop" and "spindle" not in hand.codes:
        hand.out.event(hand.line, "spindle", speed, hand.state.spindle)


def _tool(hand: WordsInHand) -> None:
    """Select, then change; a change ends with the spindle stopped (NISTIR 6556, 3.6.3)."""
    tool = hand.dialect.profile.tool
    word = hand.take(tool.letter)
    if word is not None:
        number = hand.whole(word)
        if not 0 <= number <= tool.largest:
            hand.fail(f"{word.text}: tools are numbered from 0 to {tool.largest}", "correct the tool number", word)
        hand.state.tool = number
        hand.out.event(hand.line, "tool_selected", float(number))
    code = hand.code("tool change")
    if code is None:
        return
    if hand.state.tool is None:
        hand.fail(
            f"{code.code} without a tool: no {tool.letter} before it",
            f"select the tool with {tool.letter} first",
            hand.code_word("tool change"),
        )
    hand.out.event(hand.line, "tool_change", float(hand.state.tool))
    if hand.state.spindle != "stop":
        hand.state.spindle = "stop"
        hand.out.event(hand.line, "spindle", UNKNOWN, "stop")
    if hand.state.offset:  # the same offset number means another length for another tool
        hand.state.offset = OF_ANOTHER_TOOL


def _spindle(hand: WordsInHand) -> None:
    code = hand.code("spindle")
    if code is None:
        return
    if code.does == "spindle_stop":
        hand.state.spindle = "stop"
        hand.out.event(hand.line, "spindle", UNKNOWN, "stop")
        return
    if hand.state.speed_rpm is None:
        hand.fail(f"{code.code} without a speed: no S before it", "state S first", hand.code_word("spindle"))
    hand.state.spindle = code.does
    hand.out.event(hand.line, "spindle", hand.state.speed_rpm, code.does)


def _coolant(hand: WordsInHand) -> None:
    code = hand.code("coolant")
    if code is not None:
        hand.out.event(hand.line, "coolant", text=code.does)


def _clamp(hand: WordsInHand) -> None:
    """Clamp codes are not in NISTIR 6556; they act before the motion of their block, as other auxiliary codes do."""
    code = hand.code("clamp")
    if code is not None:
        hand.out.event(hand.line, "clamp" if code.does == "clamp" else "unclamp", text=code.code)


def _dwell(hand: WordsInHand) -> None:
    """A pause, its time in the unit and letter of the profile (NISTIR 6556, 3.5.4: P, seconds)."""
    code = hand.code("one block")
    if code is None or code.does != "dwell":
        return
    codes = hand.dialect.profile.codes
    word = hand.pause
    if word is None:
        hand.fail(f"{code.code} without its time: {codes.dwell_letter} missing", f"give {codes.dwell_letter}", hand.code_word("one block"))
    hand.out.event(hand.line, "dwell", hand.seconds(word))


def _modes(hand: WordsInHand) -> None:
    """Plane, then units; after other units F has to be stated again (NISTIR 6556, 4.3.3.3: stored feeds are not converted)."""
    plane, units = hand.code("plane"), hand.code("units")
    if plane is not None:
        hand.state.plane = PLANES[plane.does]
    if units is not None:
        mm_per_unit = MM_PER_INCH if units.does == "inch" else 1.0
        if hand.state.mm_per_unit != mm_per_unit:
            hand.out.close_run()
            hand.state.mm_per_unit = mm_per_unit
            if hand.state.feed is not None:
                hand.state.feed = None
                hand.state.stale_feed = units.code
            hand.state.cycle.r = hand.state.cycle.bottom = hand.state.cycle.peck = None


def _offsets(hand: WordsInHand) -> None:
    """Length offset, then work offset. Both change the numbers of the present position without motion (NISTIR 6556, 2.1.2.10, 3.5.13)."""
    state = hand.state
    length, work = hand.code("tool length offset"), hand.code("work offset")
    if length is not None and length.does == "offset":
        letter = hand.dialect.profile.tool.offset_letter
        word = hand.take(letter)
        if word is None:
            hand.fail(
                f"{length.code} without the offset's number: {letter} missing", f"give {letter}", hand.code_word("tool length offset")
            )
        number = hand.whole(word)
        if not 0 <= number <= hand.dialect.profile.tool.largest:
            hand.fail(f"{word.text}: offsets are numbered from 0 to {hand.dialect.profile.tool.largest}", "correct the number", word)
        _new_length(hand, number)
        hand.out.event(hand.line, "length_offset", float(number), "on")
    elif length is not None and length.does == "no_offset":
        _new_length(hand, 0)
        hand.out.event(hand.line, "length_offset", 0.0, "off")
    if work is not None:
        # What is known under none stated is not known under this one, but for a place that the profile says itself.
        in_doubt = hand.dialect.foreign is not None and hand.dialect.profile.program.start_position is None
        if state.work_offset != work.code and (state.work_offset or in_doubt):
            x, y, z = (0.0 if axis == hand.dialect.replaced else UNKNOWN for axis in range(3))
            state.position_mm = (x, y, z)
            if state.work_offset:
                state.w_deg = UNKNOWN if hand.dialect.rotary is not None else state.w_deg
                state.part_turn_deg, state.turns = UNKNOWN, 0
        state.work_offset = work.code
        hand.out.event(hand.line, "work_offset", float(work.number), work.code)


def _new_length(hand: WordsInHand, number: int) -> None:
    """Z is not known once another offset, or the same for another tool, counts; the first cancelling code of a program changes nothing."""
    state = hand.state
    known = state.offset if state.offset is not None else 0
    if number != known and hand.dialect.replaced != 2:
        state.position_mm = (state.position_mm[0], state.position_mm[1], UNKNOWN)
    state.offset = number


def _distance(hand: WordsInHand) -> None:
    distance, back = hand.code("distance"), hand.code("cycle return")
    if distance is not None:
        hand.state.incremental = distance.does == "incremental"
    if back is not None:
        hand.state.return_to_r = back.does == "return_to_r"
