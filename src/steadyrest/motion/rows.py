"""Rows on their way to axis motion: where each ends, how far the tip goes over the part, and how fast it should."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadyrest.motion.model import LINE, RAPID, Bytes, Floats, Ints

STILL_DEG = 1e-9
"""Turns smaller than this are none: far below the least increment of any rotary."""


@dataclass(frozen=True, slots=True)
class Rows:
    """Blocks to be, one row each; work coordinates, program units.

    motion   (n,) uint8 as in AxisRun
    xyz      (n, 3) end position
    w_deg    (n,) commanded rotary, unwound
    asked    (n,) speed of the tip over the part, per minute; NaN in rapids
    tip      (n,) way of the tip over the part
    move     (n,) number of the toolpath's move
    centre, plane   arcs only: centre (n, 3), plane (n,); None when there is none
    """

    motion: Bytes
    xyz: Floats
    w_deg: Floats
    asked: Floats
    tip: Floats
    move: Ints
    centre: Floats | None = None
    plane: Bytes | None = None

    def __len__(self) -> int:
        return len(self.motion)

    def taken(self, index: Ints | slice) -> Rows:
        """The rows of an index, in its order."""

        return Rows(
            self.motion[index],
            self.xyz[index],
            self.w_deg[index],
            self.asked[index],
            self.tip[index],
            self.move[index],
            None if self.centre is None else self.centre[index],
            None if self.plane is None else self.plane[index],
        )


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the machine stands between two runs.

    xyz       (3,) work coordinates, program units; NaN where not known
    w_deg     commanded rotary, unwound; NaN before it was ever stated
    point     (3,) where the tip stands in the operation's own coordinates, program units; NaN before its first point
    phi_deg   the part's unwound angle in a turning operation, before the operation's whole turns are added; NaN before its first
    clamped   whether the rotary's clamp is on; None where not known
    arrived   whether the rotary came to w_deg by a turn of its own, from the side that the profile asks for; not in a cut
    """

    xyz: Floats
    w_deg: float
    point: Floats
    phi_deg: float = float("nan")
    clamped: bool | None = None
    arrived: bool = False

    def entering(self) -> Stand:
        """The same place, with nothing said yet in an operation's own coordinates."""
        return replace(self, point=np.full(3, np.nan), phi_deg=float("nan"))


UNKNOWN = Stand(np.full(3, np.nan), float("nan"), np.full(3, np.nan))


def starts(rows: Rows, stand: Stand) -> tuple[Floats, Floats]:
    """Where each row begins: xyz (n, 3) and w_deg (n,)."""
    xyz = np.empty_like(rows.xyz)
    w_deg = np.empty_like(rows.w_deg)
    if len(rows):
        xyz[0], w_deg[0] = stand.xyz, stand.w_deg
        xyz[1:], w_deg[1:] = rows.xyz[:-1], rows.w_deg[:-1]
    return xyz, w_deg


def lifted(rows: Rows, stand: Stand, clear: float | None) -> tuple[Rows, int]:
    """Rapids that turn the rotary below the clear height go up first, turn there, and come down: three rows for one.

    returns   the rows, and how many rapids were changed
    source    design, rules of motion: never turn at rapid inside the swept radius and clearance
    """
    xyz0, w0 = starts(rows, stand)
    turning = (rows.motion == RAPID) & (np.abs(rows.w_deg - w0) > STILL_DEG)
    if clear is None:
        low = turning
        top = np.maximum(xyz0[:, 2], rows.xyz[:, 2])
    else:
        # A hair below the clear height is the height itself, come through a scale or a rotation.
        low = turning & (np.minimum(xyz0[:, 2], rows.xyz[:, 2]) < clear - 1e-9)
        top = np.maximum(clear, np.maximum(xyz0[:, 2], rows.xyz[:, 2]))
    count = int(np.count_nonzero(low))
    if not count:
        return rows, 0
    pieces = np.where(low, 3, 1)
    source = np.repeat(np.arange(len(rows)), pieces)
    which = np.arange(len(source)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    out = rows.taken(source)
    xyz, w_deg = out.xyz.copy(), out.w_deg.copy()
    up = low[source] & (which == 0)
    over = low[source] & (which == 1)
    xyz[up] = xyz0[source[up]]
    w_deg[up] = w0[source[up]]
    xyz[up, 2] = top[source[up]]
    xyz[over, 2] = top[source[over]]
    return replace(out, xyz=xyz, w_deg=w_deg), count


def straight(motion: Bytes, xyz: Floats, w_deg: Floats, asked: Floats, tip: Floats, move: Ints) -> Rows:
    """Rows without arcs."""
    return Rows(np.minimum(motion, LINE), xyz, w_deg, asked, tip, move)
