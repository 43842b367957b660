"""What the numeric kernels of motion cost per row; run by hand: python tests/bench/bench_motion.py [ROWS]."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

from steadyrest.motion.choice import Stretch, choose
from steadyrest.motion.feeds import inverse_pieces, planned_feed
from steadyrest.motion.kinematics import half_turns, phi_of_tool_axis, turned, unwound, wrapped_axes, wrapped_length
from steadyrest.motion.subdivision import expand, pieces
from steadyrest.profile.axes import Feed, LinearAxis, Rotary, Travel, Unwinding

CHUNK = 32_768
CENTRE = (0.0, 0.0, 0.0)
ROTARY = Rotary(along="X", chuck_faces="+X", positive_turns_chuck="clockwise")
LINEAR = {letter: LinearAxis() for letter in "XYZ"}
FEED = Feed(inverse_code="G93", rotary="inverse", combined="inverse")


def surface(rows: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tips, tool axes and feeds of a spiral around a twisted bar: some 200 points a turn, 0.3 mm apart."""
    at = np.arange(rows)
    angle = at * 2 * np.pi / 200
    radius = 12 + 3 * np.cos(2 * angle)
    tips = np.column_stack([at * 1e-4, radius * np.sin(angle), radius * np.cos(angle)])
    axes = np.column_stack([np.zeros(rows), np.sin(angle), np.cos(angle)])
    return tips, axes, np.full(rows, 600.0)


def clock(name: str, rows: int, work: Callable[[], object]) -> float:
    """Seconds of the best of five, printed with nanoseconds per row."""
    best = min(_once(work) for _ in range(5))
    print(f"{name:28s} {best:8.4f} s  {best / rows * 1e9:7.1f} ns a row")
    return best


def _once(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def main() -> None:
    """Each kernel by itself, then all that a simultaneous move needs, in chunks."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    tips, axes, asked = surface(rows)
    chunks = [slice(a, min(a + CHUNK, rows)) for a in range(0, rows, CHUNK)]
    phi_all = unwound(phi_of_tool_axis(axes, "X")[0], 0.0)
    before_all = np.vstack([tips[:1], tips[:-1]])
    step_all = np.diff(phi_all, prepend=phi_all[0])
    xyz_all = turned(tips, phi_all, "X", CENTRE)
    d_all = np.diff(xyz_all, axis=0, prepend=xyz_all[:1])
    way_all = np.sqrt(np.einsum("ij,ij->i", tips - before_all, tips - before_all))

    def whole() -> None:
        tip_before, phi_before = tips[0], 0.0
        xyz_before = np.array([tips[0]])
        for part in chunks:
            tip = tips[part]
            phi, _ = phi_of_tool_axis(axes[part], "X")
            phi = unwound(phi, phi_before)
            half_turns(phi, phi_before)
            start = np.vstack([tip_before, tip[:-1]])
            phi0 = np.concatenate([[phi_before], phi[:-1]])
            step = phi - phi0
            count = pieces(start, tip, step, "X", CENTRE, 0.01)
            way = tip - start
            way_length = np.sqrt(np.einsum("ij,ij->i", way, way))
            if count.max() > 1:
                tip, source = expand(start, tip, count)
                phi, _ = expand(phi0, phi, count)
                way_length = (way_length / count)[source]
                step = (step / count)[source]
                speed = asked[part][source]
            else:
                speed = asked[part]
            xyz = turned(tip, phi, "X", CENTRE)
            d_xyz = np.diff(xyz, axis=0, prepend=xyz_before)
            planned = planned_feed(d_xyz, step[:, None], way_length, speed, [ROTARY], LINEAR, FEED, False)
            inverse_pieces(planned.minutes, 1000, FEED)
            tip_before, phi_before, xyz_before = tip[-1], float(phi[-1]), xyz[-1:]

    each = {
        "phi of tool axis": lambda p: phi_of_tool_axis(axes[p], "X"),
        "unwound": lambda p: unwound(phi_all[p] % 360, float(phi_all[p][0])),
        "half turns": lambda p: half_turns(phi_all[p], float(phi_all[p][0])),
        "pieces, none needed": lambda p: pieces(before_all[p], tips[p], step_all[p], "X", CENTRE, 0.01),
        "pieces, each needs some": lambda p: pieces(before_all[p], tips[p], step_all[p], "X", CENTRE, 1e-4),
        "turned": lambda p: turned(tips[p], phi_all[p], "X", CENTRE),
        "planned feed": lambda p: planned_feed(d_all[p], step_all[p][:, None], way_all[p], asked[p], [ROTARY], LINEAR, FEED, False),
        "inverse pieces": lambda p: inverse_pieces(way_all[p] + 0.01, 1000, FEED),
        "wrapped axes": lambda p: wrapped_axes(tips[p], 40.0, 0.0, "surface", "X", CENTRE),
        "wrapped length": lambda p: wrapped_length(way_all[p], step_all[p], asked[p], asked[p]),
    }
    for name, kernel in each.items():
        clock(name, rows, lambda kernel=kernel: [kernel(part) for part in chunks])  # type: ignore[misc]
    clock("all, simultaneous", rows, whole)
    angles = [np.array([[k * 37.0 % 360]]) for k in range(5000)]
    helices = [Stretch(each, each + 300, each, each + 300, k, turned_to=True) for k, each in enumerate(angles)]
    limited = Travel.model_validate({"kind": "limited", "from": -3600, "to": 3600})
    winds = ROTARY.model_copy(update={"travel": limited, "unwinding": Unwinding(at_end="zero")})
    clock("5,000 windings, limited", 5000, lambda: choose(helices, [winds], (0.0,)))
    tilts = ROTARY.model_copy(update={"travel": Travel.model_validate({"kind": "limited", "from": -120, "to": 30})})
    pairs = [np.array([[k * 37.0 % 360, k * 7.0 % 180 - 90], [k * 37.0 % 360 + 180, 90 - k * 7.0 % 180]]) for k in range(100_000)]
    stretches = [Stretch(each, each + 5, each, each + 5, 1, turned_to=False) for each in pairs]
    clock("100,000 stretches of two", 100_000, lambda: choose(stretches, [ROTARY, tilts], (0.0, 0.0)))


if __name__ == "__main__":
    main()
