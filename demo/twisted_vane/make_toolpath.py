"""Twisted vane: an elliptic bar that tapers and twists along X, milled out of a round bar with ball mills.

Part frame: X along the bar with the free end at X 0, the axis of rotation through the origin. The ball's centre stands
one ball radius off the surface along its normal. The tool axis is at a right angle to X, so that a rotary along X
reaches it, and leans 15 degrees from the normal, so that the ball does not cut with its standing tip.
Everything is in mm; the inch file is the same part, converted exactly.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))
from shapes import clockwise, feed_mm_per_min, rpm, write_both

BAR = 42.0  # diameter
CLEAR = BAR / 2 + 6.0  # distance of the tip from the axis where the tool may travel and the bar may turn
ROOT, FREE_END = -80.0, 0.0  # X of the ball's centre where the vane ends at its root; X of the free end
TWIST_RAD_PER_MM = math.radians(75.0) / 80.0
LEAN_RAD = math.radians(15.0)

BALL_10, BALL_6 = 1, 2
TOOLS = [
    {"number": BALL_10, "name": "10 mm ball mill", "shape": "ball", "diameter": 10, "flutes": 2} | {"cutting_length": 22, "length": 60},
    {"number": BALL_6, "name": "6 mm ball mill", "shape": "ball", "diameter": 6, "flutes": 2} | {"cutting_length": 20, "length": 50},
]
# Cutting speeds for wrought aluminium, feeds per tooth for small carbide tools: common practice.
N_ROUGH, N_FINISH = rpm(200, 10), rpm(200, 6)
ROUGH_FEED, FINISH_FEED = feed_mm_per_min(N_ROUGH, 2, 0.05), feed_mm_per_min(N_FINISH, 2, 0.03)

ALLOWANCE = 0.4  # left on by roughing
LAYER = 2.4  # depth of one roughing layer, measured along the normal
STEPOVER, STEP_ALONG = 3.0, 2.0  # roughing: between passes, and between points of a pass
PITCH, POINTS_PER_TURN = 0.5, 120  # finishing: scallop pitch^2 / (8 r) = 0.01 mm where the surface is flat
BLOCK = 5000  # rows of a table

Array = NDArray[np.float64]


def half_axes(x: Array) -> tuple[Array, Array]:
    """Half the long and half the short axis of the section at x: 15 and 7 at the free end, 18 and 9 at X -80."""
    return 15.0 - 3.0 * x / 80.0, 7.0 - 2.0 * x / 80.0


def turned(y: Array, z: Array, angle_rad: Array | float) -> tuple[Array, Array]:
    """(y, z) turned about X, right-hand positive."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return y * cos - z * sin, y * sin + z * cos


def surface(x: Array, v: Array) -> Array:
    """Points of the vane, (n, 3): at x along it and at the parameter v (radians) round its ellipse."""
    a, b = half_axes(x)
    return np.column_stack([x, *turned(a * np.cos(v), b * np.sin(v), TWIST_RAD_PER_MM * x)])


def normal(x: Array, v: Array) -> Array:
    """Outward unit normals of `surface`, (n, 3): at right angles to its derivatives by x and by v."""
    a, b = half_axes(x)
    cos, sin = np.cos(v), np.sin(v)
    along_y = -3.0 / 80.0 * cos - TWIST_RAD_PER_MM * b * sin  # derivative by x, in the turned section
    along_z = -2.0 / 80.0 * sin + TWIST_RAD_PER_MM * a * cos
    outward_y, outward_z = b * cos, a * sin  # at a right angle to the derivative by v, (-a sin, b cos)
    outward_x = -(along_y * outward_y + along_z * outward_z)
    whole = np.column_stack([outward_x, *turned(outward_y, outward_z, TWIST_RAD_PER_MM * x)])
    unit: Array = whole / np.linalg.norm(whole, axis=1, keepdims=True)
    return unit


def ball_centres(x_centre: Array, v: Array, distance: float) -> tuple[Array, Array]:
    """Centres (n, 3) of balls `distance` off the surface with the given x, and the surface's normals there.

    A centre's x differs from its contact's by the normal's x, so the contact is looked for: x' = x_centre - d n_x(x').
    The slope of the right side stays under 0.2, so 30 rounds leave less than 1e-15 of the first error.
    """
    x = x_centre
    for _ in range(30):
        x = x_centre - distance * normal(x, v)[:, 0]
    n = normal(x, v)
    return surface(x, v) + distance * n, n


def tips(x_centre: Array, v: Array, radius: float, allowance: float) -> tuple[Array, Array]:
    """Tip and tool axis, (n, 3) each, of a ball mill that leaves `allowance` on the surface."""
    centres, n = ball_centres(x_centre, v, radius + allowance)
    across = np.hypot(n[:, 1], n[:, 2])
    axis = np.column_stack([np.zeros_like(across), *turned(n[:, 1] / across, n[:, 2] / across, LEAN_RAD)])
    return centres - radius * axis, axis


def rows(motion: int, tip: Array, axis: Array, feed: float) -> Array:
    """Rows of a table: motion, x, y, z, i, j, k, feed."""
    count = len(tip)
    return np.column_stack([np.full(count, motion), tip, axis, np.full(count, feed)])


def lifted(tip: Array, axis: Array) -> Array:
    """Where the tip, drawn back along the tool axis, is `CLEAR` from the axis of rotation, (3,)."""
    along = tip[1] * axis[1] + tip[2] * axis[2]
    out: Array = tip + (math.sqrt(along**2 + CLEAR**2 - tip[1] ** 2 - tip[2] ** 2) - along) * axis
    return out


def link(end: tuple[Array, Array], start: tuple[Array, Array], feed: float) -> Array:
    """Rapids from one cut to the next: out along the tool axis, round the bar at CLEAR in steps, in along the axis.

    A straight rapid would cross the bar. In steps of 10 degrees it stays within CLEAR (1 - cos 5 deg) = 0.1 mm.
    """
    (tip0, axis0), (tip1, axis1) = end, start
    out, over = lifted(tip0, axis0), lifted(tip1, axis1)

    def polar(vector: Array) -> float:
        return math.atan2(vector[2], vector[1])

    def the_short_way(angle: float) -> float:
        return (angle + math.pi) % (2 * math.pi) - math.pi

    place, lean = polar(out), the_short_way(polar(axis0) - polar(out))
    last_place, last_lean = polar(over), the_short_way(polar(axis1) - polar(over))
    turn = the_short_way(last_place - place)
    steps = max(1, math.ceil(abs(turn) / math.radians(10.0)), math.ceil(abs(last_lean - lean) / math.radians(10.0)))
    share = np.linspace(0.0, 1.0, steps + 1)
    at, leans = place + share * turn, lean + share * (last_lean - lean)
    points = np.column_stack([out[0] + share * (over[0] - out[0]), CLEAR * np.cos(at), CLEAR * np.sin(at)])
    axes = np.column_stack([np.zeros_like(at), np.cos(at + leans), np.sin(at + leans)])
    return np.vstack([rows(0, points, axes, feed), rows(0, tip1[None], axis1[None], feed)])


def evenly_round(offset: float, spacing: float) -> Array:
    """Parameters v, an even number of them, evenly spaced along the section at the root, `offset` outside the vane."""
    fine = np.linspace(0.0, 2 * math.pi, 1441)
    a, b = half_axes(np.array(ROOT))
    long, short = b * np.cos(fine), a * np.sin(fine)
    size = np.hypot(long, short)
    y, z = a * np.cos(fine) + offset * long / size, b * np.sin(fine) + offset * short / size
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])
    count = 2 * math.ceil(length[-1] / spacing / 2)
    even: Array = np.interp(length[-1] * np.arange(count) / count, length, fine)
    return even


def runs_in_stock(v: Array, radius: float, offset: float) -> list[Array]:
    """The passes whose ball cuts into the bar somewhere, as runs of neighbours, an even number of passes in each."""
    x = np.linspace(ROOT, FREE_END, 41)
    cuts = np.zeros(len(v), dtype=bool)
    for number, parameter in enumerate(v):
        centres, _ = ball_centres(x, np.full_like(x, parameter), radius + offset)
        cuts[number] = np.hypot(centres[:, 1], centres[:, 2]).min() - radius < BAR / 2
    if cuts.all():
        return [v]
    first = int(np.flatnonzero(~cuts)[0])
    order = np.roll(np.arange(len(v)), -first)
    runs: list[list[float]] = [[]]
    for number in order.tolist():
        parameter = v[number] + (2 * math.pi if number < first else 0.0)  # increasing all the way round
        if cuts[number] or len(runs[-1]) % 2 == 1:
            runs[-1].append(parameter)
        elif runs[-1]:
            runs.append([])
    return [np.array(run) for run in runs if run]


def roughing() -> Array:
    """Layers from outside in; in each, passes to and fro along the vane, from beyond the free end and back there."""
    radius = 5.0
    outside = radius + 2.0
    highest_gap = BAR / 2 - float(half_axes(np.array(FREE_END))[1])
    layers = np.arange(ALLOWANCE, highest_gap, LAYER)[::-1]
    along = np.linspace(outside, ROOT, math.ceil((outside - ROOT) / STEP_ALONG) + 1)
    parts: list[Array] = []
    for offset in layers:
        for run in runs_in_stock(evenly_round(offset, STEPOVER), radius, offset):
            x_passes: list[Array] = []
            v_passes: list[Array] = []
            for number, v in enumerate(run):
                if number > 0:  # over to this pass, following the surface
                    side = np.full(3, x_passes[-1][-1])
                    x_passes.append(side)
                    v_passes.append(run[number - 1] + (v - run[number - 1]) * np.array([0.25, 0.5, 0.75]))
                x_passes.append(along if number % 2 == 0 else along[::-1])
                v_passes.append(np.full_like(along, v))
            tip, axis = tips(np.concatenate(x_passes), np.concatenate(v_passes), radius, offset)
            parts.append(entered(parts, tip, axis, ROUGH_FEED))
            parts.append(rows(1, tip[1:], axis[1:], ROUGH_FEED))
    return left(parts, ROUGH_FEED)


def finishing() -> Array:
    """One spiral round the vane from just beyond the free end to the root, and a last turn there."""
    radius = 3.0
    start = 1.0
    turns = math.ceil((start - ROOT) / PITCH)
    turn = np.arange((turns + 1) * POINTS_PER_TURN + 1) / POINTS_PER_TURN
    x = np.maximum(start - (start - ROOT) * turn / turns, ROOT)
    v = 2 * math.pi * turn
    before = radius + 5.0  # the ball comes down 5 mm before the end and moves in at feed
    tip, axis = tips(np.concatenate([[before], x]), np.concatenate([[0.0], v]), radius, 0.0)
    return left([entered([], tip, axis, FINISH_FEED), rows(1, tip[1:], axis[1:], FINISH_FEED)], FINISH_FEED)


def entered(before: list[Array], tip: Array, axis: Array, feed: float) -> Array:
    """The rapids to the first point of a cut: from the end of the last cut, or from clear of the bar."""
    if before:
        last = before[-1][-1]
        return link((last[1:4], last[4:7]), (tip[0], axis[0]), feed)
    points = np.vstack([lifted(tip[0], axis[0]), tip[0]])
    return rows(0, points, np.vstack([axis[0], axis[0]]), feed)


def left(parts: list[Array], feed: float) -> Array:
    """All rows, and the way out along the tool axis after the last cut."""
    last = parts[-1][-1]
    return np.vstack([*parts, rows(0, lifted(last[1:4], last[4:7])[None], last[4:7][None], feed)])


def blocks(table: Array) -> list[dict[str, list[float]]]:
    """The table in blocks of BLOCK rows, each going on where the last ended."""
    names = ("motion", "x", "y", "z", "i", "j", "k", "feed")
    pieces = [table[first : first + BLOCK] for first in range(0, len(table), BLOCK)]
    return [{name: column.tolist() for name, column in zip(names, piece.T, strict=True)} for piece in pieces]


def operation(name: str, tool: int, n: int, table: Array) -> dict[str, Any]:
    head = {"name": name, "tool": tool, "spindle": clockwise(n), "coolant": "flood"}
    return head | {"rotary": {"intent": "simultaneous"}, "table": blocks(table)}


def toolpath() -> dict[str, Any]:
    return {
        "name": "twisted vane",
        "axis": "X",
        "centre": [0, 0, 0],
        "stock": {"shape": "round", "diameter": BAR, "from": -130, "to": FREE_END, "held": {"at": "from", "length": 30}},
        "tools": TOOLS,
        "operations": [
            operation("vane, rough", BALL_10, N_ROUGH, roughing()),
            operation("vane, finish", BALL_6, N_FINISH, finishing()),
        ],
    }


if __name__ == "__main__":
    for path in write_both(Path(__file__).parent, toolpath()):
        print(path.name)
