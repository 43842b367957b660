"""Rules of every block, whatever it is for: turning, clamp, travel, speed of rotation, offsets; and the space that the stock sweeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf, isnan, nan

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import INVERSE
from steadyrest.profile import RotaryLetter
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import HAIR, Setting
from steadyrest.proof.verdict import Mismatch

PART_IN = 1e-3
"""How far a speed may be off, as a fraction, before the rounding of F has to explain it."""


@dataclass(frozen=True, slots=True)
class State:
    """What the events up to here have switched; None and NaN where no event has said it yet.

    clamped                    whether the clamp of a rotary is on, by its letter
    owed_spindle, owed_clamp   pauses, seconds, that the profile asks for and that have not come yet
    """

    tool: float = nan
    selected: float = nan
    offset: float = nan
    spindle: str = "stop"
    rpm: float = nan
    coolant: frozenset[str] = frozenset()
    work: str | None = None
    clamped: Mapping[str, bool] = field(default_factory=dict)
    owed_spindle: float = 0.0
    owed_clamp: float = 0.0


Broken = tuple[int, Mismatch]
"""The first block that breaks a rule, and what it breaks."""
_ORDER = ("rotary-travel", "turn-low", "turn-clamped", "turn-in-cut", "rotary-speed", "work-offset", "length-offset")
"""Of several rules that one block breaks, the first is told."""


def first_of(found: list[Broken]) -> Broken | None:
    """The first block that breaks any of the rules found broken; None where none is."""
    return min(found, key=lambda one: (one[0], _ORDER.index(one[1].rule)), default=None)


def _broken(broken: Bools, rows: Rows, first: int, rule: str, sentence: str, line: int | None = None) -> list[Broken]:
    """Of blocks `first` on (k,) the first that breaks a rule, if one does; its own line unless another is given."""
    if not broken.any():
        return []
    row = first + int(np.argmax(broken))
    return [(row, Mismatch(rule, sentence, line=int(rows.line[row]) if line is None else line))]


def broken_by_turning(rows: Rows, setting: Setting) -> list[Broken]:
    """The rules of turning that any of the blocks breaks, whatever is switched."""
    found: list[Broken] = []
    for number, letter in enumerate(setting.rotaries):
        found += _broken_by_one(rows, number, letter, setting)
    return found


def _broken_by_one(rows: Rows, number: int, letter: RotaryLetter, setting: Setting) -> list[Broken]:
    """The same of one of the rotaries."""
    rotary, word, name = setting.rotaries[letter], rows.words_of(number), setting.name_of(letter)
    found: list[Broken] = []
    rounding_deg = setting.rounding.words_deg[number]
    if rotary.travel.kind == "limited":
        slack, lowest, highest = rounding_deg + HAIR, rotary.travel.lowest, rotary.travel.highest
        beyond = (word[1:] < lowest - slack) | (word[1:] > highest + slack)
        found += _broken(beyond, rows, 0, "rotary-travel", f"{name} goes past its travel of {lowest:g} to {highest:g} degrees")
    if rows.stands:
        return found
    turn = np.abs(np.diff(word))
    turning = _turns(word, slice(None), turn)
    height = rows.vertex[:, 2] - setting.frame.centre_mm[2]
    lowest_height = np.minimum(height[:-1], height[1:])  # NaN, an unknown height, is never high enough
    low = turning & rows.rapid & ~rows.clear & ~(lowest_height >= setting.high_mm)
    where = setting.too_low_to_turn
    found += _broken(low, rows, 0, "turn-low", f"{name} turns at rapid with the tool {where}")
    if not rotary.turns_while_cutting:
        found += _broken(turning & ~rows.rapid, rows, 0, "turn-in-cut", f"{name} turns during a cut, but this one can only index")
    with np.errstate(divide="ignore", invalid="ignore"):
        # The rounding of a block's two ends may lengthen its turn, and shorten the way of a tip whose speed F is: that is not F's doing.
        minutes = rows.minutes
        if setting.profile.feed.per_minute_counts == "tip":
            rounding_mm = 2 * (setting.slack_mm - setting.tolerance_mm)
            minutes = minutes + np.where(rows.feed_mode == INVERSE, 0.0, rounding_mm / (rows.feed_word * setting.program_scale))
        speed = np.maximum(turn - 2 * rounding_deg, 0.0) / minutes
    fast = ~rows.rapid & (speed > rotary.fastest * (1 + PART_IN) + HAIR)
    limit = f"F needs more than {name}'s limit of {rotary.fastest:g} degrees/min"
    return found + _broken(fast, rows, 0, "rotary-speed", limit)


def _turns(word_deg: Floats, which: Ints | slice, turn_deg: Floats) -> Bools:
    """Whether blocks turn the rotary, by `turn_deg` (k,), to an angle that is known."""
    return ~(turn_deg <= HAIR * 1e-3) & ~np.isnan(word_deg[1:][which])


def broken_by_switches(rows: Rows, first: int, stop: int, setting: Setting, state: State, said_on: Callable[[str], int]) -> list[Broken]:
    """The rules that blocks first to stop, a run without events in between, break because of what is switched.

    said_on   the line on which a kind of event was last
    """
    found: list[Broken] = []
    profile = setting.profile
    for number, (letter, rotary) in enumerate(setting.rotaries.items()):
        if rotary.clamp.use != "indexing" or state.clamped.get(letter) is False:
            continue
        word = rows.words_of(number)
        which = rows.turning[slice(*np.searchsorted(rows.turning, (first, stop)))]
        which = which[_turns(word, which, np.abs(word[which + 1] - word[which]))]
        clamp = "with its clamp on" if state.clamped.get(letter) else "before its clamp is released"
        if len(which):
            sentence = f"{setting.name_of(letter)} turns {clamp}"
            found.append((int(which[0]), Mismatch("turn-clamped", sentence, line=int(rows.line[which[0]]))))
    wrong_work = profile.codes.work_offset and state.work != profile.codes.work_offset
    wrong_length = profile.tool.length_offset and state.offset != state.tool
    if wrong_work or wrong_length:
        ends = np.column_stack([rows.vertex[first : stop + 1], rows.word_deg[first : stop + 1]])
        goes = ((ends[1:] != ends[:-1]) & ~np.isnan(ends[1:])).any(axis=1)
        if wrong_work:
            none, wanted = state.work is None, profile.codes.work_offset
            other = f"work offset {state.work} is on; the profile's is {wanted}"
            sentence = f"the tool moves before the profile's work offset, {wanted}, is on" if none else other
            found += _broken(goes, rows, first, "work-offset", sentence, None if none else said_on("work_offset"))
        below = goes & ~rows.clear[first:stop]  # at machine zero no length counts
        if wrong_length:
            none, other = isnan(state.offset), f"the length offset is that of tool {state.offset:g}; tool {state.tool:g} is in the spindle"
            sentence = "the tool moves before the length offset of the tool in the spindle is on" if none else other
            found += _broken(below, rows, first, "length-offset", sentence, None if none else said_on("length_offset"))
    return found


@dataclass(frozen=True, slots=True)
class SweptSpace:
    """A box over the axis of rotation, mm, open below, within which the tool's tip may touch the stock: X, Y, Z from low to high.

    About X and Y: the stock's span and its swept radius, both widened by the tool, up to the swept radius. About Z: the swept radius,
    widened by the tool, up to the stock's top.
    """

    low: tuple[float, ...]
    high: tuple[float, ...]
    centre: tuple[float, ...]

    def lowest(self, begin: Sequence[float], end: Sequence[float]) -> float:
        """The lowest height, over the axis, of a straight way inside; infinite outside, minus infinite where a height is not known."""
        if isnan(begin[2]) or isnan(end[2]):
            return -inf
        enter, leave = 0.0, 1.0
        for low, high, centre, start, stop in zip(self.low, self.high, self.centre, begin, end, strict=False):
            one, way = start - centre, stop - start
            if isnan(way):
                continue  # where it is not known, it may be over the stock
            if abs(way) < 1e-12:
                if not low <= one < high:
                    return inf
                continue
            first, last = (low - one) / way, (high - one) / way
            enter, leave = max(enter, min(first, last)), min(leave, max(first, last))
        if enter >= leave:
            return inf
        one, way = begin[2] - self.centre[2], end[2] - begin[2]
        return min(one + enter * way, one + leave * way)

    def may_hold(self, place: Sequence[float], slack_mm: float) -> bool:
        """Whether the tip may be inside at a place; a coordinate that is not known may be any."""
        for low, high, centre, at in zip(self.low, self.high, self.centre, place, strict=False):
            over = at - centre
            if over < low - slack_mm or over >= high - slack_mm:
                return False
        return True


def swept_space(setting: Setting, tool: float) -> SweptSpace:
    """The space for the tool of that number; for one that the toolpath does not have, or NaN, for the widest that it has."""
    tools = setting.toolpath.tools
    widths = [one.diameter for one in tools if one.number == tool] or [one.diameter for one in tools]
    wider = max(widths) * setting.scale / 2
    frame, reach = setting.frame, setting.swept_mm + wider
    low, high = [-reach, -reach, -inf], [reach, reach, inf]
    if frame.along != 2:
        low[frame.along], high[frame.along] = setting.span_mm[0] - wider, setting.span_mm[1] + wider
    high[2] = setting.top_mm
    return SweptSpace(tuple(low), tuple(high), tuple(frame.centre_mm.tolist()))
