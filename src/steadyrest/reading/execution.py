"""Carries out one block, in the order of execution that NISTIR 6556, table 8, gives to what stands in it."""

from __future__ import annotations

from steadyrest.reading.arcs import arc
from steadyrest.reading.block_words import BlockWords
from steadyrest.reading.blocks import Block
from steadyrest.reading.collector import Collector
from steadyrest.reading.cycles import drilling_cycle
from steadyrest.reading.dialect import CYCLE_END, CYCLES, PATH_CONTROL, Dialect, code_key
from steadyrest.reading.motion_read import BESIDE_WORDS, CLOCKWISE, COUNTERCLOCKWISE, FEED_INVERSE, LINE, RAPID, EventKind
from steadyrest.reading.moves import machine_move, reference_move, straight
from steadyrest.reading.settings import before_motion, take_feed
from steadyrest.reading.state import UNKNOWN, State

ARCS = ("arc_clockwise", "arc_counterclockwise")
MOTIONS = {"rapid": RAPID, "line": LINE, "arc_clockwise": CLOCKWISE, "arc_counterclockwise": COUNTERCLOCKWISE}
SWITCHES = ("coolant", "spindle", "clamp", "tool change")
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
    if not block.lenient:
        _modes_stated(block)
    if block.only_motion():
        take_feed(block)
    else:
        before_motion(block)
    _motion(block)
    block.check_all_used()
    stop = block.code("stop")
    if stop is not None:  # after the motion of its block
        out.event(block.line, STOPS[stop.does], text=stop.code)
        state.ended = stop.does == "end"
    if state.feed_mode == FEED_INVERSE:
        state.feed = None


def only_switches(block: Block, dialect: Dialect) -> bool:
    """Whether a plain block neither moves anything nor changes what motion depends on, but may switch something, pause or stop."""
    codes, profile = dialect.codes, dialect.profile
    others = "S" + profile.tool.letter + profile.program.block_numbers.letter
    meant = {word: codes[key] for word in block.words if (key := (word.letter, round(word.value * 10))) in codes}
    others += profile.codes.dwell_letter if any(meaning.does == "dwell" for meaning in meant.values()) else ""
    switching = all(code.group in SWITCHES or code.does in ("dwell", "stop", "optional_stop") for code in meant.values())
    return switching and all(word in meant or word.letter in others for word in block.words)


def _modes_stated(block: BlockWords) -> None:
    """Which codes of the safe start are stated before the first motion, and which path mode then and later."""
    for group, (code, _) in block.codes.items():
        if group == PATH_CONTROL or (not block.out.moved and code_key(code.code) in block.dialect.safe_start):
            block.out.event(block.line, "path_mode" if group == PATH_CONTROL else "mode", text=code.code)


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
