"""Where in the program are we? Its blocks and events, read forward once, with the state that the events leave behind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import inf, isfinite, isnan, nan, radians
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.findings import Finding
from steadyrest.profile import plain_code
from steadyrest.proof.figures import Reach, Totals, widen
from steadyrest.proof.findings import Lowered
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import Blocks, Recent, Rows, rows_of
from steadyrest.proof.safety import first_broken_rule, first_under_wrong_offset, heights, rotary_speed, swept_space
from steadyrest.proof.setting import Setting
from steadyrest.reading.model import EventRead, MotionRead, ProgramItem

Ahead = Literal["rows", "dwell", "stop", "optional_stop", "end", "nothing"]


@dataclass(frozen=True, slots=True)
class State:
    """What the events up to here have switched; None and NaN where no event has said it yet.

    owed_spindle, owed_clamp   pauses, seconds, that the profile asks for and that have not come yet
    """

    tool: float = nan
    selected: float = nan
    offset: float = nan
    spindle: str = "stop"
    rpm: float = nan
    coolant: frozenset[str] = frozenset()
    work: str | None = None
    clamped: bool | None = None
    owed_spindle: float = 0.0
    owed_clamp: float = 0.0


class Cursor:
    """Steps through a program. `rows` and `at` are the run of motion being gone through; `state` what holds there."""

    def __init__(self, items: Iterable[ProgramItem], setting: Setting) -> None:
        self._items: Iterator[ProgramItem] = iter(items)
        self._setting = setting
        self._event: EventRead | None = None
        self._broken: tuple[int, Mismatch] | None = None
        self._done_line = 0
        self._recent = Recent()
        self._moved = False  # whether anything has moved since the last event
        self._high_once = False  # whether the tool in the spindle has been at the height where the rotary may turn
        self._retracting = False  # whether the next block goes clear in machine coordinates
        self._clear = False  # whether the tool has gone there and has not come down since
        self.arrival_deg = 0.0  # how far the rotary has turned at rapid since it last changed its direction or turned in a cut
        self.state = State()
        self.totals = Totals()
        self.rows: Rows | None = None
        self.at = 0
        self.ended = False
        self.rapid_minutes = 0.0
        self.cut_minutes = 0.0
        self.checked: tuple[State, object] | None = None  # for which state and pass the switches were found right
        self.taps: tuple[int, bool] | None = None  # number of the operation last asked about, and whether it taps
        self.by_hand: int | None = None
        """The tool that the operator has to put in at the next stop, where the controller cannot change tools."""
        self._stated: set[str] = set()  # codes stated before anything has moved
        self._path_mode = ""
        self.path_modes: list[tuple[int, str]] = []
        """Line and code of each change of the path mode on the way."""
        self.marked = False  # whether the program begins with the profile's mark
        self.comments: list[str] = []
        self._pause = nan  # seconds of the last pause
        self._said: dict[str, int] = {}  # kind of event to the line that said it last, since the last cut
        self.findings: list[Finding] = []
        self.lowered = Lowered()
        self.reach: Reach | None = None
        """Of the operation that is gone through."""

    @property
    def line(self) -> int:
        """The line of the program that comes next, or the last one."""
        if self.rows is not None and self.at < len(self.rows):
            return int(self.rows.line[self.at])
        return self._event.line if self._event is not None else self.totals.line

    @property
    def done_line(self) -> int:
        """The line of the last block that was gone through; 0 before the first."""
        return int(self.rows.line[self.at - 1]) if self.rows is not None and self.at else self._done_line

    @property
    def begun(self) -> bool:
        """Whether anything has moved yet."""
        return self.rows is not None

    def in_swept_space(self) -> bool:
        """Whether the tool may stand in the space that the stock sweeps: where it stands may not be known."""
        if self._clear:
            return False
        setting = self._setting
        return swept_space(setting, self.state.tool).may_hold(self.place()[0], setting.rounding.linear_mm)

    def place(self, ahead: int = 0) -> tuple[Floats, float]:
        """Work coordinates (3,) and turn, rad, where the tool stands, or `ahead` blocks on in this run; NaN where not known."""
        if self.rows is None:
            start = self._setting.profile.program.start_position
            return (np.full(3, nan), nan) if start is None else (np.array(start[:3]), radians(start[3]) * self._setting.sense)
        return self.rows.vertex[self.at + ahead], float(self.rows.phi[self.at + ahead])

    def ahead(self) -> Ahead:
        """What comes next, once everything that only switches a state is carried out."""
        while True:
            if self.rows is not None and self.at < len(self.rows):
                return "rows"
            if self._event is None:
                item = next(self._items, None)
                if item is None:
                    return "nothing"
                if isinstance(item, MotionRead):
                    self._enter(item)
                    continue
                self._event = item
                self.totals.line = item.line
            ahead = self._carry_out(self._event)
            if ahead is not None:
                return ahead
            self._event = None

    def event_number(self) -> float:
        """The number of the event that is ahead: a pause's seconds."""
        return self._event.number if self._event is not None else nan

    def take_event(self) -> EventRead:
        """The dwell, stop or end that is ahead."""
        event = self._event
        assert event is not None
        self._event = None
        if event.kind == "program_end":
            self.ended = True
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
        return self._recent.before(self.rows, min(self.at + ahead, len(self.rows)) if self.rows is not None else 0)

    @property
    def at_block(self) -> bool:
        """Whether a block of this run comes next."""
        return self.rows is not None and self.at < len(self.rows)

    @property
    def sound(self) -> int:
        """The first block of this run that breaks a rule of every block; their number where none does."""
        if self._broken is not None:
            return self._broken[0]
        return len(self.rows) if self.rows is not None else 0

    def advance(self, count: int, *, in_hole: bool = False) -> None:
        """The next `count` blocks are done. Raises the Mismatch of a rule that one of them breaks.

        in_hole   a hole has been begun and is not at its bottom: the rapids between its pecks are time of drilling
        """
        rows = self.rows
        assert rows is not None
        stop = self.at + count
        if self._broken is not None and self._broken[0] < stop:
            self.at = self._broken[0]
            raise self._broken[1]
        part = slice(self.at, stop)
        minutes = np.fmax(rows.minutes[part], rows.machine[part])
        rapid = rows.motion[part] == 0
        if not rapid.all():
            self._said.clear()
        if rapid.any() and not in_hole:
            self.rapid_minutes += float(minutes[rapid].sum())
            self.cut_minutes += float(minutes[~rapid].sum())
        else:
            self.cut_minutes += float(minutes.sum())
        if self.reach is not None:
            self.reach.see(rows, self.at, stop, self._setting)
        self.at = stop
        self._moved = True
        if not rows.stands:
            self._note_arrival(np.diff(rows.word_deg[part.start : stop + 1]), rapid)

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
        found = [self.rows] if self.rows is not None else []
        count = len(self.rows) - self.at if self.rows is not None else 0
        while count < least and (item := next(self._items, None)) is not None:
            if isinstance(item, MotionRead) and len(item):
                rows = rows_of(item, self._setting)
                found.append(rows)
                count += len(rows)
        return found

    def _enter(self, read: MotionRead) -> None:
        if len(read) == 0:
            return
        setting, totals = self._setting, self.totals
        rows = self._clear_as_reached(rows_of(read, setting))
        if not self.begun:
            self._check_modes(int(read.line[0]))
        went_clear = self._retracting and len(read) == 1
        self._clear, self._retracting = bool(read.clear[-1]) or went_clear, False
        self._done_line = self.done_line
        self._recent.leave(self.rows)
        self.rows, self.at = rows, 0
        state, profile = self.state, setting.profile
        work = not profile.codes.work_offset or state.work == profile.codes.work_offset
        length = not profile.tool.length_offset or state.offset == state.tool
        found = first_broken_rule(rows, setting, state.clamped), first_under_wrong_offset(rows, work_right=work, length_right=length)
        self._broken = min((one for one in found if one is not None), key=lambda one: one[0], default=None)
        wrong = self._broken[1] if self._broken is not None else None
        if wrong is not None and wrong.rule == "length-offset" and not isnan(state.offset):
            wrong.line = self.said_on("length_offset")
            wrong.sentence = f"the length offset is that of tool {state.offset:g}; tool {state.tool:g} is in the spindle"
        if wrong is not None and wrong.rule == "work-offset" and state.work is not None:
            wrong.line = self.said_on("work_offset")
            wrong.sentence = f"work offset {state.work} is on; the profile's is {profile.codes.work_offset}"
        if self.state.owed_clamp:
            pause, line = self.pause_said(self.state.owed_clamp, "after a clamp code", "clamp", "unclamp")
            self._broken = 0, Mismatch("clamp-pause", pause, line=line)
        totals.line = int(rows.line[-1])
        for axis in range(3):  # column by column: a reduction across the columns is fifty times slower
            column = rows.vertex[:, axis]
            totals.lowest[axis] = np.fmin(totals.lowest[axis], np.fmin.reduce(column))
            totals.highest[axis] = np.fmax(totals.highest[axis], np.fmax.reduce(column))
            if rows.sweep is not None:
                arcs = np.flatnonzero(rows.motion > 1)
                lows, highs = column[arcs], column[arcs]
                widen(lows, highs, np.arange(len(arcs)), rows, arcs, axis)
                totals.lowest[axis] = np.fmin(totals.lowest[axis], np.fmin.reduce(lows, initial=inf))
                totals.highest[axis] = np.fmax(totals.highest[axis], np.fmax.reduce(highs, initial=-inf))
        if not rows.stands:
            turn = np.abs(np.diff(rows.word_deg))
            totals.turning_deg += float(np.nansum(turn))
            totals.rapid_turning_deg += float(np.nansum(turn[rows.rapid]))
            totals.fastest_deg_per_min = max(totals.fastest_deg_per_min, rotary_speed(rows))
        if setting.rotary is not None:
            known = rows.word_deg if rows.stands else rows.word_deg[~np.isnan(rows.word_deg)]
            if len(known) and not isnan(known[-1]):
                totals.first_deg = float(known[0]) if isnan(totals.first_deg) else totals.first_deg
                totals.last_deg = float(known[-1])
            totals.lowest_deg = float(np.fmin(totals.lowest_deg, np.fmin.reduce(rows.word_deg)))
            totals.highest_deg = float(np.fmax(totals.highest_deg, np.fmax.reduce(rows.word_deg)))

    def _clear_as_reached(self, rows: Rows) -> Rows:
        """The blocks, clear in machine coordinates only once a Z word under this tool has said that it is high enough.

        The machine's own zero is the highest place that there is: a tool that was high enough once is so there. How far down a tool
        reaches from it that was only put in, nobody knows.
        """
        clear_mm = self._setting.clear_mm
        if self._high_once or not isfinite(clear_mm):
            return rows
        high = heights(rows, self._setting)[1:] >= clear_mm - self._setting.rounding.linear_mm - 1e-6
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
        if kind in ("stop", "optional_stop"):
            if kind == "stop" and self.by_hand is not None:
                self._check_place("tool-change-low", "the tool is changed")
                self.state, self.by_hand = replace(state, tool=self.by_hand, selected=self.by_hand), None
                self._note_tool(self.state.tool)
                return None
            return "stop" if kind == "stop" else "optional_stop"
        if kind == "program_end":
            return "end"
        if kind == "retract":
            self._retracting = True
            return None
        if kind in ("mode", "path_mode"):
            self._stated.add(plain_code(event.text))
            if kind == "path_mode" and self.begun and event.text != self._path_mode:
                self.path_modes.append((event.line, event.text))
            self._path_mode = event.text if kind == "path_mode" else self._path_mode
            return None
        if kind == "program_start":
            self.marked = self.marked or event.text.startswith(self._setting.profile.program.start_mark)
            return None
        if kind == "comment":
            if len(self.comments) < 64:
                self.comments.append(event.text)
            return None
        self.state = self._switched(state, event)
        self._moved = False
        return None

    def _switched(self, state: State, event: EventRead) -> State:
        profile, kind = self._setting.profile, event.kind
        if kind == "tool_selected":
            if event.number and not any(event.number == one.tool for one in self._setting.toolpath.operations):
                tools = ", ".join(str(number) for number in sorted({one.tool for one in self._setting.toolpath.operations}))
                raise Mismatch("tool-selected", f"tool {event.number:g} is called; the operations cut with {tools}", line=event.line)
            return replace(state, selected=event.number)
        if kind == "tool_change":
            # Where heights count under a tool's length only, none can be said before the first tool.
            if self.begun or profile.retract.form != "height" or not profile.tool.length_offset:
                self._check_place("tool-change-low", "the tool is changed")
            tool = state.selected if isnan(event.number) else event.number
            self._note_tool(tool)
            self._high_once = False
            return replace(state, tool=tool, selected=tool, offset=nan)
        if kind == "length_offset":
            if event.number != state.offset and self.begun:
                self._check_place("offset-low", "the length offset changes")
            return replace(state, offset=event.number)
        if kind == "spindle":
            rpm = state.rpm if isnan(event.number) else event.number
            if state.spindle != "stop" and (event.text != state.spindle or rpm == 0):
                self._check_place("spindle-stop-low", "the spindle stops or changes its direction")
            starts = event.text != "stop" and (event.text != state.spindle or rpm != state.rpm)
            owed = profile.spindle.dwell if starts else 0.0 if event.text == "stop" else state.owed_spindle
            return replace(state, spindle=event.text, rpm=rpm, owed_spindle=owed)
        if kind == "work_offset":
            if event.text != state.work and self.begun:
                self._check_place("offset-low", "the work offset changes")
            return replace(state, work=event.text)
        if kind == "coolant":
            return replace(state, coolant=frozenset() if event.text == "off" else state.coolant | {event.text})
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
                raise Mismatch("mode", f"{code} of the profile's safe start is not stated before the first motion", line=line)
        wanted = profile.codes.path_mode
        if wanted and (not self._path_mode or plain_code(self._path_mode) != plain_code(wanted)):
            stands = f"{self._path_mode} is on" if self._path_mode else "none is stated"
            raise Mismatch("path-mode", f"path mode: {stands} before the first motion; the profile's is {wanted}", line=line)

    def _check_place(self, rule: str, what: str) -> None:
        """Refuse what the event that is ahead does, if the tool may stand in the space that the stock sweeps."""
        if self.in_swept_space():
            where = "in the space that the stock sweeps" if not np.isnan(self.place()[0]).any() else "at a place that is not known"
            raise Mismatch(rule, f"{what} with the tool {where}: it has to go clear of the stock first", line=self.line)

    def _note_tool(self, number: float) -> None:
        if not isnan(number) and int(number) not in self.totals.tools:
            self.totals.tools.append(int(number))


def _pays(seconds: float, owed: float) -> bool:
    return owed > 0 and abs(seconds - owed) <= 1e-3 * owed + 1e-9
