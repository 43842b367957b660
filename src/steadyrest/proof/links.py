"""Does the tool get safely to where it is to go on, everything switched as the operation asks before it cuts there?

Rapids between cuts, approaches, and ways back to a cut that was left; tool, spindle, coolant, clamp, pauses (offsets: `safety`).

How a program gets there is its own affair as long as it is safe: no rapid through what the stock sweeps, lower than the
toolpath's own rapids; no turning low down (that rule is every block's); at feed only straight down along the spindle.
"""

from __future__ import annotations

from math import degrees, hypot, inf, isfinite, isnan, nan
from typing import ClassVar

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import LINE
from steadyrest.findings import Finding
from steadyrest.profile import Rotary
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.figures import LEAST_KEPT
from steadyrest.proof.geometry import FULL_TURN, Stand, apart, less_whole_turns
from steadyrest.proof.intended_path import Pass
from steadyrest.proof.setting import Setting, count_of
from steadyrest.proof.speed import judge_straight
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import Edit, edit_before_rapid, edit_in_link, edited, length, place_said
from steadyrest.reading import EventRead

LONGEST_PAUSE_S = 10.0
"""Clear of the part, a pause no longer than this that nobody asks for needs nobody's eyes (our own limit)."""
_STEP_DEG = 1e-6
TURNS_RAD = 1e-9
NO_TURN_RAD = 1e-3
"""How far the tool axis may be from where it should stand when the tool comes straight down."""


class Links:
    """The links of one pass. `turns_off` are the whole turns, rad, by which the program's angle is ahead of the path's.

    A target (4,) is a point in the frame of the operation, its goal the same as a place in work coordinates, and turn.
    """

    def __init__(self, cursor: Cursor, setting: Setting, this: Pass) -> None:
        self.cursor, self.setting, self.this = cursor, setting, this
        self.turns_off = 0.0
        self.last_feed = nan
        """Of the last cut, mm per minute: a link may come back down to where that cut ended."""
        self._known = False

    @property
    def rapids_at_feed(self) -> bool:
        """Whether what the toolpath asks for at rapid may go at feed."""
        return False

    def goes_as_a_rapid(self) -> bool:
        """Whether the next block, at feed, goes where a rapid might, and is judged like one."""
        return False

    def withdraws(self) -> bool:
        """Whether the next block goes at feed along a leaning tool, away from the part."""
        return False

    def count_turns_from(self, point: Floats) -> None:
        """The path is at a point: of one rotary every turn counts, wherever it began."""

    def reach(
        self,
        target: Floats,
        move: int,
        *,
        feeds: tuple[float, float] | None,
        first: bool = False,
        away: bool = False,
        at_rapid: bool = False,
    ) -> None:
        """Go on to the target. Raises Mismatch when the program cuts elsewhere first, ends, or gets there unsafely.

        feeds     mm per minute, the least and the largest at which the tool may come straight down at the end; None: at rapid only
        first     nothing was reached before in this pass
        away      the tool stands at the target and is about to leave it and come back
        at_rapid  it may come at rapid although it may come at feed
        """
        cursor = self.cursor
        start, goal = cursor.place(), self.this.frame.goal_of(target)
        by_feed = feeds is not None and not at_rapid
        nearest, since = inf, 0
        while (away and not since) or not self.stands_at(goal):
            if cursor.ahead() != "rows":
                try:
                    self.pass_event(move, cutting=False)
                except Mismatch as mismatch:
                    if mismatch.rule == "ends-early":
                        self._ends_early(mismatch, goal, since, back=away)
                    raise
                continue
            # out of the last cut of the pass before the tool may go at feed: what is switched is as that pass has it
            if cursor.at_rapid or (first and self.withdraws()) or (feeds is None and self.goes_as_a_rapid()):
                self._check_rapid(start, goal, move, first, by_feed=by_feed, since=since)
            else:
                self.check_switches()
                if not (self._comes_down(goal, feeds, move) or self._comes_back(start)):
                    raise self._missed(goal, nearest, move, since, back=away)
            cursor.advance(1)
            since += 1
            nearest = min(nearest, self.distance_to(goal, 0))
        self._known = True

    def stands_at(self, goal: Stand) -> bool:
        """Whether the tool stands at a goal, the part turned as it should be; whole turns are taken note of."""
        place = self.cursor.place()
        phi, frame = place[3], self.setting.frame
        off = less_whole_turns(phi - goal[3])
        if not abs(off) <= self.setting.axis_limit_rad:
            return False
        here = frame.tip(place)
        if not apart(here, frame.tip(goal)) <= self.setting.limit_mm(abs(here[1])) + 1e-9:  # nor where the tool is not known to be
            return False
        self.turns_off = FULL_TURN * round((phi - goal[3] - off) / FULL_TURN)
        return True

    def distance_to(self, goal: Stand, ahead: int) -> float:
        """Distance of the tip, `ahead` blocks on, from a goal, in the part frame, mm; infinite where it is not known."""
        return apart(self.setting.frame.tip(self.cursor.place(ahead)), self.setting.frame.tip(goal))

    def turned_from(self, goal: Stand, ahead: int) -> float:
        """How far the part is turned, `ahead` blocks on, from where a goal has it, whole turns counted, rad."""
        return float(abs(self.cursor.place(ahead)[3] - self.turns_off - goal[3]))

    def settle(self) -> None:
        """Blocks at feed that stay within what is allowed of where the tool stands, as the last hair of a move may: they change nothing."""
        cursor = self.cursor
        if not self._known:
            return
        start = cursor.place()
        while cursor.ahead() == "rows" and not cursor.at_rapid and self._comes_back(start):
            self.check_switches()
            cursor.advance(1)

    def check_leaving(self, start: Stand) -> None:
        """The next block, a rapid after the last cut: straight up, or over everything. Raises Mismatch."""
        self._check_rapid(start, (inf, inf, inf, self.cursor.place()[3]), 0, first=True)

    def check_switches(self) -> None:
        """Raise the Mismatch of the first thing that is not as the operation says. Asked once after each change."""
        cursor, this, setting, state = self.cursor, self.this, self.setting, self.cursor.state
        if cursor.checked is not None and cursor.checked[0] is state and cursor.checked[1] is this:
            return
        line, operation, profile = cursor.line, this.operation, setting.profile
        if state.tool != operation.tool:
            if not profile.tool.change:
                raise Mismatch("tool-stop", f"there is no stop for changing to tool {operation.tool}", line=line)
            held = "no tool is called" if isnan(state.tool) else f"tool {state.tool:g} is in the spindle"
            said = cursor.said_on("tool_change", "tool_selected")
            raise Mismatch("tool", f"{held}; the operation cuts with tool {operation.tool}", line=said)
        self._check_spindle()
        wanted = frozenset() if operation.coolant == "off" else frozenset({operation.coolant})
        if state.coolant != wanted:
            on = " and ".join(sorted(state.coolant)) or "off"
            raise Mismatch("coolant", f"coolant is {on}; the operation asks for {operation.coolant}", line=cursor.said_on("coolant"))
        for letter, rotary in setting.rotaries.items():
            if rotary.clamp.use == "indexing" and state.clamped.get(letter) is not this.wants_clamp:
                name = f"{setting.name_of(letter)}'s clamp"
                if this.wants_clamp:
                    raise Mismatch("clamp-off", f"{name} is off in an operation that needs it on", line=line)
                raise Mismatch("clamp-on", f"{name} is on in an operation that turns {'it' if setting.lines else 'the part'}", line=line)
        if state.owed_spindle:
            pause, line = cursor.pause_said(state.owed_spindle, "after the spindle starts", "spindle")
            raise Mismatch("spindle-pause", pause, line=line)
        for number, rotary in enumerate(setting.rotaries.values() if this.wants_clamp else ()):
            self._check_standing(number, rotary, line)
        cursor.checked = (state, this)

    def _check_standing(self, number: int, rotary: Rotary, line: int) -> None:
        """Does a rotary stand where it can be clamped, its backlash taken up?"""
        cursor, setting = self.cursor, self.setting
        name = setting.name_of(list(setting.rotaries)[number])
        if rotary.steps:
            word = float(cursor.rows.words_of(number)[cursor.at])
            if abs(word - round(word / rotary.steps) * rotary.steps) > _STEP_DEG:
                wrong = f"{word:g} degrees is not a multiple of the indexing head's step, {rotary.steps:g} degrees"
                raise Mismatch("between-steps", wrong, line=line)
        if rotary.unwinding.between == "one_side":
            side = 1.0 if rotary.unwinding.arrive_from == "below" else -1.0
            least = rotary.unwinding.overshoot - 2 * setting.rounding.words_deg[number] - _STEP_DEG
            if not side * cursor.arrival_deg(number) >= least:
                way = f"the last {rotary.unwinding.overshoot:g} degrees from {rotary.unwinding.arrive_from}"
                raise Mismatch("backlash", f"{name} does not turn {way}, which takes up its backlash", line=line)

    def _check_spindle(self) -> None:
        cursor, this, state, spindle = self.cursor, self.this, self.cursor.state, self.this.operation.spindle
        if spindle.rpm == 0 and (state.spindle == "stop" or state.rpm == 0):
            return
        if state.spindle != spindle.turns:
            turns = "is off" if state.spindle == "stop" else f"turns {state.spindle}"
            raise Mismatch("spindle-way", f"the spindle {turns}; the operation asks for {spindle.turns}", line=cursor.said_on("spindle"))
        slack = 0.5 * count_of(self.setting.profile, "S", self.setting.profile.numbers.spindle) + 1e-9
        if slack < spindle.rpm - state.rpm and state.rpm >= LEAST_KEPT * spindle.rpm and not this.taps:
            said, asked = f"S{state.rpm:g}", f"a spindle speed of {spindle.rpm:g} rpm"
            cursor.lowered.note(this.number, cursor.said_on("spindle"), said, asked, state.rpm / spindle.rpm)
            return
        if not abs(state.rpm - spindle.rpm) <= slack:
            turning = "has no speed" if isnan(state.rpm) else f"turns at {state.rpm:g} rpm"
            sentence = f"the spindle {turning}; the operation asks for {spindle.rpm:g} rpm"
            raise Mismatch("spindle-speed", sentence, line=cursor.said_on("spindle"))

    def pass_event(self, move: int, *, cutting: bool) -> None:
        """A pause, stop or end that the toolpath does not ask for here: stops and pauses between cuts are harmless, all else is not."""
        cursor = self.cursor
        ahead, line = cursor.ahead(), cursor.line
        if ahead not in ("dwell", "stop", "optional_stop"):
            raise Mismatch("ends-early", "the program ends before the toolpath does", line=line, move=move)
        if not cutting:
            take_pause(cursor, self.this.number)
        elif ahead == "dwell":
            owed = cursor.state.owed_clamp or cursor.state.owed_spindle
            asks = f"the profile asks for {owed:g} s" if owed else "in the middle of a cut, not in the toolpath"
            raise Mismatch("pause-added", f"a pause of {cursor.event_number():g} s; {asks}", line=line, move=move)
        else:
            raise Mismatch("stop-in-cut", "a stop in the middle of a cut, not in the toolpath", line=line, move=move)

    def _missed(self, goal: Stand, nearest: float, move: int, since: int, *, back: bool) -> Mismatch:
        off = min(nearest, self.distance_to(goal, 0))
        turned = less_whole_turns(self.cursor.place()[3] - goal[3])
        away = f"{length(self.setting, off)} from" if off < inf else "at an unknown distance from"
        sentence = f"the cut starts {away} where it should, {place_said(self.setting, goal[:3])}"
        if abs(turned) > self.setting.axis_limit_rad:
            sentence += f", and the rotary is {degrees(turned):.4g} degrees off"
        mismatch = Mismatch("cut-elsewhere", sentence, line=self.cursor.line, distance_mm=off if off < inf else nan, move=move)
        mismatch.asked = np.array(goal)
        return edited(mismatch, edit_in_link(self.cursor, self.setting, np.array(goal), since, back=back))

    def _ends_early(self, mismatch: Mismatch, goal: Stand, since: int, *, back: bool) -> None:
        """The program has ended on the way to the goal: the word that did not lead there is named, if there is one."""
        mismatch.asked = np.array(goal)
        edited(mismatch, edit_in_link(self.cursor, self.setting, np.array(goal), since, back=back))

    def _check_rapid(self, start: Stand, goal: Stand, move: int, first: bool, *, by_feed: bool = False, since: int = 0) -> None:
        cursor, setting = self.cursor, self.setting
        if cursor.rows.clear[cursor.at]:
            return
        begin, end, slack = cursor.place(), cursor.place(1), setting.slack_mm
        if turns(begin, end):
            return  # never low down, by the rule of every block
        upright = all(abs(to - at) <= slack or (isnan(at) and isnan(to)) for at, to in zip(begin[:2], end[:2], strict=True))
        if upright and not setting.has_head and (isnan(end[2]) or end[2] >= begin[2]):
            return  # straight up, or clear in machine coordinates
        zero = 4 * setting.farthest_mm + max(setting.top_mm, 0.0)
        if isnan(end[2]) and upright:
            if any(map(isnan, begin)):
                return  # up to the machine's own zero, nobody knows from where
            end = (*end[:2], begin[2] + zero, *end[3:])
        elif isnan(begin[2]) and upright:
            begin = (*end[:2], end[2] + zero, *end[3:])  # from the machine's own zero, wherever that is
        if not any(map(isnan, (*begin, *end))):
            (tip, axis), (to, _) = self.pose(begin), self.pose(end)
            up, aside = along(to - tip, axis)
            there = isfinite(goal[0]) and self._leans(begin, goal) <= self._upright
            over, beside = along(to - np.array(goal[:3]), axis) if there else (inf, inf)
            if aside <= slack:
                if up >= 0:
                    return  # straight away from the part
                if beside <= slack and over >= -slack:
                    if by_feed and over <= slack:
                        sentence = "the tool comes down at rapid right to the start of a cut; the toolpath feeds down"
                        raise Mismatch("rapid-plunge", sentence, line=cursor.line, move=move)
                    return  # straight down on the goal, no lower than it
            elif not first and hypot(over, beside) <= slack and float(np.linalg.norm(tip - self.pose(start)[0])) <= slack:
                return  # the toolpath's own rapid
        low, floor = cursor.space(self.in_spindle).lowest(begin, end), self._ground(start, goal, begin, end, first)
        if low < floor - slack:
            space, above = self.SPACE
            height = f"{length(setting, low)} above {above}" if low > -inf else "at an unknown height"
            lower = f"lower than the toolpath's own rapids there ({length(setting, floor)}){self._and_leans(goal)}"
            sentence = f"a rapid goes through {space}, {height}, {lower}"
            mismatch = Mismatch("rapid-low", sentence, line=cursor.line, distance_mm=floor - low if low > -inf else nan, move=move)
            raise edited(mismatch, self._edit_before_rapid(goal, since))

    def _ground(self, start: Stand, goal: Stand, begin: Stand, end: Stand, first: bool) -> float:
        """The height along the tool axis, over the centre, below which the next rapid must not go inside the space that the stock sweeps.

        Over everything; but between the two ends of the toolpath's own rapid, over the same ground, the height of the higher end.
        """
        top = self._over_all_mm
        if first or not self._known or any(map(isnan, (*start, *begin, *end))):
            return top
        (origin, axis), target = self.pose(start), np.array(goal[:3])
        if max(self._leans(start, goal), self._leans(begin, self._goal_at(start))) > NO_TURN_RAD:
            return top
        flat = [at - (at @ axis) * axis for at in (origin, target, self.pose(begin)[0], self.pose(end)[0])]
        if any(beside_way(at, flat[0], flat[1]) > self.setting.slack_mm for at in flat[2:]):
            return top
        centre = self.setting.frame.centre_mm
        return min(top, max(float((at - centre) @ axis) for at in (origin, target)))

    def _comes_back(self, start: Stand) -> bool:
        """Whether the next block goes straight down to where the link began, or stays there: turned back in the last hair of a cut.

        An arc may end where it begins, and cut a whole circle in between; turned otherwise the tool would come there from another side.
        """
        if not self._known or self.cursor.rows.motion[self.cursor.at] != LINE:
            return False
        goal = self._goal_at(start)
        if not self._is_at(goal, 1):
            return False
        return self._is_at(goal, 0) or self._comes_down(goal, (self.last_feed, self.last_feed), None)

    def _is_at(self, goal: Stand, ahead: int) -> bool:
        turned = self._off_turn(goal, ahead) <= self.this.frame.axis_limit(self.setting)
        return turned and self.distance_to(goal, ahead) <= self.setting.slack_mm

    def _comes_down(self, goal: Stand, feeds: tuple[float, float] | None, move: int | None) -> bool:
        """Whether the next block goes straight along the tool axis down on the goal, or with a head away from the part.

        Raises Mismatch where it comes down faster than `feeds`, or much slower.
        """
        cursor, slack, has_head = self.cursor, self.setting.slack_mm, self.setting.has_head
        begin, end = cursor.place(), cursor.place(1)
        if cursor.rows.motion[cursor.at] != LINE or any(map(isnan, (*begin, *end))) or turns(begin, end):
            return False
        (tip, axis), (to, _) = self.pose(begin), self.pose(end)
        up, aside = along(to - tip, axis)
        if has_head and aside <= slack and up >= 0:
            return True  # where rapids of several axes are not straight the tool withdraws at feed
        over, beside = along(to - np.array(goal[:3]), axis)
        if not (up <= 0 and max(aside, beside) <= slack and over >= -slack and self._off_turn(goal, 1) <= self._upright):
            return False
        if self.rapids_at_feed and over > slack:
            return True  # the same: not down to the goal yet
        if feeds is None or isnan(feeds[0]):
            return has_head and over <= slack
        judge_straight(cursor, self.this.number, move, -up, feeds, "the tool comes down")
        return True

    @property
    def _upright(self) -> float:
        """How far the tool axis may be from where it should stand when the tool comes straight down: beside a pole as far as in the cut."""
        return max(NO_TURN_RAD, self.this.frame.axis_limit(self.setting))

    SPACE: ClassVar[tuple[str, str]] = "the space that the stock sweeps", "the axis of rotation"
    """What no rapid goes through, and over what its height counts."""

    @property
    def in_spindle(self) -> float:
        """The tool whose space is kept."""
        return self.this.operation.tool

    @property
    def _over_all_mm(self) -> float:
        return self.setting.top_mm

    def pose(self, stand: Stand) -> tuple[Floats, Floats]:
        """Tip and tool axis (3,) where goals are: with one rotary on the machine, where the tool stands along Z."""
        return np.array(stand[:3]), np.array((0.0, 0.0, 1.0))

    def _goal_at(self, stand: Stand) -> Stand:
        """A place as a goal."""
        return stand

    def _leans(self, stand: Stand, goal: Stand) -> float:
        """How far the tool axis is over the part from that of a goal, rad; whole turns are free."""
        return abs(less_whole_turns(stand[3] - goal[3]))

    def _off_turn(self, goal: Stand, ahead: int) -> float:
        """The same, `ahead` blocks on; in a drawing whole turns count."""
        return self._leans(self.cursor.place(ahead), goal)

    def _and_leans(self, goal: Stand, ahead: int = 1) -> str:
        """What a sentence adds where the tool leans, `ahead` blocks on."""
        return ""

    def _edit_before_rapid(self, goal: Stand, since: int) -> Edit | None:
        return edit_before_rapid(self.cursor, self.setting, np.array(goal), since)


def turns(begin: Stand, end: Stand) -> bool:
    """Whether a rotary turns on the way; from an angle that is not known, or to one, none does."""
    return any(abs(to - at) > TURNS_RAD for at, to in zip(begin[3:], end[3:], strict=True))


def beside_way(point: Floats, start: Floats, end: Floats) -> float:
    """Distance of a point from the straight way between two others; infinite where it is not known."""
    rel, way = point - start, end - start
    square = float(way @ way)
    share = min(1.0, max(0.0, float(rel @ way) / square)) if square > 0 else 0.0
    off = float(np.linalg.norm(rel - share * way))
    return inf if isnan(off) else off


def along(way: Floats, axis: Floats) -> tuple[float, float]:
    """How far a way (3,) goes along a tool axis, and how far aside."""
    up = float(way @ axis)
    return up, float(np.linalg.norm(way - up * axis))


def take_pause(cursor: Cursor, operation: int | None, *, asked: bool = False) -> EventRead:
    """The stop or pause that is ahead, taken where it does no harm; `asked`: the toolpath asks for it.

    One that it asks for is found where the tool stands low, any other always, but for a pause clear of the part that is short.
    """
    event, low = cursor.take_event(), cursor.in_swept_space()
    pause = event.kind == "dwell"
    if low or not (asked or (pause and event.number <= LONGEST_PAUSE_S)):
        what, asks = f"a pause of {event.number:g} s" if pause else "a stop", "asks" if asked else "does not ask"
        sentence = f"{what} that the toolpath {asks} for" + (", with the tool in the space that the stock sweeps" if low else "")
        cursor.findings.append(Finding("stop-in-stock" if asked else "stop-added", "look", sentence, event.line, operation))
    return event
