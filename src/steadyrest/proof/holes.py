"""Is the hole drilled as asked? Place, depth, steps, pause and way out, by a cycle or by single moves."""

from __future__ import annotations

import numpy as np

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.edits import edit_aside, edit_of_begin, edited
from steadyrest.proof.figures import Gathered
from steadyrest.proof.geometry import Floats
from steadyrest.proof.intended import Pass
from steadyrest.proof.links import Links
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.setting import Setting
from steadyrest.proof.speed import PART_IN
from steadyrest.proof.straight import judge_straight
from steadyrest.proof.switches import check_switches
from steadyrest.proof.words import axis_word, coordinate_said, length
from steadyrest.toolpath import RAPID, Hole

_STEPPED = ("peck", "chip-break")
_FEEDS_OUT = ("tap", "bore")


def follow_hole(cursor: Cursor, setting: Setting, this: Pass, links: Links, gathered: Gathered, hole: Hole, *, first: bool) -> Floats:
    """Go through one hole; returns the chart point (4,) where it ends. Raises Mismatch at the first thing that differs."""
    scale = setting.scale
    top = hole_point(hole, setting)
    bottom = hole.bottom * scale
    links.reach(top, hole.move, feeds=None, first=first)
    work, _ = links.work_place(top)
    _, phi = cursor.place()
    drilling = _Drilling(cursor, setting, this, hole, work, float(work[2]), float(work[2]) - (float(top[2]) - bottom), phi)
    while not drilling.done:
        ahead = cursor.ahead()
        if drilling.deep_enough and not drilling.goes_on(ahead):
            break
        if ahead == "dwell":
            drilling.pause_line = cursor.line
            drilling.pause(cursor.take_event().number)
            continue
        if ahead != "rows":
            raise drilling.unfinished("hole-unfinished", "the program leaves the hole before it is finished")
        check_switches(cursor, this, setting)
        begun = drilling.steps > 0 and not drilling.at_bottom
        drilling.block()
        cursor.advance(1, in_hole=begun)
        gathered.blocks += 1
    drilling.finish()
    gathered.tip_off_path_mm = max(gathered.tip_off_path_mm, drilling.off)
    gathered.path_off_tip_mm = max(gathered.path_off_tip_mm, drilling.off)
    gathered.radius_mm = max(gathered.radius_mm, float(abs(setting.frame.across(work))))
    gathered.holes += 1
    gathered.moves += 1
    return top


def hole_point(hole: Hole, setting: Setting) -> Floats:
    """The chart point (4,) over a hole at its retract level."""
    return np.append(np.array([hole.x, hole.y, hole.retract]) * setting.scale * setting.way_round, 0.0)


class _Drilling:
    """How far a hole has got. Heights are work coordinates, mm; `deepest` is what has been cut so far."""

    def __init__(
        self, cursor: Cursor, setting: Setting, this: Pass, hole: Hole, work: Floats, top: float, bottom: float, phi: float
    ) -> None:
        self.cursor, self.setting, self.this, self.hole = cursor, setting, this, hole
        self.work, self.top, self.bottom, self.phi = work, top, bottom, phi
        self.slack = setting.limit_mm(float(abs(setting.frame.across(work)))) + 1e-9
        self.feed = hole.feed * setting.scale
        self.peck = hole.peck * setting.scale if hole.peck is not None else None
        self.deepest = top
        self.broken_at = top  # how deep it was cut when the tool last came out, or up to break the chip
        self.at_bottom = False
        self.paused = 0.0
        self.steps = 0
        self.off = 0.0
        self.left = False
        self.cut_line = 0
        self.last_step = 0.0
        self.pause_line = 0

    @property
    def done(self) -> bool:
        """At the very bottom and out of the hole again."""
        return self.deep_enough and self.deepest <= self.bottom + self.setting.rounding.linear_mm + 1e-9

    @property
    def deep_enough(self) -> bool:
        """At the bottom, within what is allowed, and out of the hole again."""
        return self.at_bottom and self.left

    def goes_on(self, ahead: str) -> bool:
        """Whether the next block goes down in the hole once more, as a last peck of a hair may."""
        if ahead != "rows":
            return False
        (begin, _), (end, _) = self.cursor.place(), self.cursor.place(1)
        goes_down = bool(end[2] < begin[2] and np.abs(end[:2] - self.work[:2]).max() <= self.slack)
        self.left = self.left and not goes_down
        return goes_down

    def pause(self, seconds: float) -> None:
        """A pause while in the hole: only at the bottom."""
        if not self.at_bottom or self.left:
            raise self.unfinished("hole-pause", "a pause that is not at the bottom of the hole")
        self.paused += seconds

    def block(self) -> None:
        """Judge the next block."""
        cursor = self.cursor
        rows = cursor.rows
        assert rows is not None
        (begin, from_phi), (end, to_phi) = cursor.place(), cursor.place(1)
        aside = float(np.abs(end[:2] - self.work[:2]).max())
        if not aside <= self.slack or not abs(to_phi - from_phi) <= 1e-9 or rows.motion[cursor.at] > 1:
            sentence = "the tool leaves the hole's axis before the hole is finished"
            if self.steps and not self.at_bottom:
                raise self.unfinished("hole-aside", sentence, aside)
            raise edited(self._wrong("hole-aside", sentence, aside), edit_aside(cursor, self.setting, self.work, self.phi))
        self.off = max(self.off, aside)
        down = end[2] < begin[2]
        if end[2] == begin[2]:
            return  # positioning to where the tool stands already: nothing happens
        if rows.motion[cursor.at] == RAPID:
            self._rapid(float(end[2]), bool(down))
        elif down:
            self._cut(float(begin[2]), float(end[2]))
        elif end[2] > begin[2]:
            self._out_at_feed(float(begin[2]), float(end[2]))
        else:
            raise self._wrong("unknown-place", "the tool feeds to or from a height that is not known")

    def _rapid(self, end: float, down: bool) -> None:
        if down:
            begun = self.deepest < self.top
            if (begun and end <= self.deepest) or (not begun and end < self.top - self.slack):
                cut = f", {self._z(self.deepest)}" if begun else ""
                sentence = f"{self._z(end)}: a rapid down into the hole, as deep as or deeper than it has been cut{cut}"
                raise self._wrong("hole-rapid-down", sentence, self.deepest - end)
            return
        if self.at_bottom and (self.hole.cycle != "chip-break" or end >= self.top - self.slack):
            if self.hole.cycle in _FEEDS_OUT:
                raise self._wrong("hole-rapid-out", f"a rapid out of the hole, where cycle {self.hole.cycle} feeds out")
            if end >= self.top - self.slack:
                self.left = True
            return
        if not self.steps and end <= self.top + self.slack:
            return  # up to the retract level by a count or two: nothing is cut yet
        rise = self.setting.profile.cycles.chip_break_rise - 2 * self.setting.rounding.linear_mm
        if end >= self.top - self.slack or (self.hole.cycle == "chip-break" and end - self.deepest >= rise):
            self.broken_at = self.deepest
        if self.hole.cycle == "peck" and end < self.top - self.slack:
            raise self._wrong("peck-out", "a peck does not come out to the retract level", self.top - end)
        if self.hole.cycle not in _STEPPED:
            sentence = f"the tool goes up before it has reached the bottom, in a cycle {self.hole.cycle}"
            raise self.unfinished("hole-up", sentence, end - self.bottom)

    def _cut(self, begin: float, end: float) -> None:
        if end < self.bottom - self.slack:
            sentence = f"{self._depth(begin, end)}: the hole is {length(self.setting, self.bottom - end)} deeper than asked for"
            raise self._wrong("hole-deep", sentence, self.bottom - end)
        step = self.broken_at - end
        if self.peck is not None and step > self.peck + self.slack:
            out = "up" if self.hole.cycle == "chip-break" else "out"
            said = f"{self._z(end)} makes a step of {length(self.setting, step)}"
            early = bool(self.steps) and self.last_step < self.peck - self.slack  # the step before ended too early
            if early:
                said = f"{self._z(self.deepest)} makes steps of {length(self.setting, self.last_step)} and {length(self.setting, step)}"
            asked = length(self.setting, self.peck)
            sentence = f"{said}; the toolpath asks for steps of {asked}: a step without coming {out}, deeper than asked for"
            mismatch = self._wrong("peck-step", sentence, step)
            mismatch.line = self.cut_line if early else mismatch.line
            raise mismatch
        if begin > self.top + self.slack:
            mismatch = self._wrong("hole-above", "the feed starts above the retract level", begin - self.top)
            raise edited(mismatch, edit_of_begin(self.cursor, self.setting, np.append(self.work[:2], self.top), self.phi))
        self._speed(begin - end)
        self.last_step = step
        self.deepest = min(self.deepest, end)
        self.steps += 1
        self.cut_line = self.cursor.line
        if end <= self.bottom + self.slack:
            self.at_bottom = True
            self.off = max(self.off, abs(end - self.bottom))

    def _out_at_feed(self, begin: float, end: float) -> None:
        if not (self.at_bottom and self.hole.cycle in _FEEDS_OUT):
            raise self._wrong("hole-feeds-up", f"{self._z(end)}: the tool feeds up where cycle {self.hole.cycle} does not")
        self._speed(end - begin)
        if end >= self.top - self.slack:
            self.left = True

    def finish(self) -> None:
        """The hole is done: was the pause long enough?"""
        asked = self.hole.dwell
        count = 0.5 * 10.0**-self.setting.profile.numbers.dwell.decimals
        unit = 1e-3 if self.setting.profile.codes.dwell_unit == "milliseconds" else 1.0
        if abs(self.paused - asked) > count * unit + PART_IN * asked + 1e-9:
            mismatch = self._wrong("hole-pause", f"a pause of {self.paused:g} s at the bottom; the toolpath asks for {asked:g} s")
            mismatch.line = self.pause_line or self.cut_line
            raise mismatch

    def _speed(self, way: float) -> None:
        if self.hole.cycle == "tap":
            self._pitch(way)
            return
        feeds = self.feed, self.feed
        judge_straight(self.cursor, self.setting, self.this.number, self.hole.move, way, feeds, "the tool drills")

    def _pitch(self, way: float) -> None:
        """A tap goes by its pitch in a turn: F to S as the feed to the speed asked for, and nothing may hold the axis back."""
        rows, spindle, rpm, at = self.cursor.rows, self.this.operation.spindle, self.cursor.state.rpm, self.cursor.at
        assert rows is not None
        minutes, pitch = float(rows.minutes[at]), self.feed / spindle.rpm if spindle.rpm else float("nan")
        if not abs(way / minutes / rpm / pitch - 1) <= PART_IN + 1e-6:
            went, asked = way / minutes / rpm / self.setting.scale, pitch / self.setting.scale
            sentence = f"the tap goes {went:.6g} in a turn; its pitch is {asked:.6g}"
            raise Mismatch("feed", sentence, line=self.cursor.line, move=self.hole.move)
        if rows.machine[at] > minutes * (1 + PART_IN):
            sentence = "F of a tap asks for more than the axis can do, and it cannot slow down"
            raise Mismatch("feed", sentence, line=self.cursor.line, move=self.hole.move)

    def unfinished(self, rule: str, sentence: str, distance: float = float("nan")) -> Mismatch:
        """The tool goes away before it has been at the bottom: where the last cut ended, if there was one, it ended too early."""
        mismatch = self._wrong(rule, sentence, distance)
        if self.steps and not self.at_bottom:
            less = length(self.setting, self.deepest - self.bottom)
            mismatch.line = self.cut_line
            mismatch.sentence = f"{self._depth(self.top, self.deepest)}: the hole is {less} less deep than asked for"
        return mismatch

    def _depth(self, begin: float, end: float) -> str:
        begins, ends, goal = (np.append(self.work[:2], [height, self.phi]) for height in (begin, end, self.bottom))
        return axis_word(self.setting, 2, begins, ends, goal)

    def _z(self, height: float) -> str:
        return coordinate_said(self.setting, 2, np.append(self.work[:2], [height, self.phi]))

    def _wrong(self, rule: str, sentence: str, distance: float = float("nan")) -> Mismatch:
        return Mismatch(rule, sentence, line=self.cursor.line, distance_mm=distance, move=self.hole.move)
