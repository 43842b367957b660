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
from steadyrest.proof.links import TURNS_RAD, Links, along
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
        return poses(self.setting.lines_with(self.in_spindle), numbers[:3], numbers[3:])

    @property
    def in_spindle(self) -> float:
        """That which is; before it is changed, that of the operation before."""
        tool = self.cursor.state.tool
        return self.this.operation.tool if isnan(tool) else tool

    def stands_at(self, goal: Stand) -> bool:
        """Whether the tool stands at a goal, its axis as it should be."""
        place, frame = self.cursor.place(), self.this.frame
        if not (self._leans(place, goal) <= frame.axis_limit(self.setting) and self.distance_to(goal, 0) <= self.setting.slack_mm + 1e-9):
            return False
        if isinstance(frame, DrawnOnChain):
            self.turns_off = FULL_TURN * round((frame.phi_at(place) - goal[6]) / FULL_TURN)
        return True

    def count_turns_from(self, point: Floats) -> None:
        """Where a tool goes round a drawing no turn is like another in the rotaries' words: it stands in the turn of the path's point."""
        frame = self.this.frame
        if isinstance(frame, DrawnOnChain) and frame.goes_round and not np.isnan(point[0]):
            turned = frame.phi_at(self.cursor.place()) - float(frame.drawn.turns_of(point[None])[0])
            self.turns_off = self.turns_off if isnan(turned) else FULL_TURN * round(turned / FULL_TURN)

    def distance_to(self, goal: Stand, ahead: int) -> float:
        """Distance of the tip, `ahead` blocks on, from a goal, in the part frame, mm; infinite where it is not known."""
        off = float(np.linalg.norm(self.pose(self.cursor.place(ahead))[0] - goal[:3]))
        return inf if isnan(off) else off

    def turned_from(self, goal: Stand, ahead: int) -> float:
        """The angle between the tool axis, `ahead` blocks on, and that of a goal, rad; in a drawing whole turns count."""
        stand, frame = self.cursor.place(ahead), self.this.frame
        turned = self._leans(stand, goal)
        if isinstance(frame, DrawnOnChain) and not frame.goes_round:
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

    SPACE = "the ball that the stock sweeps about the centre", "the centre along the tool axis"

    @property
    def _over_all_mm(self) -> float:
        return self.setting.swept_mm

    def _leans(self, stand: Stand, goal: Stand) -> float:
        return float(angles_between(self.pose(stand)[1], np.array(goal[3:6])))

    def _and_leans(self, goal: Stand, ahead: int = 1) -> str:
        turned = self.turned_from(goal, ahead) if isfinite(goal[0]) else 0.0
        return f", and the tool axis is {degrees(turned):.4g} degrees off" if turned > self.this.frame.axis_limit(self.setting) else ""

    def _edit_before_rapid(self, goal: Stand, since: int) -> Edit | None:
        edits = (self._edit(goal, ahead=ahead, since=since, aside=True) for ahead in (1, 0))
        return next(edits) or next(edits)

    def _missed(self, goal: Stand, nearest: float, move: int, since: int, *, back: bool) -> Mismatch:
        off = min(nearest, self.distance_to(goal, 0), self.distance_to(goal, 1))  # it may have started a little aside
        away = f"{length(self.setting, off)} from" if off < inf else "at an unknown distance from"
        sentence = f"the cut starts {away} where it should, {place_said(self.setting, goal[:3])} of the part{self._and_leans(goal, 0)}"
        mismatch = Mismatch("cut-elsewhere", sentence, line=self.cursor.line, distance_mm=off if off < inf else nan, move=move)
        mismatch.asked = np.array(goal)
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
        mismatch.asked = np.array(goal)
        edited(mismatch, self._edit(goal, ahead=0, since=since))
