"""Which word of a program for two rotaries or a head differs? Asked once, after a failure, of the place that a block should reach.

A program that was right until somebody changed one word has all its others still: it is the word without which tip and tool axis agree.
"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.proof.chain import angles_between, poses
from steadyrest.proof.chain_frame import ChainFrame
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.setting import Setting
from steadyrest.proof.words import Edit, axis_word, coordinate_said

_TRIES = 721
"""Values of a word that are looked at, and again between two of them."""
_ROUNDS = 6


def edit_on_chain(
    cursor: Cursor, frame: ChainFrame, setting: Setting, goal: tuple[float, ...], *, ahead: int, since: int, aside: bool = False
) -> Edit | None:
    """The word without which the block that ends `ahead` blocks on would reach its goal; None where no single one does it.

    goal    tip and tool axis in the part frame, six numbers
    since   so many of the blocks before may have said it
    aside   the height along the tool axis does not count: the tool is still on its way down
    """
    blocks = cursor.recent(ahead)
    last = len(blocks.line) - 1
    if last < 0 or setting.profile.words.distance == "incremental" or not np.isfinite([*blocks.end[last], *goal]).all():
        return None
    end, found = blocks.end[last], []
    for coordinate in range(len(end)):
        block = blocks.setting(coordinate, last + 1)
        if block is None or block < last - since:
            continue
        best, cost = end[coordinate], np.inf
        half = 2 * setting.farthest_mm if coordinate < 3 else np.pi
        for _ in range(_ROUNDS):
            values = best + np.linspace(-half, half, _TRIES)
            costs = _off(frame, setting, end, coordinate, values, np.array(goal), aside)
            best, cost, half = float(values[np.argmin(costs)]), float(costs.min()), 4 * half / _TRIES
        found.append((cost, coordinate, block, best))
    cost, coordinate, block, asked = min(found, default=(np.inf, 0, 0, 0.0))
    if not (cost <= 1.0 < float(_off(frame, setting, end, coordinate, end[coordinate : coordinate + 1], np.array(goal), aside)[0])):
        return None
    goal_end = np.where(np.arange(len(end)) == coordinate, asked, end)
    if coordinate_said(setting, coordinate, end) == coordinate_said(setting, coordinate, goal_end):
        return None
    return Edit(int(blocks.line[block]), axis_word(setting, coordinate, blocks.begin[block], end, goal_end))


def _off(frame: ChainFrame, setting: Setting, end: Floats, coordinate: int, values: Floats, goal: Floats, aside: bool) -> Floats:
    """How far from the goal (n,) with other values (n,) of a coordinate; 1 is what may be left of a word that is right."""
    stands = np.tile(end, (len(values), 1))
    stands[:, coordinate] = values
    tips, axes = poses(frame.lines, stands[:, :3], stands[:, 3:])
    off = tips - goal[:3]
    if aside:
        off = off - (off @ goal[3:6])[:, None] * goal[3:6]
    near, upright = 3 * setting.slack_mm, 3 * frame.axis_limit_rad
    return np.asarray(np.maximum(np.linalg.norm(off, axis=1) / near, angles_between(axes, goal[3:6]) / upright))
