"""Carries out one block, in the order of execution that NISTIR 6556, table 8, gives to what stands in it."""

from __future__ import annotations

from steadyrest.reading.arcs import arc
from steadyrest.reading.before_motion import before_motion, take_feed
from steadyrest.reading.blocks import Block
from steadyrest.reading.columns import Collector
from steadyrest.reading.cycles import drilling_cycle
from steadyrest.reading.dialect import CYCLE_END, CYCLES, PATH_CONTROL, Dialect, code_key
from steadyrest.reading.model import (
    BESIDE_WORDS,
    CLOCKWISE,
    COUNTERCLOCKWISE,
    FEED_INVERSE,
    LINE,
    RAPID,
)
from steadyrest.reading.moves import machine_move, reference_move, straight
from steadyrest.reading.state import State
from steadyrest.reading.words_in_hand import WordsInHand

NAN = float("nan")
ARCS = ("arc_clockwise", "arc_counterclockwise")
MOTIONS = {"rapid": RAPID, "line": LINE, "arc_clockwise": CLOCKWISE, "arc_counterclockwise": COUNTERCLOCKWISE}


def carry_out(block: Block, state: State, dialect: Dialect, out: Collector, file: str | None = None) -> None:
    """Change the state by one block and give its motions and events to `out`.

    raises   ProgramError with line and column for every condition that NISTIR 6556 calls an error and that concerns a single block
    """
    for comment in block.comments:
        out.event(block.line, "comment", BESIDE_WORDS if block.words and dialect.foreign is not None else NAN, comment)
    hand = WordsInHand(block, state, dialect, out, file)
    if not block.words:
        return
    if block.skip:
        hand.fail(
            "a block with / is carried out or left out as a switch at the machine says: neither can be proved",
            "take the / or the block out",
        )
    if dialect.foreign is None:
        _modes_stated(hand)
    if hand.only_motion():
        take_feed(hand)
    else:
        before_motion(hand)
    _motion(hand)
    hand.check_all_used()
    _stop(hand)
    if state.feed_mode == FEED_INVERSE:
        state.feed = None


def _modes_stated(hand: WordsInHand) -> None:
    """Which codes of the safe start are stated before the first motion, and which path mode then and later."""
    for group, (code, _) in hand.codes.items():
        if group == PATH_CONTROL or (not hand.out.moved and code_key(code.code) in hand.dialect.safe_start):
            hand.out.event(hand.line, "path_mode" if group == PATH_CONTROL else "mode", text=code.code)


def _motion(hand: WordsInHand) -> None:
    """The block's motion: that of its own code, or of the one that holds (NISTIR 6556, 3.4: only one code may use the axis words)."""
    state = hand.state
    one_block, code = hand.code("one block"), hand.code("motion")
    special = one_block.does if one_block is not None else ""
    if special == "reference":
        if code is not None and code.does in MOTIONS and hand.dialect.foreign is not None:
            state.motion = code.does
        elif code is not None and code.does != "cancel":
            hand.fail(
                f"{hand.codes['one block'][0].code} and {code.code} both use the axis words",
                "put them into two blocks",
                hand.code_word("motion"),
            )
        reference_move(hand)
        return
    if code is not None and code.does == "cancel":
        state.motion = "cancel"
    if hand.code(CYCLE_END) is not None and state.motion in CYCLES:
        state.motion = state.motion_before_cycle
    motion = code.does if code is not None else state.motion
    if special == "machine":
        if motion not in ("rapid", "line") or not hand.has_axis_words():
            hand.fail(
                f"{hand.codes['one block'][0].code} needs a rapid or a line, and an axis word",
                "complete the block",
                hand.code_word("one block"),
            )
        state.motion = motion
        machine_move(hand, MOTIONS[motion])
        return
    if not hand.has_axis_words() and not (motion in ARCS and hand.whole_circle()):
        if hand.dialect.foreign is not None and code is not None and code.does in MOTIONS:
            state.motion = code.does
        elif code is not None and code.does != "cancel":
            hand.fail(f"{code.code} without an axis word", "give the position, or take the code out", hand.code_word("motion"))
        return
    hand.check_modes_ended(motion)
    if motion is None or motion == "cancel":
        after = f" after {hand.dialect.profile.cycles.cancel}" if motion else " before the first motion code"
        hand.fail(
            f"axis words{after}: no motion is in force", f"state {hand.dialect.profile.codes.rapid} or {hand.dialect.profile.codes.line}"
        )
    if motion in CYCLES:
        state.motion_before_cycle = state.motion_before_cycle if state.motion in CYCLES else state.motion
        drilling_cycle(hand, motion, stated=code is not None)
    elif motion in ("rapid", "line"):
        straight(hand, MOTIONS[motion])
        state.motion = motion
    else:
        arc(hand, MOTIONS[motion])
        state.motion = motion


def _stop(hand: WordsInHand) -> None:
    """Stops come after the motion of their block (NISTIR 6556, table 8)."""
    code = hand.code("stop")
    if code is None:
        return
    if code.does == "stop":
        hand.out.event(hand.line, "stop", text=code.code)
    elif code.does == "optional_stop":
        hand.out.event(hand.line, "optional_stop", text=code.code)
    else:
        hand.state.ended = True
        hand.out.event(hand.line, "program_end", text=code.code)
