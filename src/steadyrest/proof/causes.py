"""What is the likeliest cause of a difference? Asked once, after a failure, of the failing operation only.

Each cause is tried by undoing it: the blocks from the failure on are changed as if the cause were so, and the
comparison is made again. A cause that makes the toolpath's points reappear in the program in their order, where before they did not,
is named. Of a wrong speed the F word is read in other ways.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import SteadyrestError
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import FULL_TURN, less_whole_turns, tip_length
from steadyrest.proof.intended_path import Pass
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.setting import Setting
from steadyrest.reading import FEED_INVERSE
from steadyrest.toolpath import Holes, Indexed

if TYPE_CHECKING:
    from steadyrest.proof.following import Follower

_MOST = 400
"""Points of either side that are compared: enough to tell, and no more than a moment's work."""
_AHEAD = 60
"""How many vertices on a point may be found: blocks of one move, or of a link."""
_FEWEST = 4
"""With fewer different points than these anything fits."""
_HOLDS = 0.9
"""The share of points that has to reappear."""
_OF_PLACE = ("path", "axis", "order", "missing", "hole", "rapid", "extra")


@dataclass(frozen=True, slots=True)
class _Sample:
    """Vertices of the program: work coordinates (n, 3) and turns (n,); points of the toolpath likewise (m, 3) and (m,)."""

    positions: Floats
    phi: Floats
    wanted: Floats
    wanted_phi: Floats


Undo = Callable[[Floats, Floats], tuple[Floats, Floats]]


def likeliest_cause(mismatch: Mismatch, follower: Follower) -> str:
    """A sentence, or nothing when no cause holds."""
    cursor, setting, this = follower.cursor, follower.setting, follower.this
    if mismatch.kind == "feed":
        return feed_cause(cursor, setting, follower)
    if mismatch.kind not in _OF_PLACE:
        return ""
    try:
        sample = _sample(cursor, setting, this, follower)
    except SteadyrestError:
        return ""  # the rest of the program cannot be read, and the failure has been found already
    if len(sample.positions) < 2 or len(sample.wanted) == 0:
        return ""
    as_it_is = _share(sample, setting, _changed())
    best, cause = max(as_it_is + 0.05, 0.5), ""
    different = np.unique(np.column_stack([sample.wanted, sample.wanted_phi]).round(6), axis=0)
    for sentence, undo in _guesses(sample, setting) if len(different) >= _FEWEST else ():
        share = _share(sample, setting, undo)
        if share >= _HOLDS and share > best:
            best, cause = share, sentence
    here_alone = len(sample.wanted) >= _FEWEST and round((1 - as_it_is) * len(sample.wanted)) <= max(2, (1 - _HOLDS) * len(sample.wanted))
    return cause or _winding(sample, setting, follower) or _out_of_order(cursor, setting, follower, here_alone)


def _sample(cursor: Cursor, setting: Setting, this: Pass, follower: Follower) -> _Sample:
    runs = cursor.more_rows(2 * _MOST)
    positions, phi = [], []
    for number, rows in enumerate(runs):
        first = cursor.at if number == 0 else 0
        use = slice(first, first + 2 * _MOST)
        feed = rows.motion[use] != 0
        ends = np.flatnonzero(feed) + 1
        positions.append(rows.vertex[use.start : use.stop + 1][ends])
        phi.append(rows.phi[use.start : use.stop + 1][ends])
    if not positions:  # the program has no motion any more
        return _Sample(np.empty((0, 3)), np.empty(0), np.empty((0, 3)), np.empty(0))
    place, turn = np.concatenate(positions), np.concatenate(phi)
    known = ~(np.isnan(place).any(axis=1) | np.isnan(turn))
    wanted, wanted_phi = _wanted(setting, this, follower)
    return _Sample(place[known][: 2 * _MOST], turn[known][: 2 * _MOST], wanted[:_MOST], wanted_phi[:_MOST])


def _wanted(setting: Setting, this: Pass, follower: Follower) -> tuple[Floats, Floats]:
    """Work coordinates (m, 3) and turns (m,) of the cuts that come next, or of holes where the operation has only those.

    Of an indexed operation, at all of the angles that come next.
    """
    elements = follower.moves_left
    cuts = np.flatnonzero(elements.kind[follower.next_move :] != 0) + follower.next_move if elements is not None else np.empty(0)
    if elements is not None and len(cuts):
        points = elements.points[cuts[:_MOST] + 1]
    else:
        scale = setting.scale
        holes = [np.column_stack([item.xy, item.bottom]) for item in this.operation.stream() if isinstance(item, Holes)]
        places = np.concatenate([np.empty((0, 3)), *holes])[:_MOST] * scale * setting.way_round
        points = np.column_stack([places, np.zeros(len(places))])
    work, phi = this.frame.work_of(points), this.frame.turns_of(points)
    rotary = this.operation.rotary
    if isinstance(rotary, Indexed) and this.angle_deg is not None:
        later = rotary.angles[rotary.angles.index(this.angle_deg) + 1 :][:8]
        phi = np.concatenate([phi, *(np.full(len(points), (1.0 if setting.end_for_end else -1.0) * np.radians(angle)) for angle in later)])
        work = np.tile(work, (1 + len(later), 1))
    return work, phi


def _share(sample: _Sample, setting: Setting, undo: Undo) -> float:
    """The share of the toolpath's points that the program, changed by `undo`, passes in their order, the part turned alike."""
    near = _distances(sample, setting, undo) <= _reach(setting)
    met, last = 0, -1
    for point in near:
        ahead = np.flatnonzero(point[last + 1 : last + 1 + _AHEAD])
        if len(ahead):
            met, last = met + 1, last + 1 + int(ahead[0])
    return met / len(near)


def _reach(setting: Setting) -> float:
    return 3 * setting.slack_mm


def _distances(sample: _Sample, setting: Setting, undo: Undo) -> Floats:
    """Of each point of the toolpath (m,) from each vertex of the program (n,), mm, with the turn counted as a length."""
    positions, phi = undo(sample.positions, sample.phi)
    here = _placed(positions, phi, setting)
    there = _placed(sample.wanted, sample.wanted_phi, setting)
    return np.asarray(np.sqrt(((there[:, None, :] - here[None, :, :]) ** 2).sum(axis=2)), dtype=np.float64)


def _placed(positions: Floats, phi: Floats, setting: Setting) -> Floats:
    radius = max(setting.swept_mm, 1.0)
    turn = np.column_stack([np.cos(phi), np.sin(phi)]) * radius
    return np.column_stack([setting.frame.to_part(positions, phi), turn])


def _changed(factor: float | Floats = 1.0, order: Sequence[int] = (0, 1, 2), step: float | Floats = 0.0, turn: float = 0.0) -> Undo:
    """Positions reordered, multiplied and moved; turns moved."""
    return lambda positions, phi: (positions[:, list(order)] * factor + step, phi + turn)


def _guesses(sample: _Sample, setting: Setting) -> Iterator[tuple[str, Undo]]:
    if setting.rotary is not None:
        yield (
            "mirrored: it holds with the rotary turning the other way; look at the rotary's sign, chuck_faces and positive_turns_chuck",
            lambda q, phi: (q, -phi),
        )
    for factor, words in ((MM_PER_INCH, "an inch is taken for a millimetre"), (1 / MM_PER_INCH, "a millimetre is taken for an inch")):
        yield f"units: it holds with every length scaled by 25.4: {words}", _changed(factor=factor)
    for one, two in ((0, 1), (1, 2), (0, 2)):
        order = [0, 1, 2]
        order[one], order[two] = two, one
        yield f"it holds with {'XYZ'[one]} and {'XYZ'[two]} swapped", _changed(order=order)
    for axis in range(3):
        sign = np.ones(3)
        sign[axis] = -1
        yield f"mirrored: it holds with the sign of {'XYZ'[axis]} turned", _changed(factor=sign)
    yield from _offsets(sample, setting)
    yield from _angles(sample)


def _offsets(sample: _Sample, setting: Setting) -> Iterator[tuple[str, Undo]]:
    """Steps from the first vertices to the first points: one of them is the offset, if there is one."""
    for vertex in sample.positions[:12]:
        for point in sample.wanted[:4]:
            step = point - vertex
            if np.linalg.norm(step) <= _reach(setting):
                continue
            shown = ", ".join(f"{axis} {value / setting.scale:+.4g}" for axis, value in zip("XYZ", -step, strict=True) if abs(value) > 1e-6)
            sentence = (
                f"a constant offset: it holds with every position moved back by {shown}; look at `centre`, the origin and tool length"
            )
            yield sentence, _changed(step=step)


def _angles(sample: _Sample) -> Iterator[tuple[str, Undo]]:
    for angle in sample.phi[:6]:
        step = float(less_whole_turns(sample.wanted_phi[0] - angle))
        if abs(step) > 1e-6:
            shown = f"{np.degrees(-step):+.4g} degrees"
            yield f"the part is turned by {shown} throughout; look at start_angle and the angles", _changed(turn=step)


def _winding(sample: _Sample, setting: Setting, follower: Follower) -> str:
    """Are they the right angles, but for whole turns?"""
    elements, at = follower.moves_left, follower.next_move
    if (
        follower.frame.kind == "work"
        or elements is None
        or at >= len(elements)
        or elements.kind[at] == 0
        or np.isnan(elements.points[at, 0])
    ):
        return ""  # before a cut the winding is free
    apart = _distances(sample, setting, _changed())
    at = apart.argmin(axis=1)
    found = apart[np.arange(len(at)), at] <= _reach(setting)
    turns = (sample.phi[at] - follower.links.turns_off - sample.wanted_phi) / FULL_TURN
    far = found & (np.abs(turns) > 0.5)
    if found.mean() < 0.5 or far.sum() < 0.25 * found.sum():
        return ""
    return f"winding: the angles are the right ones but for {round(float(np.median(turns[far]))):+d} whole turn(s)"


def _out_of_order(cursor: Cursor, setting: Setting, follower: Follower, here_alone: bool) -> str:
    """Does the next block go to another of the path's points than the next?"""
    elements, rows = follower.moves_left, cursor.rows
    if elements is None or cursor.at >= len(rows) or rows.motion[cursor.at] == 0:
        return ""
    place, phi = cursor.place(1)
    point = follower.frame.of_program(place[None, :], np.array([phi - follower.links.turns_off]))
    near = np.linalg.norm(elements.points - point, axis=1) <= _reach(setting)
    next_point = follower.next_move + 1
    behind, ahead = np.flatnonzero(near[: next_point - 1]), np.flatnonzero(near[next_point + 1 :])
    if len(behind):
        return "the program goes back to a point that it has passed: a block twice, or in the wrong order"
    if len(ahead):
        return f"the program runs ahead: {int(ahead[0]) + 1} move(s) left out, or in the wrong order"
    return "a fault at this place alone: what comes after agrees with the toolpath" if here_alone else ""


if TYPE_CHECKING:
    from steadyrest.proof.following import Follower

_LIKE = 0.03
"""How near, as a fraction, a ratio has to be."""


def feed_cause(cursor: Cursor, setting: Setting, follower: Follower) -> str:
    """A sentence, or nothing when no other reading of F gives the right speed."""
    rows, elements = cursor.rows, follower.moves_left
    if elements is None or follower.next_move >= len(elements) or cursor.at >= len(rows):
        return ""
    row = follower.wrong_row if follower.wrong_row is not None else cursor.at
    feed = follower.wrong_feed
    word, minutes = float(rows.feed_word[row]), float(rows.minutes[row])
    length = float(tip_length(rows.motions(setting.frame.along, row, row + 1, 0.0))[0])
    if not (np.isfinite(feed) and minutes > 0 and length > 0):
        return ""
    right = length / feed

    def like(value: float) -> bool:
        return abs(value / right - 1) < _LIKE

    inverse = rows.feed_mode[row] == FEED_INVERSE
    linear = float(np.linalg.norm(rows.vertex[row + 1] - rows.vertex[row]))
    turn = abs(float(rows.word_deg[row + 1] - rows.word_deg[row]))
    scale = setting.program_scale
    if inverse:
        if like(length / scale / word) or like(linear / scale / word):
            return "the feed mode: F would be right per minute, and is read as inverse time"
        for name, value in (("1 over minutes", 1 / word), ("1 over seconds", 1 / word / 60), ("seconds", word / 60)):
            if like(value) and not np.isclose(value, minutes):
                return f"the unit of inverse time: F would be right as {name}; look at feed.inverse_is"
    else:
        for name, value in (("1 over minutes", 1 / word), ("1 over seconds", 1 / word / 60), ("seconds", word / 60)):
            if like(value):
                return f"the feed mode: F would be right in inverse time, {name}, and is read per minute"
        counted = {
            "linear_axes": (linear or turn * scale) / scale,
            "all_axes": float(np.hypot(linear / scale, turn)),
            "tip": length / scale,
        }
        for name, way in counted.items():
            if way > 0 and like(way / word) and not np.isclose(way / word, minutes):
                return f"what F counts while the rotary moves: it would be right as `{name}`; look at feed.per_minute_counts"
    for factor, words in (
        (MM_PER_INCH, "units: 25.4 times too slow, an inch for a millimetre"),
        (1 / MM_PER_INCH, "units: 25.4 times too fast, a millimetre for an inch"),
        (10.0, "a decimal: ten times too slow"),
        (0.1, "a decimal: ten times too fast"),
    ):
        if abs(minutes / right / factor - 1) < _LIKE:
            return words
    if row > 0 and rows.feed_mode[row - 1] == rows.feed_mode[row] and rows.feed_word[row - 1] == rows.feed_word[row]:
        return "F is left over from the block before"
    return ""
