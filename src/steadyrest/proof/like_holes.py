"""Are the holes after one that was drilled as asked drilled so too? Many at once; whatever looks different is left to the full rules."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import pi

import numpy as np

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.figures import Gathered
from steadyrest.proof.geometry import Floats
from steadyrest.proof.intended import Pass
from steadyrest.proof.links import Links
from steadyrest.proof.setting import FULL_TURN, Setting
from steadyrest.proof.straight import is_as_asked
from steadyrest.reading.model import LINE, RAPID
from steadyrest.toolpath import Dwell, Hole, MoveColumns, Note, Stop

BLOCKS = 3
"""Of a hole that is drilled after another at the same height: over it, down at feed, up at rapid."""
MOST = 4096
"""Holes at once."""
FEW = 16
"""Holes that are tried at first, where nobody knows yet whether any is drilled simply."""
_HAIR = 1e-9

Item = MoveColumns | Dwell | Hole | Stop | Note


def with_like_holes(stream: Iterable[Item]) -> Iterator[Item | list[Hole]]:
    """The items of an operation, neighbouring holes that differ in their places alone as a list of `MOST` at most."""
    holes: list[Hole] = []
    for item in stream:
        if holes and not (isinstance(item, Hole) and len(holes) < MOST and _depths(item) == _depths(holes[0])):
            yield holes
            holes = []
        if isinstance(item, Hole):
            holes.append(item)
        else:
            yield item
    if holes:
        yield holes


def _depths(hole: Hole) -> tuple[object, ...]:
    return hole.cycle, hole.retract, hole.bottom, hole.feed, hole.peck, hole.dwell


def follow_like_holes(cursor: Cursor, setting: Setting, this: Pass, links: Links, gathered: Gathered, holes: Sequence[Hole]) -> int:
    """Go through as many of `holes`, which differ from the one just drilled in their places alone, as the next blocks drill simply.

    Simply means: over the place, down at feed, up at rapid, all at the same heights and in the same time; nothing is switched, no rule
    is broken and no feed lowered; the place is farther off than what is allowed, so that the way to it is no slip of the hole before.
    Such holes pass `follow_hole` with nothing said: its rules are asked here in columns, and the first hole that fails one ends the run.

    returns   how many of them that were
    """
    rows, at = cursor.rows, cursor.at
    if rows is None or not holes:
        return 0
    first = holes[0]
    if not rows.stands or first.cycle != "drill" or first.dwell or first.peck is not None:
        return 0
    checked = cursor.checked
    count = min(len(holes), (cursor.sound - at) // BLOCKS)
    if count < 1 or checked is None or checked[0] is not cursor.state or checked[1] is not this:
        return 0
    phi, top, low = float(rows.phi[at]), float(rows.vertex[at, 2]), float(rows.vertex[at + 2, 2])
    feed = first.feed * setting.scale
    if not low < top or not is_as_asked(rows, at + 1, setting, top - low, (feed, feed)):
        return 0
    places = np.array([(hole.x, hole.y) for hole in holes[:count]])
    points = np.empty((count, 4))
    points[:, :2], points[:, 2], points[:, 3] = places, first.retract, 0.0
    points[:, :3] *= setting.scale * setting.way_round
    goal, turns = this.chart.work_of(points), this.chart.turns_of(points)
    bottom = goal[:, 2] - (points[:, 2] - first.bottom * setting.scale)

    blocks = slice(at, at + count * BLOCKS)
    ends = rows.vertex[at + 1 : blocks.stop + 1].reshape(count, BLOCKS, 3)
    begins = np.concatenate((rows.vertex[at : at + 1], ends[:-1, -1]))
    good = (rows.motion[blocks].reshape(count, BLOCKS) == (RAPID, LINE, RAPID)).all(axis=1)
    good &= ~rows.clear[blocks].reshape(count, BLOCKS).any(axis=1)
    good &= (ends[:, :, 2] == (top, low, top)).all(axis=1)
    for column in (rows.minutes, rows.machine, rows.count, rows.least):
        good &= column[blocks][1::BLOCKS] == column[at + 1]

    frame = setting.frame

    def limit(positions: Floats) -> Floats:
        return np.asarray(setting.tolerance_mm + setting.rounding.linear_mm + setting.rounding.angle_rad * np.abs(frame.across(positions)))

    def off_goal(positions: Floats) -> Floats:
        return np.asarray(np.linalg.norm(frame.to_part(positions, np.full(count, phi)) - on_part, axis=1))

    on_part = frame.to_part(goal, turns)
    good &= np.abs((phi - turns + pi) % FULL_TURN - pi) <= setting.axis_limit_rad
    good &= off_goal(begins) > limit(begins) + _HAIR
    good &= off_goal(ends[:, 0]) <= limit(ends[:, 0]) + _HAIR
    good &= np.abs(ends[:, 0] - goal).max(axis=1) <= setting.limit_mm(setting.swept_mm)
    slack = limit(goal) + _HAIR
    aside = np.abs(ends[:, :, :2] - goal[:, None, :2]).max(axis=(1, 2))
    good &= (aside <= slack) & (np.abs(top - goal[:, 2]) <= slack)
    good &= (low >= bottom - slack) & (low <= bottom + setting.rounding.linear_mm + _HAIR)
    if not good.all():
        count = int(np.argmin(good))
    if count == 0:
        return 0

    cursor.advance(count * BLOCKS)
    links.stands_at(points[count - 1])
    off = float(np.maximum(aside, np.abs(low - bottom))[:count].max())
    gathered.tip_off_path_mm = max(gathered.tip_off_path_mm, off)
    gathered.path_off_tip_mm = max(gathered.path_off_tip_mm, off)
    gathered.radius_mm = max(gathered.radius_mm, float(np.abs(frame.across(goal[:count])).max()))
    gathered.holes += count
    gathered.moves += count
    gathered.blocks += count * (BLOCKS - 1)
    return count
