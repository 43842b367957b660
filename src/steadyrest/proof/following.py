"""Does the program follow the path? One pass of the toolpath and the program's blocks, gone through side by side."""

from __future__ import annotations

from itertools import takewhile
from math import degrees, inf, isnan

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import LINE
from steadyrest.proof.chain_frame import ChainFrame
from steadyrest.proof.chain_links import ChainLinks
from steadyrest.proof.chain_measure import measure_drawn, measure_on_chain
from steadyrest.proof.chain_words import edit_on_chain
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.figures import StretchFigures
from steadyrest.proof.intended_path import Elements, OperationFrame, Pass, elements_of
from steadyrest.proof.links import Links
from steadyrest.proof.matching import (
    MOST_BLOCKS,
    Pairs,
    across_several,
    along_one,
    blocks_at_feed,
    by_length,
    farthest,
    goes_back,
    head,
    leading,
    one_by_one,
    one_to_one,
)
from steadyrest.proof.measure import Measured, measure
from steadyrest.proof.setting import Setting
from steadyrest.proof.short_passes import ShortPasses
from steadyrest.proof.speed import Timing, figures_of, time_of
from steadyrest.proof.verdict import Mismatch, OperationFigures
from steadyrest.proof.words import Edit, PathAhead, edit_along_cut, edit_in_cut, edit_left_early, edited, feed_word, speed
from steadyrest.toolpath import RAPID, Hole, MoveColumns

_TOGETHER = 3e-3
"""How near, as a fraction, the time of two blocks together has to be to their feed: F has so many digits at the least."""


class Follower:
    """Goes through one pass. `point` (4,) or (6,) is the last point of the toolpath that has been reached; NaN before the first."""

    def __init__(self, cursor: Cursor, setting: Setting, this: Pass, figures: OperationFigures) -> None:
        self.cursor, self.setting, self.this, self.figures = cursor, setting, this, figures
        self.frame = this.frame
        self.links = ChainLinks(cursor, setting, this) if setting.lines else Links(cursor, setting, this)
        self.point: Floats = np.full(self.frame.numbers, np.nan)
        self._reach, self._axis_limit = self.frame.reach_mm(setting), self.frame.axis_limit(setting)
        self._off: Measured | None = None
        self._last_rapid = False
        self._short: ShortPasses | None = None
        self.moves_left: Elements | None = None
        """For the diagnosis: the moves being gone through, and which of them is next."""
        self.next_move = 0
        self.hole: Hole | None = None
        """For the diagnosis: the hole being drilled."""
        self.wrong_row: int | None = None
        """For the diagnosis: the block whose speed is wrong, and the feed it should have, mm per minute."""
        self.wrong_feed = float("nan")

    def columns(self, columns: MoveColumns, short: ShortPasses | None = None) -> Elements:
        """Follow a run of rapids, cuts and arcs, and give it as elements. Raises Mismatch at the first thing that differs.

        short   the passes among which this is one, which is nothing but that run
        """
        self._short, self.hole = short, None
        elements = elements_of(columns, self.frame, self.point, self.setting)
        self.moves_left = elements
        at, u = 0, 0.0
        while at < len(elements):
            self.next_move = at
            at, u = self._step(elements, at, u)
        self.next_move = at
        self.point = elements.points[-1].copy()
        self._last_rapid = bool(elements.kind[-1] == RAPID)
        self.figures.moves += len(elements)
        return elements

    def come_on_the_way(self) -> None:
        """A pause or stop before the first point of a pass may come when the tool is on its way: any safe rapid may be first."""
        if not np.isnan(self.point[0]):
            self.links.settle()
            return
        start = self.cursor.place()
        while self.cursor.ahead() == "rows" and self.cursor.at_rapid:
            self.links.check_leaving(start)
            self.cursor.advance(1)

    def _step(self, elements: Elements, at: int, u: float) -> tuple[int, float]:
        """Take the path on from element `at`, gone to `u`: returns where it stands then."""
        cut, goal, feed = elements.kind[at] != RAPID, elements.points[at + 1], float(elements.feed[at])
        move, links = elements.first_move + at, self.links
        links.count_turns_from(elements.points[at] if u == 0.0 else elements.point(at, u))
        if np.isnan(elements.points[at, 0]):
            links.reach(goal, move, feeds=(feed, feed) if cut else None, first=True)
            return at + 1, 0.0
        if at == 1 and self._short is not None and (stretch := self._short.figures(self.this, self.cursor, links.turns_off)) is not None:
            return self._take(stretch, len(elements), 0.0)
        if not cut and links.stands_at(self.frame.goal_of(goal)):
            return at + 1, 0.0
        came_at_rapid = u == 0.0 and bool(elements.kind[at - 1] == RAPID if at > 0 else self._last_rapid)
        if self.cursor.ahead() != "rows":
            if cut and self._stays_near(elements, at, 0):
                return at + 1, 0.0
            links.pass_event(move, cutting=bool(cut) and not came_at_rapid)
            return at, u
        if not cut:
            if self.cursor.at_rapid and (pairs := self._lockstep(elements, at, u)) is not None and (moved := self._commit(elements, pairs)):
                return moved
            links.reach(goal, move, feeds=None)
            return at + 1, 0.0
        if not self.cursor.at_rapid and (moved := self._cut(elements, at, u)) is not None:
            return moved
        if self._stays_near(elements, at, 0):
            return at + 1, 0.0
        here = elements.points[at] if u == 0.0 else elements.point(at, u)
        if not came_at_rapid:
            self.figures.lifted += 1
            self.figures.lifted_lines.append(self.cursor.line)
        # The cut that was left may have ended a hair before, with a feed of its own.
        feeds = float(np.fmin(feed, links.last_feed)), float(np.fmax(feed, links.last_feed))
        # Only to where the toolpath itself came at rapid may the tool come back at rapid.
        try:
            links.reach(here, move, feeds=feeds, away=True, at_rapid=came_at_rapid)
        except Mismatch as mismatch:
            raise self._left_early(mismatch, elements, at, u) from None
        return at, u

    def _left_early(self, mismatch: Mismatch, elements: Elements, at: int, u: float) -> Mismatch:
        """The tool did not come back to the cut that it left: unless a word of the way back is wrong, the cut ended too early."""
        if mismatch.edited or mismatch.rule not in ("cut-elsewhere", "ends-early", "rapid-low", "turn-low"):
            return mismatch
        if not isinstance(self.frame, OperationFrame):
            return mismatch
        goal = self.frame.goals_of(elements.points[at + 1][None, :], self.links.turns_off)[0]
        return edited(mismatch, edit_left_early(self.cursor, self.setting, goal, missing=u == 0.0))

    def _cut(self, elements: Elements, at: int, u: float) -> tuple[int, float] | None:
        """Take the path on over blocks at feed; None where the next one does not follow it, but leaves the part along a leaning tool."""
        self._off = None
        if any(map(isnan, self.cursor.place())):
            self.links.check_switches()
            sentence = "the program cuts from an unknown position: an offset has changed, or the last move was in machine coordinates"
            raise Mismatch("unknown-place", sentence, line=self.cursor.line, move=elements.first_move + at)
        if (pairs := self._lockstep(elements, at, u)) is not None and (moved := self._commit(elements, pairs)):
            return moved
        points, lengths = blocks_at_feed(self.cursor, self.frame, self.links.turns_off)
        rapids = np.flatnonzero(elements.kind[at : at + MOST_BLOCKS] == RAPID)
        stop = at + int(rapids[0]) if len(rapids) else min(at + MOST_BLOCKS, len(elements))
        pairs = by_length(points, lengths, elements, at, stop, u, self._reach)
        if pairs is not None and (moved := self._commit(elements, pairs) if len(pairs) else self._skip(elements, pairs)):
            return moved
        if moved := self._commit(elements, along_one(points, lengths, elements, at, u, self._reach)):
            return moved
        if (reached := across_several(points[:2], elements, at, len(elements), u, self._reach)) is not None:
            return self._commit_across(elements, at, u, *reached)
        if self.links.withdraws():
            return None
        raise self._differs(elements, at, u)

    def _lockstep(self, elements: Elements, at: int, u: float) -> Pairs | None:
        """As many blocks as end where one move each ends; None when too few do to be worth it."""
        return one_by_one(self.cursor, self.frame, elements, at, u, self.links.turns_off, self._reach)

    def _commit(self, elements: Elements, pairs: Pairs) -> tuple[int, float] | None:
        """Measure the blocks, count those that are right up to the first that is not; None when that is the very first."""
        cursor, setting = self.cursor, self.setting
        blocks = slice(cursor.at, cursor.at + len(pairs))
        args = cursor.rows, blocks, elements, pairs
        if isinstance(self.frame, ChainFrame):
            found = measure_on_chain(*args, self.frame, setting)
        elif isinstance(self.frame, DrawnOnChain):
            found = measure_drawn(*args, self.frame, self.links.turns_off)
        else:
            found = measure(*args, self.frame, setting, self.links.turns_off)
        good = (found.apart_mm <= found.limit_mm) & (found.axis_over_rad <= self._axis_limit)
        good &= ~goes_back(pairs, elements, self._reach)
        for element, before in zip(pairs.skipped, pairs.skipped_at, strict=True):
            if not self._stays_near(elements, int(element), int(before)):
                if before == len(good):
                    pairs = head(pairs, len(pairs))
                    break
                good[before] = False
        count = leading(good)
        if count == 0:
            self._off = self._off or found
            return None
        if count < len(pairs):
            pairs = head(pairs, count)
        cutting = np.flatnonzero(cursor.rows.motion[blocks][:count] != RAPID)
        if len(cutting):
            self.links.check_switches()
            timing = time_of(found, cutting, setting, self._reach)
            if timing.wrong is not None:
                raise self._feed_differs(found, int(cutting[timing.wrong[0]]), timing.wrong[1])
            if timing.lowered.any():
                self._note_lowered(found, cutting, timing)
            (stretch,) = figures_of(found, timing, cutting, [0], [count], [0])
            return self._take(stretch, pairs.done, farthest(pairs))
        cursor.advance(count)
        self.figures.blocks += count
        return pairs.done, farthest(pairs)

    def _take(self, stretch: StretchFigures, at: int, u: float) -> tuple[int, float]:
        """Go on over a stretch that was found right, to element `at`, gone to `u`."""
        self.links.check_switches()
        self.links.last_feed = stretch.last_feed
        figures, scale = self.figures, self.setting.scale
        figures.widen(stretch.off_mm / scale, stretch.radius_mm / scale, degrees(stretch.axis_rad))
        figures.faster_percent = max(figures.faster_percent, 100 * stretch.faster)
        figures.axis_off_at_pole_deg = max(figures.axis_off_at_pole_deg, degrees(stretch.at_pole_rad))
        figures.uneven_percent = max(figures.uneven_percent, 100 * stretch.uneven)
        if 100 * stretch.slowest < figures.slowest_percent:
            first, last = (int(self.cursor.rows.line[self.cursor.at + block]) for block in stretch.slowed_around)
            figures.slowest_percent, figures.slowest_lines = 100 * stretch.slowest, (first, last)
        figures.slowed_blocks += stretch.slowed
        figures.blocks += stretch.blocks
        self.cursor.advance(stretch.blocks)
        return at, u

    def _feed_differs(self, found: Measured, block: int, why: str) -> Mismatch:
        cursor, move = self.cursor, found.elements.first_move + int(found.pairs.element[block])
        self.wrong_row, self.wrong_feed = cursor.at + block, found.feed(block)
        said, asked = self._feeds_said(found, block)
        sentence, line = f"{said}; the toolpath asks for {asked}: {why}", int(cursor.rows.line[cursor.at + block])
        return edited(Mismatch("feed", sentence, line=line, move=move), self._displaced(found, block))

    def _feeds_said(self, found: Measured, block: int) -> tuple[str, str]:
        """What F says in a block on from here, and what the toolpath asks for, in words."""
        rows, at = self.cursor.rows, self.cursor.at + block
        tip = float(found.program_mm[block] / rows.minutes[at]) if rows.minutes[at] > 0 else inf
        return feed_word(rows, at, self.setting, tip), speed(self.setting, found.feed(block))

    def _displaced(self, found: Measured, block: int) -> Edit | None:
        """Where two blocks together take their time, and each by itself does not: it is not F that is wrong, but where they meet."""
        pairs = found.pairs
        for first in (block, block - 1):
            if not 0 <= first < len(pairs) - 1 or found.feed(first) != found.feed(first + 1):
                continue
            at, ways = self.cursor.at + first, found.program_mm[first : first + 2]
            intended = self.cursor.rows.minutes[at : at + 2] * found.feed(first)
            share = float(intended[0] / ways[0])
            if abs(float(intended.sum() / ways.sum()) - 1) > _TOGETHER or abs(share - 1) <= _TOGETHER:
                continue
            u0, u1 = float(pairs.u0[first]), float(pairs.u1[first])
            path = self._path_ahead(found.elements, int(pairs.element[first]))
            return None if path is None else edit_along_cut(self.cursor, path, min(1.0, u0 + (u1 - u0) * share), first + 1)
        return None

    def _path_ahead(self, elements: Elements, at: int) -> PathAhead | None:
        """The path from element `at` on, to be held against single words; of a chain no word is named."""
        frame = self.frame
        return PathAhead(elements, frame, self.setting, self.links.turns_off, at) if isinstance(frame, OperationFrame) else None

    def _note_lowered(self, found: Measured, cutting: Ints, timing: Timing) -> None:
        lowered = np.flatnonzero(timing.lowered)
        asked_for = found.elements.feed[found.pairs.element[cutting[lowered]]]
        _, first = np.unique(asked_for, return_index=True)
        for one in np.sort(first):
            alike, block = lowered[asked_for == asked_for[one]], int(cutting[lowered[one]])
            line, kept = int(self.cursor.rows.line[self.cursor.at + block]), float(timing.kept[alike].min())
            self.cursor.lowered.note(self.this.number, line, *self._feeds_said(found, block), kept, len(alike))

    def _stays_near(self, elements: Elements, element: int, ahead: int) -> bool:
        """Whether a move without a block of its own lies wholly within what is allowed of the vertex `ahead` blocks on."""
        goal = self.frame.goal_of(elements.points[element + 1])
        off = self.links.distance_to(goal, ahead)
        turned = self.links.turned_from(goal, ahead)
        if elements.kind[element] > LINE:
            off += float(elements.lengths(element, element + 1)[0])
        if not (off <= self.setting.slack_mm and turned <= self._axis_limit):
            return False
        self.figures.path_off_tip = max(self.figures.path_off_tip, off / self.setting.scale)
        return True

    def _skip(self, elements: Elements, pairs: Pairs) -> tuple[int, float] | None:
        """Moves too short for a block of their own, before the next block."""
        near = list(takewhile(lambda element: self._stays_near(elements, int(element), 0), pairs.skipped))
        return (int(near[-1]) + 1, 0.0) if near else None

    def _commit_across(self, elements: Elements, at: int, u: float, last: int, u_end: float) -> tuple[int, float]:
        """One straight block over several moves' ends, which were found to lie on it."""
        start, end = elements.point(at, u), elements.point(last, u_end)
        feeds = elements.feed[at : last + 1]
        spans = np.linalg.norm(np.diff(elements.points[at : last + 2], axis=0), axis=1)
        spans[0] *= 1 - u
        spans[-1] *= u_end if last > at else (u_end - u)
        mean = float(spans.sum() / (spans / feeds).sum()) if spans.sum() > 0 else float(feeds[0])
        line = np.full(1, LINE, dtype=np.uint8)
        tilt = None if elements.tilt is None else np.array([np.abs(elements.tilt[at : last + 1]).max()])
        joined = Elements(elements.first_move + at, np.vstack([start, end]), line, np.array([mean]), tilt=tilt)
        if self._commit(joined, one_to_one(0, 1, 0.0)) is None:
            raise self._differs(elements, at, u)
        off = min(self._reach, self.setting.slack_mm) / self.setting.scale
        self.figures.path_off_tip = max(self.figures.path_off_tip, off)
        return (last + 1, 0.0) if u_end >= 1.0 else (last, u_end)

    def _differs(self, elements: Elements, at: int, u: float) -> Mismatch:
        """The path is not followed: say how far off the next block is."""
        move, line, found, allowed = elements.first_move + at, self.cursor.line, self._off, self._axis_limit
        assert found is not None  # every block was measured along the next move at least
        off, turned, limit = float(found.apart_mm[0]), float(found.axis_over_rad[0]), float(found.limit_mm[0])
        if off <= limit and turned > allowed:
            sentence = f"the tool axis is off by {degrees(turned):.4g} degrees; {degrees(allowed):.3g} degrees are allowed"
            mismatch = Mismatch("tool-axis", sentence, line=line, move=move)
        else:
            mismatch = Mismatch("off-path", "the tip leaves its path", line=line, distance_mm=off, move=move)
        if isinstance(self.frame, ChainFrame):
            goal = self.frame.goal_of(elements.points[at + 1])
            return edited(mismatch, edit_on_chain(self.cursor, self.frame, self.setting, goal, ahead=1, since=MOST_BLOCKS))
        path = self._path_ahead(elements, at)
        return mismatch if path is None else edited(mismatch, edit_in_cut(self.cursor, path, u))
