"""What does the toolpath ask for around the first difference, and what does the program do there? Both as ways that can be drawn, and as
figures beside each other.

Asked once, after a failure, and worked out from what the proof stands at: its own toolpath's moves and the program's blocks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import isfinite, isnan, nan, radians
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import LINE, RAPID
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.difference_figures import Figure, figures_of
from steadyrest.proof.following import Follower
from steadyrest.proof.geometry import less_whole_turns
from steadyrest.proof.intended_path import OperationFrame
from steadyrest.proof.laid_out import OnChain, OnOneRotary, laid_out, tool_axes_apart
from steadyrest.proof.verdict import Mismatch
from steadyrest.toolpath import Hole

Shown = Literal["path", "height", "steps", "around", ""]

_DRAWN: dict[Shown, str] = {
    "path": "off-path cut-elsewhere ends-early cuts-on hole-aside stop-in-cut pause-added home",
    "height": "rapid-plunge rapid-low turn-low tool-change-low spindle-stop-low release-low offset-low end-low",
    "steps": "hole-unfinished hole-rapid-down hole-rapid-out hole-up hole-feeds-up hole-deep hole-above peck-out peck-step",
    "around": "tool-axis between-steps",
}
_SHOWN: dict[str, Shown] = {rule: shown for shown, rules in _DRAWN.items() for rule in rules.split()}

SPEED = "There is nothing to draw: the way of the tool is the one that is asked for up to here. What differs is how fast it goes."
SWITCHED = "There is nothing to draw: the way of the tool is the one that is asked for up to here. What differs is what is switched."
PAUSED = "There is nothing to draw: the way of the tool is the one that is asked for up to here. What differs is a pause or a stop."
TURNED = "There is nothing to draw beside each other: what is wrong is how the rotary turns, not where the tool goes."
ENDED = "There is nothing to draw: what is wrong is how the program begins or ends, not what it cuts."
UNKNOWN = "There is nothing to draw: where the tool stands here is not known."
_NOT_DRAWN = {
    SPEED: "feed",
    SWITCHED: "tool tool-stop tool-selected spindle-way spindle-speed coolant clamp-off clamp-on mode path-mode length-offset work-offset",
    PAUSED: "pause-missing pause-length spindle-pause clamp-pause hole-pause stop-missing",
    TURNED: "turn-clamped turn-in-cut backlash rotary-travel rotary-speed",
    ENDED: "no-end ends-on after-end no-mark lines",
    UNKNOWN: "unknown-place",
}
_WHY_NOT = {rule: why for why, rules in _NOT_DRAWN.items() for rule in rules.split()}

_BEFORE, _AFTER, _MOST_BEFORE = 8, 8, 40
"""Moves and blocks before and after the difference that are shown; before it so many at the most, to reach the line that is named."""
_CHORDS = 24
"""Of an arc, and of a block that turns the part."""
_AGAINST = 4
"""Moves that the block that differs is held against."""
_SAMPLES = 65
"""Of the block that differs, and of the moves that it is held against."""
_STANDS = (
    "ends-early",
    "tool-change-low",
    "spindle-stop-low",
    "release-low",
    "offset-low",
    "end-low",
    "stop-in-cut",
    "pause-added",
    "home",
)
"""Rules that are broken where the tool stands, not by the block that comes next."""
TOOL_HERE = "the tool here"
"""Name of the level at which the program has the tool, where it says its height alone."""
_HIGHER = ("turn-low", "tool-change-low", "spindle-stop-low", "release-low", "offset-low", "end-low")
"""Rules for whose sake the tool has to stand higher."""


@dataclass(frozen=True, slots=True)
class Way:
    """n places of the tip in order, on the machine: X, Y, Z in work coordinates, mm, and the turn of the part, rad; NaN where not known.
    With two rotaries or a head they are those of `laid_out`, with the tool axis.

    stand    (n, 4), or (n, 7); whole turns that the program is ahead of the toolpath are taken off
    rapid    (n,) whether the way to a place is a rapid
    number   (n,) of the program's line, or of the toolpath's move, that leads there
    """

    stand: Floats
    rapid: Bools
    number: Ints

    def __len__(self) -> int:
        return len(self.number)


@dataclass(frozen=True)
class Difference:
    """Both sides around the first difference.

    shown      what explains it: the "path" in the plane where it is seen best, the "height" of the tool over the part, the "steps" of a
               hole one after the other, how the part is turned "around" its axis; empty: there is nothing to draw, and `why_not` says why
    frame      of the operation, in which the two ways are compared
    asked      what the toolpath asks for, with the moves before and after
    found      what the program does, with the blocks before and after
    asked_at, found_at   where they differ, (4,) or (7,) as in `Way`; None where one of them has no such place
    line, move of the program and of the toolpath; None where there is none
    levels     heights over the work origin that matter here, mm, with what they are
    needed_mm  the height that the tool should have at least; None where that is not what is wrong
    figures    numbers that differ, and those that belong to them
    where      with two rotaries or a head, whose coordinates the places have, for people; empty: as the frame says
    """

    shown: Shown
    why_not: str
    frame: OperationFrame
    asked: Way
    found: Way
    asked_at: Floats | None
    found_at: Floats | None
    line: int | None
    move: int | None
    levels: tuple[tuple[str, float], ...]
    needed_mm: float | None
    figures: tuple[Figure, ...]
    where: str = ""

    def points(self, stand: Floats) -> Floats:
        """Places (n, 4) in the frame of the operation (n, 4), mm."""
        return self.frame.of_program(stand[:, :3], stand[:, 3])

    def part_mm(self, stand: Floats) -> Floats:
        """Places (n, 4) over the part (n, 3), in the part frame, mm."""
        return self.frame.frame.to_part(stand[:, :3], stand[:, 3])

    @cached_property
    def off_mm(self) -> float:
        """How far the tip is from where it should be, over the part; NaN where either is not known."""
        if self.asked_at is None or self.found_at is None:
            return nan
        one, other = self.part_mm(np.array([self.asked_at, self.found_at]))
        return float(np.linalg.norm(one - other))

    @cached_property
    def turned_rad(self) -> float:
        """How far the part is turned from where it should be, or the tool axis leans from it; 0 where that is not known."""
        if self.asked_at is not None and self.found_at is not None and self.where:
            return tool_axes_apart(self.asked_at, self.found_at)
        if self.asked_at is None or self.found_at is None or isnan(off := float(self.found_at[3] - self.asked_at[3])):
            return 0.0
        return off


def difference_of(mismatch: Mismatch, follower: Follower) -> Difference:
    """The difference at which the proof of a pass has stopped."""
    setting, rule = follower.setting, mismatch.rule
    shown, turns_off = _SHOWN.get(rule, ""), follower.links.turns_off
    if rule == "hole-pause" and mismatch.found is not None:
        shown = "steps"  # the pause is missing because the hole is not drilled to its bottom
    if shown == "around" and setting.lines:
        shown = "path"  # where the tool axis leans is seen from the side on which it leans most
    cursor = follower.cursor
    words = np.array(cursor.place(1 if cursor.at_block and rule not in _STANDS else 0)[3:])
    laid = laid_out(follower, words, high=shown == "height")  # what the stock sweeps is a matter of the machine's own coordinates
    frame = laid.place
    asked, found = _asked_way(follower, laid, shown), _found_way(follower, laid, mismatch.line, turns_off, shown)
    asked_at, found_at = _places(mismatch, follower, laid)
    for at in (asked_at, found_at):
        if at is not None:
            at[3] -= turns_off
    if rule == "between-steps" and shown == "around" and found_at is not None and asked_at is None:
        turn = float(found_at[3])
        right = float(np.mean(frame.phi_rad))
        asked_at = np.append(found_at[:3], turn - less_whole_turns(turn - right))
    why_not = "" if shown else _WHY_NOT.get(rule, "")
    if shown and not _known(shown, frame, [at for at in (asked_at, found_at) if at is not None]):
        shown, why_not = "", UNKNOWN
    z, levels = float(setting.frame.centre_mm[2]), []
    if shown == "height":
        levels = [("top of the stock as it turns", z + setting.top_mm)] if isfinite(setting.top_mm) else []
        levels += [("clear height", z + setting.clear_mm)] if isfinite(setting.clear_mm) else []
    elif shown == "steps" and follower.hole is not None:
        named = ("retract level", follower.hole.retract), ("bottom", follower.hole.bottom)
        levels = [(name, height * setting.scale) for name, height in named]
    if shown == "height" and found_at is not None and np.isnan(found_at[:2]).any():
        levels.append((TOOL_HERE, float(found_at[2])))
    needed = None
    if shown == "height" and rule in _HIGHER and asked_at is None:
        needed = z + (setting.clear_mm if rule == "turn-low" else setting.top_mm)
        needed = needed if isfinite(needed) else None  # a head is retracted to the machine's own zero
    line, move = mismatch.line or None, mismatch.move
    figures = figures_of(mismatch, follower, asked_at, found_at, needed, laid.where)
    return Difference(shown, why_not, frame, asked, found, asked_at, found_at, line, move, tuple(levels), needed, figures, laid.where)


def _known(shown: Shown, frame: OperationFrame, stands: list[Floats]) -> bool:
    """Whether so much is known of one of the places (4,) that it can be shown: its height, or two of its coordinates."""
    if shown == "height":
        return any(isfinite(at[2]) for at in stands)
    if shown == "around":
        return any(np.isfinite(at).all() for at in stands)
    return any(np.isfinite(frame.of_program(at[None, :3], at[3:4])[0, :3]).sum() >= 2 for at in stands)


def _places(mismatch: Mismatch, follower: Follower, laid: OnOneRotary | OnChain) -> tuple[Floats | None, Floats | None]:
    """Where the tool should be, and where it is, the program's whole turns counted."""
    cursor, rule = follower.cursor, mismatch.rule
    asked, found = (None if place is None else laid.given(place).copy() for place in (mismatch.asked, mismatch.found))
    if found is None and rule in ("off-path", "tool-axis"):
        return _farthest(follower, laid)
    if found is None and not _SHOWN.get(rule) and rule not in ("rotary-travel", "turn-in-cut"):
        return None, None
    if found is None:
        found = _stand(cursor, laid, ahead=cursor.at_block and rule not in _STANDS)
        if rule == "cut-elsewhere" and asked is not None and isinstance(laid, OnChain):  # where the block begins or ends, if that is nearer
            begin, goal = _stand(cursor, laid, ahead=False), asked[:3]
            found = min(found, begin, key=lambda place: float(np.linalg.norm(place[:3] - goal)))
    if asked is None and rule == "cuts-on":  # where the toolpath ends
        asked = laid.goals(follower.point[None, :])[0]
        asked = asked if np.isfinite(asked[:3]).all() else None
    if asked is None and rule == "home" and isinstance(laid, OnOneRotary) and follower.setting.profile.program.start_position is not None:
        home = follower.setting.profile.program.start_position
        asked = np.array([*home[:3], follower.setting.sigma * radians(home[3])])
    return asked, found


def _stand(cursor: Cursor, laid: OnOneRotary | OnChain, *, ahead: bool) -> Floats:
    """Where the tool stands, or where the next block ends."""
    rows, before = cursor.rows, max(cursor.at - 1, 0)
    if isinstance(laid, OnOneRotary):
        return np.array(cursor.place(int(ahead)))
    if not len(rows):
        return np.full(7, np.nan)
    block, share = (cursor.at, 1.0) if ahead else (before, 1.0 if cursor.at else 0.0)
    return np.asarray(laid.stands(rows, block, np.array([share]))[0])


def _farthest(follower: Follower, laid: OnOneRotary | OnChain) -> tuple[Floats | None, Floats | None]:
    """Where the next block is farthest from the next moves; where it lies on them, where both end."""
    elements, cursor = follower.moves_left, follower.cursor
    if elements is None or not cursor.at_block or follower.next_move >= len(elements):
        return None, None
    at, share = follower.next_move, np.linspace(0, 1, _SAMPLES)
    stands = laid.stands(cursor.rows, cursor.at, share)
    wanted = np.concatenate([elements.place(np.full(_SAMPLES, one), share) for one in range(at, min(at + _AGAINST, len(elements)))])
    found = laid.points(stands)
    near, off = _nearest(found, wanted)
    far = int(np.argmax(off))
    asked = near[far]
    if off[far] <= follower.setting.slack_mm:  # it lies on the path, and ends at the wrong place of it
        far, asked = -1, elements.points[at + 1]
    return laid.goals(asked[None, :])[0], stands[far]


def _nearest(points: Floats, line: Floats) -> tuple[Floats, Floats]:
    """The points of a line of chords (m, 4) that are nearest to points (k, 4), and how far they are from them (k,), mm."""
    start, way = line[:-1], np.diff(line, axis=0)
    square = np.einsum("ij,ij->i", way, way)
    share = np.clip(np.einsum("kij,ij->ki", points[:, None] - start, way) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    places = start + share[..., None] * way
    off = np.nan_to_num(np.linalg.norm(places - points[:, None], axis=2), nan=np.inf)
    best = off.argmin(axis=1)
    rows = np.arange(len(points))
    return places[rows, best], np.where(np.isfinite(off[rows, best]), off[rows, best], -1.0)


def _way(parts: list[tuple[Floats, bool, int]]) -> Way:
    """Of strokes, each its places (k, 4), whether it is a rapid, and its number."""
    if not parts:
        return Way(np.empty((0, 7)), np.empty(0, np.bool_), np.empty(0, np.int64))
    stand = np.concatenate([places for places, _, _ in parts])
    counts = [len(places) for places, _, _ in parts]
    rapid, number = (np.repeat([part[which] for part in parts], counts) for which in (1, 2))
    return Way(stand, rapid.astype(np.bool_), number.astype(np.int64))


def _found_way(follower: Follower, laid: OnOneRotary | OnChain, line: int, turns_off: float, shown: Shown) -> Way:
    """The blocks around the present one, and back to the line that is named; of a hole those over its place alone."""
    cursor, parts = follower.cursor, []
    ways = [(cursor.before, max(len(cursor.before) - _MOST_BEFORE, 0), len(cursor.before))]
    first = max(cursor.at - _MOST_BEFORE, 0)
    ways.append((cursor.rows, first, min(cursor.at + 1 + _AFTER, len(cursor.rows))))
    for rows, begin, stop in ways:
        for block in range(begin, stop):
            turns = bool(np.any(np.abs(rows.phi[block + 1] - rows.phi[block]) > 0))
            share = np.linspace(0, 1, _CHORDS + 1) if turns or rows.motion[block] > LINE else np.array([0.0, 1.0])
            places = laid.stands(rows, block, share)
            if shown != "height" and np.isnan(places[0, :4]).any():
                places[0] = np.nan
            parts.append((places, bool(rows.motion[block] == RAPID), int(rows.line[block])))
    now = len(parts) - (ways[1][2] - cursor.at)
    begin = max(now - _BEFORE, 0)
    if line and (named := [at for at, part in enumerate(parts[:now]) if part[2] >= line]):
        begin = min(begin, max(named[0] - 2, 0))
    if shown == "steps":
        here = parts[now][0][0] if now < len(parts) else parts[-1][0][-1]
        over = [at for at, (places, _, _) in enumerate(parts) if at <= now and _aside(places, here) > follower.setting.slack_mm]
        begin = max(begin if not over else over[-1] + 1, 0)
        gone = [at for at, (places, _, _) in enumerate(parts) if at > now and _aside(places, here) > follower.setting.slack_mm]
        parts = parts[: gone[0]] if gone else parts
    way = _way(parts[begin:])
    way.stand[:, 3] -= turns_off
    return way


def _aside(places: Floats, here: Floats) -> float:
    return float(np.nanmax(np.abs(places[:, :2] - here[:2]), initial=0.0))


def _asked_way(follower: Follower, laid: OnOneRotary | OnChain, shown: Shown) -> Way:
    """The moves around the next one; of a hole its steps."""
    frame, hole = follower.frame, follower.hole
    parts: list[tuple[Floats, bool, int]] = []
    elements, at = follower.moves_left, follower.next_move
    if hole is not None:
        return _way(_hole_parts(hole, follower, laid, whole=shown == "steps"))
    if elements is None:
        return _way(parts)
    for one in range(max(at - _BEFORE, 0), min(at + 1 + _AFTER, len(elements))):
        bent = elements.kind[one] > LINE or frame.kind != "work"
        share = np.linspace(0, 1, _CHORDS + 1) if bent else np.array([0.0, 1.0])
        points = elements.place(np.full(len(share), one), share)
        if np.isnan(points[0]).any():
            points = elements.points[one + 1 : one + 2]
        parts.append((_less_turns(laid.goals(points), follower), bool(elements.kind[one] == RAPID), elements.first_move + one))
    return _way(parts)


def _less_turns(stands: Floats, follower: Follower) -> Floats:
    stands[:, 3] -= follower.links.turns_off
    return stands


def _hole_parts(hole: Hole, follower: Follower, laid: OnOneRotary | OnChain, *, whole: bool) -> list[tuple[Floats, bool, int]]:
    frame = follower.frame
    scale, round_, rise = follower.setting.scale, frame.way_round(follower.setting)[:2], follower.setting.profile.cycles.chip_break_rise
    x, y = np.array([hole.x, hole.y]) * scale * round_
    top, bottom = hole.retract * scale, hole.bottom * scale
    peck = hole.peck * scale if hole.peck is not None and whole else top - bottom
    depths = np.maximum(np.arange(1, int(np.ceil(max(top - bottom, 1e-9) / max(peck, 1e-9) - 1e-6)) + 1) * -peck + top, bottom)
    heights, rapid = [top], [True]
    for depth in depths:
        last = heights[-1]
        back = min(heights)
        if last > back:  # down again at rapid, as near as a hair to what is cut
            heights.append(back)
            rapid.append(True)
        heights.append(float(depth))
        rapid.append(False)
        heights.append(min(float(depth) + rise, top) if hole.cycle == "chip-break" and depth > bottom else top)
        rapid.append(hole.cycle not in ("tap", "bore"))
    goals = _less_turns(laid.goals(frame.raised(np.array([(x, y, height) for height in heights]))), follower)
    return [(goals[at : at + 2], rapid[at + 1], hole.move) for at in range(len(goals) - 1)]
