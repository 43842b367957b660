"""Does the tool get safely to where it is to go on, on a chain of rotaries? As `links`, told by tip and tool axis in the part.

No rapid through the ball of the stock, lower than the toolpath's own rapids, but straight along the tool axis: away from the part, or down
on where it is to go on. Nothing turns low down: that rule is every block's. A goal is a tip and a tool axis in the part frame, six numbers.
"""

from __future__ import annotations

from math import degrees, inf, isfinite, isnan, nan, remainder, tau

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import LINE
from steadyrest.proof.chain import angles_between, poses
from steadyrest.proof.chain_frame import ChainFrame
from steadyrest.proof.chain_words import edit_on_chain
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.geometry import FULL_TURN, Stand
from steadyrest.proof.links import NO_TURN_RAD, TURNS_RAD, Links, along, turns
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import Edit, edited, length, place_said


class ChainLinks(Links):
    """The links of one pass of a chain."""

    @property
    def rapids_at_feed(self) -> bool:
        """Where a head is turned they may: a rapid of several axes need not be straight on the machine. Where they go is judged."""
        words = zip(self.setting.lines, self.cursor.place()[3:], strict=True)
        return any(not line.carries_part and abs(remainder(word, tau)) > TURNS_RAD for line, word in words)

    def goes_as_a_rapid(self) -> bool:
        """Whether the next block, at feed, goes straight where a rapid might, and is judged like one; none does that turns anything."""
        straight = self.cursor.rows.motion[self.cursor.at] == LINE
        return bool(straight) and self.rapids_at_feed and self.cursor.place()[3:] == self.cursor.place(1)[3:]

    def withdraws(self) -> bool:
        """Whether the next block goes at feed along a leaning tool, away from the part."""
        begin, end = self.cursor.place(), self.cursor.place(1)
        if not self.rapids_at_feed or self.cursor.rows.motion[self.cursor.at] != LINE or any(map(isnan, (*begin, *end))):
            return False
        (tip, axis), (to, _) = self.pose(begin), self.pose(end)
        up, aside = along(to - tip, axis)
        return begin[3:] == end[3:] and up >= 0 and aside <= self.setting.slack_mm

    def pose(self, stand: Stand) -> tuple[Floats, Floats]:
        """Tip and tool axis (3,) in the part frame, with the tool in the spindle: before it is changed that of the operation before."""
        numbers = np.array(stand)
        return poses(self.setting.lines_with(self._in_spindle), numbers[:3], numbers[3:])

    @property
    def _in_spindle(self) -> float:
        tool = self.cursor.state.tool
        return self.this.operation.tool if isnan(tool) else tool

    def stands_at(self, goal: Stand) -> bool:
        """Whether the tool stands at a goal, its axis as it should be."""
        tip, axis = self.pose(self.cursor.place())
        turned = float(angles_between(axis, np.array(goal[3:6])))
        off = float(np.linalg.norm(tip - goal[:3]))
        frame = self.this.frame
        if not (turned <= frame.axis_limit(self.setting) and off <= self.setting.slack_mm + 1e-9):
            return False
        if isinstance(frame, DrawnOnChain):
            self.turns_off = FULL_TURN * round((frame.phi_at(self.cursor.place()) - goal[6]) / FULL_TURN)
        return True

    def distance_to(self, goal: Stand, ahead: int) -> float:
        """Distance of the tip, `ahead` blocks on, from a goal, in the part frame, mm; infinite where it is not known."""
        off = float(np.linalg.norm(self.pose(self.cursor.place(ahead))[0] - goal[:3]))
        return inf if isnan(off) else off

    def turned_from(self, goal: Stand, ahead: int) -> float:
        """The angle between the tool axis, `ahead` blocks on, and that of a goal, rad; in a drawing whole turns count."""
        stand, frame = self.cursor.place(ahead), self.this.frame
        turned = float(angles_between(self.pose(stand)[1], np.array(goal[3:6])))
        if isinstance(frame, DrawnOnChain):
            return max(turned, abs(frame.phi_at(stand) - self.turns_off - goal[6]))
        return turned

    def _off_turn(self, goal: Stand, ahead: int) -> float:
        return self.turned_from(goal, ahead)

    def _goal_at(self, stand: Stand) -> Stand:
        (tip, axis), frame = self.pose(stand), self.this.frame
        goal = (*tip.tolist(), *axis.tolist())
        return (*goal, frame.phi_at(stand) - self.turns_off) if isinstance(frame, DrawnOnChain) else goal

    def check_leaving(self, start: Stand) -> None:
        """The next block, a rapid after the last cut: straight away from the part, or over everything. Raises Mismatch."""
        self._check_rapid(start, (inf, inf, inf, 0.0, 0.0, 1.0), 0, first=True)

    def _check_rapid(self, start: Stand, goal: Stand, move: int, first: bool, *, by_feed: bool = False, since: int = 0) -> None:
        cursor, setting = self.cursor, self.setting
        if cursor.rows.clear[cursor.at]:
            return
        begin, end, slack = cursor.place(), cursor.place(1), setting.slack_mm
        if turns(begin, end):
            return  # never low down, by the rule of every block
        space, zero = cursor.space(self._in_spindle), 4 * setting.farthest_mm
        upright = all(abs(to - at) <= slack or (isnan(at) and isnan(to)) for at, to in zip(begin[:2], end[:2], strict=True))
        if isnan(end[2]) and upright:
            if any(map(isnan, begin)):
                return  # up to the machine's own zero, nobody knows from where
            end = (*end[:2], begin[2] + zero, *end[3:])
        elif isnan(begin[2]) and upright and not any(map(isnan, end)):
            begin = (*end[:2], end[2] + zero, *end[3:])  # from the machine's own zero, wherever that is
        if not any(map(isnan, (*begin, *end))):
            (tip, axis), (to, _) = self.pose(begin), self.pose(end)
            up, aside = along(to - tip, axis)
            over, beside = along(to - np.array(goal[:3]), axis) if isfinite(goal[0]) else (inf, inf)
            if aside <= slack:
                if up >= 0:
                    return  # straight away from the part
                if beside <= slack and over >= -slack and float(angles_between(axis, np.array(goal[3:6]))) <= self._upright:
                    if by_feed and over <= slack:
                        sentence = "the tool comes down at rapid right to the start of a cut; the toolpath feeds down"
                        raise Mismatch("rapid-plunge", sentence, line=cursor.line, move=move)
                    return  # straight down on the goal, no lower than it
            elif not first and self._near(tip, start) and float(np.linalg.norm(to - goal[:3])) <= slack:
                return  # the toolpath's own rapid
        low, floor = space.lowest(begin, end), self._ground(start, goal, begin, end, first)
        if low < floor - slack:
            height = f"{length(setting, low)} above the centre along the tool axis" if low > -inf else "at an unknown height"
            sentence = (
                f"a rapid goes through the ball that the stock sweeps about the centre, {height}, "
                f"lower than the toolpath's own rapids there ({length(setting, floor)})"
            )
            turned = float(angles_between(self.pose(end)[1], np.array(goal[3:6]))) if isfinite(goal[0]) else 0.0
            if turned > self.this.frame.axis_limit(setting):
                sentence += f", and the tool axis is {degrees(turned):.4g} degrees off"
            mismatch = Mismatch("rapid-low", sentence, line=cursor.line, distance_mm=floor - low if low > -inf else nan, move=move)
            edit = self._edit(goal, ahead=1, since=since, aside=True)
            raise edited(mismatch, edit or self._edit(goal, ahead=0, since=since, aside=True))

    def _near(self, tip: Floats, start: Stand) -> bool:
        return float(np.linalg.norm(tip - self.pose(start)[0])) <= self.setting.slack_mm

    def _ground(self, start: Stand, goal: Stand, begin: Stand, end: Stand, first: bool) -> float:
        """The height along the tool axis, over the centre, below which the next rapid must not go inside the ball.

        The ball's own; but between the two ends of the toolpath's own rapid, over the same ground, the height of the higher end.
        """
        top = self.setting.swept_mm
        if first or not self._known or any(map(isnan, (*start, *begin, *end))):
            return top
        (origin, axis), target = self.pose(start), np.array(goal[:3])
        if max(float(angles_between(axis, other)) for other in (np.array(goal[3:6]), self.pose(begin)[1])) > NO_TURN_RAD:
            return top
        way = target - origin
        flat = way - (way @ axis) * axis
        square = float(flat @ flat)
        for stand in (begin, end):
            rel = self.pose(stand)[0] - origin
            share = min(1.0, max(0.0, float(rel @ flat) / square)) if square > 0 else 0.0
            if along(rel - share * flat, axis)[1] > self.setting.slack_mm:
                return top
        centre = self.setting.frame.centre_mm
        return min(top, max(float((at - centre) @ axis) for at in (origin, target)))

    def _missed(self, goal: Stand, nearest: float, move: int, since: int, *, back: bool) -> Mismatch:
        off = min(nearest, self.distance_to(goal, 0), self.distance_to(goal, 1))  # it may have started a little aside
        turned = self.turned_from(goal, 0)
        away = f"{length(self.setting, off)} from" if off < inf else "at an unknown distance from"
        sentence = f"the cut starts {away} where it should, {place_said(self.setting, goal[:3])} of the part"
        if turned > self.this.frame.axis_limit(self.setting):
            sentence += f", and the tool axis is {degrees(turned):.4g} degrees off"
        mismatch = Mismatch("cut-elsewhere", sentence, line=self.cursor.line, distance_mm=off if off < inf else nan, move=move)
        beside = self._edit(goal, ahead=0, since=since, aside=True)
        nearer = int(self.distance_to(goal, 1) < self.distance_to(goal, 0))
        return edited(mismatch, beside or self._edit(goal, ahead=nearer, since=since))

    def _edit(self, goal: Stand, *, ahead: int, since: int, aside: bool = False) -> Edit | None:
        """The word because of which the tool is not where it is to go on; in a drawing none is named."""
        frame = self.this.frame
        if not isinstance(frame, ChainFrame):
            return None
        return edit_on_chain(self.cursor, frame, self.setting, goal, ahead=ahead, since=since, aside=aside)

    def _ends_early(self, mismatch: Mismatch, goal: Stand, since: int, *, back: bool) -> None:
        """The program has ended on the way to the goal: the word that did not lead there is named, if there is one."""
        edited(mismatch, self._edit(goal, ahead=0, since=since))
