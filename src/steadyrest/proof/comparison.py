"""Does a program cut what the toolpath says? Both are gone through once, side by side, to the end or to the first difference."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from math import degrees, inf, isfinite, radians
from pathlib import Path

from steadyrest.conventions import AXES
from steadyrest.errors import InputError, Place
from steadyrest.findings import Finding
from steadyrest.profile import Profile, profile_digest
from steadyrest.proof.chain_frame import frame_on_chain
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.figures import Heights, beyond_travel, path_mode_changes, turns_left
from steadyrest.proof.following import Follower
from steadyrest.proof.holes import MOST, follow_holes
from steadyrest.proof.intended_path import Pass, passes
from steadyrest.proof.links import take_pause
from steadyrest.proof.setting import Setting, setting_of
from steadyrest.proof.short_passes import ShortPasses, grouped
from steadyrest.proof.speed import pause_slack_s
from steadyrest.proof.verdict import Failure, Mismatch, OperationFigures, Verdict, stale
from steadyrest.proof.words import TURN, edit_of_state, edited, length
from steadyrest.reading import Piece, ProgramItem, pieces, read_program
from steadyrest.toolpath import Dwell, Holes, Item, MoveColumns, Stop, Toolpath


def prove(
    program: Path | bytes | Iterable[ProgramItem],
    toolpath: Toolpath,
    profile: Profile,
    *,
    rotary_letter: str | None = None,
    tolerance: float | None = None,
    gauge_lengths: Mapping[int, float] | None = None,
    seen: Callable[[Piece], None] | None = None,
) -> Verdict:
    """Compare what a program makes the machine do with what a toolpath asks for.

    program        a file, its bytes, or what `read_program` gives
    rotary_letter  which of the profile's rotaries turns the part; unless given, the one along the toolpath's axis
    tolerance      how far the tip may be from its path, in the toolpath's units, part frame: 0.01 mm or 0.0004 inch unless given;
                   the rounding of the program's words comes on top, and is computed and stated
    gauge_lengths  from the tip of each tool to the gauge line, by its number, in the toolpath's units; needed where a head turns
    seen           called with each piece of the program on its way: for whoever wants to look at it too, without reading it again
    returns        a Verdict, proved or refused
    raises         ProgramError where the program is not in the profile's language, ToolpathError where a block of the toolpath is wrong,
                   ProfileError when the rotary does not fit, InputError for a tolerance that is none, or a gauge length that is missing
    """
    if tolerance is not None and not 0 < tolerance < inf:
        raise InputError(f"the tolerance {tolerance:g} is no length above 0", cure="give a tolerance such as 0.01")
    setting = setting_of(toolpath, profile, rotary_letter, tolerance, gauge_lengths)
    read = read_program(program, profile, rotary_letter=setting.letter) if isinstance(program, Path | bytes) else program
    trial = _Trial(Cursor(pieces(read), setting, seen), setting)
    failure = trial.run()
    return trial.verdict(failure)


class _Trial:
    """One run through both. Keeps the figures and knows, when something differs, where it was."""

    def __init__(self, cursor: Cursor, setting: Setting) -> None:
        self.cursor, self.setting = cursor, setting
        self.figures: list[OperationFigures] = []
        self.this: Pass | None = None
        self.follower: Follower | None = None
        self.findings: list[Finding] = []

    def run(self) -> Failure | None:
        try:
            for group, columns in grouped(passes(self.setting)):
                short = ShortPasses([this for this, _ in group], columns, self.setting) if columns else None
                for this, items in group:
                    self._pass(this, items, short)
            self.this = None
            self._end()
        except Mismatch as mismatch:
            return self._failure(mismatch)
        return None

    def _pass(self, this: Pass, items: Iterable[Item], short: ShortPasses | None) -> None:
        cursor, operation = self.cursor, this.operation
        self.this = this
        if not self.figures or self.figures[-1].number != this.number:
            self.figures.append(OperationFigures(this.number, operation.name, operation.rotary.intent, operation.tool))
        cursor.figures = figures = self.figures[-1]
        by_hand = not self.setting.profile.tool.change and cursor.state.tool != operation.tool
        cursor.by_hand = operation.tool if by_hand else None
        whole = cursor.totals.whole
        cut, rapid = whole.cutting_minutes, whole.rapid_minutes
        follower = self.follower = Follower(cursor, self.setting, this, figures)
        heights = Heights(self.setting, this)
        try:
            if this.frame.out_of_reach_rad > self.setting.plane_limit_rad:
                leans = f"the toolpath's plane leans {degrees(this.frame.out_of_reach_rad):.4g} degrees out of what the rotary reaches"
                raise Mismatch("tool-axis", leans, line=cursor.line)
            for item in items:
                if isinstance(item, MoveColumns):
                    heights.see_moves(follower.columns(item, short))
                elif isinstance(item, Holes):
                    for holes in item.alike(MOST):
                        follow_holes(follower, holes)
                        heights.see_hole(holes.hole(0))  # all of them begin and end at the same heights
                elif isinstance(item, Dwell):
                    self._dwell(item, follower)
                elif isinstance(item, Stop):
                    self._stop(item, follower)
            follower.links.settle()
        finally:
            cursor.count()
            figures.cutting_minutes += whole.cutting_minutes - cut
            figures.rapid_minutes += whole.rapid_minutes - rapid
            figures.last_line = cursor.done_line
        if (doubt := heights.finding()) is not None and doubt not in self.findings:
            self.findings.append(doubt)

    def _dwell(self, dwell: Dwell, follower: Follower) -> None:
        cursor, codes = self.cursor, self.setting.profile.codes
        if dwell.seconds == 0.0:
            if cursor.ahead() == "dwell" and cursor.event_number() == 0.0:
                cursor.take_event()
            return
        follower.come_on_the_way()
        if cursor.ahead() != "dwell":
            raise Mismatch("pause-missing", f"the pause of {dwell.seconds:g} s is missing", line=cursor.line, move=dwell.move)
        line, seconds = cursor.line, take_pause(cursor, follower.this.number, asked=True).number
        if not abs(seconds - dwell.seconds) <= pause_slack_s(self.setting, dwell.seconds, codes.dwell_letter):
            wrong = f"a pause of {seconds:g} s; the toolpath asks for {dwell.seconds:g} s"
            raise Mismatch("pause-length", wrong, line=line, move=dwell.move)

    def _stop(self, stop: Stop, follower: Follower) -> None:
        wanted, what = ("optional_stop", "optional stop") if stop.optional else ("stop", "stop")
        follower.come_on_the_way()
        if self.cursor.ahead() != wanted:
            raise Mismatch("stop-missing", f"the {what} is missing", line=self.cursor.line, move=stop.move)
        take_pause(self.cursor, follower.this.number, asked=True)

    def _end(self) -> None:
        """After the last move: only safe rapids, all off, and the end."""
        cursor, program = self.cursor, self.setting.profile.program
        links = self.follower.links if self.follower is not None else None
        if links is not None:
            links.settle()
        start = cursor.place()
        while (ahead := cursor.ahead()) != "end":
            if ahead == "nothing":
                raise Mismatch("no-end", "the program has no end code", line=cursor.line)
            if ahead != "rows":
                take_pause(cursor, None)
                continue
            if not cursor.at_rapid and (links is None or not links.withdraws()):
                raise Mismatch("cuts-on", "the program goes on cutting after the end of the toolpath", line=cursor.line)
            if links is not None:
                links.check_leaving(start)
            cursor.advance(1)
        line = cursor.line
        if cursor.in_swept_space():
            wrong = "the program ends with the tool in the space that the stock sweeps, or at an unknown position"
            raise Mismatch("end-low", wrong, line=line)
        cursor.take_event()
        if cursor.ahead() != "nothing":  # reading on to the last byte also finds what is no program any more
            raise Mismatch("after-end", "the program goes on after its end code", line=cursor.line)
        if program.end_mark:
            cursor.totals.whole.lines += 1  # the mark stands on a line of its own, and is no word
        self._check_home(line)
        if program.start_mark and not cursor.marked:
            sentence = f"the program does not begin with {program.start_mark} on a line of its own, as the profile requires"
            raise Mismatch("no-mark", sentence, line=1)
        if on := "the spindle" if cursor.state.spindle != "stop" else "coolant" if cursor.state.coolant else "":
            raise Mismatch("ends-on", f"{on} is on at the end of the program", line=line)
        self.findings += beyond_travel(cursor.totals, self.setting)
        cursor.findings += turns_left(cursor.totals, self.setting, line)

    def _check_home(self, line: int) -> None:
        """A program of steps starts where the last run has ended: the way home is part of it."""
        setting, home = self.setting, self.setting.profile.program.start_position
        if home is None:
            return
        place = self.cursor.place()
        replaced = setting.rotary.replaces if setting.rotary is not None else ""
        off = max(abs(place[axis] - home[axis]) for axis, name in enumerate(AXES) if name != replaced)
        stands = zip(place[3:], home[3 : 3 + len(setting.rotaries)], strict=False)
        turned = max((degrees(abs(turn - setting.sigma * radians(word))) for turn, word in stands), default=0.0)
        if not (off <= 2 * setting.rounding.linear_mm + 1e-6 and turned <= 2 * degrees(setting.rounding.angle_rad) + 1e-6):
            far = f"{off:.4g} mm and {turned:.4g} degrees off"
            sentence = f"the program does not end where it starts: {far}, and the next run would cut there"
            raise Mismatch("home", sentence, line=line, distance_mm=off)

    def _failure(self, mismatch: Mismatch) -> Failure:
        this, setting = self.this, self.setting
        if mismatch.rule == "turn-low" and isfinite(setting.clear_mm):
            least = length(setting, setting.clear_mm + float(setting.frame.centre_mm[2]))
            edited(mismatch, edit_of_state(self.cursor, setting, 2, needed=f"; at least {least} is needed"))
        elif mismatch.rule in ("backlash", "between-steps", "rotary-travel") and not setting.lines:
            edited(mismatch, edit_of_state(self.cursor, setting, TURN, int(mismatch.rule == "rotary-travel")))
        difference = None
        cause, place = "", Place(line=mismatch.line or None, move=mismatch.move)
        if this is not None and self.follower is not None:
            from steadyrest.proof.causes import likeliest_cause  # only what fails needs a cause

            cause = likeliest_cause(mismatch, self.follower)
            place = replace(
                place, operation=this.number, operation_name=this.operation.name or None, angle_deg=this.angle_deg, plane=this.plane
            )
        if self.follower is not None:
            from steadyrest.proof.difference import difference_of

            difference = difference_of(mismatch, self.follower)
        distance = mismatch.distance_mm / setting.scale if isfinite(mismatch.distance_mm) else None
        return Failure(mismatch.kind, mismatch.sentence, place, distance, cause, mismatch.rule, difference)

    def verdict(self, failure: Failure | None) -> Verdict:
        setting, cursor, scale = self.setting, self.cursor, self.setting.scale
        cursor.count()
        for one in self.figures:
            limit = setting.limit_mm(one.radius * scale)
            one.limit, one.rounding = limit / scale, (limit - setting.tolerance_mm) / scale
            operation = setting.toolpath.operations[one.number - 1]
            one.axis_limit_deg = degrees(setting.axis_limit_rad) + (operation.axis_tolerance or 0.0)
            if setting.lines:
                one.axis_limit_deg = degrees(frame_on_chain(operation, None, None, setting).axis_limit_rad)
        digests = setting.toolpath.digest, profile_digest(setting.profile)
        old = stale(cursor.comments, *digests)
        findings = [*self.findings, *cursor.findings, *path_mode_changes(cursor.path_modes), *cursor.lowered.findings()]
        return Verdict(
            proved=failure is None,
            units=setting.toolpath.units,
            tolerance=setting.tolerance_mm / scale,
            operations=tuple(self.figures),
            whole=cursor.totals.figures(setting),
            failure=failure,
            notices=(old,) if old else (),
            toolpath_digest=digests[0],
            profile_digest=digests[1],
            findings=(*findings, *([Finding("stale", "look", old)] if old else [])),
        )
