"""Is the hole drilled as asked? Place, depth, steps, pause and way out, by a cycle or by single moves; like holes many at once."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.conventions import LINE
from steadyrest.proof.following import Follower
from steadyrest.proof.geometry import Stand, less_whole_turns
from steadyrest.proof.intended_path import OperationFrame
from steadyrest.proof.matching import leading
from steadyrest.proof.safety import PART_IN
from steadyrest.proof.speed import judge_straight, pause_slack_s, unlike
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import axis_word, coordinate_said, edit_aside, edit_of_begin, edited, length
from steadyrest.toolpath import CYCLES, RAPID, Hole, Holes

_STEPPED = ("peck", "chip-break")
_FEEDS_OUT = ("tap", "bore")


def follow_holes(follower: Follower, holes: Holes) -> None:
    """Holes that differ in their places alone: one by the full rules, those that are simply like it at once, and so on."""
    at, most = 0, FEW
    while at < len(holes):
        follow_hole(follower, holes.hole(at))
        count = follow_like_holes(follower, take(holes, slice(at + 1, at + 1 + most)))
        at += 1 + count
        follower.point = _point(holes.hole(at - 1), follower)
        most = 8 * most if count == most else FEW  # no more than pays is looked at in vain


def _point(hole: Hole, follower: Follower) -> Floats:
    """The point (4,) or (6,) over a hole at its retract level, in the frame of its operation."""
    setting = follower.setting
    return follower.frame.raised(np.array([hole.x, hole.y, hole.retract]) * setting.scale * follower.frame.way_round(setting))


def follow_hole(follower: Follower, hole: Hole) -> None:
    """Go through one hole. Raises Mismatch at the first thing that differs."""
    cursor, figures, scale = follower.cursor, follower.figures, follower.setting.scale
    top, follower.hole = _point(hole, follower), hole
    follower.links.reach(top, hole.move, feeds=None, first=bool(np.isnan(follower.point[0])))
    drilling = _Drilling(follower, hole, top)
    while not drilling.out():
        ahead = cursor.ahead()
        if ahead == "dwell":
            drilling.pause()
            continue
        if ahead != "rows":
            raise drilling.unfinished("hole-unfinished", "the program leaves the hole before it is finished")
        follower.links.check_switches()
        begun = drilling.steps > 0 and not drilling.at_bottom
        drilling.block()
        cursor.advance(1, in_hole=begun)
        figures.blocks += 1
    drilling.finish()
    figures.widen(drilling.off / scale, drilling.radius / scale)
    figures.holes += 1
    figures.moves += 1


class _Drilling:
    """How far a hole has got. Heights are work coordinates, mm, with a chain those of the plane; `deepest` is what has been cut so far."""

    def __init__(self, follower: Follower, hole: Hole, over: Floats) -> None:
        setting = follower.setting
        self.cursor, self.setting, self.this, self.hole = follower.cursor, setting, follower.this, hole
        self.frame, self.links = follower.frame, follower.links
        self.work = self.frame.goal_of(over) if isinstance(self.frame, OperationFrame) else tuple(over.tolist())
        self.top = self.work[2]
        self.bottom = self.top - (float(over[2]) - hole.bottom * setting.scale)
        if not isinstance(self.frame, OperationFrame):
            self.radius = float(np.linalg.norm(self.frame.tips_of(over) - setting.frame.centre_mm))
            self.slack = setting.slack_mm
        else:
            self.radius = abs(setting.frame.tip(self.work)[1])
            self.slack = setting.limit_mm(self.radius) + 1e-9
        self.feed = hole.feed * setting.scale
        self.peck = hole.peck * setting.scale if hole.peck is not None else None
        self.deepest = self.top
        self.broken_at = self.top  # how deep it was cut when the tool last came out, or up to break the chip
        self.at_bottom = False
        self.paused = 0.0
        self.steps = 0
        self.off = 0.0
        self.left = False
        self.cut_line = 0
        self.last_step = 0.0
        self.pause_line = 0

    def place(self, ahead: int = 0) -> Stand:
        """Where the tool stands, or will `ahead` blocks on: on the machine, with a chain in the plane."""
        place = self.cursor.place(ahead)
        if isinstance(self.frame, OperationFrame):
            return place
        return self.frame.of_stand(place, self.links.turns_off)

    def out(self) -> bool:
        """Whether the tool was at the bottom and is out again; a block may go down once more, as a last peck of a hair does."""
        cursor, very_bottom = self.cursor, self.bottom + self.setting.rounding.linear_mm + 1e-9
        if self.at_bottom and self.left and self.deepest > very_bottom and cursor.ahead() == "rows":
            self.left = not (self.place(1)[2] < self.place()[2] and self._aside(self.place(1)) <= self.slack)
        return self.at_bottom and self.left

    def pause(self) -> None:
        """The pause that is ahead, while in the hole: only at the bottom."""
        self.pause_line = self.cursor.line
        seconds = self.cursor.take_event().number
        if not self.at_bottom or self.left:
            raise self.unfinished("hole-pause", "a pause in the hole, but not at its bottom")
        self.paused += seconds

    def block(self) -> None:
        """Judge the next block."""
        cursor = self.cursor
        begin, end = self.place(), self.place(1)
        aside = self._aside(end)
        turns = not all(abs(to - at) <= 1e-9 for at, to in zip(cursor.place()[3:], cursor.place(1)[3:], strict=True))
        if not aside <= self.slack or turns or cursor.rows.motion[cursor.at] > LINE:
            sentence = "the tool leaves the hole's axis before the hole is finished"
            if self.steps and not self.at_bottom:
                raise self.unfinished("hole-aside", sentence, aside)
            wrong = self._wrong("hole-aside", sentence, aside)
            raise wrong if self.on_chain else edited(wrong, edit_aside(cursor, self.setting, self._at(self.top)))
        self.off = max(self.off, aside)
        if end[2] == begin[2]:
            return  # positioning to where the tool stands already: nothing happens
        if cursor.at_rapid:
            self._rapid(end[2], down=end[2] < begin[2])
        elif end[2] < begin[2]:
            self._cut(begin[2], end[2])
        elif not end[2] > begin[2]:
            raise self._wrong("unknown-place", "the tool feeds to or from an unknown height")
        elif self.links.rapids_at_feed and self.hole.cycle not in _FEEDS_OUT:
            self._rapid(end[2], down=False)
        elif not (self.at_bottom and self.hole.cycle in _FEEDS_OUT):
            raise self._wrong("hole-feeds-up", f"{self._z(end[2])}: the tool feeds up; the cycle {self.hole.cycle} does not")
        else:
            self._speed(end[2] - begin[2])
            self.left = self.left or end[2] >= self.top - self.slack

    def _rapid(self, end: float, *, down: bool) -> None:
        if down:
            begun = self.deepest < self.top
            if (begun and end <= self.deepest) or (not begun and end < self.top - self.slack):
                cut = f", {self._z(self.deepest)}" if begun else ""
                sentence = f"{self._z(end)}: a rapid down into the hole to or below the depth already cut{cut}"
                raise self._wrong("hole-rapid-down", sentence, self.deepest - end, heights=(self.deepest, end))
            return
        if self.at_bottom and (self.hole.cycle != "chip-break" or end >= self.top - self.slack):
            if self.hole.cycle in _FEEDS_OUT:
                raise self._wrong("hole-rapid-out", f"a rapid out of the hole; the cycle {self.hole.cycle} feeds out")
            if end >= self.top - self.slack:
                self.left = True
            return
        if not self.steps and end <= self.top + self.slack:
            return  # up to the retract level by a count or two: nothing is cut yet
        rise = self.setting.profile.cycles.chip_break_rise - 2 * self.setting.rounding.linear_mm
        if end >= self.top - self.slack or (self.hole.cycle == "chip-break" and end - self.deepest >= rise):
            self.broken_at = self.deepest
        if self.hole.cycle == "peck" and end < self.top - self.slack:
            raise self._wrong("peck-out", "a peck does not come out to the retract level", self.top - end, heights=(self.top, end))
        if self.hole.cycle not in _STEPPED:
            sentence = f"the tool goes up before it has reached the bottom, in the cycle {self.hole.cycle}"
            raise self.unfinished("hole-up", sentence, end - self.bottom)

    def _cut(self, begin: float, end: float) -> None:
        if end < self.bottom - self.slack:
            sentence = f"{self._depth(begin, end)}: the hole is {length(self.setting, self.bottom - end)} deeper than asked for"
            raise self._wrong("hole-deep", sentence, self.bottom - end, heights=(self.bottom, end))
        step = self.broken_at - end
        if self.peck is not None and step > self.peck + self.slack:
            out = "up" if self.hole.cycle == "chip-break" else "out"
            said = f"{self._z(end)} makes a peck of {length(self.setting, step)}"
            early = bool(self.steps) and self.last_step < self.peck - self.slack  # the step before ended too early
            if early:
                said = f"{self._z(self.deepest)} makes pecks of {length(self.setting, self.last_step)} and {length(self.setting, step)}"
            asked = length(self.setting, self.peck)
            sentence = f"{said}; the toolpath asks for pecks of {asked} before coming {out}"
            raise self._wrong("peck-step", sentence, step, self.cut_line if early else 0, (self.broken_at - self.peck, end))
        if begin > self.top + self.slack:
            mismatch = self._wrong("hole-above", "the feed starts above the retract level", begin - self.top)
            raise mismatch if self.on_chain else edited(mismatch, edit_of_begin(self.cursor, self.setting, self._at(self.top)))
        self._speed(begin - end)
        self.last_step = step
        self.deepest = min(self.deepest, end)
        self.steps += 1
        self.cut_line = self.cursor.line
        if end <= self.bottom + self.slack:
            self.at_bottom = True
            self.off = max(self.off, abs(end - self.bottom))

    def finish(self) -> None:
        """The hole is done: was the pause long enough?"""
        asked = self.hole.dwell
        if abs(self.paused - asked) > pause_slack_s(self.setting, asked):
            sentence = f"a pause of {self.paused:g} s at the bottom; the toolpath asks for {asked:g} s"
            raise self._wrong("hole-pause", sentence, line=self.pause_line or self.cut_line)

    def _speed(self, way: float) -> None:
        """A tap goes by its pitch in a turn: F to S as the feed to the speed asked for, and nothing may hold the axis back."""
        if self.hole.cycle != "tap":
            judge_straight(self.cursor, self.this.number, self.hole.move, way, (self.feed, self.feed), "the tool drills")
            return
        rows, spindle, rpm, at = self.cursor.rows, self.this.operation.spindle, self.cursor.state.rpm, self.cursor.at
        minutes, pitch = float(rows.minutes[at]), self.feed / spindle.rpm if spindle.rpm else float("nan")
        if not abs(way / minutes / rpm / pitch - 1) <= PART_IN + 1e-6:
            went, asked = way / minutes / rpm / self.setting.scale, pitch / self.setting.scale
            unit = self.setting.toolpath.units
            raise self._wrong("feed", f"the tap goes {went:.6g} {unit} per turn; its pitch is {asked:.6g} {unit}")
        if rows.machine[at] > minutes * (1 + PART_IN):
            raise self._wrong("feed", "F for the tap is more than the axis can run, and a tap must not slow down")

    def unfinished(self, rule: str, sentence: str, distance: float = float("nan")) -> Mismatch:
        """The tool goes away before it has been at the bottom: where the last cut ended, if there was one, it ended too early."""
        if not self.steps or self.at_bottom:
            return self._wrong(rule, sentence, distance)
        less = length(self.setting, self.deepest - self.bottom)
        shallow = f"{self._depth(self.top, self.deepest)}: the hole is {less} shallower than asked for"
        return self._wrong(rule, shallow, distance, self.cut_line, (self.bottom, self.deepest))

    @property
    def on_chain(self) -> bool:
        """Whether heights are those of the plane, which no word says."""
        return not isinstance(self.frame, OperationFrame)

    def _depth(self, begin: float, end: float) -> str:
        if self.on_chain:
            return f"{self._z(end)} of the plane; the toolpath asks for {length(self.setting, self.bottom)}"
        return axis_word(self.setting, 2, self._at(begin), self._at(end), self._at(self.bottom))

    def _z(self, height: float) -> str:
        return coordinate_said(self.setting, 2, self._at(height))

    def _at(self, height: float) -> Floats:
        """The place (4,) over the hole at a height, the part turned as it stands; with a chain in the plane (3,)."""
        return np.array([*self.work[:2], height, *(() if self.on_chain else self.cursor.place()[3:])])

    def _aside(self, stand: Stand) -> float:
        """How far a place is off the hole's axis in X or Y, mm; NaN where it is not known."""
        return float(np.maximum(abs(stand[0] - self.work[0]), abs(stand[1] - self.work[1])))

    def _wrong(
        self, rule: str, sentence: str, distance: float = float("nan"), line: int = 0, heights: tuple[float, float] | None = None
    ) -> Mismatch:
        """heights   at which the tool should be, and is"""
        mismatch = Mismatch(rule, sentence, line=line or self.cursor.line, distance_mm=distance, move=self.hole.move)
        if heights is not None:
            places = list(map(self._at, heights))
            if self.on_chain:
                places = [np.array(self.frame.goal_of(self.frame.raised(place))) for place in places]
            mismatch.asked, mismatch.found = places
        return mismatch


BLOCKS = 3
"""Of a hole that is drilled after another at the same height: over it, down at feed, up at rapid."""
MOST = 4096
"""Holes at once."""
FEW = 16
"""Holes that are tried at first, where nobody knows yet whether any is drilled simply."""
_HAIR = 1e-9


def follow_like_holes(follower: Follower, holes: Holes) -> int:
    """Go through as many of `holes`, which differ from the one just drilled in their places alone, as the next blocks drill simply.

    Simply means: over the place, down at feed, up at rapid, all at the same heights and in the same time; nothing is switched, no rule
    is broken and no feed lowered; the place is farther off than what is allowed, so that the way to it is no slip of the hole before.
    Such holes pass `follow_hole` with nothing said: its rules are asked here in columns, and the first hole that fails one ends the run.

    returns   how many of them that were
    """
    cursor, setting, this, figures = follower.cursor, follower.setting, follower.this, follower.figures
    rows, at = cursor.rows, cursor.at
    if not len(holes) or CYCLES[holes.cycle[0]] != "drill" or not isinstance(this.frame, OperationFrame):
        return 0
    checked = cursor.checked
    turn = rows.turning[np.searchsorted(rows.turning, at) :][:1]
    count: int = min(len(holes), (min([cursor.sound, *turn.tolist()]) - at) // BLOCKS)
    if count < 1 or checked is None or checked[0] is not cursor.state or checked[1] is not this:
        return 0
    phi, top, low = float(rows.phi[at]), float(rows.vertex[at, 2]), float(rows.vertex[at + 2, 2])
    feed = float(holes.feed[0]) * setting.scale
    if not low < top or unlike(rows, at + 1, setting, top - low, (feed, feed)) is not None:
        return 0
    points = np.zeros((count, BLOCKS, 4))
    points[..., :2] = holes.xy[:count, None]
    points[..., 2] = holes.retract[:count, None]
    points[:, 1, 2] = holes.bottom[:count]
    points[..., :3] *= setting.scale * this.frame.way_round(setting)
    goals = this.frame.goals_of(points.reshape(-1, 4))
    goal, turns, frame = goals[:, :3], goals[:, 3], setting.frame
    on_part = frame.to_part(goal, turns)
    limit = setting.limit_mm(np.abs(frame.across(goal))) + _HAIR

    blocks, down = slice(at, at + count * BLOCKS), slice(1, None, BLOCKS)
    vertex = rows.vertex[at : blocks.stop + 1]
    good = np.linalg.norm(frame.to_part(vertex[1:], phi) - on_part, axis=1) <= limit
    good[::BLOCKS] &= (np.linalg.norm(frame.to_part(vertex[:-1], phi) - on_part, axis=1) > limit)[::BLOCKS]
    good &= np.abs(less_whole_turns(phi - turns)) <= setting.axis_limit_rad
    good &= (rows.motion[blocks] == np.tile((RAPID, LINE, RAPID), count)) & ~rows.clear[blocks]
    good &= vertex[1:, 2] == np.tile((top, low, top), count)
    good[down] &= low <= goal[down, 2] + setting.rounding.linear_mm + _HAIR
    for column in (rows.minutes, rows.machine, rows.count, rows.least):
        good[down] &= column[blocks][down] == column[at + 1]
    if (count := leading(good.reshape(count, BLOCKS).all(axis=1))) == 0:
        return 0

    cursor.advance(count * BLOCKS)
    follower.links.stands_at(this.frame.goal_of(points[count - 1, 0]))
    gap = np.abs(vertex[1:] - goal)[: count * BLOCKS]
    radius = np.abs(frame.across(goal[: count * BLOCKS])).max()
    figures.widen(float(max(gap[:, :2].max(), gap[down, 2].max())) / setting.scale, float(radius) / setting.scale)
    figures.holes += count
    figures.moves += count
    figures.blocks += count * (BLOCKS - 1)
    return count
