"""What do the words of a program say, in its units; and which is it that differs, on which line, and what should it say?

The second is asked once, after a failure, of the blocks around it. A program that was right until somebody changed one word has all its
other words still: the word is the one without which the rest agrees with the toolpath. A goal (4,) is a place in work coordinates, mm, and
the turn of the part there, rad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, isnan
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import INVERSE, LINE, MM_PER_INCH
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import FULL_TURN, less_whole_turns
from steadyrest.proof.intended_path import Elements, OperationFrame
from steadyrest.proof.rows import Blocks, Rows
from steadyrest.proof.setting import Setting
from steadyrest.proof.verdict import Mismatch
from steadyrest.toolpath import RAPID

_AHEAD = 6
"""Elements of the path that are looked at."""
_SAMPLES = 257
"""Points of an element, and again between two of them."""
_HEIGHT, TURN = np.array([2]), 3


class Edit(NamedTuple):
    """The line of a word that differs, and what it says and should say: `X-51; the toolpath asks for -50 mm`.

    asked, found   where the block with that word should end, and where it ends, each (4,) as a goal; None where that is not known
    """

    line: int
    words: str
    asked: Floats | None = None
    found: Floats | None = None


def edited(mismatch: Mismatch, edit: Edit | None) -> Mismatch:
    """The same difference, said by the word it comes from, at that word's line."""
    if edit is not None:
        mismatch.edited, mismatch.line, mismatch.sentence = True, edit.line, f"{edit.words}: {mismatch.sentence}"
        goal, mismatch.found = mismatch.asked, edit.found
        if edit.asked is not None:  # what the program has not said there is as the goal has it
            mismatch.asked = edit.asked if goal is None else np.where(np.isnan(edit.asked), goal, edit.asked)
    return mismatch


def edit_in_link(cursor: Cursor, setting: Setting, goal: Floats, since: int, *, back: bool) -> Edit | None:
    """The word of a link that did not reach its goal.

    since   so many of the blocks before the present one were to lead there
    back    the link leaves a cut there and comes back to it: a height alone differs because it does
    """
    blocks = cursor.recent(1)
    count = len(blocks.line)
    now = count - 1 if cursor.at_block else count
    first = max(now - since, 0)
    ends, off = np.arange(first, now), _off(blocks.end, goal, setting)
    begins_off = _off(blocks.begin[now:], goal, setting)[0] if now < count else np.ones(4, dtype=np.bool_)
    if now < count and not off[now, 2] and blocks.end[now, 2] < blocks.begin[now, 2]:
        if not off[now].any():  # it comes down to the goal, but not straight down
            off[now] = begins_off & (np.arange(4) != 2)
            blocks.end[now] = blocks.begin[now]
        ends = np.append(ends, now)
    ends = ends[off[ends].any(axis=1)]
    if len(ends) == 0 and not since and not back and now < count and off[now].any():
        return _missing(setting, begins_off, goal, cursor.line)
    if len(ends) == 0:
        return None
    best = _likeliest(blocks, ends, off)
    wrong = np.flatnonzero(off[best])
    if back and list(wrong) not in ([0], [1], [TURN], *([] if begins_off[[0, 1, TURN]].any() else [[2]])):
        return None
    edit = _of_blocks(blocks, best, wrong, _wound(blocks, best, goal), setting, first)
    if edit is not None:
        return edit
    down = np.flatnonzero(blocks.end[first : now + 1, 2] < blocks.begin[first : now + 1, 2])
    return _missing(setting, off[best], goal, int(blocks.line[first + down[0]]) if len(down) else cursor.line)


def _missing(setting: Setting, off: Bools, goal: Floats, line: int) -> Edit:
    words = " ".join(coordinate_said(setting, coordinate, goal) for coordinate in map(int, np.flatnonzero(off)))
    return Edit(line, f"a block to {words} is missing before this line", asked=goal)


def edit_left_early(cursor: Cursor, setting: Setting, goal: Floats, *, missing: bool) -> Edit | None:
    """The word of the last cut before the present link, which should have ended at its goal; or that its block is `missing`."""
    blocks = cursor.recent(0)
    last = blocks.link - 1
    if last < 0 or last + 1 >= len(blocks.line):
        return None
    off = _off(blocks.end[last : last + 1], goal, setting)[0]
    if missing:
        return _missing(setting, off, goal, int(blocks.line[last + 1]))
    return _of_blocks(blocks, last, np.flatnonzero(off), goal, setting, last)


def _likeliest(blocks: Blocks, ends: Ints, off: Bools) -> int:
    """The block after which the fewest numbers (k, 4) differ from the goal.

    Of several the last, for the way there is right until then. A height alone differs on the way down as well: there it is the first
    block that said one with the tool over the place.
    """
    count = off[ends].sum(axis=1)
    fewest = ends[count == count.min()]
    aside = fewest[off[fewest][:, [0, 1, TURN]].any(axis=1)]
    if len(aside):
        return int(aside[-1])
    return next((one for one in map(int, fewest) if blocks.setting(2, one + 1) == one), int(fewest[0]))


def edit_before_rapid(cursor: Cursor, setting: Setting, goal: Floats, since: int) -> Edit | None:
    """The word because of which the next block, a rapid, goes where it must not: it should go over the goal, or straight down on it.

    since   so many of the blocks before it were to lead there
    """
    blocks = cursor.recent(1)
    last = len(blocks.line) - 1
    if not np.isfinite(goal[:3]).all():
        return None
    at_end, at_begin = (_off(side[last:], goal, setting)[0] for side in (blocks.end, blocks.begin))
    if since and list(np.flatnonzero(at_begin)) == [2] and blocks.setting(2, last) == last - 1:
        return _of_blocks(blocks, last - 1, _HEIGHT, goal, setting, last - 1)
    aside, from_aside = (np.flatnonzero(side & (np.arange(4) != 2)) for side in (at_end, at_begin))
    if len(aside):
        return _of_blocks(blocks, last, aside, _wound(blocks, last, goal), setting, blocks.link)
    if len(from_aside) and blocks.end[last, 2] < blocks.begin[last, 2]:
        return _of_blocks(blocks, last - 1, from_aside, _wound(blocks, last - 1, goal), setting, blocks.link)
    return _of_blocks(blocks, last, _HEIGHT, goal, setting, last) if at_end[2] else None


def edit_of_state(cursor: Cursor, setting: Setting, coordinate: int, ahead: int = 0, needed: str = "") -> Edit | None:
    """The word that said a coordinate last, up to the block `ahead` on, if that was since the last cut; and what is needed there."""
    blocks = cursor.recent(ahead)
    block = blocks.setting(coordinate)
    if block is None or (block < blocks.link and not ahead):
        return None
    return Edit(int(blocks.line[block]), coordinate_said(setting, coordinate, blocks.end[block]) + needed, found=blocks.end[block])


def edit_aside(cursor: Cursor, setting: Setting, goal: Floats) -> Edit | None:
    """The word because of which the next block ends beside its goal, at whatever height."""
    blocks = cursor.recent(1)
    last = len(blocks.line) - 1
    off = _off(blocks.end[last:], goal, setting)[0] & (np.arange(4) != 2)
    return _of_blocks(blocks, last, np.flatnonzero(off), _wound(blocks, last, goal), setting, last)


def edit_of_begin(cursor: Cursor, setting: Setting, goal: Floats) -> Edit | None:
    """The word that said the height at which the next block begins, which should be that of its goal."""
    blocks = cursor.recent(0)
    return _of_blocks(blocks, len(blocks.line) - 1, _HEIGHT, goal, setting, 0)


def edit_in_cut(cursor: Cursor, path: PathAhead, u: float) -> Edit | None:
    """The word of the next block, a cut that leaves the first element of the path, gone to `u`, or of the one before, which ended early."""
    blocks, setting = cursor.recent(1), path.setting
    last = len(blocks.line) - 1
    places = path.places(u)
    if len(places) == 0:
        return None
    end = path.first + 1.0
    goal = path.points(np.array([end]))[0]
    wrong = np.flatnonzero(np.abs(path.off(np.array([end]), blocks.begin[last])[0]) > path.limit)
    if u > 0.0 and last > 0 and not blocks.rapid[last - 1] and len(wrong) == 1:
        after = blocks.end[last].copy()
        if abs(after[wrong[0]] - blocks.begin[last, wrong[0]]) <= 1e-9:
            after[wrong] = goal[wrong]  # a word that is not said again holds on
        reached = path.nearest(places, after, None, end)
        if reached is not None and reached > end + 1e-6:
            return _of_blocks(blocks, last - 1, wrong, goal, setting, last - 1)
    expected = end
    if cursor.at + 2 <= cursor.stop:
        next_one = path.nearest(places, np.array(cursor.place(2)), None, path.first + u)
        if next_one is not None and next_one <= end:
            expected = (path.first + u + next_one) / 2
    found = [
        (abs(where - expected), coordinate, where)
        for coordinate in range(4)
        if (where := path.nearest(places, blocks.end[last], coordinate, expected)) is not None
    ]
    if not found:
        return _edit_of_arc(cursor, setting, path.elements, path.first)
    _, coordinate, where = min(found)
    return _of_blocks(blocks, last, np.array([coordinate]), path.points(np.array([where]))[0], setting, last)


def _edit_of_arc(cursor: Cursor, setting: Setting, elements: Elements, at: int) -> Edit | None:
    """The next block's arc, where it is about another centre than the path's."""
    rows = cursor.rows
    if rows.arcs is None or rows.motion[cursor.at] <= LINE or elements.arcs is None or elements.kind[at] <= LINE:
        return None
    said, asked = (place_said(setting, arcs.centre_mm[row]) for arcs, row in ((rows.arcs, cursor.at), (elements.arcs, at)))
    return Edit(cursor.line, f"an arc with its centre at {said}; the toolpath has it at {asked}") if said != asked else None


def edit_along_cut(cursor: Cursor, path: PathAhead, u: float, ahead: int) -> Edit | None:
    """The word because of which the block that ends `ahead` blocks on ends too early or too late along its path.

    It should end at `u` of the path's first element.
    """
    blocks, place = cursor.recent(ahead), np.array([path.first + u])
    last = len(blocks.line) - 1
    wrong = np.array([int(np.argmax(np.abs(path.off(place, blocks.end[last])[0])))])
    return _of_blocks(blocks, last, wrong, path.points(place)[0], path.setting, last)


@dataclass(frozen=True, slots=True)
class PathAhead:
    """The path as goals, by places: the number of an element, from `first` on, plus how far it is gone, 0 to 1."""

    elements: Elements
    frame: OperationFrame
    setting: Setting
    turns_off: float
    first: int

    @property
    def limit(self) -> float:
        """How near a position has to be to be on it, mm."""
        return 2 * self.setting.slack_mm

    def places(self, u: float) -> Floats:
        """Places from `u` of the first element on, as far as it is cut."""
        stop = min(self.first + _AHEAD, len(self.elements))
        rapids = np.flatnonzero(self.elements.kind[self.first : stop] == RAPID)
        count = int(rapids[0]) if len(rapids) else stop - self.first
        parts = [np.linspace(0.0 if later else u, 1.0, _SAMPLES)[min(later, 1) :] + self.first + later for later in range(count)]
        return np.concatenate(parts) if parts else np.empty(0)

    def points(self, places: Floats) -> Floats:
        """Goals (n, 4) at places (n,)."""
        whole = np.maximum(np.ceil(places - 1e-12).astype(np.int64) - 1, self.first)
        out = self.elements.place(whole, places - whole)
        return self.frame.goals_of(out, self.turns_off)

    def off(self, places: Floats, point: Floats) -> Floats:
        """How far (n, 4) they are from a position (4,) in each of the numbers, mm; a turn at the swept radius."""
        return (self.points(places) - point) * (1.0, 1.0, 1.0, max(self.setting.swept_mm, 1.0))

    def nearest(self, places: Floats, point: Floats, without: int | None, expected: float) -> float | None:
        """The place where a position (4,) is that of the path, one of its numbers not counted; of several the one nearest to `expected`."""
        for _ in range(3):
            off = self.off(places, point)
            apart, step = np.abs(off), float(np.abs(np.diff(off, axis=0)).max(initial=0.0))
            rest = (apart if without is None else np.delete(apart, without, axis=1)).max(axis=1)
            low = np.flatnonzero(rest <= max(self.limit, step))
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


def _wound(blocks: Blocks, at: int, goal: Floats) -> Floats:
    """A goal of a link, with whole turns, which are free there: nearest to the angle that was said, or to the one before it."""
    before = blocks.end[at, TURN]
    block = blocks.setting(TURN, at + 1)
    if block is not None and np.abs(less_whole_turns(before - goal[TURN])) > FULL_TURN / 8:
        before = blocks.begin[block, TURN]
    near = 0.0 if np.isnan(before) else FULL_TURN * round((before - goal[TURN]) / FULL_TURN)
    return np.append(goal[:3], goal[TURN] + near)


def _off(ends: Floats, goal: Floats, setting: Setting) -> Bools:
    """Which of the four numbers (k, 4) are not those of the goal; a number that is not known is none of them."""
    apart = ends - goal
    apart[:, TURN] = less_whole_turns(apart[:, TURN])
    return ~(np.abs(apart) <= np.append(np.full(3, setting.slack_mm), setting.axis_limit_rad))


def _of_blocks(blocks: Blocks, at: int, wrong: Ints, goal: Floats, setting: Setting, first: int) -> Edit | None:
    """The words that said the coordinates `wrong` last, up to block `at`; None when none of them was said from block `first` on.

    A height that was said before the tool had come over the place is another's.
    """
    said = [(one, block) for one in map(int, wrong) if (block := blocks.setting(one, at + 1)) is not None and block >= first]
    if not said or (list(wrong) == [2] and said[0][1] < at):
        return None
    block = min(block for _, block in said)
    words = [axis_word(setting, coordinate, blocks.begin[one], blocks.end[one], goal) for coordinate, one in said if one == block]
    end = blocks.end[block]
    asked = end.copy()
    wrong = np.array([coordinate for coordinate, one in said if one == block])
    asked[wrong] = goal[wrong]
    return Edit(int(blocks.line[block]), " and ".join(words), asked, end)


def unit(setting: Setting) -> str:
    """The program's unit of length."""
    return "inch" if setting.program_scale == MM_PER_INCH else "mm"


def length(setting: Setting, mm: float) -> str:
    """A length in the program's units: `12.5 mm`."""
    return f"{number_said(mm / setting.program_scale)} {unit(setting)}"


def speed(setting: Setting, mm_per_min: float) -> str:
    """A speed of the tip in the program's units: `45 inch/min`."""
    return f"{number_said(mm_per_min / setting.program_scale)} {unit(setting)}/min"


def feed_word(rows: Rows, row: int, setting: Setting, mm_per_min: float) -> str:
    """The F in force at a block; where F is not the speed of the tip itself, with that speed as well: `F12.5, 35 inch/min at the tip`."""
    word = float(rows.feed_word[row])
    shown = f"F{number_said(word)}"
    if rows.feed_mode[row] != INVERSE and abs(word * setting.program_scale / mm_per_min - 1) < 1e-2:
        return shown
    return f"{shown}, {speed(setting, mm_per_min)} at the tip"


def place_said(setting: Setting, position_mm: Sequence[float] | Floats) -> str:
    """Work coordinates in the program's units: `X-10 Y0 Z22 mm`."""
    numbers = (f"{axis}{number_said(float(value) / setting.program_scale)}" for axis, value in zip("XYZ", position_mm, strict=True))
    return f"{' '.join(numbers)} {unit(setting)}"


def coordinate_said(setting: Setting, coordinate: int, point: Floats) -> str:
    """One coordinate of a point (4,) as a word: `Z30`, `A90`."""
    letter, value = _as_word(setting, coordinate, float(point[coordinate]))
    return f"{letter}{number_said(value)}"


def axis_word(setting: Setting, coordinate: int, begin: Floats, end: Floats, goal: Floats) -> str:
    """What the word of a coordinate says and should say: `X-51; the toolpath asks for -50 mm`. Coordinate 3 is the rotary.

    begin, end, goal   (4,): X, Y, Z in work coordinates, mm, and the turn, rad; a word of steps is said as one
    """
    steps = setting.profile.words.distance == "incremental" and not isnan(float(begin[coordinate]))
    start = float(begin[coordinate]) if steps else 0.0
    said, asked = float(end[coordinate]) - start, float(goal[coordinate]) - start
    a_step = "a step of " if steps else ""
    (letter, word), (_, goal_word) = (_as_word(setting, coordinate, value, step=steps) for value in (said, asked))
    name = "degrees" if letter in setting.rotaries else unit(setting)
    return f"{letter}{number_said(word)}; the toolpath asks for {a_step}{number_said(goal_word)} {name}"


def _as_word(setting: Setting, coordinate: int, value: float, *, step: bool = False) -> tuple[str, float]:
    """The letter of a coordinate, and a number of mm or rad as its word says it."""
    if coordinate < 3:
        return "XYZ"[coordinate], value / setting.program_scale
    if not setting.rotaries:
        return "rotary", degrees(value)
    letter, rotary = list(setting.rotaries.items())[coordinate - 3]
    word = degrees(value) * setting.sigma
    if rotary.replaces:
        return rotary.replaces, word * rotary.mm_per_degree / setting.program_scale
    return letter, word % 360 if rotary.travel.kind == "rollover" and not step else word


def number_said(value: float) -> str:
    """No more digits than a word has; zero without a sign."""
    return f"{round(value, 4) + 0.0:.8g}"
