"""Where do tip and tool axis stand along their way, and at which poses is the solid taken out, so that together they are that way?

Moved straight along its axis, or straight across it while it stands, the solid swept is known exactly, however long the way: one pose with
its length. All other ways are stepped through. What is missed between two poses is no more across the axis than the ridge between two
circles (`ToolSolid.step_mm`), `off_mm`, and along the axis than the tool's edge rises from one to the other, `UP` times `off_mm`. Where
that asks for steps across of less than `least_step_mm`, steps are so long, and half of one is the most that can be missed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, distinct, or_zero
from steadyrest.reading import MotionRead
from steadyrest.simulation.solid import BULLNOSE, ToolSolid
from steadyrest.simulation.way import MOST_PARTS, STAMPS_AT_ONCE, STILL_MM, STILL_RAD, stated_way

UP = 5.0
"""So many times `off_mm` the edge of a tool may rise from one pose to the next."""
LARGEST_TURN_RAD, LARGEST_SWEEP_RAD = np.radians(2.0), np.radians(10.0)
"""Farther turned, and of a longer arc, a block is looked at in parts: between their ends tip and tool axis go nearly straight."""
_STILL = 1e-9


@dataclass(frozen=True, eq=False)
class PoseWay:
    """n blocks, in the part frame, mm from the toolpath's `centre`.

    at        tips (k, 3) and tool axes (k, 3) when a share (k,) of the blocks (k,) is done
    straight  (n,) whether the tip goes straight and the tool axis stands
    parts     (n,) in how many parts a block is looked at
    known, guessed  (n,) as of `Way`
    """

    at: Callable[[Ints, Floats], tuple[Floats, Floats]]
    straight: Bools
    parts: Ints
    known: Bools
    guessed: Bools

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Tips and tool axes, (n + 1, 3) each, before the first block and after each."""
        n = len(self.parts)
        return self.at(np.minimum(np.arange(n + 1), n - 1), (np.arange(n + 1) == n).astype(np.float64))

    def parted(self, blocks: Ints) -> tuple[Ints, Floats, Floats, Floats, Floats]:
        """The parts in which the chosen blocks are looked at: their blocks (p,), from and to which share (p,), and the tips and tool axes
        there, (p, 2, 3) each."""
        many = self.parts[blocks]
        block = np.repeat(blocks, many)
        part = np.arange(len(block)) - np.repeat(np.cumsum(many) - many, many)
        begin, end = part / self.parts[block], (part + 1) / self.parts[block]
        ends, axes = (np.stack([each[block], each[block + 1]], axis=1) for each in self.ends)
        inner = np.flatnonzero(self.parts[block] > 1)
        for which, share in ((0, begin), (1, end)):
            ends[inner, which], axes[inner, which] = self.at(block[inner], share[inner])
        return block, begin, end, ends, axes

    @cached_property
    def up_mm(self) -> Floats:
        """(n,) how far the tool goes up along itself, where it does nothing else; else NaN."""
        tips, axes = self.ends
        go = np.diff(tips, axis=0)
        up = np.einsum("ij,ij->i", go, axes[:-1])
        aside = np.linalg.norm(go - up[:, None] * axes[:-1], axis=1)
        return np.where(self.straight & (aside < STILL_MM), up, np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """How finely a way is stepped through.

    low, high      (3,) the box of what can be cut
    off_mm         how far the swept solid may be missed between two poses
    least_step_mm  nearer than that no pose comes after another across the axis
    """

    low: Floats
    high: Floats
    off_mm: float
    least_step_mm: float

    def height(self, tip: Floats, axis: Floats) -> Floats:
        """(n,) the largest height over tips (n, 3), along tool axes (n, 3), of any place in the box."""
        return np.asarray(np.maximum((self.low - tip) * axis, (self.high - tip) * axis).sum(axis=-1))

    def near(self, ends: Floats, axes: Floats, radius_mm: float) -> Bools:
        """(n,) whether a tool of any length comes near the box on a way between two tips, `ends` and `axes` (n, 2, 3)."""
        height = np.maximum(self.height(ends, axes), 0.0)[..., None]
        places = np.concatenate([ends, ends + height * axes], axis=1)
        reaches = (places.max(axis=1) + radius_mm > self.low) & (places.min(axis=1) - radius_mm < self.high)
        return np.asarray(reaches.all(axis=1) & (height[..., 0] > 0).any(axis=1))


Poses = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""Of X Y Z (k, 3), work coordinates, mm, and the words of r rotaries (k, r), radians: tips (k, 3) and tool axes (k, 3), part frame."""


@dataclass(frozen=True, slots=True, eq=False)
class PoseChart:
    """How the places of the axes are seen in the part, where a chain of rotaries turns part or tool; in the place of a `Chart` of `way`.

    steps       how finely a way is stepped through, from the centre
    centre_mm   (3,) the toolpath's `centre`
    over_mm     height, work coordinates, over which nothing of the stock ever is
    poses_with  the tip and tool axis, by the number of the tool in the spindle, 0 where it is not known
    tool        that number
    """

    steps: Steps
    centre_mm: Floats
    over_mm: float
    poses_with: Callable[[int], Poses]
    tool: int = 0

    def with_tool(self, number: int) -> PoseChart:
        """That for another tool in the spindle."""
        return replace(self, tool=number)

    def way(self, read: MotionRead, from_above_mm: float) -> PoseWay:
        """A run as the reader gives it. A height that is not known is `from_above_mm`; a rotary of which nothing was said stands at 0."""
        way = stated_way(read, read.vertex_mm.copy(), np.radians(or_zero(read.vertex_deg)), from_above_mm)
        poses = self.poses_with(self.tool)

        def at(block: Ints, share: Floats) -> tuple[Floats, Floats]:
            tip, axis = poses(*way.at(block, share))
            return tip - self.centre_mm, axis

        turns = np.abs(np.diff(way.phi, axis=0)).sum(axis=1)
        sweep = np.abs(or_zero(way.arcs.sweep_rad)) if way.arcs is not None else np.zeros(len(turns))
        parts = np.ceil(np.maximum(turns / LARGEST_TURN_RAD, sweep / LARGEST_SWEEP_RAD) - 1e-9)
        straight = np.asarray((turns <= STILL_RAD) & (sweep == 0))
        return PoseWay(at, straight, np.maximum(parts, 1).astype(np.int64), way.known, way.guessed)

    def in_reach(self, way: PoseWay, solid: ToolSolid, of: Bools | None = None) -> Ints:
        """The blocks in which the tool, holder and all, could come near the stock at all; of those (n,) alone that are asked of."""
        asked = np.flatnonzero(way.known if of is None else way.known & of)
        if not len(asked):
            return asked
        block, _, _, ends, axes = way.parted(asked)
        return distinct(block[self.steps.near(ends, axes, solid.radius_mm)])

    def stamps(
        self, way: PoseWay, blocks: Ints, rapid: Bools, solid: ToolSolid, at_once: int = STAMPS_AT_ONCE
    ) -> Iterator[tuple[Floats, Ints, Floats]]:
        """`poses_of` for the chosen blocks."""
        return poses_of(way, blocks, rapid, self.steps, solid, at_once)

    def tip_mm(self, way: PoseWay) -> Floats:
        """(n,) how far the tip goes over the part in each block."""
        block, _, _, ends, _ = way.parted(np.flatnonzero(way.known))
        return np.bincount(block, np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1), len(way.known)).astype(np.float64)

    def plunges(self, way: PoseWay) -> Bools:
        """(n,) whether the tool only moves along itself."""
        return np.asarray(np.isfinite(way.up_mm))


def poses_of(
    way: PoseWay, blocks: Ints, rapid: Bools, steps: Steps, solid: ToolSolid, at_once: int = STAMPS_AT_ONCE
) -> Iterator[tuple[Floats, Ints, Floats]]:
    """The poses of the chosen blocks that come near the box, in order, so many at a time: (k, 12) of `dexel_kernel.Pose` in the part frame,
    their blocks (k,), and how much of those is done with them (k,), from 0 to 1.

    rapid   (n,), of all blocks of the way
    """
    block, begin, end, ends, axes = way.parted(blocks)
    near = steps.near(ends, axes, solid.radius_mm)
    block, begin, end, ends, axes = block[near], begin[near], end[near], ends[near], axes[near]
    if not len(block):
        return
    count, exact = _counts(way, block, rapid, ends, axes, steps, solid)
    # Where nothing but a rapid has come to the start of a cut, there is one pose more there.
    early = (~exact & ~rapid[block] & (begin == 0) & ((block == 0) | rapid[block - 1])).astype(np.int64)
    last = np.cumsum(count + early)
    for first in range(0, int(last[-1]), at_once):
        number = np.arange(first, min(first + at_once, int(last[-1])))
        which = np.searchsorted(last, number, side="right")
        done = (number - last[which] + count[which] + 1) / count[which]
        length = end[which] - begin[which]
        share = begin[which] + done * length
        here, swept = block[which], exact[which]
        tip, axis = way.at(here, share)
        since = np.maximum(share - length / count[which], begin[which])
        before, _ = way.at(here, since)
        go = np.where((since < share)[:, None], tip, way.at(here, since + length / count[which])[0]) - before
        up = np.einsum("ij,ij->i", go, axis)
        across = go - up[:, None] * axis
        long = np.linalg.norm(across, axis=1)
        moved = long > _STILL
        feed = np.where(moved[:, None], across / np.where(moved, long, 1.0)[:, None], 0.0)
        # Along its axis a solid is swept from its lower end, across it from where it begins.
        low_end = np.where((swept & (moved | (up > 0)))[:, None], before, tip)
        rises = np.where(swept & ~moved, np.abs(up), 0.0)
        table = np.column_stack([low_end, axis, feed, np.where(swept & moved, long, 0.0), rises, rapid[here]])
        kept = steps.near(np.stack([before, tip], axis=1), np.stack([axis, axis], axis=1), solid.radius_mm)
        if kept.any():
            yield table[kept], here[kept], share[kept]


def _counts(way: PoseWay, block: Ints, rapid: Bools, ends: Floats, axes: Floats, steps: Steps, solid: ToolSolid) -> tuple[Ints, Bools]:
    """How many poses each part needs, and whether they are swept exactly: one would do, but at feed across several tell where it cuts."""
    go, axis = ends[:, 1] - ends[:, 0], axes[:, 0]
    along = np.einsum("ij,ij->i", go, axis)
    across = np.linalg.norm(go - along[:, None] * axis, axis=1)
    up = np.abs(along)
    tilt = 2 * np.arcsin(np.minimum(np.linalg.norm(axes[:, 1] - axis, axis=1) / 2, 1.0))
    exact = way.straight[block] & ((up <= _STILL) | (across <= _STILL))
    reach = np.maximum(steps.height(ends, axes).max(axis=1), solid.radius_mm)  # where tool and stock can both be, over the tip
    step = max(solid.step_mm(steps.off_mm), steps.least_step_mm)
    ball = solid.kind == BULLNOSE and solid.flat_mm == 0.0  # leaves no step where it is moved up or down on the way
    rise = step if ball else UP * steps.off_mm
    count = np.ceil(np.maximum((across + tilt * reach) / step, (up + tilt * solid.radius_mm) / rise) - 1e-9).astype(np.int64)
    parts = np.where(rapid[block] | (up > _STILL), 1.0, np.clip(np.ceil(across / solid.radius_mm), 1, MOST_PARTS)).astype(np.int64)
    return np.where(exact, parts, np.maximum(count, 1)), exact
