"""Does a program cut what the toolpath says? Both are gone through once, side by side, to the end or to the first difference."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from math import degrees, inf, isfinite, radians
from pathlib import Path
from typing import cast

import numpy as np

from steadyrest.errors import InputError, Place
from steadyrest.findings import Finding
from steadyrest.profile import Profile, profile_digest
from steadyrest.proof.beside import ahead
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.edits import edit_of_height, edit_of_turn, edited
from steadyrest.proof.figures import Gathered
from steadyrest.proof.findings import Heights, turns_left
from steadyrest.proof.following import Follower
from steadyrest.proof.holes import FEW, follow_hole, follow_like_holes, hole_point, with_like_holes
from steadyrest.proof.intended_path import Pass, passes
from steadyrest.proof.links import take_added
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.safety import PART_IN
from steadyrest.proof.setting import Setting, setting_of
from steadyrest.proof.verdict import Failure, OperationFigures, Verdict, WholeFigures, read_head_line, stale
from steadyrest.reading import read_program
from steadyrest.reading.model import EventRead, ProgramItem
from steadyrest.toolpath import Dwell, Hole, MoveColumns, Note, Stop, Toolpath

AHEAD_FROM_BYTES = 2_000_000
"""Program files longer than this are read a little ahead of the comparison."""


def prove(
    program: Path | bytes | Iterable[bytes] | Iterable[ProgramItem],
    toolpath: Toolpath,
    profile: Profile,
    *,
    rotary_letter: str | None = None,
    tolerance: float | None = None,
    seen: Callable[[ProgramItem], None] | None = None,
) -> Verdict:
    """Compare what a program makes the machine do with what a toolpath asks for.

    program        a file, its bytes whole or in pieces, or what `read_program` gives
    rotary_letter  which of the profile's rotaries turns the part; unless given, the one along the toolpath's axis
    tolerance      how far the tip may be from its path, in the toolpath's units, part frame: 0.01 mm or 0.0004 inch unless given;
                   the rounding of the program's words comes on top, and is computed and stated
    seen           called with each item of the program on its way: for whoever wants to look at it too, without reading it again
    returns        a Verdict, proved or refused
    raises         ProgramError where the program is not in the profile's language, ToolpathError where a block of the toolpath is wrong,
                   ProfileError when the rotary does not fit, InputError for a tolerance that is none
    """
    if tolerance is not None and not 0 < tolerance < inf:
        raise InputError(f"the tolerance {tolerance:g} is no length above 0", cure="give a tolerance such as 0.01")
    setting = setting_of(toolpath, profile, rotary_letter, tolerance)
    items = _items(program, setting)
    cursor = Cursor(items if seen is None else _shown(items, seen), setting)
    trial = _Trial(cursor, setting)
    failure = trial.run()
    return trial.verdict(failure)


def _items(program: Path | bytes | Iterable[bytes] | Iterable[ProgramItem], setting: Setting) -> Iterator[ProgramItem]:
    if isinstance(program, Path | bytes):
        items = read_program(program, setting.profile, rotary_letter=setting.letter)
        yield from ahead(items) if isinstance(program, Path) and _is_long(program) else items
        return
    pieces_or_items = iter(program)
    first = next(pieces_or_items, b"")
    if isinstance(first, bytes):
        pieces = chain([first], cast("Iterator[bytes]", pieces_or_items))
        yield from read_program(pieces, setting.profile, rotary_letter=setting.letter)
        return
    yield first
    yield from cast("Iterator[ProgramItem]", pieces_or_items)


def _shown(items: Iterator[ProgramItem], seen: Callable[[ProgramItem], None]) -> Iterator[ProgramItem]:
    for item in items:
        seen(item)
        yield item


def _is_long(program: Path) -> bool:
    try:
        return program.stat().st_size > AHEAD_FROM_BYTES
    except OSError:
        return False  # reading it says what is wrong


class _Trial:
    """One run through both. Keeps the figures and knows, when something differs, where it was."""

    def __init__(self, cursor: Cursor, setting: Setting) -> None:
        self.cursor, self.setting = cursor, setting
        self.gathered: list[Gathered] = []
        self.this: Pass | None = None
        self.follower: Follower | None = None
        self.notices: list[str] = []
        self.findings: list[Finding] = []

    def run(self) -> Failure | None:
        try:
            for this in passes(self.setting):
                self._pass(this)
            self.this = None
            self._end()
        except Mismatch as mismatch:
            return self._failure(mismatch)
        return None

    def _pass(self, this: Pass) -> None:
        cursor, operation = self.cursor, this.operation
        self.this = this
        if not self.gathered or self.gathered[-1].number != this.number:
            self.gathered.append(Gathered(this.number, operation.name, operation.rotary.intent, operation.tool))
        gathered = self.gathered[-1]
        by_hand = not self.setting.profile.tool.change and cursor.state.tool != operation.tool
        cursor.by_hand = operation.tool if by_hand else None
        cursor.reach = gathered.reach
        cut, rapid = cursor.cut_minutes, cursor.rapid_minutes
        follower = self.follower = Follower(cursor, self.setting, this, gathered)
        heights = Heights(self.setting, this)
        try:
            for item in with_like_holes(operation.stream()):
                if isinstance(item, MoveColumns):
                    follower.columns(item)
                    assert follower.moves_left is not None
                    heights.see(follower.moves_left)
                elif isinstance(item, list):
                    self._holes(item, this, follower, gathered)
                    heights.see_hole(item[0])  # all of them begin and end at the same heights
                elif isinstance(item, Dwell):
                    self._dwell(item)
                elif isinstance(item, Stop):
                    self._stop(item)
                else:
                    assert isinstance(item, Note)
            follower.links.settle()
        finally:
            gathered.cut_minutes += cursor.cut_minutes - cut
            gathered.rapid_minutes += cursor.rapid_minutes - rapid
            gathered.last_line = cursor.done_line
        if (doubt := heights.finding()) is not None and doubt not in self.findings:
            self.findings.append(doubt)

    def _holes(self, holes: list[Hole], this: Pass, follower: Follower, gathered: Gathered) -> None:
        """Holes that differ in their places alone: one by the full rules, those that are simply like it at once, and so on."""
        cursor, setting, links = self.cursor, self.setting, follower.links
        at, most = 0, FEW
        while at < len(holes):
            first = bool(np.isnan(follower.point[0]))
            follower.point = follow_hole(cursor, setting, this, links, gathered, holes[at], first=first)
            at += 1
            count = follow_like_holes(cursor, setting, this, links, gathered, holes[at : at + most])
            if count:
                at += count
                follower.point = hole_point(holes[at - 1], setting)
            most = 8 * most if count == most else FEW  # no more than pays is looked at in vain

    def _dwell(self, dwell: Dwell) -> None:
        cursor, numbers = self.cursor, self.setting.profile.numbers
        if dwell.seconds == 0.0:
            if cursor.ahead() == "dwell" and cursor.event_number() == 0.0:
                cursor.take_event()
            return
        self._on_the_way()
        if cursor.ahead() != "dwell":
            raise Mismatch("pause-missing", f"the pause of {dwell.seconds:g} s is missing", line=cursor.line, move=dwell.move)
        unit = 1e-3 if self.setting.profile.codes.dwell_unit == "milliseconds" else 1.0
        letter = self.setting.profile.codes.dwell_letter
        count = 10.0 ** -numbers.by_letter.get(letter, numbers.dwell).decimals * unit
        line, seconds = cursor.line, self._take_asked(f"a pause of {dwell.seconds:g} s").number
        if not abs(seconds - dwell.seconds) <= 0.5 * count + PART_IN * dwell.seconds + 1e-9:
            raise Mismatch("pause-length", f"a pause of {seconds:g} s; asked for are {dwell.seconds:g}", line=line, move=dwell.move)

    def _on_the_way(self) -> None:
        """A pause or stop before the first point of a pass may come when the tool is on its way: any safe rapid may be first."""
        follower, cursor = self.follower, self.cursor
        if follower is None:
            return
        if not np.isnan(follower.point[0]):
            follower.links.settle()
            return
        start = cursor.place()
        while cursor.ahead() == "rows" and cursor.rows.motion[cursor.at] == 0:
            follower.links.check_leaving(start)
            cursor.advance(1)

    def _stop(self, stop: Stop) -> None:
        wanted = "optional_stop" if stop.optional else "stop"
        self._on_the_way()
        found = self.cursor.ahead()
        if found != wanted:
            what = "optional stop" if stop.optional else "stop"
            raise Mismatch("stop-missing", f"the {what} is missing", line=self.cursor.line, move=stop.move)
        self._take_asked("a stop")

    def _take_asked(self, what: str) -> EventRead:
        """The stop or pause that is ahead and that the toolpath asks for: found where the tool stands low."""
        cursor, event = self.cursor, self.cursor.take_event()
        if cursor.in_swept_space():
            sentence = f"{what}, which the toolpath asks for, with the tool in the space that the stock sweeps"
            number = self.this.number if self.this is not None else None
            cursor.findings.append(Finding("stop-in-stock", "look", sentence, event.line, number))
        return event

    def _end(self) -> None:
        """After the last move: only safe rapids, all off, and the end."""
        cursor, setting = self.cursor, self.setting
        links = self.follower.links if self.follower is not None else None
        if links is not None:
            links.settle()
        start = cursor.place()
        while (ahead := cursor.ahead()) != "end":
            if ahead == "nothing":
                raise Mismatch("no-end", "the program stops without its end code", line=cursor.line)
            if ahead != "rows":
                take_added(cursor, None)
                continue
            rows = cursor.rows
            if rows.motion[cursor.at] != 0:
                raise Mismatch("cuts-on", "the program goes on cutting after all that the toolpath asks for", line=cursor.line)
            if links is not None:
                links.check_leaving(start)
            cursor.advance(1)
        line = cursor.line
        if cursor.in_swept_space():
            raise Mismatch("end-low", "the program ends with the tool in the space that the stock sweeps, or where is not known", line=line)
        cursor.take_event()
        if cursor.ahead() != "nothing":  # reading on to the last byte also finds what is no program any more
            raise Mismatch("after-end", "the program goes on after its end code", line=cursor.line)
        if setting.profile.program.end_mark:
            cursor.totals.line += 1  # the mark stands on a line of its own, and is no word
        self._check_home(line)
        if setting.profile.program.start_mark and not cursor.marked:
            mark = setting.profile.program.start_mark
            raise Mismatch("no-mark", f"the program does not begin with {mark} on a line of its own, as the profile says", line=1)
        state = cursor.state
        if state.spindle != "stop":
            raise Mismatch("ends-on", "the spindle is on at the end of the program", line=line)
        if state.coolant:
            raise Mismatch("ends-on", "coolant is on at the end of the program", line=line)
        for axis, name in enumerate(("X", "Y", "Z")):
            travel = setting.profile.linear[name].travel if name in setting.profile.linear else 0.0
            need = float(cursor.totals.highest[axis] - cursor.totals.lowest[axis])
            if travel and isfinite(need) and need > travel:
                wrong = f"{name} goes {setting.length(need)} from end to end; its travel is {setting.length(travel)}"
                self.findings.append(Finding("travel", "stop", wrong))
        if (left := turns_left(cursor.totals, setting, line)) is not None:
            cursor.findings.append(left)

    def _check_home(self, line: int) -> None:
        """A program of steps starts where the last run has ended: the way home is part of it."""
        setting, home = self.setting, self.setting.profile.program.start_position
        if home is None:
            return
        place, phi = self.cursor.place()
        replaced = setting.rotary.replaces if setting.rotary is not None else ""
        off = max(abs(float(place[axis]) - home[axis]) for axis, name in enumerate("XYZ") if name != replaced)
        turned = 0.0 if setting.rotary is None else degrees(abs(phi - setting.sense * radians(home[3])))
        if not (off <= 2 * setting.rounding.linear_mm + 1e-6 and turned <= 2 * degrees(setting.rounding.angle_rad) + 1e-6):
            sentence = (
                f"the program does not end where it starts: {off:.4g} mm and {turned:.4g} degrees from there, and the next run cuts there"
            )
            raise Mismatch("home", sentence, line=line, distance_mm=off)

    def _failure(self, mismatch: Mismatch) -> Failure:
        this, setting = self.this, self.setting
        if mismatch.rule == "turn-low":
            edited(mismatch, edit_of_height(self.cursor, setting, setting.clear_mm + float(setting.frame.centre_mm[2])))
        elif mismatch.rule in ("backlash", "between-steps", "rotary-travel"):
            edited(mismatch, edit_of_turn(self.cursor, setting, int(mismatch.rule == "rotary-travel")))
        place = Place(
            line=mismatch.line or None,
            operation=this.number if this is not None else None,
            operation_name=(this.operation.name or None) if this is not None else None,
            move=mismatch.move,
            angle_deg=this.angle_deg if this is not None else None,
        )
        distance = None if not isfinite(mismatch.distance_mm) else mismatch.distance_mm / self.setting.scale
        cause = ""
        if this is not None and self.follower is not None:
            from steadyrest.proof.causes import likeliest_cause  # only what fails needs a cause

            cause = likeliest_cause(mismatch, self.cursor, self.setting, this, self.follower)
        return Failure(mismatch.kind, mismatch.sentence, place, distance, cause, mismatch.rule)

    def verdict(self, failure: Failure | None) -> Verdict:
        setting, cursor, totals = self.setting, self.cursor, self.cursor.totals
        toolpath, scale = setting.toolpath, setting.scale
        digests = toolpath.digest, profile_digest(setting.profile)
        old = stale(read_head_line(cursor.comments), *digests)
        notices = [old] if old else []
        extents: dict[str, tuple[float, float] | None] = {}
        for axis, name in enumerate(("X", "Y", "Z")):
            low, high = float(totals.lowest[axis]), float(totals.highest[axis])
            extents[name] = (low / scale, high / scale) if isfinite(low) and isfinite(high) else None
        turned = (totals.lowest_deg, totals.highest_deg) if isfinite(totals.lowest_deg) else None
        whole = WholeFigures(
            lines=totals.line,
            tools=tuple(totals.tools),
            extents=extents,
            rotary_extent_deg=turned,
            turning_deg=totals.turning_deg,
            rapid_turning_deg=totals.rapid_turning_deg,
            fastest_rotary_deg_per_min=totals.fastest_deg_per_min,
            cutting_minutes=cursor.cut_minutes,
            rapid_minutes=cursor.rapid_minutes,
            end_for_end=setting.end_for_end,
        )
        return Verdict(
            proved=failure is None,
            units=toolpath.units,
            tolerance=setting.tolerance_mm / scale,
            operations=tuple(self._figures(one) for one in self.gathered),
            whole=whole,
            failure=failure,
            notices=tuple(notices + self.notices),
            toolpath_digest=digests[0],
            profile_digest=digests[1],
            findings=(
                *self.findings,
                *cursor.findings,
                *self._path_modes(),
                *cursor.lowered.findings(),
                *((Finding("stale", "look", old),) if old else ()),
            ),
        )

    def _path_modes(self) -> list[Finding]:
        changes = self.cursor.path_modes
        if not changes:
            return []
        line, code = changes[0]
        return [Finding("path-mode", "look", f"the path mode changes to {code} on the way", line, count=len(changes))]

    def _figures(self, one: Gathered) -> OperationFigures:
        setting, scale = self.setting, self.setting.scale
        limit = setting.limit_mm(one.radius_mm)
        return OperationFigures(
            number=one.number,
            name=one.name,
            intent=one.intent,
            tool=one.tool,
            tip_off_path=one.tip_off_path_mm / scale,
            path_off_tip=one.path_off_tip_mm / scale,
            limit=limit / scale,
            rounding=(limit - setting.tolerance_mm) / scale,
            radius=one.radius_mm / scale,
            axis_off_deg=degrees(one.axis_rad),
            axis_limit_deg=degrees(setting.axis_limit_rad),
            faster_percent=max(0.0, 100 * one.faster),
            slowed_blocks=one.slowed,
            slowest_percent=100 * one.slowest,
            moves=one.moves,
            blocks=one.blocks,
            holes=one.holes,
            lifted=one.lifted,
            cutting_minutes=one.cut_minutes,
            rapid_minutes=one.rapid_minutes,
            reach=(one.reach.lowest_mm / scale, one.reach.highest_mm / scale) if one.reach.lowest_line else None,
            reach_lines=(one.reach.lowest_line, one.reach.highest_line) if one.reach.lowest_line else None,
            last_line=one.last_line,
        )
