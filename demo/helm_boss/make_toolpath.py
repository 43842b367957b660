"""Helm boss: a domed boss with two roof faces that lean unequally, a flat at its side with a curved slot and a letter, and holes in each.

Part frame: Z up through the middle of the round stock, Z 0 at its bottom. Azimuths count from X towards Y, tilts from Z. A face has a
plane of its own: z out of it, x level in the direction in which azimuths grow, y up the slope. No turn and no mirror image brings the part
onto itself. The finish of the dome goes to and fro along X; its tool axis leans 5 degrees from the dome's normal, towards -Y, and one
of the passes goes through Z itself: the pole of every machine whose first axis runs along Z. No tool axis of it leans more than
29 degrees, and no face more than 90: a table of two axes that tilts by 30 degrees one way and by 120 the other reaches all of it.
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
from shapes import Move, arc, clockwise, cut, feed_mm_per_min, rapid, rpm, write_both

STOCK, HEIGHT = 60.0, 40.0  # diameter and height
PEDESTAL = 20.0  # from the table's reference point up to the bottom of the stock
JAWS = 6.0  # how much of the stock is held
DOME, TOP = 80.0, 38.0  # radius of the dome, and Z of its highest point
MIDDLE = np.array([0.0, 0.0, TOP - DOME])  # of the sphere
CLEAR = 20.0  # over a plane, or over the stock: nothing of it is as high

# azimuth and tilt of a face, degrees, and distance of the middle of its work from the stock's axis, and its Z
ROOF_1, ROOF_2, SIDE = (25.0, 34.0, 21.0, 30.5), (152.0, 57.0, 26.0, 28.8), (262.0, 90.0, 24.0, 20.0)

MILL_10, MILL_6, DRILL_4, BALL_10, BALL_2 = 1, 2, 3, 4, 5
TOOLS = [
    {"number": MILL_10, "name": "10 mm end mill", "shape": "flat", "diameter": 10, "flutes": 3} | {"cutting_length": 22, "length": 55},
    {"number": MILL_6, "name": "6 mm end mill", "shape": "flat", "diameter": 6, "flutes": 3} | {"cutting_length": 16, "length": 45},
    {"number": DRILL_4, "name": "4 mm drill", "shape": "drill", "diameter": 4, "point_angle": 118, "flutes": 2}
    | {"cutting_length": 40, "length": 55},
    {"number": BALL_10, "name": "10 mm ball mill", "shape": "ball", "diameter": 10, "flutes": 2} | {"cutting_length": 22, "length": 60},
    {"number": BALL_2, "name": "2 mm ball mill", "shape": "ball", "diameter": 2, "flutes": 2} | {"cutting_length": 4, "length": 40},
]
# Cutting speeds for wrought aluminium, feeds per tooth for small carbide tools: common practice.
N_10, N_6, N_DRILL, N_BALL, N_LETTER = rpm(200, 10), rpm(150, 6), rpm(60, 4), rpm(200, 10), rpm(200, 2)
ROUGH_FEED, SLOT_FEED, RAMP_FEED = feed_mm_per_min(N_10, 3, 0.05), feed_mm_per_min(N_6, 3, 0.03), feed_mm_per_min(N_6, 3, 0.012)
DRILL_FEED, BALL_FEED, LETTER_FEED = (
    feed_mm_per_min(N_DRILL, 2, 0.03), feed_mm_per_min(N_BALL, 2, 0.04), feed_mm_per_min(N_LETTER, 2, 0.015)
)  # fmt: skip

ALLOWANCE, LEVEL = 0.4, 1.2  # left on the dome by roughing, and how deep one level of it is
BESIDE = 38.0  # where a 10 mm end mill is beside the stock
LEAN_DEG, PITCH, STEP = 5.0, 1.25, 2.2  # of the finish: the tool's lean, between passes, and between points of one
# The passes beside the pole may go straight past it. A tool axis that is off by a degree, its tip held, takes 5 sin 5 sin 1 = 0.008 mm more
AXIS_TOLERANCE_DEG = 2.0
EDGE = 31.5  # how far from the axis the ball still touches the dome's sphere: past the stock's edge

Array = NDArray[np.float64]


def plane(face: tuple[float, float, float, float]) -> dict[str, list[float]]:
    """A face's plane: origin, z out of it, x level."""
    azimuth, tilt = np.radians(face[:2])
    radial, level = np.array([np.cos(azimuth), np.sin(azimuth), 0.0]), np.array([-np.sin(azimuth), np.cos(azimuth), 0.0])
    origin = face[2] * radial + [0.0, 0.0, face[3]]
    out = np.sin(tilt) * radial + [0.0, 0.0, np.cos(tilt)]
    return {"origin": origin.tolist(), "z": out.tolist(), "x": level.tolist()}


def indexed(*faces: tuple[float, float, float, float]) -> dict[str, Any]:
    return {"intent": "indexed", "planes": [plane(face) for face in faces]}


def rough_dome() -> list[Move]:
    """Level by level, rings from outside in, as far as the dome with its allowance: plain three-axis work."""
    moves: list[Move] = []
    for z in np.arange(TOP + ALLOWANCE, TOP - DOME + math.sqrt(DOME**2 - (STOCK / 2) ** 2), -LEVEL).tolist():
        dome = math.sqrt(max((DOME + ALLOWANCE) ** 2 - (z - MIDDLE[2]) ** 2, 0.0))
        least = max(dome + 5.0, 4.0)
        radii = np.linspace(max(26.0, least), least, math.ceil(max(26.0 - least, 0.0) / 7.0) + 1)
        moves += [rapid(BESIDE, 0, HEIGHT + CLEAR), rapid(BESIDE, 0, z)]
        for r in np.unique(radii)[::-1].tolist():
            moves += [cut(r, 0, z, ROUGH_FEED), arc((-r, 0, z), (0, 0, z), "clockwise"), arc((r, 0, z), (0, 0, z), "clockwise")]
        moves.append(rapid(moves[-1]["arc"][0], 0, HEIGHT + CLEAR))
    return moves


def face(ys: list[float], levels: list[float], beside: float) -> list[Move]:
    """To and fro over a plane, from beside the stock and back to beside it."""
    moves: list[Move] = []
    for z in levels:
        moves += [rapid(-beside, ys[0], CLEAR), rapid(-beside, ys[0], z)]
        for number, y in enumerate(ys):
            start, end = (-beside, beside) if number % 2 == 0 else (beside, -beside)
            if number:
                moves.append(cut(start, y, z))
            moves.append(cut(end, y, z, ROUGH_FEED))
        moves.append(rapid(moves[-1]["cut"][0], ys[-1], CLEAR))
    return moves


def round_pocket() -> list[Move]:
    """10 wide and 3 deep, round the plane's zero: a helix of half turns, once round at depth, and off the wall."""
    right, left, z = 2.0, -2.0, 0.5
    moves = [rapid(right, 0, CLEAR), rapid(right, 0, z)]
    for number, z in enumerate([0.0, -0.5, -1.0, -1.5, -2.0, -2.5, -3.0, -3.0, -3.0]):
        moves.append(arc((left if number % 2 == 0 else right, 0, z), (0, 0, z), "counterclockwise", RAMP_FEED))
    return [*moves, cut(0, 0, z, SLOT_FEED), rapid(0, 0, CLEAR)]


def hole(x: float, y: float, **cycle: Any) -> Move:
    return {"hole": [x, y]} | cycle | {"retract": 3, "feed": DRILL_FEED}


def curved_slot() -> list[Move]:
    """6 wide and 2 deep, on an arc of 14 about (0, 8), from 40 degrees before its lowest point to 40 behind it; there and back."""
    ends = [(14 * math.sin(angle), 8 - 14 * math.cos(angle)) for angle in (-math.radians(40), math.radians(40))]
    begin, end = ends
    moves = [rapid(*begin, CLEAR), rapid(*begin, 0.5)]
    for number, z in enumerate([-0.5, -1.0, -1.5, -2.0, -2.0]):
        there = number % 2 == 0
        turns = "counterclockwise" if there else "clockwise"
        moves.append(arc((*(end if there else begin), z), (0, 8, z), turns, RAMP_FEED if z > -2.0 else SLOT_FEED))
    return [*moves, rapid(*end, CLEAR)]


def letter() -> list[Move]:
    """An F, 10 high, 0.4 deep."""
    moves: list[Move] = []
    for (x0, y0), (x1, y1) in (((-4, 1), (-4, 11)), ((-4, 11), (3, 11)), ((-4, 6.5), (1, 6.5))):
        if not moves or (x0, y0) != tuple(moves[-1]["cut"][:2]):
            moves += [rapid(*moves[-1]["cut"][:2], 2)] if moves else []
            moves += [rapid(x0, y0, 2 if moves else CLEAR), cut(x0, y0, -0.4, LETTER_FEED)]
        moves.append(cut(x1, y1, -0.4))
    return [*moves, rapid(*moves[-1]["cut"][:2], CLEAR)]


def finish_dome() -> dict[str, list[float]]:
    """To and fro along X with the ball on the dome, all in one cut; one pass goes through the pole."""
    radius = 5.0
    lean, far = math.radians(LEAN_DEG), (DOME + radius) / DOME * EDGE
    pole = (DOME + radius) * math.sin(lean)  # Y of the ball's middle where the tool stands along Z
    ys = pole + PITCH * np.arange(math.ceil((-far - pole) / PITCH), math.floor((far - pole) / PITCH) + 1)
    passes = []
    for number, y in enumerate(ys.tolist()):
        half = math.sqrt(far**2 - y**2)
        x = np.linspace(-half, half, 2 * math.ceil(half / STEP) + 1) * (1 if number % 2 == 0 else -1)
        passes.append(np.column_stack([x, np.full_like(x, y)]))
    flat = np.concatenate(passes)
    normal = np.column_stack([flat, np.sqrt((DOME + radius) ** 2 - (flat**2).sum(axis=1))]) / (DOME + radius)
    x, y, z = normal.T
    axis = np.column_stack([x, y * math.cos(lean) - z * math.sin(lean), y * math.sin(lean) + z * math.cos(lean)])
    tip = MIDDLE + (DOME + radius) * normal - radius * axis
    # in along the tool axis, the last of it at feed, and out along it again
    tip = np.vstack([tip[0] + CLEAR * axis[0], tip[0] + 2.0 * axis[0], tip, tip[-1] + CLEAR * axis[-1]])
    axis = np.vstack([axis[0], axis[0], axis, axis[-1]])
    motion = np.ones(len(tip))
    motion[[0, 1, -1]] = 0
    columns = np.column_stack([motion, tip, axis, np.full(len(tip), BALL_FEED)]).T
    return {name: column.tolist() for name, column in zip(("motion", *"xyzijk", "feed"), columns, strict=True)}


def operation(name: str, tool: int, n: int, rotary: dict[str, Any], **path: Any) -> dict[str, Any]:
    return {"name": name, "tool": tool, "spindle": clockwise(n), "coolant": "flood", "rotary": rotary} | path


def toolpath() -> dict[str, Any]:
    holes = [hole(-12, 2, bottom=-9), hole(10, -5, bottom=-9), hole(12, 4, bottom=-9)]
    deep = hole(12, 6, cycle="peck", bottom=-16, peck=5)
    return {
        "name": "helm boss",
        "axis": "Z",
        "centre": [0, 0, -PEDESTAL],
        "stock": {"shape": "round", "diameter": STOCK, "from": PEDESTAL, "to": PEDESTAL + HEIGHT, "held": {"at": "from", "length": JAWS}},
        "tools": TOOLS,
        "operations": [
            operation("dome, rough", MILL_10, N_10, {"intent": "still"}, moves=rough_dome()),
            operation("roof faces", MILL_10, N_10, indexed(ROOF_1, ROOF_2), moves=face([-9, -2, 5, 10], [3.2, 0], BESIDE)),
            operation("flat at the side", MILL_10, N_10, indexed(SIDE), moves=face([-7, 0, 7, 14], [3, 0], BESIDE)),
            operation("pockets in the roof", MILL_6, N_6, indexed(ROOF_1, ROOF_2), moves=round_pocket()),
            operation("slot in the side", MILL_6, N_6, indexed(SIDE), moves=curved_slot()),
            operation("holes in the first roof", DRILL_4, N_DRILL, indexed(ROOF_1), moves=holes),
            operation(
                "holes in the second roof", DRILL_4, N_DRILL, indexed(ROOF_2), moves=[hole(-9, 0, bottom=-7), hole(8.5, 3, bottom=-7)]
            ),
            operation("deep hole in the side", DRILL_4, N_DRILL, indexed(SIDE), moves=[deep]),
            operation("dome, finish", BALL_10, N_BALL, {"intent": "simultaneous"}, axis_tolerance=AXIS_TOLERANCE_DEG, table=finish_dome()),
            operation("letter", BALL_2, N_LETTER, indexed(SIDE), moves=letter()),
        ],
    }


if __name__ == "__main__":
    for path in write_both(Path(__file__).parent, toolpath()):
        print(path.name)
