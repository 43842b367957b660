"""Where are the places of a program and of its toolpath, so that both ways can be laid beside each other and drawn?

A place has four numbers: X, Y, Z, mm, and the turn of the part, rad; with two rotaries or a head three more, the tool axis, NaN where it is
no matter. With one rotary the four are those of the machine. With more they are those in which the operation is cut: the part's, the
plane's, or, of a wrapped drawing, of a machine that has one rotary along its axis. Where the height over the part is wrong they are the
machine's again, the part and the head turned as they are there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.conventions import LINE
from steadyrest.proof.chain import angles_between, poses, rotated
from steadyrest.proof.chain_frame import AXIS, TIP, ChainFrame
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.following import Follower
from steadyrest.proof.geometry import turned
from steadyrest.proof.intended_path import OperationFrame
from steadyrest.proof.rows import Rows
from steadyrest.reading import within_block


@dataclass(frozen=True)
class OnOneRotary:
    """As the machine stands: with one rotary, or none. `turns_off`: rad, whole turns that the program is ahead of the toolpath."""

    place: OperationFrame
    turns_off: float
    where: str = ""

    def stands(self, rows: Rows, block: int, share: Floats) -> Floats:
        """Places (k, 4) along a block of the program, its whole turns counted."""
        return _along(np.column_stack([rows.vertex[block : block + 2], rows.phi[block : block + 2]]), rows, block, share)

    def points(self, stands: Floats) -> Floats:
        """Places as the proof compares them."""
        return self.place.of_program(stands[:, :3], stands[:, 3] - self.turns_off)

    def goals(self, points: Floats) -> Floats:
        """Places (n, 4) of what is asked for (n, 4), the program's whole turns counted."""
        return self.place.goals_of(points, self.turns_off)

    def given(self, place: Floats) -> Floats:
        """One (4,) that a rule has said."""
        return place


@dataclass(frozen=True)
class OnChain:
    """With two rotaries or a head. `machine`: on the machine, with the rotaries at `words_rad` (r,) for all that is asked for."""

    frame: ChainFrame | DrawnOnChain
    place: OperationFrame
    turns_off: float
    words_rad: Floats
    machine: bool

    @property
    def where(self) -> str:
        """Whose coordinates those are, for people."""
        plane = "on the part" if self.frame.kind == "part" else "in the plane of the operation"
        return "on the machine" if self.machine else "" if isinstance(self.frame, DrawnOnChain) else plane

    def stands(self, rows: Rows, block: int, share: Floats) -> Floats:
        """Places (k, 7) along a block of the program."""
        both = _along(np.column_stack([rows.vertex[block : block + 2], rows.phi[block : block + 2]]), rows, block, share)
        positions, words = both[:, :3], both[:, 3:]
        if self.machine:
            head = [at for at, line in enumerate(self.frame.lines) if not line.carries_part]
            return _seven(poses(tuple(self.frame.lines[at] for at in head), positions, words[:, head])[0])
        if isinstance(self.frame, DrawnOnChain):
            work, phi, _ = self.frame.single(positions, words)
            return _seven(work, phi)
        return self._of_points(self.frame.of_poses(*poses(self.frame.lines, positions, words)))

    def points(self, stands: Floats) -> Floats:
        """Places as the proof compares them."""
        if isinstance(self.frame, DrawnOnChain):
            return self.frame.drawn.of_program(stands[:, :3], stands[:, 3] - self.turns_off)
        return np.column_stack([stands[:, :3], stands[:, 4:] * self.frame.turn_radius_mm])

    def goals(self, points: Floats) -> Floats:
        """Places (n, 7) of what is asked for (n, 4) or (n, 6)."""
        if self.machine:
            return self._on_machine(np.array([self.frame.goal_of(point)[:3] for point in points]))
        if isinstance(self.frame, DrawnOnChain):
            goals = self.frame.drawn.goals_of(points, self.turns_off)
            return _seven(goals[:, :3], goals[:, 3])
        return self._of_points(points)

    def given(self, place: Floats) -> Floats:
        """One (7,) that a rule has said as tip and tool axis in the part, of a drawing with the turn of its own machine."""
        if self.machine:
            return np.asarray(self._on_machine(place[None, :3])[0])
        if isinstance(self.frame, DrawnOnChain):
            frame, tip = self.frame.drawn.frame, ((place[:3] - self.frame.origin_mm) @ self.frame.axes)[None]
            there = frame.joined(tip[:, frame.along], frame.across(tip) * turned(place[6:]))
            return np.asarray(_seven(there, place[6:] + self.turns_off)[0])
        return np.asarray(self._of_points(self.frame.of_poses(place[None, :3], place[None, 3:6]))[0])

    def _of_points(self, points: Floats) -> Floats:
        assert isinstance(self.frame, ChainFrame)
        return np.column_stack([points[:, TIP], np.zeros(len(points)), points[:, AXIS] / self.frame.turn_radius_mm])

    def _on_machine(self, tips_mm: Floats) -> Floats:
        """Where the table has turned places (n, 3) of the part."""
        for line, word in zip(self.frame.lines, self.words_rad, strict=True):
            if line.carries_part:
                tips_mm = line.point + rotated(tips_mm - line.point, line.about, -word)
        return _seven(tips_mm)


def laid_out(follower: Follower, words_rad: Floats, *, high: bool) -> OnOneRotary | OnChain:
    """Where a follower's places are; `high`: it is the height over the part, a matter of the machine's own coordinates."""
    frame, setting, turns_off = follower.frame, follower.setting, follower.links.turns_off
    if isinstance(frame, OperationFrame):
        return OnOneRotary(OperationFrame("work", frame.frame, frame.turn_radius_mm) if high else frame, turns_off)
    place = frame.drawn if isinstance(frame, DrawnOnChain) else OperationFrame("part", setting.frame, 1.0)
    return OnChain(frame, OperationFrame("work", setting.frame, 1.0) if high else place, turns_off, words_rad, high)


def tool_axes_apart(one: Floats, other: Floats) -> float:
    """The angle between the tool axes of two places (7,), rad; 0 where they have none."""
    if len(one) < 7 or np.isnan([*one[4:], *other[4:]]).any():
        return 0.0
    return float(angles_between(one[4:], other[4:]))


def _along(ends: Floats, rows: Rows, block: int, share: Floats) -> Floats:
    if rows.arcs is None or rows.motion[block] <= LINE:
        return np.asarray(ends[0] + share[:, None] * (ends[1] - ends[0]))
    return within_block(ends, np.zeros(len(share), np.int64), share, take(rows.arcs, slice(block, block + 1)))


def _seven(places_mm: Floats, turns_rad: Floats | float = 0.0) -> Floats:
    out = np.full((len(places_mm), 7), np.nan)
    out[:, :3], out[:, 3] = places_mm, turns_rad
    return out
