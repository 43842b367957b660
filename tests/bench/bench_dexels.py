"""Seconds to take a leaning ball out of dexels, beside a plain compiled loop over the same work: only the ratio means anything.

Run it by hand: `python tests/bench/bench_dexels.py [POSITIONS] [CELL_MM]`. Needs numba.
"""

from __future__ import annotations

import importlib
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
from posed import billet, tool
from steadyrest.columns import Floats
from steadyrest.simulation import dexel_carving as carver
from steadyrest.simulation.dexel import stock_dexels
from steadyrest.simulation.solid import solids_of
from steadyrest.simulation.way import STAMPS_AT_ONCE

BALL, ROOM = 3.0, 4
STOCK = {"shape": "rectangular", "across": [60, 30], "from": -50, "to": 50}
numba: Any = importlib.import_module("numba")


@numba.njit
def plain(ends: Any, held: Any, u: Any, v: Any, low: Any, high: Any, table: Any) -> None:
    """What anybody would write: every line of the tool's box, two quadratics, the pieces of the line copied without what is inside."""
    du, dv, new = u[1] - u[0], v[1] - v[0], np.empty((2 * ROOM, 2))
    for k in range(len(table)):
        p, t = table[k, :3], table[k, 3:6]
        up = max((low[0] - p[0]) * t[0], (high[0] - p[0]) * t[0]) + max((low[1] - p[1]) * t[1], (high[1] - p[1]) * t[1])
        up += max((low[2] - p[2]) * t[2], (high[2] - p[2]) * t[2])
        a = t[0] * t[0] + t[1] * t[1]
        i_low, i_high = min(p[0], p[0] + up * t[0]) - BALL, max(p[0], p[0] + up * t[0]) + BALL
        j_low, j_high = min(p[1], p[1] + up * t[1]) - BALL, max(p[1], p[1] + up * t[1]) + BALL
        for i in range(max(int((i_low - u[0]) / du), 0), min(int((i_high - u[0]) / du) + 1, len(u) - 1) + 1):
            for j in range(max(int((j_low - v[0]) / dv), 0), min(int((j_high - v[0]) / dv) + 1, len(v) - 1) + 1):
                x, y = u[i] - p[0], v[j] - p[1]
                begin, end = np.inf, -np.inf
                ball = BALL * BALL - (x - BALL * t[0]) ** 2 - (y - BALL * t[1]) ** 2
                if ball > 0:
                    begin, end = BALL * t[2] - np.sqrt(ball), BALL * t[2] + np.sqrt(ball)
                h0, aside = x * t[0] + y * t[1], x * t[1] - y * t[0]
                bar = BALL * BALL * a - aside * aside
                if bar > 0 and abs(t[2]) > 1e-9:
                    one, other = (h0 * t[2] - np.sqrt(bar)) / a, (h0 * t[2] + np.sqrt(bar)) / a
                    middle = (BALL - h0) / t[2]
                    one, other = (max(one, middle), other) if t[2] > 0 else (one, min(other, middle))
                    if one < other:
                        begin, end = min(begin, one), max(end, other)
                if begin >= end:
                    continue
                begin, end, n = begin + p[2], end + p[2], 0
                for g in range(held[i, j]):
                    one, other = ends[i, j, g, 0], ends[i, j, g, 1]
                    if min(other, begin) > one:
                        new[n, 0], new[n, 1] = one, min(other, begin)
                        n += 1
                    if max(one, end) < other:
                        new[n, 0], new[n, 1] = max(one, end), other
                        n += 1
                held[i, j] = min(n, ROOM)
                for g in range(min(n, ROOM)):
                    ends[i, j, g, 0], ends[i, j, g, 1] = new[g, 0], new[g, 1]


def poses(positions: int) -> Floats:
    """A finish in rows, 0.3 mm a step, over a face that rises and falls, the tool axis swaying by up to 40 degrees."""
    rows = max(int(np.sqrt(positions / 4)), 1)
    row, at = np.divmod(np.arange(positions), max(positions // rows, 1))
    x = -45 + 90 * np.where(row % 2, 1 - at / max(at.max(), 1), at / max(at.max(), 1))
    y = -25 + 50 * row / max(row.max(), 1)
    z = 9 + 3 * np.sin(x / 9) * np.cos(y / 7)
    lean, round_about = 0.7 * np.sin(x / 20), y / 10
    axis = np.column_stack([np.sin(lean) * np.cos(round_about), np.sin(lean) * np.sin(round_about), np.cos(lean)])
    feed = np.cross(axis, [0.0, 1.0, 0.0])
    feed /= np.linalg.norm(feed, axis=1)[:, None]
    return np.column_stack([x, y, z, axis, feed, np.zeros((positions, 3))])


def main(positions: int, cell_mm: float) -> None:
    """Print both times."""
    table, stock = poses(positions), billet(STOCK)
    solids = solids_of(tool({"shape": "ball", "diameter": 2 * BALL}), 0.02)
    loop = 0.0
    left = []
    for along, bundle in enumerate(stock_dexels(stock, cell_mm).bundles):
        ends = np.zeros((*bundle.held.shape, ROOM, 2), dtype=np.float32)
        ends[:, :, : bundle.ends.shape[2]] = bundle.ends
        held, order = bundle.held.copy(), [3 * vector + (along + 1 + at) % 3 for vector in range(2) for at in range(3)]
        box, rows = carver._box(stock_dexels(stock, 5.0), along), np.ascontiguousarray(table[:, order])
        plain(ends.copy(), held.copy(), bundle.u, bundle.v, *box, rows[:1])
        begin = time.process_time()
        plain(ends, held, bundle.u, bundle.v, *box, rows)
        loop += time.process_time() - begin
        there = np.arange(ROOM) < held[..., None]
        left.append(float((ends[..., 1] - ends[..., 0]).sum(where=there, dtype=np.float64)) * bundle.u_step * bundle.v_step)
    print(f"{positions} positions, lines {cell_mm} mm apart; plain compiled loop, one thread: {loop:.2f} s, leaves {np.round(left, 1)} mm3")
    for threads in (1, 2):
        carver.MOST_THREADS = threads
        carver.DexelCarver(stock_dexels(stock, 5.0), "X", "compiled").carve(table[:1], 1, solids, 0.02)
        carving = carver.DexelCarver(stock_dexels(stock, cell_mm), "X", "compiled")
        begin = time.process_time()
        for first in range(0, positions, STAMPS_AT_ONCE):
            carving.carve(table[first : first + STAMPS_AT_ONCE], 1, solids, 0.02)
        took = time.process_time() - begin
        left_by_bundle = np.round(carving.dexels.volumes_mm3(), 1)
        print(f"{threads} thread(s): {took:.2f} s of processor time, {took / loop:.2f} of the plain loop, leaves {left_by_bundle} mm3")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000, float(sys.argv[2]) if len(sys.argv) > 2 else 0.25)
