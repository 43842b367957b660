"""Coast roller: a brass cylinder with the coastlines of the world around it, grooves, slots and a ring of holes.

The map is a globe seen as a cylinder: north towards +X, so a place at longitude L is engraved where the tool stands at
the angle L, right-hand round +X, as the earth's longitudes run right-hand round its north pole. A wrapped path has
alpha = start_angle - y / r, so the developed length is y = -r L: with north to the right, east is down, as it is on a
map turned by a quarter. Everything is in mm; the inch file is the same part, converted exactly.
"""

from __future__ import annotations

import json
import math
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))
from shapes import Move, arc, clockwise, cut, feed_mm_per_min, rapid, rpm, write_both

Array = NDArray[np.float64]

DIAMETER = 60.0
RADIUS = DIAMETER / 2
TURN = math.pi * DIAMETER  # developed length of a full turn
CLEAR = 6.0  # over the surface; the tool travels here whenever the roller turns with the tool up
NEAR = 1.0  # over the surface: from here down at feed

EQUATOR = -83.0  # X
NORTH_EDGE, SOUTH_EDGE = -20.0, -120.0  # X of the map's borders: about 76 degrees north and 58 south
ENGRAVE_DEPTH = 0.25
SHORTEST_LINE = 2.0  # an outline shorter than this would be one blot under a 0.5 mm line

MILL_6, MILL_4, BALL_4, ENGRAVER, DRILL_2 = 1, 2, 3, 4, 5
TOOLS = [
    {"number": MILL_6, "name": "6 mm end mill", "shape": "flat", "diameter": 6, "flutes": 3} | {"cutting_length": 16, "length": 50},
    {"number": MILL_4, "name": "4 mm end mill", "shape": "flat", "diameter": 4, "flutes": 2} | {"cutting_length": 11, "length": 45},
    {"number": BALL_4, "name": "4 mm ball mill", "shape": "ball", "diameter": 4, "flutes": 2} | {"cutting_length": 11, "length": 45},
    {"number": ENGRAVER, "name": "engraver 60 degrees", "shape": "chamfer", "diameter": 6, "flutes": 1}
    | {"tip_diameter": 0.2, "included_angle": 60, "cutting_length": 5, "length": 45},
    {"number": DRILL_2, "name": "2 mm drill", "shape": "drill", "diameter": 2, "point_angle": 118, "flutes": 2}
    | {"cutting_length": 20, "length": 45},
]
# Cutting speeds for free-cutting brass, feeds per tooth for small carbide tools: common practice.
N_6, N_4, N_BALL, N_ENGRAVER, N_2 = rpm(120, 6), rpm(100, 4), rpm(90, 4), rpm(150, 6), rpm(50, 2)
BAND_FEED = feed_mm_per_min(N_6, 3, 0.03)
SLOT_FEED = feed_mm_per_min(N_4, 2, 0.02)
RAMP_FEED = feed_mm_per_min(N_4, 2, 0.01)
GROOVE_FEED = feed_mm_per_min(N_BALL, 2, 0.025)
ENGRAVE_FEED = feed_mm_per_min(N_ENGRAVER, 1, 0.04)
PLUNGE_FEED = feed_mm_per_min(N_ENGRAVER, 1, 0.012)
DRILL_FEED = feed_mm_per_min(N_2, 2, 0.02)


def on_cylinder(longitude_deg: Array, latitude_deg: Array) -> tuple[Array, Array]:
    """x along the axis and developed length y of places on the globe, in mm.

    source    Mercator's projection for the sphere, east = R L, north = R ln tan(45 + latitude / 2): J. P. Snyder, Map
              Projections: A Working Manual, US Geological Survey Professional Paper 1395, 1987, equations 7-1 and 7-2
    """
    east = RADIUS * np.radians(longitude_deg)
    north = RADIUS * np.log(np.tan(np.radians(45.0 + np.asarray(latitude_deg) / 2)))
    return EQUATOR + north, -east


def inside_borders(x: Array, y: Array) -> list[Array]:
    """The pieces of a line between the two borders, each (n, 2), cut off exactly on them."""
    pieces: list[list[tuple[float, float]]] = [[]]
    line = list(zip(x.tolist(), y.tolist(), strict=True))
    for (x0, y0), (x1, y1) in pairwise(line):
        # The share of this edge that lies between the borders (Liang and Barsky's way, for one coordinate).
        low, high = 0.0, 1.0
        if x1 == x0:
            high = 1.0 if SOUTH_EDGE <= x0 <= NORTH_EDGE else -1.0
        else:
            crossings = sorted(((SOUTH_EDGE - x0) / (x1 - x0), (NORTH_EDGE - x0) / (x1 - x0)))
            low, high = max(low, crossings[0]), min(high, crossings[1])
        if low >= high:
            continue
        start, end = [(x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for t in (low, high)]
        if not pieces[-1] or low > 0.0:
            pieces.append([start])
        pieces[-1].append(end)
        if high < 1.0:
            pieces.append([])
    return [np.array(piece) for piece in pieces if len(piece) > 1]


def length(line: Array) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def coast_lines() -> list[Array]:
    """All coasts between the borders that are long enough to engrave, each (n, 2): x, y."""
    data = json.loads(Path(__file__).with_name("coastline.json").read_text(encoding="utf-8"))
    lines = []
    for polyline in data["polylines"]:
        places = np.array(polyline)
        lines += [line for line in inside_borders(*on_cylinder(*places.T)) if length(line) >= SHORTEST_LINE]
    return lines


def in_short_order(lines: list[Array]) -> list[Array]:
    """Always on to the nearest line, round the cylinder the short way; open lines from whichever end is nearer."""
    left = list(lines)
    here = np.array([NORTH_EDGE, 0.0])
    ordered = []
    while left:
        best = min(
            ((away(here, line[end]), number, end) for number, line in enumerate(left) for end in (0, -1)),
        )
        line = left.pop(best[1])
        ordered.append(line if best[2] == 0 else line[::-1])
        here = ordered[-1][-1]
    return ordered


def away(start: Array, end: Array) -> float:
    """Distance on the cylinder."""
    dx, dy = end - start
    return math.hypot(dx, (dy + TURN / 2) % TURN - TURN / 2)


def engraving(lines: list[Array]) -> dict[str, list[float]]:
    """A table: over to each line at clear height, down to just over the surface, in at feed, along, out."""
    rows: list[tuple[int, float, float, float, float]] = []
    for line in lines:
        (x0, y0), (x1, y1) = line[0], line[-1]
        rows += [(0, x0, y0, CLEAR, PLUNGE_FEED), (0, x0, y0, NEAR, PLUNGE_FEED)]
        rows += [(1, x0, y0, -ENGRAVE_DEPTH, PLUNGE_FEED)]
        rows += [(1, x, y, -ENGRAVE_DEPTH, ENGRAVE_FEED) for x, y in line[1:]]
        rows += [(0, x1, y1, CLEAR, ENGRAVE_FEED)]
    names = ("motion", "x", "y", "z", "feed")
    return {name: [float(value) for value in column] for name, column in zip(names, zip(*rows, strict=True), strict=True)}


def border() -> list[Move]:
    """Both borders as full turns, and a tick outside each every 10 degrees, longer every 30, on the way back."""
    moves: list[Move] = []
    for edge, outward in ((NORTH_EDGE, 1.0), (SOUTH_EDGE, -1.0)):
        moves += [rapid(edge, 0.0, CLEAR), rapid(edge, 0.0, NEAR), cut(edge, 0.0, -ENGRAVE_DEPTH, PLUNGE_FEED)]
        moves += [cut(edge, -TURN, -ENGRAVE_DEPTH, ENGRAVE_FEED), rapid(edge, -TURN, CLEAR)]
        for tick in range(36):
            y = -TURN * (36 - tick) / 36
            end = edge + outward * (1.6 if tick % 3 == 0 else 0.8)
            moves += [rapid(edge, y, CLEAR), rapid(edge, y, NEAR), cut(edge, y, -ENGRAVE_DEPTH, PLUNGE_FEED)]
            moves += [cut(end, y, -ENGRAVE_DEPTH, ENGRAVE_FEED), rapid(end, y, CLEAR)]
    return moves


def end_band() -> list[Move]:
    """The free end milled down by 1 mm over 14 mm: a helix from beyond the end, then one turn at the shoulder."""
    start, shoulder, pitch, z = 5.0, -14.0 + 3.0, 4.0, -1.0
    turns = (start - shoulder) / pitch
    return [
        rapid(start, 0.0, CLEAR),
        rapid(start, 0.0, z),
        cut(shoulder, turns * TURN, z, BAND_FEED),
        cut(shoulder, (turns + 1.0) * TURN, z),
        rapid(shoulder, (turns + 1.0) * TURN, CLEAR),
    ]


def diamond_grip() -> list[Move]:
    """A right-hand and a left-hand groove, 12 turns each, two passes a groove: one there and one back along it."""
    near, far, turns = -148.0, -184.0, 12
    moves: list[Move] = []
    for hand in (1.0, -1.0):
        y = hand * turns * TURN
        moves += [rapid(near, 0.0, CLEAR), rapid(near, 0.0, NEAR)]
        moves += [cut(near, 0.0, -0.25, GROOVE_FEED / 4), cut(far, y, -0.25, GROOVE_FEED)]
        moves += [cut(far, y, -0.5, GROOVE_FEED / 4), cut(near, 0.0, -0.5, GROOVE_FEED), rapid(near, 0.0, CLEAR)]
    return moves


def wave_slots() -> list[Move]:
    """Eight S-shaped slots, 4 wide and 2 deep: two half circles in the developed plane, ramped down there and back."""
    radius, middle = 3.5, -134.0
    moves: list[Move] = []
    for number in range(8):
        y = number * TURN / 8
        ends = [middle + 2 * radius, middle, middle - 2 * radius]
        z = 0.5
        moves += [rapid(ends[0], y, CLEAR), rapid(ends[0], y, NEAR), cut(ends[0], y, z, RAMP_FEED)]
        senses = ("counterclockwise", "clockwise")  # the same both ways: the S looks alike from either end
        for last in (-0.5, -1.25, -2.0, -2.0):
            drop = (z - last) / 2
            feed = RAMP_FEED if drop > 0 else SLOT_FEED
            for (start, end), turns in zip(pairwise(ends), senses, strict=True):
                z -= drop
                moves.append(arc((end, y, z), ((start + end) / 2, y, z), turns, feed))
            ends.reverse()
        moves.append(rapid(ends[0], y, CLEAR))
    return moves


def ring_of_holes() -> list[Move]:
    """36 holes, 10 degrees apart, 3 deep, each between two ticks of the border."""
    x, count = -17.0, 36
    moves: list[Move] = []
    for number in range(count):
        y = (number + 0.5) * TURN / count
        hole = {"hole": [x, y], "cycle": "peck", "retract": NEAR, "bottom": -3.0, "peck": 1.0, "feed": DRILL_FEED}
        moves += [rapid(x, y, CLEAR), hole, rapid(x, y, CLEAR)]
    return moves


def operation(name: str, tool: int, n: int, path: dict[str, Any]) -> dict[str, Any]:
    wrapped = {"intent": "wrapped", "diameter": DIAMETER, "start_angle": 0, "z_from": "surface"}
    return {"name": name, "tool": tool, "spindle": clockwise(n), "coolant": "mist", "rotary": wrapped} | path


def toolpath() -> dict[str, Any]:
    return {
        "name": "coast roller",
        "axis": "X",
        "centre": [0, 0, 0],
        "stock": {"shape": "round", "diameter": DIAMETER, "from": -215, "to": 0, "held": {"at": "from", "length": 25}},
        "tools": TOOLS,
        "operations": [
            operation("end band", MILL_6, N_6, {"moves": end_band()}),
            operation("wave slots", MILL_4, N_4, {"moves": wave_slots()}),
            operation("diamond grip", BALL_4, N_BALL, {"moves": diamond_grip()}),
            operation("coastlines", ENGRAVER, N_ENGRAVER, {"table": engraving(in_short_order(coast_lines()))}),
            operation("borders and ticks", ENGRAVER, N_ENGRAVER, {"moves": border()}),
            operation("ring of holes", DRILL_2, N_2, {"moves": ring_of_holes()}),
        ],
    }


if __name__ == "__main__":
    for path in write_both(Path(__file__).parent, toolpath()):
        print(path.name)
