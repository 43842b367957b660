"""Distributor: five milled flats on a round bar, three ports that meet, tapped holes, curved slots, and a shank with a keyway.

Indexed coordinates: X along the bar with its free end at X 0, Z 0 on the axis of rotation. So the top of the 56 mm bar
stands at Z 28 and a flat at Z 22. Nothing on it repeats all round: ports and slots lie on faces of their own, the dimples are
unevenly spaced, and the shank has one locating flat. A part that came out turned or mirrored can be told from the right one.
Everything is in mm; the inch file is the same part, converted exactly.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))
from shapes import Move, arc, clockwise, cut, feed_mm_per_min, rapid, rounded_rectangle, rpm, write_both

BAR = 56.0  # diameter
CLEAR = BAR / 2 + 6.0  # Z where the tool may travel and the bar may turn
FLAT = 22.0  # Z of a flat; the corners, at 22 / cos 36 degrees = 27.193, stay inside the bar
SHOULDER = -50.0  # X where the flats end
BEFORE_END = 7.0  # X where a 10 mm tool is 2 mm clear of the free end

FIVE = [0, 72, 144, 216, 288]
PORTS, SLOTS = [0, 72, 216], [144, 288]
DIMPLE_ANGLES = [18, 54, 90, 126, 198, 234, 306]
LOCATING_ANGLE = 100

MILL_10, MILL_6, CHAMFER, DRILL_33, TAP, DRILL_5 = 1, 2, 3, 4, 5, 6
TOOLS = [
    {"number": MILL_10, "name": "10 mm end mill", "shape": "flat", "diameter": 10, "flutes": 3} | {"cutting_length": 22, "length": 60},
    {"number": MILL_6, "name": "6 mm end mill", "shape": "flat", "diameter": 6, "flutes": 3} | {"cutting_length": 16, "length": 50},
    {"number": CHAMFER, "name": "8 mm chamfer mill 90 degrees", "shape": "chamfer", "diameter": 8, "flutes": 2}
    | {"tip_diameter": 0.2, "included_angle": 90, "cutting_length": 3.9, "length": 50},
    {"number": DRILL_33, "name": "3.3 mm drill", "shape": "drill", "diameter": 3.3, "point_angle": 118, "flutes": 2}
    | {"cutting_length": 36, "length": 60},
    {"number": TAP, "name": "M4 x 0.7 tap", "shape": "flat", "diameter": 4, "flutes": 3} | {"cutting_length": 12, "length": 55},
    {"number": DRILL_5, "name": "5 mm drill", "shape": "drill", "diameter": 5, "point_angle": 118, "flutes": 2}
    | {"cutting_length": 52, "length": 80},
]
# Cutting speeds for free-cutting steel, feeds per tooth for small carbide and high-speed steel tools: common practice.
N_10, N_6, N_CHAMFER, N_33, N_5 = rpm(120, 10), rpm(100, 6), rpm(80, 8), rpm(25, 3.3), rpm(25, 5)
ROUGH_FEED = feed_mm_per_min(N_10, 3, 0.05)
FINISH_FEED = feed_mm_per_min(N_10, 3, 0.03)
SLOT_FEED = feed_mm_per_min(N_6, 3, 0.03)
RAMP_FEED = feed_mm_per_min(N_6, 3, 0.012)
WALL_FEED = feed_mm_per_min(N_6, 3, 0.025)
EDGE_FEED = feed_mm_per_min(N_CHAMFER, 2, 0.04)
PLUNGE_FEED = feed_mm_per_min(N_CHAMFER, 2, 0.01)
TAP_RPM, TAP_LEAD = 500, 0.7

HOLES = [(-6.0, -4.0), (-6.0, 4.0), (-44.0, 4.0), (-44.0, -4.0)]
MIDDLE = -25.0  # X of the middle of a flat
POCKET_FLOOR, SLOT_FLOOR, KEYWAY_FLOOR = FLAT - 4.0, FLAT - 3.0, BAR / 2 - 4.5
KEYWAY_MIDDLE, KEYWAY_HALF_WIDTH = -62.0, 4.0
LOCATING_FLAT = BAR / 2 - 2.5


def rows(half_width: float, stepover: float) -> list[float]:
    """Y of the passes that cover a width from -half_width to half_width, evenly, no further apart than the stepover."""
    gaps = math.ceil(2 * half_width / stepover)
    return [-half_width + 2 * half_width * k / gaps for k in range(gaps + 1)]


def half_chord(z: float) -> float:
    """Half the width of the bar at height z."""
    return math.sqrt((BAR / 2) ** 2 - z**2)


def rough_flat() -> list[Move]:
    """Three levels, to and fro along the bar, 0.3 mm left on flat and shoulder. In from beyond the free end."""
    moves: list[Move] = []
    for z in (26.0, 24.0, FLAT + 0.3):
        ys = rows(half_chord(z) - 3.0, 7.0)  # the outer passes still reach 2 mm past the edge
        moves += [rapid(BEFORE_END, ys[0], CLEAR), rapid(BEFORE_END, ys[0], z)]
        for number, y in enumerate(ys):
            ends = (BEFORE_END, SHOULDER + 5.3)
            start, end = ends if number % 2 == 0 else ends[::-1]
            if number > 0:
                moves.append(cut(start, y, z))
            moves.append(cut(end, y, z, ROUGH_FEED))
        moves.append(rapid(moves[-1]["cut"][0], ys[-1], CLEAR))
    return moves


def finish_flat() -> list[Move]:
    """Every pass from the free end inwards, then once along the shoulder."""
    moves: list[Move] = []
    ys = rows(half_chord(FLAT) - 3.0, 6.0)
    wall = SHOULDER + 5.0
    for y in ys:
        moves += [rapid(BEFORE_END, y, CLEAR), rapid(BEFORE_END, y, FLAT)]
        moves += [cut(wall, y, FLAT, FINISH_FEED)]
        if y == ys[-1]:
            moves.append(cut(wall, -half_chord(FLAT) - 6.0, FLAT))
        moves.append(rapid(wall, moves[-1]["cut"][1], CLEAR))
    return moves


def hole(x: float, y: float, **cycle: Any) -> Move:
    return {"hole": [x, y]} | cycle


def drilled(pattern: list[tuple[float, float]], **cycle: Any) -> list[Move]:
    """The same cycle at every point of a pattern; from hole to hole at its retract height, over the milled flat."""
    holes = [hole(x, y, **cycle) for x, y in pattern]
    return [rapid(*pattern[0], CLEAR), *holes, rapid(*pattern[-1], CLEAR)]


def pocket() -> list[Move]:
    """A pocket of 20 by 12, corners 4, 4 deep, with a 6 mm tool: helix in, a ring on each of two levels, then the wall."""
    radius = 2.0  # of the helix
    top = FLAT + 0.5
    right, left = (MIDDLE + radius, 0.0), (MIDDLE - radius, 0.0)
    moves = [rapid(*right, CLEAR), rapid(*right, top)]
    z = top
    for level in (FLAT - 2.0, POCKET_FLOOR):
        half_turns = math.ceil((z - level) / 0.5)
        drop = (z - level) / half_turns
        for number in range(half_turns + 2):  # the last two at depth clear the floor of the helix
            z = max(z - drop, level)
            end = left if number % 2 == 0 else right
            moves.append(arc((*end, z), (MIDDLE, 0.0, z), "counterclockwise", RAMP_FEED))
        if moves[-1]["arc"][0] != right[0]:
            moves.append(arc((*right, z), (MIDDLE, 0.0, z), "counterclockwise"))
        moves.append(cut(MIDDLE, -2.7, z, SLOT_FEED))
        moves += rounded_rectangle(MIDDLE, 0.0, 6.7, 2.7, 0.7, z)
        moves.append(cut(*right, z))
    lead = 1.5
    moves += [
        cut(MIDDLE - lead, lead - 3.0, z, WALL_FEED),
        arc((MIDDLE, -3.0, z), (MIDDLE, lead - 3.0, z), "counterclockwise"),
        *rounded_rectangle(MIDDLE, 0.0, 7.0, 3.0, 1.0, z),
        arc((MIDDLE + lead, lead - 3.0, z), (MIDDLE, lead - 3.0, z), "counterclockwise"),
        rapid(MIDDLE + lead, lead - 3.0, CLEAR),
    ]
    return moves


def break_pocket_edge() -> list[Move]:
    """0.3 by 45 degrees along the pocket's edge, cut with the cone 1.5 mm inside the wall."""
    inside, width = 1.5, 0.3
    z = FLAT - (inside + width - 0.1)  # the cone's radius at the flat is inside + width
    y = -6.0 + inside
    return [
        rapid(MIDDLE, 0.0, CLEAR),
        rapid(MIDDLE, 0.0, FLAT + 1.0),
        cut(MIDDLE, 0.0, z, PLUNGE_FEED),
        cut(MIDDLE, y, z, EDGE_FEED),
        *rounded_rectangle(MIDDLE, 0.0, 10.0 - inside, 6.0 - inside, 4.0 - inside, z),
        cut(MIDDLE, 0.0, z),
        rapid(MIDDLE, 0.0, CLEAR),
    ]


def curved_slot() -> list[Move]:
    """A slot 7 wide and 3 deep along an arc of radius 18: ramped down along its middle, then once round its wall."""
    centre_y, radius, reach = -14.0, 18.0, math.radians(40.0)
    half = 0.5  # what the 7 mm slot leaves beside a 6 mm tool

    def at(angle_rad: float, r: float) -> tuple[float, float]:
        return MIDDLE + r * math.sin(angle_rad), centre_y + r * math.cos(angle_rad)

    left, right = at(-reach, radius), at(reach, radius)
    levels = [FLAT - 0.5, FLAT - 1.2, FLAT - 2.1, SLOT_FLOOR, SLOT_FLOOR]
    moves = [rapid(*left, CLEAR), rapid(*left, FLAT + 0.5)]
    for number, z in enumerate(levels):
        end, turns = (right, "clockwise") if number % 2 == 0 else (left, "counterclockwise")
        moves.append(arc((*end, z), (MIDDLE, centre_y, z), turns, RAMP_FEED if z != levels[number - 1] else SLOT_FEED))
    z = SLOT_FLOOR
    centre = (MIDDLE, centre_y, z)
    moves += [
        cut(*at(reach, radius + half), z, WALL_FEED),
        arc((*at(-reach, radius + half), z), centre, "counterclockwise"),
        arc((*at(-reach, radius - half), z), (*left, z), "counterclockwise"),
        arc((*at(reach, radius - half), z), centre, "clockwise"),
        arc((*at(reach, radius + half), z), (*right, z), "counterclockwise"),
        cut(*right, z),
        rapid(*right, CLEAR),
    ]
    return moves


def keyway() -> list[Move]:
    """Rotary at zero: a keyway 8 wide, 16 long, 4.5 deep in the shank: three levels, each ramped, then the wall."""
    reach = 5.0
    near, far = KEYWAY_MIDDLE + reach, KEYWAY_MIDDLE - reach
    z = BAR / 2 + 0.5
    moves = [rapid(near, 0.0, CLEAR), rapid(near, 0.0, z)]
    for level in (BAR / 2 - 1.5, BAR / 2 - 3.0, KEYWAY_FLOOR):
        strokes = 2 * math.ceil((z - level) / 1.5)
        drop = (z - level) / strokes
        for stroke in range(strokes):
            z -= drop
            moves.append(cut(far if stroke % 2 == 0 else near, 0.0, z, RAMP_FEED))
        moves.append(cut(KEYWAY_MIDDLE, 0.0, z, SLOT_FEED))
        moves.append(cut(KEYWAY_MIDDLE, -0.8, z))
        moves += rounded_rectangle(KEYWAY_MIDDLE, 0.0, reach - 0.2, 0.8, 0.8, z)
        moves.append(cut(near, 0.0, z))
    moves.append(cut(KEYWAY_MIDDLE, -1.0, z, WALL_FEED))
    moves += rounded_rectangle(KEYWAY_MIDDLE, 0.0, reach, 1.0, 1.0, z)
    return [*moves, cut(KEYWAY_MIDDLE, 0.0, z), rapid(KEYWAY_MIDDLE, 0.0, CLEAR)]


def chamfer_keyway() -> list[Move]:
    """0.4 by 45 degrees along the two straight edges, which stand lower than the top of the round shank."""
    inside, width = 1.5, 0.4
    edge = half_chord(KEYWAY_HALF_WIDTH)  # as high as far out: the bar is round
    z = edge - (inside + width - 0.1)
    y = KEYWAY_HALF_WIDTH - inside
    near, far = KEYWAY_MIDDLE + 4.0, KEYWAY_MIDDLE - 4.0
    return [
        rapid(near, 0.0, CLEAR),
        rapid(near, 0.0, BAR / 2 + 1.0),
        cut(near, 0.0, z, PLUNGE_FEED),
        cut(near, y, z, EDGE_FEED),
        cut(far, y, z),
        cut(far, -y, z),
        cut(near, -y, z),
        cut(near, 0.0, z),
        rapid(near, 0.0, CLEAR),
    ]


def locating_flat() -> list[Move]:
    """One flat across the shank, 14 wide and 2.5 deep: two strokes across the bar, in and out beside it."""
    beside = half_chord(LOCATING_FLAT) + 7.0  # 2 mm clear of the bar with a 10 mm tool
    moves: list[Move] = []
    for x in (-60.0, -64.0):
        moves += [rapid(x, -beside, CLEAR), rapid(x, -beside, LOCATING_FLAT), cut(x, beside, LOCATING_FLAT, FINISH_FEED)]
        moves.append(rapid(x, beside, CLEAR))
    return moves


def operation(name: str, tool: int, n: int, rotary: dict[str, Any], moves: list[Move]) -> dict[str, Any]:
    head = {"name": name, "tool": tool, "spindle": clockwise(n), "coolant": "flood"}
    return head | {"rotary": rotary, "moves": moves}


def indexed(angles: list[int]) -> dict[str, Any]:
    return {"intent": "indexed", "angles": angles}


def toolpath() -> dict[str, Any]:
    still = {"intent": "still"}
    over_flat = FLAT + 3.0
    spot_feed, drill_feed = PLUNGE_FEED, feed_mm_per_min(N_33, 2, 0.03)
    spots = drilled(HOLES, cycle="dwell-drill", retract=over_flat, bottom=FLAT - 2.3, dwell=0.2, feed=spot_feed)
    holes = drilled(HOLES, cycle="peck", retract=over_flat, bottom=FLAT - 9.0, peck=2.5, feed=drill_feed)
    threads = drilled(HOLES, cycle="tap", retract=over_flat, bottom=FLAT - 6.5, pitch=TAP_LEAD, feed=TAP_RPM * TAP_LEAD)
    dimple = [(-75.0, 0.0)]
    dimples = drilled(dimple, cycle="dwell-drill", retract=BAR / 2 + 2.0, bottom=BAR / 2 - 1.0, dwell=0.2, feed=spot_feed)
    in_pocket = POCKET_FLOOR + 2.0
    middle = [(MIDDLE, 0.0)]
    starts = drilled(middle, cycle="dwell-drill", retract=in_pocket, bottom=POCKET_FLOOR - 1.5, dwell=0.2, feed=spot_feed)
    port_feed = feed_mm_per_min(N_5, 2, 0.04)
    ports = drilled(middle, cycle="peck", retract=in_pocket, bottom=-1.5, peck=4.0, feed=port_feed)
    return {
        "name": "distributor",
        "axis": "X",
        "centre": [0, 0, 0],
        "stock": {"shape": "round", "diameter": BAR, "from": -120, "to": 0, "held": {"at": "from", "length": 40}},
        "tools": TOOLS,
        "operations": [
            operation("five flats, rough", MILL_10, N_10, indexed(FIVE), rough_flat()),
            operation("five flats, finish", MILL_10, N_10, indexed(FIVE), finish_flat()),
            operation("locating flat", MILL_10, N_10, indexed([LOCATING_ANGLE]), locating_flat()),
            operation("pockets on three flats", MILL_6, N_6, indexed(PORTS), pocket()),
            operation("curved slots on the others", MILL_6, N_6, indexed(SLOTS), curved_slot()),
            operation("keyway in the shank", MILL_6, N_6, still, keyway()),
            operation("keyway edges", CHAMFER, N_CHAMFER, still, chamfer_keyway()),
            operation("hole centres", CHAMFER, N_CHAMFER, indexed(FIVE), spots),
            operation("pocket edges", CHAMFER, N_CHAMFER, indexed(PORTS), break_pocket_edge()),
            operation("port centres", CHAMFER, N_CHAMFER, indexed(PORTS), starts),
            operation("dimples", CHAMFER, N_CHAMFER, indexed(DIMPLE_ANGLES), dimples),
            operation("holes for M4", DRILL_33, N_33, indexed(FIVE), holes),
            operation("M4 threads", TAP, TAP_RPM, indexed(FIVE), threads),
            operation("ports that meet on the axis", DRILL_5, N_5, indexed(PORTS), ports),
        ],
    }


if __name__ == "__main__":
    for path in write_both(Path(__file__).parent, toolpath()):
        print(path.name)
