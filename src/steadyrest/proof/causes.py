"""What is the likeliest cause of a difference? Asked once, after a failure, of the failing operation only.

Each cause is tried by undoing it: the blocks from the failure on are changed as if the cause were so, and the
comparison is made again. A cause that makes the toolpath's points reappear in the program in their order, where before they did not,
is named. Of a wrong speed the F word is read in other ways.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from itertools import chain, combinations, product
from operator import itemgetter

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES, INVERSE, MM_PER_INCH, RAPID
from steadyrest.errors import SteadyrestError
from steadyrest.proof.chain import Lines, poses, sizes
from steadyrest.proof.chain_frame import ChainFrame
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.following import Follower
from steadyrest.proof.geometry import FULL_TURN, less_whole_turns
from steadyrest.proof.intended_path import OperationFrame
from steadyrest.proof.rows import tip_ways
from steadyrest.proof.setting import Setting
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import length
from steadyrest.toolpath import Holes, Indexed

_MOST = 400
"""Points of either side that are compared: enough to tell, and no more than a moment's work."""
_AHEAD = 60
"""How many vertices on a point may be found: blocks of one move, or of a link."""
_FEWEST = 4
"""With fewer different points than these anything fits."""
_HOLDS = 0.9
"""The share of points that has to reappear."""
_OF_PLACE = ("path", "axis", "order", "missing", "hole", "rapid", "extra")
_LIKE = 0.03
"""How near, as a fraction, the ratio of two times has to be."""


@dataclass(frozen=True, slots=True)
class _Sample:
    """Places of the program where blocks at feed end (n, 3 + r), X, Y, Z in work coordinates, mm, and the turns, rad; those of the toolpath
    (m, 4), with a chain none; and these as points over the part, as of `placed` (m, k): all from the failure on.
    """

    program: Floats
    wanted: Floats
    there: Floats
    frame: OperationFrame | ChainFrame
    setting: Setting

    def share(self, here: Floats) -> float:
        """The share of the toolpath's points that the program, its places laid over the part at `here` (n, k), passes in their order."""
        met, last = 0, -1
        for point in self.apart(here) <= _reach(self.setting):
            ahead = np.flatnonzero(point[last + 1 : last + 1 + _AHEAD])
            if len(ahead):
                met, last = met + 1, last + 1 + int(ahead[0])
        return met / len(self.there)

    def apart(self, here: Floats) -> Floats:
        """Of each point of the toolpath (m,) from each of the program's (n,), mm."""
        return np.asarray(np.linalg.norm(self.there[:, None, :] - here[None, :, :], axis=2), dtype=np.float64)


def _placed(places: Floats, frame: OperationFrame | ChainFrame, setting: Setting, lines: Lines = ()) -> Floats:
    """Places as points over the part, mm: the tip, and the turn, or with a chain the tool axis, as a length."""
    if isinstance(frame, ChainFrame):
        tips, axes = poses(lines or frame.lines, places[:, :3], places[:, 3:])
        return np.column_stack([tips, axes * frame.turn_radius_mm])
    turn = np.column_stack([np.cos(places[:, 3]), np.sin(places[:, 3])]) * max(setting.swept_mm, 1.0)
    return np.column_stack([setting.frame.to_part(places[:, :3], places[:, 3]), turn])


def likeliest_cause(mismatch: Mismatch, follower: Follower) -> str:
    """A sentence, or nothing when no cause holds."""
    if mismatch.kind == "feed":
        return _feed_cause(follower)
    frame, setting = follower.frame, follower.setting
    if mismatch.kind not in _OF_PLACE or isinstance(frame, DrawnOnChain):
        return ""
    try:
        program, wanted = _places(follower), _wanted(follower)
    except SteadyrestError:
        return ""  # the rest of the program cannot be read, and the failure has been found already
    count = len(wanted)
    if len(program) < 2 or count == 0:
        return ""
    if isinstance(frame, ChainFrame):
        there = np.column_stack([frame.tips_of(wanted), frame.axes_of(wanted) * frame.turn_radius_mm])
    else:
        there = _placed(wanted, frame, setting)
    sample = _Sample(program, wanted, there, frame, setting)
    as_it_is = sample.share(_placed(program, frame, setting))
    best, cause = max(as_it_is + 0.05, 0.5), ""
    if len(np.unique(there.round(6), axis=0)) >= _FEWEST:
        of_lines = _of_lines(sample, follower.this.operation.tool) if isinstance(frame, ChainFrame) else ()
        for sentence, here in chain(_guesses(sample), of_lines):
            share = sample.share(here)
            if share >= _HOLDS and share > best:
                best, cause = share, sentence
    here_alone = count >= _FEWEST and round((1 - as_it_is) * count) <= max(2, (1 - _HOLDS) * count)
    return cause or _winding(sample, follower) or _out_of_order(follower, here_alone)


def _reach(setting: Setting) -> float:
    """How near a point counts as met; with a chain nearer, for where a line runs is seen in a part of how far it is off."""
    return (1.5 if setting.lines else 3.0) * setting.slack_mm


def _places(follower: Follower) -> Floats:
    """Where the blocks at feed that come next end (n, 4), so far as it is known."""
    found, first, still = [], follower.cursor.at, 2 * _MOST
    for rows in follower.cursor.rows_left():
        ends = first + np.flatnonzero(rows.motion[first : first + 2 * _MOST] != RAPID) + 1
        found.append(np.column_stack([rows.vertex[ends], rows.phi[ends]]))
        first, still = 0, still - (len(rows) - first)
        if still <= 0:
            break
    places = np.concatenate(found)
    return places[~np.isnan(places).any(axis=1)][: 2 * _MOST]


def _wanted(follower: Follower) -> Floats:
    """The cuts that come next (m, 4), or the holes where the operation has only those; with a chain as points of its frame (m, 6).

    Of an indexed operation, at all of the angles that come next.
    """
    elements, this, setting = follower.moves_left, follower.this, follower.setting
    points = np.empty((0, follower.frame.numbers))
    if elements is not None:
        points = elements.points[1:][follower.next_move :][elements.kind[follower.next_move :] != RAPID][:_MOST]
    if len(points) == 0:
        holes = [np.column_stack([item.xy, item.bottom]) for item in this.operation.stream() if isinstance(item, Holes)]
        places = np.concatenate([np.empty((0, 3)), *holes])[:_MOST] * setting.scale * this.frame.way_round(setting)
        points = this.frame.raised(places)
    if not isinstance(this.frame, OperationFrame):
        return points
    goals = [this.frame.goals_of(points)]
    rotary = this.operation.rotary
    if isinstance(rotary, Indexed) and this.angle_deg is not None:
        way, angles = 1.0 if setting.end_for_end else -1.0, rotary.angles or ()
        for angle in angles[angles.index(this.angle_deg) + 1 :][:8]:
            goals.append(np.column_stack([goals[0][:, :3], np.full(len(points), way * np.radians(angle))]))
    return np.concatenate(goals)[:_MOST]


def _guesses(sample: _Sample) -> Iterator[tuple[str, Floats]]:
    """Sentences, and where over the part the program's places would be if they were so."""
    setting, program, same = sample.setting, sample.program, np.eye(sample.program.shape[1])

    def changed(matrix: Floats, step: Floats | float = 0.0) -> Floats:
        return _placed(program @ matrix + step, sample.frame, setting)

    for number, letter in enumerate(setting.rotaries):
        name, sign = setting.name_of(letter), np.ones(len(same))
        sign[3 + number] = -1
        sentence = f"mirrored: it would fit with {name} turning the other way; check {name}'s sign, chuck_faces and positive_turns_chuck"
        yield sentence, changed(np.diag(sign))
    if len(setting.rotaries) == 2:
        yield f"it would fit with the words of {' and '.join(setting.rotaries)} swapped", changed(same[[0, 1, 2, 4, 3]])
    for factor, words in ((MM_PER_INCH, "inches were taken for millimetres"), (1 / MM_PER_INCH, "millimetres were taken for inches")):
        scaled = np.where(np.arange(len(same)) < 3, factor, 1.0)
        yield f"units: it would fit with every length scaled by 25.4: {words}", changed(np.diag(scaled))
    for one, two in combinations(range(3), 2):
        order = list(range(len(same)))
        order[one], order[two] = two, one
        yield f"it would fit with {AXES[one]} and {AXES[two]} swapped", changed(same[order])
    for axis, sign in enumerate(1 - 2 * np.eye(3, len(same))):
        yield f"mirrored: it would fit with the sign of {AXES[axis]} reversed", changed(np.diag(sign))
    if isinstance(sample.frame, ChainFrame):
        return
    # Steps from the first places to the first points: one of them is the offset, if there is one.
    for place in program[:12, :3]:
        for point in sample.wanted[:4, :3]:
            step = point - place
            if np.linalg.norm(step) > _reach(setting):
                yield _offset(step, setting), changed(same, np.append(step, 0.0))
    for angle in program[:6, 3]:
        turn = float(less_whole_turns(sample.wanted[0, 3] - angle))
        if abs(turn) > 1e-6:
            shown = f"{np.degrees(-turn):+.4g} degrees"
            yield f"the part is turned by {shown} throughout; check start_angle and the angles", changed(same, np.array((0, 0, 0, turn)))


def _offset(step: Floats, setting: Setting) -> str:
    moved = f"it would fit with every position moved back by {_step_said(-step, setting)}"
    return f"a constant offset: {moved}; check `centre`, origin, tool length"


def _step_said(step: Floats, setting: Setting) -> str:
    """A step (3,), mm, in the toolpath's units: `X +0.1, Z -2`."""
    return ", ".join(f"{axis} {way / setting.scale:+.4g}" for axis, way in zip(AXES, step, strict=True) if abs(way) > 1e-6 * setting.scale)


def _of_lines(sample: _Sample, tool: int) -> Iterator[tuple[str, Floats]]:
    """The same of what a chain's numbers hold: an offset, the gauge length of the tool, where a line runs, which way it leans.

    How far each is off is what brings the program's tips nearest to the points with their tool axes, by least squares: a tip moves by as
    much as a line or an offset does, turned. Of those that fit the nearest comes first.
    """
    frame, setting, program = sample.frame, sample.setting, sample.program
    assert isinstance(frame, ChainFrame)
    lines, here = frame.lines, _placed(program, frame, setting)
    for at, line in enumerate(lines):
        if np.hypot(*line.about[:2]) > 1e-9 < abs(line.about[2]):
            other = replace(line, about=line.about * (-1.0, -1.0, 1.0))
            leaning = _placed(program, frame, setting, (*lines[:at], other, *lines[at + 1 :]))
            yield f"it would fit with {line.letter} leaning the other way; check rotary.{line.letter}.leans", leaning

    def moved(step: Floats, which: Collection[int]) -> Floats:
        """With lines moved by a step (3,); with none every position."""
        shifted = tuple(replace(line, point=line.point + step) if at in which else line for at, line in enumerate(lines))
        return _placed(program if which else program + np.pad(step, (0, len(lines))), frame, setting, shifted)

    head = [at for at, line in enumerate(lines) if not line.carries_part]
    held = ([head] if head else []) + [[], *([at] for at in range(len(lines)))]
    found = []
    for which, (wanted, own) in product(held, filter(None, (_with_axis(sample, here, left_out) for left_out in (0, 1)))):
        off, directions = sample.there[wanted, :3] - here[own, :3], np.eye(3)[2:] if which is head else np.eye(3)
        gone = np.column_stack([(moved(way, which) - here)[own, :3].reshape(-1) for way in directions])
        step = (np.linalg.lstsq(gone, off.reshape(-1), rcond=1e-6)[0] @ directions).round(4)
        if which is head:
            stated, right = (length(setting, setting.gauge_mm[tool] + by) for by in (0.0, float(step[2])))
            sentence = f"the gauge length: it would fit with {right} for tool {tool}; {stated} is stated (or the pivot is off as much)"
        elif not which:
            sentence = _offset(step, setting) + " and where the axes run"
        else:
            line = lines[which[0]]
            what, key = ("axis", "point") if line.carries_part else ("pivot", "pivot")
            moving = f"it would fit with it moved by {_step_said(step, setting)}"
            sentence = f"the {what} of {line.letter}: {moving}; check rotary.{line.letter}.{key}"
        if step.any():
            then = moved(step, which)
            found.append((float(sizes(sample.there[wanted, :3] - then[own, :3]).max().round(3)), sentence, then))
    yield from (one[1:] for one in sorted(found, key=itemgetter(0)))


def _with_axis(sample: _Sample, here: Floats, left_out: int) -> tuple[list[int], list[int]] | None:
    """Which points and which places have the same tool axes, in order, the first points left out; None where too few have."""
    wanted: list[int] = []
    own: list[int] = []
    for number, point in enumerate(sample.there[left_out:], left_out):
        ahead = own[-1] + 1 if own else 0
        off = sizes(here[ahead : ahead + _AHEAD, 3:] - point[3:]).round(6)
        if len(off) and off.min() <= _reach(sample.setting):
            wanted.append(number)
            own.append(ahead + int(off.argmin()))
    return (wanted, own) if len(own) >= _FEWEST else None


def _winding(sample: _Sample, follower: Follower) -> str:
    """Are they the right angles, but for whole turns?"""
    elements, at = follower.moves_left, follower.next_move
    if follower.frame.kind == "work" or elements is None or at >= len(elements) or sample.setting.lines:
        return ""
    if elements.kind[at] == RAPID or np.isnan(elements.points[at, 0]):
        return ""  # before a cut the winding is free
    apart = sample.apart(_placed(sample.program, sample.frame, sample.setting))
    found = apart.min(axis=1) <= _reach(sample.setting)
    turns = sample.setting.sigma * (sample.program[apart.argmin(axis=1), 3] - follower.links.turns_off - sample.wanted[:, 3]) / FULL_TURN
    far = found & (np.abs(turns) > 0.5)
    if found.mean() < 0.5 or far.sum() < 0.25 * found.sum():
        return ""
    return f"winding: the angles are right except for {round(float(np.median(turns[far]))):+d} whole turn(s)"


def _out_of_order(follower: Follower, here_alone: bool) -> str:
    """Does the next block go to another of the path's points than the next?"""
    elements, cursor = follower.moves_left, follower.cursor
    if elements is None or not cursor.at_block or cursor.at_rapid:
        return ""
    point = follower.frame.of_rows(cursor.rows, slice(cursor.at + 1, cursor.at + 2), follower.links.turns_off)
    near = np.linalg.norm(elements.points - point, axis=1) <= _reach(follower.setting)
    next_point = follower.next_move + 1
    if near[: next_point - 1].any():
        return "the program goes back to an earlier point: a block is repeated, or in the wrong order"
    if near[next_point + 1 :].any():
        return f"the program skips ahead: {int(np.argmax(near[next_point + 1 :])) + 1} move(s) left out, or in the wrong order"
    return "an error here only: what follows agrees with the toolpath" if here_alone else ""


def _feed_cause(follower: Follower) -> str:
    """Why would the tip be too fast or too slow? Nothing when no other reading of F gives the right speed."""
    rows, setting, row, feed = follower.cursor.rows, follower.setting, follower.wrong_row, follower.wrong_feed
    if row is None:
        return ""
    word, minutes = float(rows.feed_word[row]), float(rows.minutes[row])
    ends = slice(row, row + 2)
    way = float(tip_ways(rows.vertex[ends], rows.phi[ends], setting, follower.this.operation.tool)[0])
    if not (np.isfinite(feed) and minutes > 0 and way > 0):
        return ""
    right, scale = way / feed, setting.program_scale

    def like(value: float) -> bool:
        return abs(value / right - 1) < _LIKE

    def another(value: float) -> bool:
        return like(value) and not np.isclose(value, minutes)

    linear = float(np.linalg.norm(rows.vertex[row + 1] - rows.vertex[row]))
    turn = float(np.linalg.norm(rows.word_deg[row + 1] - rows.word_deg[row]))
    inverse_time = {"1 over minutes": 1 / word, "1 over seconds": 1 / word / 60, "seconds": word / 60}
    counted = {"linear_axes": (linear or turn * scale) / scale, "all_axes": np.hypot(linear / scale, turn), "tip": way / scale}
    if rows.feed_mode[row] == INVERSE:
        if like(way / scale / word) or like(linear / scale / word):
            return "the feed mode: F would be right per minute, but inverse time is on"
        for name in (name for name, value in inverse_time.items() if another(value)):
            return f"the unit of inverse time: F would be right as {name}; check feed.inverse_is"
    else:
        for name in (name for name, value in inverse_time.items() if like(value)):
            return f"the feed mode: F would be right in inverse time ({name}), but feed per minute is on"
        for name in (name for name, gone in counted.items() if gone > 0 and another(float(gone) / word)):
            return f"what F counts while the rotary turns: F would be right as `{name}`; check feed.per_minute_counts"
    for factor, words in (
        (MM_PER_INCH, "units: 25.4 times too slow, inches taken for millimetres"),
        (1 / MM_PER_INCH, "units: 25.4 times too fast, millimetres taken for inches"),
        (10.0, "a decimal point: F is ten times too slow"),
        (0.1, "a decimal point: F is ten times too fast"),
    ):
        if like(minutes / factor):
            return words
    if row > 0 and rows.feed_mode[row - 1] == rows.feed_mode[row] and rows.feed_word[row - 1] == rows.feed_word[row]:
        return "F is left over from the block before"
    return ""
