"""Where in the program are we? Its blocks and events, read forward once, with the state that the events leave behind."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import isfinite, isnan, nan
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Floats, join
from steadyrest.findings import Finding
from steadyrest.profile import plain_code
from steadyrest.proof.figures import Reach, Totals
from steadyrest.proof.findings import Lowered
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import MOST_RECENT, Blocks, Rows, blocks_of, no_rows, rows_of
from steadyrest.proof.safety import HAIR, State, first_broken_rule, may_be_in_swept_space
from steadyrest.proof.setting import Setting
from steadyrest.reading import RAPID, EventRead, MotionRead, ProgramItem

Ahead = Literal["rows", "dwell", "stop", "optional_stop", "end", "nothing"]

_MOST_COMMENTS = 64
"""So many are looked through for the line in the head."""


class Cursor:
    """Steps through a program. `rows` and `at` are the run of motion being gone through; `state` what holds there."""

    def __init__(self, items: Iterable[ProgramItem], setting: Setting) -> None:
        self._items: Iterator[ProgramItem] = iter(items)
        self._setting = setting
        self._event: EventRead | None = None
        self._done_line = 0
        self._recent: deque[Blocks] = deque(maxlen=MOST_RECENT)
        self._moved = False  # whether anything has moved since the last event
        self._high_once = False  # whether the tool in the spindle has been at the height where the rotary may turn
        self._retracting = False  # whether the next block goes clear in machine coordinates
        self._clear = False  # whether the tool has gone there and has not come down since
        self._pause = nan  # seconds of the last pause
        self._said: dict[str, int] = {}  # kind of event to the line that said it last, since the last cut
        self._stated: set[str] = set()  # codes stated before anything has moved
        self._path_mode = ""
        self._broken: Mismatch | None = None
        self.sound = 0
        """The first block of this run that breaks a rule of every block; their number where none does."""
        self.rows: Rows = no_rows(setting)
        self.at = 0
        self.begun = False
        """Whether anything has moved yet."""
        self.arrival_deg = 0.0
        """How far the rotary has turned at rapid since it last changed its direction or turned in a cut."""
        self.state = State()
        self.checked: tuple[State, object] | None = None
        """For which state and pass the switches were found right."""
        self.taps: tuple[int, bool] | None = None
        """Number of the operation last asked about, and whether it taps."""
        self.by_hand: int | None = None
        """The tool that the operator has to put in at the next stop, where the controller cannot change tools."""
        self.path_modes: list[tuple[int, str]] = []
        """Line and code of each change of the path mode on the way."""
        self.marked = False
        """Whether the program begins with the profile's mark."""
        self.comments: list[str] = []
        self.totals = Totals()
        self.rapid_minutes = 0.0
        self.cut_minutes = 0.0
        self.findings: list[Finding] = []
        self.lowered = Lowered()
        self.reach = Reach()
        """Of the operation that is gone through."""

    @property
    def at_block(self) -> bool:
        """Whether a block of this run comes next."""
        return self.at < len(self.rows)

    @property
    def at_rapid(self) -> bool:
        """Whether that block is a rapid."""
        return self.at_block and bool(self.rows.motion[self.at] == RAPID)

    @property
    def line(self) -> int:
        """The line of the program that comes next, or the last one."""
        if self.at_block:
            return int(self.rows.line[self.at])
        return self._event.line if self._event is not None else self.totals.line

    @property
    def done_line(self) -> int:
        """The line of the last block that was gone through; 0 before the first."""
        return int(self.rows.line[self.at - 1]) if self.at else self._done_line

    def place(self, ahead: int = 0) -> tuple[Floats, float]:
        """Work coordinates (3,) and turn, rad, where the tool stands, or `ahead` blocks on in this run; NaN where not known."""
        return self.rows.vertex[self.at + ahead], float(self.rows.phi[self.at + ahead])

    def in_swept_space(self) -> bool:
        """Whether the tool may stand in the space that the stock sweeps: where it stands may not be known."""
        return not self._clear and may_be_in_swept_space(self._setting, self.state.tool, self.place()[0])

    def ahead(self) -> Ahead:
        """What comes next, once everything that only switches a state is carried out."""
        while not self.at_block:
            if self._event is None:
                item = next(self._items, None)
                if item is None:
                    return "nothing"
                if isinstance(item, MotionRead):
                    self._enter(item)
                    continue
                self._event = item
                self.totals.line = item.line
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
        """The last blocks up to here, and `ahead` more where there are."""
        return join([*self._recent, blocks_of(self.rows, min(self.at + ahead, len(self.rows)))])

    def advance(self, count: int, *, in_hole: bool = False) -> None:
        """The next `count` blocks are done. Raises the Mismatch of a rule that one of them breaks.

        in_hole   a hole has been begun and is not at its bottom: the rapids between its pecks are time of drilling
        """
        rows, begin, stop = self.rows, self.at, self.at + count
        if self._broken is not None and self.sound < stop:
            self.at = self.sound
            raise self._broken
        minutes = np.fmax(rows.minutes[begin:stop], rows.machine[begin:stop])
        rapid = rows.motion[begin:stop] == RAPID
        if not rapid.all():
            self._said.clear()
        if rapid.any() and not in_hole:
            self.rapid_minutes += float(minutes[rapid].sum())
            minutes = minutes[~rapid]
        self.cut_minutes += float(minutes.sum())
        self.reach.see(rows, begin, stop, self._setting)
        self.at = stop
        self._moved = True
        if not rows.stands:
            self._note_arrival(np.diff(rows.word_deg[begin : stop + 1]), rapid)

    def _note_arrival(self, turn: Floats, rapid: Bools) -> None:
        turning = np.flatnonzero(~(np.abs(turn) <= 1e-9))
        if len(turning) == 0:
            return
        steps = np.where(rapid[turning], turn[turning], np.nan)  # from an angle that is not known, or in a cut: no direction counts
        steps = np.concatenate(([self.arrival_deg], steps))
        others = np.flatnonzero(~(steps * steps[-1] > 0))
        self.arrival_deg = float(steps[others[-1] + 1 :].sum()) if len(others) else float(steps.sum())

    def more_rows(self, least: int) -> list[Rows]:
        """The run of motion being gone through and as many after it as make up `least` blocks: for the diagnosis, after which nothing
        can be compared any more.
        """
        found = [self.rows]
        count = len(self.rows) - self.at
        while count < least and (item := next(self._items, None)) is not None:
            if isinstance(item, MotionRead) and len(item):
                found.append(rows_of(item, self._setting))
                count += len(item)
        return found

    def _enter(self, read: MotionRead) -> None:
        if len(read) == 0:
            return
        if not self.begun:
            self._check_modes(int(read.line[0]))
        self._clear = bool(read.clear[-1]) or (self._retracting and len(read) == 1)
        self._retracting = False
        self._done_line = self.done_line
        self._recent.append(blocks_of(self.rows, len(self.rows)))
        self.rows, self.at, self.begun = self._clear_as_reached(rows_of(read, self._setting)), 0, True
        self.sound, self._broken = first_broken_rule(self.rows, self._setting, self.state, self.said_on)
        if self.state.owed_clamp:
            pause, line = self.pause_said(self.state.owed_clamp, "after a clamp code", "clamp", "unclamp")
            self.sound, self._broken = 0, Mismatch("clamp-pause", pause, line=line)
        self.totals.see(self.rows, turns=self._setting.rotary is not None)

    def _clear_as_reached(self, rows: Rows) -> Rows:
        """The blocks, clear in machine coordinates only once a Z word under this tool has said that it is high enough.

        The machine's own zero is the highest place that there is: a tool that was high enough once is so there. How far down a tool
        reaches from it that was only put in, nobody knows.
        """
        setting = self._setting
        if self._high_once or not isfinite(setting.clear_mm):
            return rows
        high = rows.vertex[1:, 2] - setting.frame.centre_mm[2] >= setting.clear_mm - setting.rounding.linear_mm - HAIR
        since = np.logical_or.accumulate(high)
        self._high_once = bool(since[-1])
        return rows if not rows.clear.any() else replace(rows, clear=rows.clear & since)

    def _carry_out(self, event: EventRead) -> Ahead | None:
        state, kind = self.state, event.kind
        self._said[kind] = event.line
        if kind == "dwell":
            self._pause = event.number
            if not self._moved and _pays(event.number, state.owed_clamp):
                self.state = replace(state, owed_clamp=0.0)
                return None
            if not self._moved and _pays(event.number, state.owed_spindle):
                self.state = replace(state, owed_spindle=0.0)
                return None
            return "dwell"
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
            self.marked = self.marked or event.text.startswith(self._setting.profile.program.start_mark)
        elif kind == "comment":
            if len(self.comments) < _MOST_COMMENTS:
                self.comments.append(event.text)
        else:
            self.state = self._switched(state, event)
            self._moved = False
        return None

    def _switched(self, state: State, event: EventRead) -> State:
        profile, kind, number, text = self._setting.profile, event.kind, event.number, event.text
        if kind == "tool_selected":
            used = sorted({one.tool for one in self._setting.toolpath.operations})
            if number and number not in used:
                tools = ", ".join(map(str, used))
                raise Mismatch("tool-selected", f"tool {number:g} is called; the operations use only tool {tools}", line=event.line)
            return replace(state, selected=number)
        if kind == "tool_change":
            # Where heights count under a tool's length only, none can be said before the first tool.
            if self.begun or profile.retract.form != "height" or not profile.tool.length_offset:
                self._check_place("tool-change-low", "the tool is changed")
            tool = state.selected if isnan(number) else number
            self.totals.note_tool(tool)
            self._high_once = False
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
            if kind == "unclamp" and state.clamped is not False:
                self._check_place("release-low", "the rotary's clamp is released")
            pause = self._setting.rotary.clamp.dwell if self._setting.rotary is not None else 0.0
            return replace(state, clamped=kind == "clamp", owed_clamp=pause)
        return state

    def _check_modes(self, line: int) -> None:
        """Refuse a first motion before the program has stated what the profile says that every program states."""
        profile = self._setting.profile
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
            where = "in the space that the stock sweeps" if not np.isnan(self.place()[0]).any() else "at an unknown position"
            raise Mismatch(rule, f"{what} with the tool {where}: move it clear of the stock first", line=self.line)


def _pays(seconds: float, owed: float) -> bool:
    return owed > 0 and abs(seconds - owed) <= 1e-3 * owed + 1e-9
