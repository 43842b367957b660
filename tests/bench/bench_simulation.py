"""Seconds to simulate a cut, beside a plain compiled loop that takes the same ball out of the same field: only the ratio means anything.

Run it by hand: `python tests/bench/bench_simulation.py [POSITIONS]`. Needs numba.
"""

from __future__ import annotations

import importlib
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
from simulated import part, reference
from steadyrest.reading import EventRead, MotionRead
from steadyrest.simulation import Simulation
from steadyrest.simulation import carving as carver

ALONG, AROUND, LENGTH, RADIUS, BALL = 1024, 2048, 200.0, 20.0, 3.0
numba: Any = importlib.import_module("numba")


@numba.njit
def plain(outer: Any, step: float, turn: float, x: Any, tip: Any, phi: Any) -> None:
    """What anybody would write: every cell of the ball's box, the nearer root of a quadratic, the lesser radius."""
    for k in range(len(x)):
        middle = tip[k] + BALL
        half = np.arctan2(BALL, tip[k])
        first = int(np.ceil((-half - phi[k]) / turn - 0.5))
        for i in range(max(int((x[k] - BALL) / step), 0), min(int((x[k] + BALL) / step) + 1, outer.shape[0] - 1) + 1):
            off = (i + 0.5) * step - x[k]
            for q in range(int(2 * half / turn) + 1):
                j = (first + q) % outer.shape[1]
                nearest = middle * np.cos((j + 0.5) * turn + phi[k])
                inside = BALL * BALL - off * off - middle * middle + nearest * nearest
                if inside > 0.0:
                    r = nearest - np.sqrt(inside)
                    if r < outer[i, j]:
                        outer[i, j] = r


def main(positions: int) -> None:
    """Print both times for a groove that winds round a bar, a quarter of a degree or more a block."""
    share = np.linspace(0, 1, positions)
    end = np.column_stack([LENGTH * share, np.zeros(positions), 19 + 0.5 * np.sin(40 * share)])
    vertex = np.concatenate([end[:1], end])
    word = share * 360 * positions / 2000
    count = np.zeros(positions)
    run = MotionRead(
        line=np.arange(1, positions + 1),
        motion=np.ones(positions, dtype=np.uint8),
        vertex_mm=vertex,
        vertex_deg=np.concatenate([[0.0], word])[:, None],
        minutes=count + 1e-3,
        feed_word=count + 1000,
        feed_mode=count.astype(np.uint8),
        clear=count.astype(bool),
        cycle=count.astype(bool),
        mm_per_unit=1.0,
    )
    job = part([{"number": 1, "shape": "ball", "diameter": 2 * BALL}], {"shape": "round", "diameter": 2 * RADIUS, "from": 0, "to": LENGTH})
    work = (LENGTH / ALONG, 2 * np.pi / AROUND, end[:, 0], end[:, 2], -np.radians(word))
    outer = np.full((ALONG, AROUND), RADIUS, dtype=np.float32)
    plain(outer, *(one[:2] if isinstance(one, np.ndarray) else one for one in work))
    begin = time.perf_counter()
    plain(outer, *work)
    loop = time.perf_counter() - begin
    print(f"plain compiled loop, one thread: {loop / positions * 1e6:.1f} microseconds a position")
    Simulation(job, reference(), along=64, around=256).of([EventRead(1, "tool_change", 1)])
    for carving, threads, least in (("compiled", 1, positions), ("compiled", 2, positions), ("arrays", 1, max(positions // 100, 500))):
        items = [EventRead(1, "tool_change", 1), run.rows(0, least)]
        options: dict[str, Any] = {"along": ALONG, "around": AROUND, "off_mm": 0.05, "carving": carving}
        carver.MOST_THREADS = threads
        Simulation(job, reference(), **options).of([items[0], run.rows(0, 10)])
        begin = time.perf_counter()
        done = Simulation(job, reference(), **options).of(items)
        each = (time.perf_counter() - begin) / done.operations[0].positions
        print(
            f"{carving}, {threads} thread(s): {each * 1e6:.1f} microseconds a position, {each / (loop / positions):.2f} of the plain loop"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
