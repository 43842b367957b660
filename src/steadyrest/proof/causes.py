"""What is the likeliest cause of a difference? Asked once, after a failure, of the failing operation only.

Each cause is tried by undoing it: the blocks from the failure on are changed as if the cause were so, and the
comparison is made again. A cause that makes the toolpath's points reappear in the program in their order, where before they did not,
is named. Of a wrong speed the F word is read in other ways.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES, INVERSE, MM_PER_INCH, RAPID
from steadyrest.errors import SteadyrestError
from steadyrest.proof.following import Follower
from steadyrest.proof.geometry import FULL_TURN, less_whole_turns, tip_length
from steadyrest.proof.intended_path import OperationFrame
from steadyrest.proof.setting import Setting
from steadyrest.proof.verdict import Mismatch
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


_AS_IT_IS = np.eye(4), np.zeros(4)
"""What is done to places (n, 4), work coordinates, mm, and turns, rad: a matrix (4, 4) by which they are multiplied, and a step (4,)."""


@dataclass(frozen=True, slots=True)
class _Sample:
    """Places of the program where blocks at feed end (n, 4), and those of the toolpath (m, 4), from the failure on."""

    program: Floats
    wanted: Floats
    setting: Setting

    def apart(self, change: tuple[Floats, Floats] = _AS_IT_IS) -> Floats:
        """Of each point of the toolpath (m,) from each place of the program (n,), changed, mm, with the turn counted as a length."""
        here, there = (self._placed(one) for one in (self.program @ change[0] + change[1], self.wanted))
        return np.asarray(np.linalg.norm(there[:, None, :] - here[None, :, :], axis=2), dtype=np.float64)

    def _placed(self, places: Floats) -> Floats:
        turn = np.column_stack([np.cos(places[:, 3]), np.sin(places[:, 3])]) * max(self.setting.swept_mm, 1.0)
        return np.column_stack([self.setting.frame.to_part(places[:, :3], places[:, 3]), turn])

    def share(self, change: tuple[Floats, Floats] = _AS_IT_IS) -> float:
        """The share of the toolpath's points that the program, changed, passes in their order, the part turned alike."""
        met, last = 0, -1
        for point in self.apart(change) <= _reach(self.setting):
            ahead = np.flatnonzero(point[last + 1 : last + 1 + _AHEAD])
            if len(ahead):
                met, last = met + 1, last + 1 + int(ahead[0])
        return met / len(self.wanted)


def likeliest_cause(mismatch: Mismatch, follower: Follower) -> str:
    """A sentence, or nothing when no cause holds."""
    if follower.setting.lines:
        return ""  # of a chain no cause is tried so far
    if mismatch.kind == "feed":
        return _feed_cause(follower)
    if mismatch.kind not in _OF_PLACE:
        return ""
    try:
        sample = _Sample(_places(follower), _wanted(follower), follower.setting)
    except SteadyrestError:
        return ""  # the rest of the program cannot be read, and the failure has been found already
    count = len(sample.wanted)
    if len(sample.program) < 2 or count == 0:
        return ""
    as_it_is = sample.share()
    best, cause = max(as_it_is + 0.05, 0.5), ""
    if len(np.unique(sample.wanted.round(6), axis=0)) >= _FEWEST:
        for sentence, change in _guesses(sample):
            share = sample.share(change)
            if share >= _HOLDS and share > best:
                best, cause = share, sentence
    here_alone = count >= _FEWEST and round((1 - as_it_is) * count) <= max(2, (1 - _HOLDS) * count)
    return cause or _winding(sample, follower) or _out_of_order(follower, here_alone)


def _reach(setting: Setting) -> float:
    return 3 * setting.slack_mm


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
    """The cuts that come next (m, 4), or the holes where the operation has only those.

    Of an indexed operation, at all of the angles that come next.
    """
    elements, this, setting = follower.moves_left, follower.this, follower.setting
    points = np.empty((0, 4))
    if elements is not None:
        points = elements.points[1:][follower.next_move :][elements.kind[follower.next_move :] != RAPID][:_MOST]
    if len(points) == 0:
        holes = [np.column_stack([item.xy, item.bottom]) for item in this.operation.stream() if isinstance(item, Holes)]
        places = np.concatenate([np.empty((0, 3)), *holes])[:_MOST] * setting.scale * this.frame.way_round(setting)
        points = np.column_stack([places, np.zeros(len(places))])
    assert isinstance(this.frame, OperationFrame)
    goals = [this.frame.goals_of(points)]
    rotary = this.operation.rotary
    if isinstance(rotary, Indexed) and this.angle_deg is not None:
        way, angles = 1.0 if setting.end_for_end else -1.0, rotary.angles or ()
        for angle in angles[angles.index(this.angle_deg) + 1 :][:8]:
            goals.append(np.column_stack([goals[0][:, :3], np.full(len(points), way * np.radians(angle))]))
    return np.concatenate(goals)[:_MOST]


def _guesses(sample: _Sample) -> Iterator[tuple[str, tuple[Floats, Floats]]]:
    setting, (same, nowhere) = sample.setting, _AS_IT_IS
    if setting.rotary is not None:
        sentence = (
            "mirrored: it would fit with the rotary turning the other way; check the rotary's sign, chuck_faces and positive_turns_chuck"
        )
        yield sentence, (np.diag((1, 1, 1, -1)), nowhere)
    for factor, words in ((MM_PER_INCH, "inches were taken for millimetres"), (1 / MM_PER_INCH, "millimetres were taken for inches")):
        yield f"units: it would fit with every length scaled by 25.4: {words}", (np.diag((factor, factor, factor, 1)), nowhere)
    for one, two in combinations(range(3), 2):
        order = [0, 1, 2, 3]
        order[one], order[two] = two, one
        yield f"it would fit with {AXES[one]} and {AXES[two]} swapped", (same[order], nowhere)
    for axis, sign in enumerate(1 - 2 * np.eye(3, 4)):
        yield f"mirrored: it would fit with the sign of {AXES[axis]} reversed", (np.diag(sign), nowhere)
    # Steps from the first places to the first points: one of them is the offset, if there is one.
    for place in sample.program[:12, :3]:
        for point in sample.wanted[:4, :3]:
            step = point - place
            if np.linalg.norm(step) > _reach(setting):
                shown = ", ".join(f"{axis} {-way / setting.scale:+.4g}" for axis, way in zip(AXES, step, strict=True) if abs(way) > 1e-6)
                yield (
                    f"a constant offset: it would fit with every position moved back by {shown}; check `centre`, origin, tool length",
                    (same, np.append(step, 0.0)),
                )
    for angle in sample.program[:6, 3]:
        turn = float(less_whole_turns(sample.wanted[0, 3] - angle))
        if abs(turn) > 1e-6:
            shown = f"{np.degrees(-turn):+.4g} degrees"
            yield f"the part is turned by {shown} throughout; check start_angle and the angles", (same, np.array((0, 0, 0, turn)))


def _winding(sample: _Sample, follower: Follower) -> str:
    """Are they the right angles, but for whole turns?"""
    elements, at = follower.moves_left, follower.next_move
    if follower.frame.kind == "work" or elements is None or at >= len(elements):
        return ""
    if elements.kind[at] == RAPID or np.isnan(elements.points[at, 0]):
        return ""  # before a cut the winding is free
    apart = sample.apart()
    found = apart.min(axis=1) <= _reach(sample.setting)
    turns = sample.setting.sigma * (sample.program[apart.argmin(axis=1), 3] - follower.links.turns_off - sample.wanted[:, 3]) / FULL_TURN
    far = found & (np.abs(turns) > 0.5)
    if found.mean() < 0.5 or far.sum() < 0.25 * found.sum():
        return ""
    return f"winding: the angles are right except for {round(float(np.median(turns[far]))):+d} whole turn(s)"


def _out_of_order(follower: Follower, here_alone: bool) -> str:
    """Does the next block go to another of the path's points than the next?"""
    elements, cursor = follower.moves_left, follower.cursor
    if elements is None or not cursor.at_block or cursor.at_rapid or not isinstance(follower.frame, OperationFrame):
        return ""
    x, y, z, turn = cursor.place(1)
    point = follower.frame.of_program(np.array([(x, y, z)]), np.array([turn - follower.links.turns_off]))
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
    length = float(tip_length(rows.motions(setting.frame.along, slice(row, row + 1), 0.0))[0])
    if not (np.isfinite(feed) and minutes > 0 and length > 0):
        return ""
    right, scale = length / feed, setting.program_scale

    def like(value: float) -> bool:
        return abs(value / right - 1) < _LIKE

    def another(value: float) -> bool:
        return like(value) and not np.isclose(value, minutes)

    linear = float(np.linalg.norm(rows.vertex[row + 1] - rows.vertex[row]))
    turn = abs(float(rows.word_deg[row + 1] - rows.word_deg[row]))
    inverse_time = {"1 over minutes": 1 / word, "1 over seconds": 1 / word / 60, "seconds": word / 60}
    counted = {"linear_axes": (linear or turn * scale) / scale, "all_axes": np.hypot(linear / scale, turn), "tip": length / scale}
    if rows.feed_mode[row] == INVERSE:
        if like(length / scale / word) or like(linear / scale / word):
            return "the feed mode: F would be right per minute, but inverse time is on"
        for name in (name for name, value in inverse_time.items() if another(value)):
            return f"the unit of inverse time: F would be right as {name}; check feed.inverse_is"
    else:
        for name in (name for name, value in inverse_time.items() if like(value)):
            return f"the feed mode: F would be right in inverse time ({name}), but feed per minute is on"
        for name in (name for name, way in counted.items() if way > 0 and another(float(way) / word)):
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
