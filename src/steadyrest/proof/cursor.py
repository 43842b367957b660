"""Where in the program are we? Its blocks and events, read forward once, with the state that the events leave behind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from math import isfinite, isnan, nan
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, join
from steadyrest.conventions import RAPID
from steadyrest.findings import Finding
from steadyrest.profile import plain_code
from steadyrest.proof.figures import Lowered, Totals, extents, widen_reach
from steadyrest.proof.geometry import Stand
from steadyrest.proof.lines_said import other_lines
from steadyrest.proof.rows import Blocks, Rows, blocks_of, no_rows, rows_of
from steadyrest.proof.safety import Broken, State, SweptSpace, broken_by_switches, broken_by_turning, first_of, swept_space
from steadyrest.proof.setting import HAIR, Setting
from steadyrest.proof.swept_ball import SweptBall, swept_ball
from steadyrest.proof.verdict import Mismatch, OperationFigures
from steadyrest.reading import EventRead, Piece

Ahead = Literal["rows", "dwell", "stop", "optional_stop", "end", "nothing"]

_MOST_COMMENTS = 64
"""So many are looked through for the line in the head."""


class Cursor:
    """Steps through a program. `rows` are the blocks of the piece being gone through, `at` the next; `state` is what holds there.

    Blocks between two events are a run: `at` to `stop` is the rest of one, of which those up to `sound` break no rule of every block.
    """

    def __init__(self, items: Iterable[Piece], setting: Setting, seen: Callable[[Piece], None] | None = None) -> None:
        """`seen` is called with each of the pieces when its turn comes."""
        self._pieces, self._seen = iter(items), seen
        if setting.has_head and setting.profile.feed.per_minute_counts == "tip":  # how long a head's block takes is known with its tool
            self._pieces = (part for piece in items for part in piece.parted("tool_change", "stop"))
        self.setting = setting
        self._events: list[tuple[int, EventRead]] = []  # of this piece, each with the number of blocks before it
        self._next_event = 0
        self._event: EventRead | None = None
        self._done_line = 0
        self._recent = no_rows(setting)
        self._moved = False  # whether anything has moved since the last event
        self._high_once = False  # whether the tool in the spindle has been at the height where the rotary may turn
        self._retracting = False  # whether the next block goes clear in machine coordinates
        self._retracted = -1  # the block that did, where it is a run of its own
        self._clear = False  # whether the tool stood clear in machine coordinates at the end of the piece before
        self._read_clear: Bools = np.empty(0, np.bool_)
        self._pause = nan  # seconds of the last pause
        self._said: dict[str, int] = {}  # kind of event to the line that said it last, since the last cut
        self._stated: set[str] = set()  # codes stated before anything has moved
        self._path_mode = ""
        self._by_turning: list[Broken] = []
        self._broken: Mismatch | None = None
        self._counted = 0
        self._spaces: dict[float, SweptSpace | SweptBall] = {}
        self._arrived_deg = [0.0] * max(len(setting.rotaries), 1)  # as `arrival_deg`, at the end of the piece before
        self.rows: Rows = no_rows(setting)
        self.at = self.stop = self.sound = 0
        self.begun = False
        """Whether anything has moved yet."""
        self.state = State()
        self.checked: tuple[State, object] | None = None
        """For which state and pass the switches were found right."""
        self.by_hand: int | None = None
        """The tool that the operator has to put in at the next stop, where the controller cannot change tools."""
        self.path_modes: list[tuple[int, str]] = []
        """Line and code of each change of the path mode on the way."""
        self.marked = False
        """Whether the program begins with the profile's mark."""
        self.comments: list[str] = []
        self.totals = Totals.of_rotaries(len(setting.rotaries))
        self.findings: list[Finding] = []
        self.lowered = Lowered()
        self.figures: OperationFigures | None = None
        """Of the operation that is gone through."""

    @property
    def at_block(self) -> bool:
        """Whether a block of this run comes next."""
        return self.at < self.stop

    @property
    def before(self) -> Rows:
        """The blocks of the piece before."""
        return self._recent

    @property
    def at_rapid(self) -> bool:
        """Whether that block is a rapid."""
        return self.at < self.stop and bool(self.rows.motion[self.at] == RAPID)

    @property
    def line(self) -> int:
        """The line of the program that comes next, or the last one."""
        if self.at_block:
            return int(self.rows.line[self.at])
        return self._event.line if self._event is not None else self.totals.whole.lines

    @property
    def done_line(self) -> int:
        """The line of the last block that was gone through; 0 before the first."""
        return int(self.rows.line[self.at - 1]) if self.at else self._done_line

    def place(self, ahead: int = 0) -> Stand:
        """Where the tool stands, or will `ahead` blocks on in this piece."""
        return self.rows.stand(self.at + ahead)

    def space(self, tool: float) -> SweptSpace | SweptBall:
        """What the stock sweeps, for a tool."""
        if tool not in self._spaces:
            self._spaces[tool] = swept_ball(self.setting, tool) if self.setting.lines else swept_space(self.setting, tool)
        return self._spaces[tool]

    @property
    def _stands_clear(self) -> bool:
        if self.at == 0:
            return self._clear
        return bool(self._read_clear[self.at - 1]) or self._retracted == self.at - 1

    def in_swept_space(self) -> bool:
        """Whether the tool, which has come to an event, may stand in the space that the stock sweeps: where may not be known."""
        slack = self.setting.rounding.linear_mm + HAIR
        return not self._stands_clear and self.space(self.state.tool).may_hold(self.place(), slack)

    def ahead(self) -> Ahead:
        """What comes next, once everything that only switches a state is carried out."""
        while self.at >= self.stop:
            if self._event is None:
                if self._next_event < len(self._events) and self._events[self._next_event][0] == self.at:
                    self._event = self._events[self._next_event][1]
                    self._next_event += 1
                elif self.at < len(self.rows):
                    self._begin_run()
                    continue
                elif (piece := next(self._pieces, None)) is not None:
                    self._enter(piece)
                    continue
                else:
                    return "nothing"
            if (ahead := self._carry_out(self._event)) is not None:
                return ahead
            self._event = None
        return "rows"

    def event_number(self) -> float:
        """The number of the event that is ahead: a pause's seconds."""
        return self._event.number if self._event is not None else nan

    def take_event(self) -> EventRead:
        """The dwell, stop or end that is ahead."""
        event, self._event = self._event, None
        assert event is not None
        return event

    def said_on(self, *kinds: str) -> int:
        """The line on which something was switched last, if that was since the last cut, else the line that comes next."""
        return max((self._said[kind] for kind in kinds if kind in self._said), default=self.line)

    def pause_said(self, owed: float, when: str, *after: str) -> tuple[str, int]:
        """What is wrong where the profile asks for a pause of `owed` seconds after an event, and the line: another pause, or none."""
        if self._said.get("dwell", 0) > max(self._said.get(kind, 0) for kind in after):
            return f"a pause of {self._pause:g} s; the profile asks for {owed:g} s {when}", self._said["dwell"]
        return f"the pause of {owed:g} s that the profile asks for {when} is missing", self.line

    def recent(self, ahead: int) -> Blocks:
        """The last blocks up to here, and `ahead` more where the run has them."""
        return join([blocks_of(self._recent, len(self._recent)), blocks_of(self.rows, min(self.at + ahead, self.stop))])

    def advance(self, count: int, *, in_hole: bool = False) -> None:
        """The next `count` blocks of the run are done. Raises the Mismatch of a rule that one of them breaks.

        in_hole   a hole has been begun and is not at its bottom: the rapids between its pecks are time of drilling
        """
        begin, stop = self.at, self.at + count
        if self._broken is not None and self.sound < stop:
            self.at = self.sound
            raise self._broken
        if self._cuts[stop] > self._cuts[begin]:
            self._said.clear()
        if in_hole:
            rapid = float(self._rapid_minutes[stop]) - float(self._rapid_minutes[begin])
            self.totals.whole.rapid_minutes -= rapid
            self.totals.whole.cutting_minutes += rapid
        self.at = stop
        self._moved = True

    def count(self) -> None:
        """Take down the minutes and the reach of what was gone through since this was asked last."""
        begin, stop = self._counted, self.at
        if begin < stop:
            self.totals.whole.rapid_minutes += float(self._rapid_minutes[stop]) - float(self._rapid_minutes[begin])
            self.totals.whole.cutting_minutes += float(self._cut_minutes[stop]) - float(self._cut_minutes[begin])
            if self.figures is not None:
                widen_reach(self.figures, self._lows[begin:stop], self._highs[begin:stop], self.rows.line[begin:stop])
        self._counted = stop

    def arrival_deg(self, rotary: int = 0) -> float:
        """How far a rotary has turned at rapid since it last changed its direction or turned in a cut."""
        rows, turning = self.rows, self.rows.turning[: np.searchsorted(self.rows.turning, self.at)]
        word, before = rows.words_of(rotary), self._arrived_deg[rotary]
        turn = word[turning + 1] - word[turning]
        steps = np.where(rows.rapid[turning], turn, np.nan)  # from an angle that is not known, or in a cut: no direction counts
        steps = np.concatenate(([before], steps[~(np.abs(turn) <= 1e-9)]))
        others = np.flatnonzero(~(steps * steps[-1] > 0))
        return float(steps[others[-1] + 1 :].sum()) if len(others) else float(steps.sum())

    def rows_left(self) -> Iterator[Rows]:
        """The blocks being gone through and those after them: for the diagnosis, after which nothing can be compared any more."""
        yield self.rows
        yield from (rows_of(piece.motion, self.setting, self.state.tool) for piece in self._pieces if piece.motion is not None)

    def _enter(self, piece: Piece) -> None:
        """Go on to a piece: what can be told of all of its blocks, whatever is switched, is told at once."""
        if self._seen is not None:
            self._seen(piece)
        self._events, self._next_event = piece.events, 0
        self.totals.whole.lines = max([self.totals.whole.lines, *(event.line for _, event in piece.events[-1:])])
        read, setting = piece.motion, self.setting
        if read is None:  # its events stand before a block of the next piece
            self._events = [(self.at, event) for _, event in piece.events]
            self._high_once = self._high_once and not any(event.kind == "tool_change" for _, event in piece.events)
            return
        self.count()
        self._clear, self._done_line = self._stands_clear, self.done_line
        self._arrived_deg = list(map(self.arrival_deg, range(len(self._arrived_deg))))
        self._recent, self._retracted = self.rows, -1
        rows = self.rows = self._clear_as_reached(rows_of(read, setting, self.state.tool), piece.events)
        self._read_clear = read.clear
        self.at = self.stop = self._counted = 0
        self._by_turning = broken_by_turning(rows, setting)
        self._lows, self._highs = (column / setting.scale for column in extents(rows, setting))
        minutes, rapid = np.fmax(rows.minutes, rows.machine), rows.rapid
        self._rapid_minutes, self._cut_minutes, self._cuts = (
            np.append(0, np.cumsum(column)) for column in (np.where(rapid, minutes, 0.0), np.where(rapid, 0.0, minutes), ~rapid)
        )
        self.totals.see(rows)
        self.totals.whole.lines = max(self.totals.whole.lines, int(rows.line[-1]))

    def _begin_run(self) -> None:
        """Go on to the blocks up to the next event: what is switched now holds for all of them."""
        if not self.begun:
            self._check_modes(int(self.rows.line[self.at]))
            self.begun = True
        first, setting = self.at, self.setting
        stop = self.stop = self._events[self._next_event][0] if self._next_event < len(self._events) else len(self.rows)
        if self._retracting:
            self._retracting, self._retracted = False, first if stop == first + 1 else -1
        found = broken_by_switches(self.rows, first, stop, setting, self.state, self.said_on)
        broken = first_of([*self._by_turning, *found])
        self.sound, self._broken = broken if broken is not None and broken[0] < stop else (stop, None)
        if self.state.owed_clamp:
            pause, line = self.pause_said(self.state.owed_clamp, "after a clamp code", "clamp", "unclamp")
            self.sound, self._broken = first, Mismatch("clamp-pause", pause, line=line)

    def _clear_as_reached(self, rows: Rows, events: list[tuple[int, EventRead]]) -> Rows:
        """The blocks, clear in machine coordinates only once a Z word under this tool has said that it is high enough.

        The machine's own zero is the highest place that there is: a tool that was high enough once is so there. How far down a tool
        reaches from it that was only put in, nobody knows.
        """
        setting = self.setting
        if not isfinite(setting.clear_mm):
            return rows
        high = rows.vertex[1:, 2] - setting.frame.centre_mm[2] >= setting.high_mm
        changes = [row for row, event in events if event.kind == "tool_change"]
        since = np.empty(len(rows), np.bool_)
        for number, (first, stop) in enumerate(pairwise([0, *changes, len(rows)])):
            self._high_once = self._high_once and number == 0
            since[first:stop] = self._high_once | np.logical_or.accumulate(high[first:stop])
            self._high_once = bool(since[stop - 1]) if stop > first else self._high_once
        return rows if not rows.clear.any() else replace(rows, clear=rows.clear & since)

    def _carry_out(self, event: EventRead) -> Ahead | None:
        state, kind = self.state, event.kind
        self._said[kind] = event.line
        if kind == "dwell":
            self._pause = event.number
            if not self._moved and _pays(event.number, state.owed_clamp):
                self.state = replace(state, owed_clamp=0.0)
            elif not self._moved and _pays(event.number, state.owed_spindle):
                self.state = replace(state, owed_spindle=0.0)
            else:
                return "dwell"
            return None
        if kind == "stop" and self.by_hand is not None:
            self._check_place("tool-change-low", "the tool is changed")
            self.state, self.by_hand = replace(state, tool=self.by_hand, selected=self.by_hand), None
            self.totals.note_tool(self.state.tool)
            return None
        if kind == "stop" or kind == "optional_stop":
            return kind
        if kind == "program_end":
            return "end"
        if kind == "retract":
            self._retracting = True
        elif kind in ("mode", "path_mode"):
            self._stated.add(plain_code(event.text))
            if kind == "path_mode":
                if self.begun and event.text != self._path_mode:
                    self.path_modes.append((event.line, event.text))
                self._path_mode = event.text
        elif kind == "program_start":
            self.marked = self.marked or event.text.startswith(self.setting.profile.program.start_mark)
        elif kind == "comment":
            if len(self.comments) < _MOST_COMMENTS:
                self.comments.append(event.text)
            if self.setting.lines and (wrong := other_lines(event.text, self.setting)):
                raise Mismatch("lines", f"the program says that it was made {wrong}", line=event.line)
        else:
            self.state = self._switched(state, event)
            self._moved = False
        return None

    def _switched(self, state: State, event: EventRead) -> State:
        profile, kind, number, text = self.setting.profile, event.kind, event.number, event.text
        if kind == "tool_selected":
            if number and number not in self.setting.tools_used:
                tools = ", ".join(map(str, sorted(self.setting.tools_used)))
                raise Mismatch("tool-selected", f"tool {number:g} is called; the operations use only tool {tools}", line=event.line)
            return replace(state, selected=number)
        if kind == "tool_change":
            # Where heights count under a tool's length only, none can be said before the first tool.
            if self.begun or profile.retract.form != "height" or not profile.tool.length_offset:
                self._check_place("tool-change-low", "the tool is changed")
            tool = state.selected if isnan(number) else number
            self.totals.note_tool(tool)
            return replace(state, tool=tool, selected=tool, offset=nan)
        if kind == "length_offset":
            if number != state.offset and self.begun:
                self._check_place("offset-low", "the length offset changes")
            return replace(state, offset=number)
        if kind == "spindle":
            rpm = state.rpm if isnan(number) else number
            if state.spindle != "stop" and (text != state.spindle or rpm == 0):
                self._check_place("spindle-stop-low", "the spindle stops or changes its direction")
            starts = text != "stop" and (text != state.spindle or rpm != state.rpm)
            owed = profile.spindle.dwell if starts else 0.0 if text == "stop" else state.owed_spindle
            return replace(state, spindle=text, rpm=rpm, owed_spindle=owed)
        if kind == "work_offset":
            if text != state.work and self.begun:
                self._check_place("offset-low", "the work offset changes")
            return replace(state, work=text)
        if kind == "coolant":
            return replace(state, coolant=frozenset() if text == "off" else state.coolant | {text})
        if kind in ("clamp", "unclamp"):
            meant = self._clamped_by(kind, text)
            for letter in meant:
                if kind == "unclamp" and state.clamped.get(letter) is not False:
                    self._check_place("release-low", f"{self.setting.name_of(letter)}'s clamp is released")
            pause = max((rotary.clamp.dwell for letter, rotary in self.setting.rotaries.items() if letter in meant), default=0.0)
            return replace(state, clamped={**state.clamped, **dict.fromkeys(meant, kind == "clamp")}, owed_clamp=pause)
        return state

    def _clamped_by(self, kind: str, code: str) -> list[str]:
        """The rotaries that a clamp code is of; one without a name where the toolpath turns none."""
        clamps = {letter: rotary.clamp for letter, rotary in self.setting.rotaries.items()}
        codes = {letter: clamp.on if kind == "clamp" else clamp.off for letter, clamp in clamps.items()}
        return [letter for letter, its in codes.items() if its and plain_code(its) == plain_code(code)] or [""]

    def _check_modes(self, line: int) -> None:
        """Refuse a first motion before the program has stated what the profile says that every program states."""
        profile = self.setting.profile
        for code in " ".join(profile.program.safe_start).split():
            if plain_code(code) not in self._stated:
                raise Mismatch("mode", f"{code} of the profile's safe start is missing before the first motion", line=line)
        wanted = profile.codes.path_mode
        if wanted and (not self._path_mode or plain_code(self._path_mode) != plain_code(wanted)):
            stands = f"{self._path_mode} is on" if self._path_mode else "none is set"
            raise Mismatch("path-mode", f"path mode: {stands} before the first motion; the profile's is {wanted}", line=line)

    def _check_place(self, rule: str, what: str) -> None:
        """Refuse what the event that is ahead does, if the tool may stand in the space that the stock sweeps."""
        if self.in_swept_space():
            where = "in the space that the stock sweeps" if not any(map(isnan, self.place()[:3])) else "at an unknown position"
            raise Mismatch(rule, f"{what} with the tool {where}: move it clear of the stock first", line=self.line)


def _pays(seconds: float, owed: float) -> bool:
    return owed > 0 and abs(seconds - owed) <= 1e-3 * owed + 1e-9
