"""A wrapped drawing on a chain of rotaries: judged as on a machine whose only rotary turns about the drawing's axis.

Where one of the rotaries lies along that axis and the others stand so, tip and tool axis in the part are those of a single rotary, and a
block that turns the one alone moves as one of that machine would: evenly along, across and round. A block that turns another one does not.
Where none lies so, or a head carries the tool, the tool goes round the part by all of them together: then every block is looked at closely,
and whole turns are no matter, for each place of the part is there once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np

from steadyrest.columns import Bools, Floats, or_zero
from steadyrest.proof.chain import Lines, poses, rotated
from steadyrest.proof.geometry import FULL_TURN, Stand, turned
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.reading import within_block

if TYPE_CHECKING:
    from steadyrest.proof.intended_path import OperationFrame

_TURNS_RAD = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class DrawnOnChain:
    """The frame of a drawing. Points have four numbers, those of `drawn`.

    drawn            the same on a machine with one rotary, whose part frame has the drawing's axis along X or Y
    setting          with that machine's axis of rotation
    origin_mm, axes  the zero (3,) of that part frame and its x, y, z (3, 3), one a column, in the part
    goes_round       whether the tool goes round the part by all rotaries together
    """

    drawn: OperationFrame
    setting: Setting
    lines: Lines
    axis_limit_rad: float
    origin_mm: Floats
    axes: Floats
    goes_round: bool
    numbers: ClassVar[int] = 4
    kind: ClassVar[Literal["wrapped"]] = "wrapped"

    @property
    def out_of_reach_rad(self) -> float:
        """What no solution reaches shows itself in the tool axis."""
        return 0.0

    def axis_limit(self, setting: Setting) -> float:
        """The largest angle between tool axes, rad."""
        return self.axis_limit_rad

    def reach_mm(self, setting: Setting) -> float:
        """How near points of path and program have to be to be the same."""
        return self.drawn.reach_mm(setting)

    def way_round(self, setting: Setting) -> Floats:
        """(3,) what the toolpath's x, y and z are multiplied by: the part is held as the toolpath says."""
        return np.ones(3)

    def raised(self, points_mm: Floats) -> Floats:
        """Points (..., 4) of places (..., 3) of the drawing."""
        return self.drawn.raised(points_mm)

    def single(self, positions_mm: Floats, words_rad: Floats) -> tuple[Floats, Floats, Floats]:
        """Where the machine with one rotary would stand (n, 3), turned by how much (n,), whole turns counted; and how far the tool axis
        leans out of its reach (n,), rad. Where the tool goes round the first is in no particular turn, and the others go on from it.
        """
        frame = self.drawn.frame
        tips, axes = poses(self.lines, positions_mm, words_rad)
        tips, axes = (tips - self.origin_mm) @ self.axes, axes @ self.axes
        phi = frame.phi_of_axis(axes)
        if self.goes_round:
            phi[1:] -= FULL_TURN * np.cumsum(np.round(or_zero(np.diff(phi)) / FULL_TURN))
        else:
            rotary = self._turning(words_rad)
            rest = words_rad.copy()
            rest[:, rotary] = 0.0
            begin = frame.phi_of_axis(poses(self.lines, positions_mm, rest)[1] @ self.axes)
            whole = begin - self._senses(words_rad)[:, rotary] * words_rad[:, rotary]
            phi = phi + FULL_TURN * np.round((whole - phi) / FULL_TURN)
        return frame.joined(tips[:, frame.along], frame.across(tips) * turned(phi)), phi, frame.tilt_of_axis(axes)

    def _senses(self, words_rad: Floats) -> Floats:
        """For each rotary (n, r), as the others stand: +1 where it turns the tool right-hand about the drawing's axis, -1 the other way."""
        along = self.axes[:, self.drawn.frame.along]
        senses = np.empty(words_rad.shape)
        for number, line in enumerate(self.lines):
            about = np.broadcast_to(line.about, (len(words_rad), 3))
            for before in range(number - 1, -1, -1):
                about = rotated(about, self.lines[before].about, words_rad[:, before])
            senses[:, number] = about @ along
        return senses

    def _turning(self, words_rad: Floats) -> int:
        """The rotary that lies along the drawing's axis."""
        return int(np.argmax(np.nan_to_num(np.abs(self._senses(words_rad)), nan=0.0).sum(axis=0)))

    def turns_another(self, words_rad: Floats) -> Bools:
        """(n,) whether blocks between words (n + 1, r) turn a rotary that does not lie along the drawing's axis."""
        others = np.delete(np.abs(np.diff(words_rad, axis=0)), self._turning(words_rad), axis=1)
        return np.asarray((others > _TURNS_RAD).any(axis=1))

    def of_rows(self, rows: Rows, at: slice, turns_off: float) -> Floats:
        """Points (n, 4) of vertices of the program, whole turns `turns_off` taken off."""
        work, phi, _ = self.single(rows.vertex[at], rows.phi[at])
        return self.drawn.of_program(work, phi - turns_off)

    def of_stand(self, stand: Stand, turns_off: float) -> Stand:
        """The same of one place (4,)."""
        numbers = np.array([stand])
        work, phi, _ = self.single(numbers[:, :3], numbers[:, 3:])
        return tuple(self.drawn.of_program(work, phi - turns_off)[0].tolist())

    def phi_at(self, stand: Stand) -> float:
        """How far the machine with one rotary would have turned the part, rad."""
        numbers = np.array([stand])
        return float(self.single(numbers[:, :3], numbers[:, 3:])[1][0])

    def tips_of(self, points: Floats) -> Floats:
        """Tips (3,) in the part frame of points (4,)."""
        return np.asarray(self.axes @ self.drawn.tips_of(points[None])[0] + self.origin_mm)

    def goal_of(self, point: Floats) -> tuple[float, ...]:
        """Tip and tool axis of a point (4,) in the part frame, six numbers, and the turn of the machine with one rotary, rad."""
        frame, phi = self.drawn.frame, self.drawn.turns_of(point[None])
        up = frame.to_part(np.array([frame.centre_mm + np.array((0.0, 0.0, 1.0))]), phi)[0] - frame.centre_mm
        return (*self.tips_of(point).tolist(), *(self.axes @ up).tolist(), float(phi[0]))

    def as_single(self, rows: Rows, blocks: slice, parts: int = 1) -> tuple[Rows, Floats]:
        """Blocks that follow each other, each in equal parts, as those of the machine with one rotary; and how far the tool axis leans in
        each part (k,), rad.
        """
        row = np.repeat(np.arange(blocks.start, blocks.stop), parts)
        share = np.tile((np.arange(parts) + 1) / parts, blocks.stop - blocks.start)
        places, words = (
            np.concatenate([column[blocks.start : blocks.start + 1], within_block(column, row, share)])
            for column in (rows.vertex, rows.phi)
        )
        work, phi, lean = self.single(places, words)
        across = self.drawn.frame.across(work)
        single = replace(
            rows,
            motion=rows.motion[row],
            vertex=work,
            phi=phi,
            arcs=None,
            turning=np.arange(len(phi) - 1),
            across=across,
            tip=across * turned(-phi),
        )
        lean = np.abs(lean)
        return single, np.maximum(lean[:-1], lean[1:])


def lies_along(lines: Lines, origin_mm: Floats, along: Floats, setting: Setting) -> bool:
    """Whether one of two rotaries in the table lies along a drawing's axis, through a point (3,), in a direction (3,): always, or with the
    first one standing so; to within a quarter of the tolerance, as far out as the stock reaches.
    """
    first, second = lines
    within, round_ = setting.tolerance_mm / 4, first.about

    def meets(about: Floats, point: Floats) -> bool:
        leans, rel = about - (about @ along) * along, point - origin_mm
        aside = float(np.linalg.norm(rel - (rel @ along) * along))
        return max(float(np.linalg.norm(leans)) * setting.swept_mm, aside) <= within

    if meets(round_, first.point):
        return True
    if abs(float(second.about[2])) * setting.swept_mm > within:
        return False
    across = [vector - (vector @ round_) * round_ for vector in (second.about, along)]
    turn = float(np.arctan2(round_ @ np.cross(across[0], across[1]), across[0] @ across[1]))
    return any(
        meets(rotated(second.about, round_, angle), first.point + rotated(second.point - first.point, round_, angle))
        for angle in (turn, turn + np.pi)
    )
