"""Which word is it that differs, on which line, and what should it say? Asked once, after a failure, of the blocks around it.

A program that was right until somebody changed one word has all its other words still: the word is the one without which the rest
agrees with the toolpath.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import FULL_TURN, less_whole_turns
from steadyrest.proof.intended_path import Chart, Elements
from steadyrest.proof.measure import element_points
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import Blocks
from steadyrest.proof.setting import Setting
from steadyrest.proof.words import axis_word, coordinate_said, length, place_said
from steadyrest.toolpath import RAPID

_AHEAD = 6
"""Elements of the path that are looked at."""
_SAMPLES = 257
"""Points of an element, and again between two of them."""


@dataclass(frozen=True, slots=True)
class Edit:
    """The line of a word that differs, and what it says and should say: `X-51; the toolpath asks for -50 mm`."""

    line: int
    sentence: str


def edited(mismatch: Mismatch, edit: Edit | None) -> Mismatch:
    """The same difference, said by the word it comes from, at that word's line."""
    if edit is not None:
        mismatch.edited = True
        mismatch.line, mismatch.sentence = edit.line, f"{edit.sentence}: {mismatch.sentence}"
    return mismatch


def edit_in_link(cursor: Cursor, setting: Setting, goal: Floats, wanted_rad: float, since: int, *, back: bool) -> Edit | None:
    """The word of a link that did not reach `goal` (3,), work coordinates, the part turned by `wanted_rad`.

    since   so many of the blocks before the present one were to lead there
    back    the link leaves a cut there and comes back to it: a height alone differs because it does
    """
    blocks = cursor.recent(1)
    now = len(blocks.line) - 1 if cursor.at_block else len(blocks.line)
    first = max(now - since, 0)
    ends = np.arange(first, now)
    off = _off(blocks.end, goal, wanted_rad, setting)
    if now < len(blocks.line) and not off[now, 2] and blocks.end[now, 2] < blocks.begin[now, 2]:
        if not off[now].any():  # it comes down to the goal, but not straight down
            off[now] = _off(blocks.begin[now:], goal, wanted_rad, setting)[0] & (np.arange(4) != 2)
            blocks.end[now] = blocks.begin[now]
        ends = np.append(ends, now)
    ends = ends[off[ends].any(axis=1)]
    if len(ends) == 0 and not since and not back and now < len(blocks.line) and off[now].any():
        return _missing(setting, _off(blocks.begin[now:], goal, wanted_rad, setting)[0], goal, wanted_rad, cursor.line)
    if len(ends) == 0:
        return None
    best = _likeliest(blocks, ends, off)
    wrong = np.flatnonzero(off[best])
    over = now < len(blocks.line) and not _off(blocks.begin[now:], goal, wanted_rad, setting)[0, [0, 1, 3]].any()
    if back and list(wrong) not in ([0], [1], [3], *([[2]] if over else [])):
        return None
    edit = _of_blocks(blocks, best, wrong, _goal(blocks, best, goal, wanted_rad), setting, first)
    if edit is not None:
        return edit
    down = np.flatnonzero(blocks.end[first : now + 1, 2] < blocks.begin[first : now + 1, 2])
    line = int(blocks.line[first + down[0]]) if len(down) else cursor.line
    return _missing(setting, off[best], goal, wanted_rad, line)


def _missing(setting: Setting, off: Bools, goal: Floats, wanted_rad: float, line: int) -> Edit:
    words = [coordinate_said(setting, coordinate, np.append(goal, wanted_rad)) for coordinate in map(int, np.flatnonzero(off))]
    return Edit(line, f"a block to {' '.join(words)} is missing before this line")


def edit_left_early(cursor: Cursor, setting: Setting, goal: Floats, wanted_rad: float, *, missing: bool) -> Edit | None:
    """The word of the last cut before the present link, which should have ended at `goal`; or that its block is `missing`."""
    blocks = cursor.recent(0)
    last = blocks.link - 1
    if last < 0 or last + 1 >= len(blocks.line):
        return None
    off = _off(blocks.end[last : last + 1], goal, wanted_rad, setting)[0]
    if missing:
        return _missing(setting, off, goal, wanted_rad, int(blocks.line[last + 1]))
    return _of_blocks(blocks, last, np.flatnonzero(off), np.append(goal, wanted_rad), setting, last)


def _likeliest(blocks: Blocks, ends: Ints, off: Bools) -> int:
    """The block after which the fewest numbers (k, 4) differ from the goal.

    Of several the last, for the way there is right until then. A height alone differs on the way down as well: there it is the first
    block that said one with the tool over the place.
    """
    count = off[ends].sum(axis=1)
    fewest = ends[count == count.min()]
    aside = fewest[off[fewest][:, [0, 1, 3]].any(axis=1)]
    if len(aside):
        return int(aside[-1])
    said = [one for one in map(int, fewest) if blocks.head(one + 1).setting(2) == one]
    return said[0] if said else int(fewest[0])


def edit_before_rapid(cursor: Cursor, setting: Setting, goal: Floats, wanted_rad: float, since: int) -> Edit | None:
    """The word because of which the next block, a rapid, goes where it must not: it should go over `goal`, or straight down on it.

    since   so many of the blocks before it were to lead there
    """
    blocks = cursor.recent(1)
    last = len(blocks.line) - 1
    if not np.isfinite(goal).all():
        return None
    at_end = _off(blocks.end[last:], goal, wanted_rad, setting)[0]
    at_begin = _off(blocks.begin[last:], goal, wanted_rad, setting)[0]
    if since and list(np.flatnonzero(at_begin)) == [2] and blocks.head(last).setting(2) == last - 1:
        return _of_blocks(blocks, last - 1, np.array([2]), np.append(goal, wanted_rad), setting, last - 1)
    aside = at_end.copy()
    aside[2] = False
    at_begin[2] = False
    if aside.any():
        return _of_blocks(blocks, last, np.flatnonzero(aside), _goal(blocks, last, goal, wanted_rad), setting, blocks.link)
    if at_begin.any() and blocks.end[last, 2] < blocks.begin[last, 2]:
        return _of_blocks(blocks, last - 1, np.flatnonzero(at_begin), _goal(blocks, last - 1, goal, wanted_rad), setting, blocks.link)
    if at_end[2]:
        return _of_blocks(blocks, last, np.array([2]), np.append(goal, wanted_rad), setting, last)
    return None


def edit_of_height(cursor: Cursor, setting: Setting, least_mm: float) -> Edit | None:
    """The word that said the present height, if that was since the last cut: it should be at least `least_mm`, work coordinates."""
    blocks = cursor.recent(0)
    block = blocks.setting(2)
    if block is None or block < blocks.link:
        return None
    said = coordinate_said(setting, 2, blocks.end[block])
    return Edit(int(blocks.line[block]), f"{said}; at least {length(setting, least_mm)} are needed")


def edit_of_turn(cursor: Cursor, setting: Setting, ahead: int) -> Edit | None:
    """The word that turned the rotary last, up to the block `ahead` on, if that was since the last cut."""
    blocks = cursor.recent(ahead)
    block = blocks.setting(3)
    if block is None or (block < blocks.link and not ahead):
        return None
    return Edit(int(blocks.line[block]), coordinate_said(setting, 3, blocks.end[block]))


def edit_aside(cursor: Cursor, setting: Setting, goal: Floats, wanted_rad: float) -> Edit | None:
    """The word because of which the next block ends beside `goal` (3,), at whatever height."""
    blocks = cursor.recent(1)
    last = len(blocks.line) - 1
    off = _off(blocks.end[last:], goal, wanted_rad, setting)[0] & (np.arange(4) != 2)
    return _of_blocks(blocks, last, np.flatnonzero(off), _goal(blocks, last, goal, wanted_rad), setting, last)


def edit_in_cut(cursor: Cursor, setting: Setting, chart: Chart, elements: Elements, at: int, u: float, turns_off: float) -> Edit | None:
    """The word of the next block, a cut that leaves element `at`, gone to `u`, or of the one before, which ended too early."""
    rows = cursor.rows
    blocks = cursor.recent(1)
    last = len(blocks.line) - 1
    path = _Path(elements, chart, setting, turns_off, at)
    place = path.places(u)
    if len(place) == 0:
        return None
    end = at + 1.0
    goal = path.points(np.array([end]))[0]
    wrong = np.flatnonzero(path.apart(np.array([end]), blocks.begin[last])[0] > path.limit)
    if u > 0.0 and last > 0 and not blocks.rapid[last - 1] and len(wrong) == 1:
        after = blocks.end[last].copy()
        if abs(after[wrong[0]] - blocks.begin[last, wrong[0]]) <= 1e-9:
            after[wrong] = goal[wrong]  # a word that is not said again holds on
        reached = path.nearest(place, (after[:3], float(after[3])), None, end)
        if reached is not None and reached > end + 1e-6:
            return _of_blocks(blocks, last - 1, wrong, goal, setting, last - 1)
    expected = end
    if cursor.at + 2 <= len(rows):
        next_one = path.nearest(place, cursor.place(2), None, at + u)
        if next_one is not None and next_one <= end:
            expected = (at + u + next_one) / 2
    found = [
        (abs(where - expected), coordinate, where)
        for coordinate in range(4)
        if (where := path.nearest(place, cursor.place(1), coordinate, expected)) is not None
    ]
    if not found:
        return _edit_of_arc(cursor, setting, elements, at)
    _, coordinate, where = min(found)
    return _of_blocks(blocks, last, np.array([coordinate]), path.points(np.array([where]))[0], setting, last)


def _edit_of_arc(cursor: Cursor, setting: Setting, elements: Elements, at: int) -> Edit | None:
    """The next block's arc, where it is about another centre than the path's."""
    rows = cursor.rows
    if rows.centre is None or rows.motion[cursor.at] <= 1 or elements.centre is None or elements.kind[at] <= 1:
        return None
    said, asked = (place_said(setting, centre) for centre in (rows.centre[cursor.at], elements.centre[at]))
    return Edit(cursor.line, f"an arc about {said}; the toolpath asks for one about {asked}") if said != asked else None


def edit_of_begin(cursor: Cursor, setting: Setting, goal: Floats, wanted_rad: float) -> Edit | None:
    """The word that said the height at which the next block begins, which should be that of `goal` (3,)."""
    blocks = cursor.recent(0)
    last = len(blocks.line) - 1
    return _of_blocks(blocks, last, np.array([2]), np.append(goal, wanted_rad), setting, 0) if last >= 0 else None


def edit_along_cut(
    cursor: Cursor, setting: Setting, chart: Chart, elements: Elements, element: int, u: float, ahead: int, turns_off: float
) -> Edit | None:
    """The word because of which the block that ends `ahead` blocks on ends too early or too late along its path, instead of at `u`."""
    blocks = cursor.recent(ahead)
    last = len(blocks.line) - 1
    path = _Path(elements, chart, setting, turns_off, element)
    place = np.array([element + u])
    wrong = np.array([int(np.argmax(path.apart(place, blocks.end[last])[0]))])
    return _of_blocks(blocks, last, wrong, path.points(place)[0], setting, last)


class _Path:
    """The path as work coordinates, mm, and turns, rad, by places: the number of an element plus how far it is gone, 0 to 1."""

    def __init__(self, elements: Elements, chart: Chart, setting: Setting, turns_off: float, first: int) -> None:
        self.elements, self.chart, self.turns_off, self.first = elements, chart, turns_off, first
        self.limit = 2 * setting.slack_mm
        self.weights = np.array([1.0, 1.0, 1.0, max(setting.swept_mm, 1.0)])

    def places(self, u: float) -> Floats:
        """Places from `u` of the first element on, as far as it is cut."""
        found, at = [], self.first
        for element in range(at, min(at + _AHEAD, len(self.elements))):
            if self.elements.kind[element] == RAPID:
                break
            found.append(element + np.linspace(u if element == at else 0.0, 1.0, _SAMPLES)[0 if element == at else 1 :])
        return np.concatenate(found) if found else np.empty(0)

    def points(self, places: Floats) -> Floats:
        """(n, 4) at places (n,)."""
        whole = np.maximum(np.ceil(places - 1e-12).astype(np.int64) - 1, self.first)
        out = np.empty((len(places), 4))
        for element in np.unique(whole):
            here = whole == element
            out[here] = element_points(self.elements, int(element), places[here] - element)
        turns = self.chart.turns_of(out) + self.turns_off
        return np.column_stack([self.chart.work_of(out), turns])

    def apart(self, places: Floats, point: Floats) -> Floats:
        """How far (n, 4) a point (4,) is in each of the numbers, mm; a turn at the swept radius."""
        return np.asarray(np.abs(self.points(places) - point) * self.weights, dtype=np.float64)

    def step(self, places: Floats) -> float:
        """The farthest that two places that come one after the other are apart, mm."""
        return float(np.abs(np.diff(self.points(places), axis=0) * self.weights).max(initial=0.0))

    def nearest(self, places: Floats, position: tuple[Floats, float], without: int | None, expected: float) -> float | None:
        """The place where a position is that of the path, one of its numbers not counted; of several the one nearest to `expected`."""
        point = np.append(*position)
        for _ in range(3):
            apart = self.apart(places, point)
            rest = (apart if without is None else np.delete(apart, without, axis=1)).max(axis=1)
            low = np.flatnonzero(rest <= np.maximum(self.limit, self.step(places)))
            if len(low) == 0:
                return None
            groups = np.split(low, np.flatnonzero(np.diff(low) > 1) + 1)
            group = min(groups, key=lambda one: float(np.abs(places[one] - expected).min()))
            order = np.lexsort((np.abs(places[group] - expected), np.round(rest[group] / self.limit * 20)))
            best = int(group[order[0]])
            found = float(places[best])
            fits = rest[best] <= self.limit and (without is None or apart[best, without] > self.limit)
            places = np.linspace(places[max(best - 1, 0)], places[min(best + 1, len(places) - 1)], _SAMPLES)
        return found if fits else None


def _goal(blocks: Blocks, at: int, goal: Floats, wanted_rad: float) -> Floats:
    """A goal (4,) of a link, with whole turns, which are free there: nearest to the angle that was said, or to the one before it."""
    before = blocks.end[at, 3]
    block = blocks.head(at + 1).setting(3)
    if block is not None and np.abs(less_whole_turns(before - wanted_rad)) > FULL_TURN / 8:
        before = blocks.begin[block, 3]
    near = 0.0 if np.isnan(before) else FULL_TURN * round((before - wanted_rad) / FULL_TURN)
    return np.append(goal, wanted_rad + near)


def _off(ends: Floats, goal: Floats, wanted_rad: float, setting: Setting) -> Bools:
    """Which of the four numbers (k, 4) are not those of the goal; a number that is not known is none of them."""
    out = np.empty(ends.shape, dtype=np.bool_)
    out[:, :3] = ~(np.abs(ends[:, :3] - goal) <= setting.slack_mm)
    turned = less_whole_turns(ends[:, 3] - wanted_rad)
    out[:, 3] = ~(np.abs(turned) <= setting.axis_limit_rad)
    return out


def _of_blocks(blocks: Blocks, at: int, wrong: Ints, goal: Floats, setting: Setting, first: int) -> Edit | None:
    """The words that said the coordinates `wrong` last, up to block `at`; None when none of them was said from block `first` on.

    A height that was said before the tool had come over the place is another's.
    """
    before = blocks.head(at + 1)
    said = [(coordinate, block) for coordinate in map(int, wrong) if (block := before.setting(coordinate)) is not None and block >= first]
    if not said or (list(wrong) == [2] and said[0][1] < at):
        return None
    block = min(block for _, block in said)
    words = [axis_word(setting, coordinate, blocks.begin[one], blocks.end[one], goal) for coordinate, one in said if one == block]
    return Edit(int(blocks.line[block]), " and ".join(words))
