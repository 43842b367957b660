"""Ways of a tool given by hand, by tip and tool axis, cut out of dexels; for the tests of the simulation."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from simulated import part
from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.carving import Carving
from steadyrest.simulation.cut import Account, OperationCut
from steadyrest.simulation.dexel import Billet, Dexels, billet_of, stock_dexels
from steadyrest.simulation.dexel_carving import DexelCarver
from steadyrest.simulation.dexel_way import LARGEST_TURN_RAD, PoseWay, Steps, poses_of
from steadyrest.simulation.solid import ToolSolid, solid_of, solids_of

BLOCK = {"shape": "rectangular", "across": [30, 20], "from": -20, "to": 20}


def unit(vector: ArrayLike) -> Floats:
    """The same direction, of length 1."""
    found = np.array(vector, dtype=np.float64)
    return np.asarray(found / np.linalg.norm(found))


def tool(shape: dict[str, Any]) -> ToolSolid:
    """The solid of a tool of a toolpath."""
    return solid_of(part([{"number": 1, **shape}], BLOCK).tool(1), 1.0)


def billet(stock: dict[str, Any], axis: str = "X") -> Billet:
    """That of a stock in a toolpath about this axis."""
    return billet_of(part([{"number": 1, "shape": "flat", "diameter": 6}], stock, axis=axis))


def great_circles(tips: ArrayLike, axes: ArrayLike) -> PoseWay:
    """The tip goes straight from one of (n + 1, 3) to the next, the tool axis the shortest way, evenly along the tip's way."""
    tip, axis = np.array(tips, dtype=np.float64), np.array([unit(one) for one in np.array(axes, dtype=np.float64)])
    turn = 2 * np.arcsin(np.minimum(np.linalg.norm(np.diff(axis, axis=0), axis=1) / 2, 1.0))

    def at(block: Ints, share: Floats) -> tuple[Floats, Floats]:
        part, angle = share[:, None], turn[block, None]
        flat = angle < 1e-9
        sine = np.where(flat, 1.0, np.sin(angle))
        one, other = (np.where(flat, linear, np.sin(linear * angle) / sine) for linear in (1 - part, part))
        turned = one * axis[block] + other * axis[block + 1]
        return tip[block] * (1 - part) + tip[block + 1] * part, turned / np.linalg.norm(turned, axis=1)[:, None]

    known = np.ones(len(turn), dtype=np.bool_)
    return PoseWay(at, turn < 1e-9, np.maximum(np.ceil(turn / LARGEST_TURN_RAD), 1).astype(np.int64), known, ~known)


def cut_poses(
    stock: Billet | Dexels,
    shape: dict[str, Any],
    tips: ArrayLike,
    axes: ArrayLike,
    *,
    rapid: Bools | None = None,
    cell_mm: float = 0.25,
    off_mm: float = 0.01,
    touch_mm: float = 0.06,
    carving: Carving = "auto",
) -> tuple[Dexels, OperationCut, Account]:
    """What a tool on its way through so many poses leaves, what it took, and what it touched; blocks are lines 1, 2, 3..."""
    dexels = stock_dexels(stock, cell_mm) if isinstance(stock, Billet) else stock.copy()
    way, carver, account = great_circles(tips, axes), DexelCarver(dexels, "X", carving), Account()
    account.operations[1] = OperationCut(1)
    blocks = np.arange(len(way.straight))
    rapid = np.zeros(len(blocks), dtype=np.bool_) if rapid is None else rapid
    solid = tool(shape)
    steps = Steps(dexels.low, dexels.high, off_mm, 0.5 * cell_mm)
    for table, block, _ in poses_of(way, blocks, rapid, steps, solid):
        taken = carver.carve(table, 1, solids_of(solid, touch_mm), touch_mm)
        account.add(1, block + 1, rapid[block], taken)
    return carver.dexels, account.operations[1], account


def turned(vectors: ArrayLike, about: ArrayLike, degrees: float) -> Floats:
    """Vectors (n, 3) turned about a direction, right-hand (Rodrigues)."""
    v, k, angle = np.array(vectors, dtype=np.float64), unit(about), radians(degrees)
    found = v * np.cos(angle) + np.cross(k, v) * np.sin(angle) + np.outer(v @ k, k) * (1 - np.cos(angle))
    return np.asarray(found)
