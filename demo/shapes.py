"""What do the demo parts share? Cutting data, the spelling of moves, and one file each in mm and in inch."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

Point = tuple[float, float, float]
Move = dict[str, Any]

MM_PER_INCH = 25.4  # exact since the agreement of 1959
DECIMALS = {
    "mm": {"length": 4, "feed": 1, "other": 5, "direction": 9},
    "inch": {"length": 5, "feed": 2, "other": 5, "direction": 9},  # 0.00001 inch is 0.00025 mm
}
LENGTHS = {"rapid", "cut", "arc", "centre", "hole", "retract", "bottom", "peck", "pitch", "x", "y", "z", "diameter"}
LENGTHS |= {"cutting_length", "length", "corner_radius", "tip_diameter", "from", "to", "across", "offset"}
KINDS = {"feed": "feed"} | dict.fromkeys(LENGTHS, "length")
IN_A_PLANE = {"origin": "length", "x": "direction", "z": "direction"}
HIGHEST_RPM = 8000.0  # an ordinary shop spindle


def rpm(cutting_speed_m_per_min: float, diameter_mm: float) -> int:
    """Spindle speed n = 1000 Vc / (pi D) (common practice), down to a whole 50, no more than the spindle has."""
    n = min(1000.0 * cutting_speed_m_per_min / (math.pi * diameter_mm), HIGHEST_RPM)
    return int(n // 50) * 50


def feed_mm_per_min(n: float, teeth: int, feed_per_tooth_mm: float) -> int:
    """Feed f = n z fz (common practice), down to a whole 10."""
    return int(n * teeth * feed_per_tooth_mm // 10) * 10


def clockwise(n: int) -> dict[str, Any]:
    return {"rpm": n, "turns": "clockwise"}


def rapid(x: float, y: float, z: float) -> Move:
    return {"rapid": [x, y, z]}


def cut(x: float, y: float, z: float, feed: float | None = None) -> Move:
    return {"cut": [x, y, z]} | ({} if feed is None else {"feed": feed})


def arc(end: Point, centre: Point, turns: str, feed: float | None = None) -> Move:
    """An arc in XY, helical where the end is lower or higher than the start; `centre` at the height of the end."""
    return {"arc": list(end), "centre": list(centre), "turns": turns} | ({} if feed is None else {"feed": feed})


def rounded_rectangle(cx: float, cy: float, half_x: float, half_y: float, radius: float, z: float) -> list[Move]:
    """Once round, counterclockwise, from the middle of the lower side to the same place, at height z.

    Sides of no length (a radius as large as a half size) are left out.
    """
    inner_x, inner_y = half_x - radius, half_y - radius
    left, right, low, high = cx - half_x, cx + half_x, cy - half_y, cy + half_y
    corners = [
        ((cx + inner_x, low), (right, cy - inner_y), (cx + inner_x, cy - inner_y)),
        ((right, cy + inner_y), (cx + inner_x, high), (cx + inner_x, cy + inner_y)),
        ((cx - inner_x, high), (left, cy + inner_y), (cx - inner_x, cy + inner_y)),
        ((left, cy - inner_y), (cx - inner_x, low), (cx - inner_x, cy - inner_y)),
    ]
    here = (cx, low)
    moves = []
    for start, end, centre in corners:
        if start != here:
            moves.append(cut(*start, z))
        moves.append(arc((*end, z), (*centre, z), "counterclockwise"))
        here = end
    if here != (cx, low):
        moves.append(cut(cx, low, z))
    return moves


def in_units(value: Any, units: str, kind: str = "other") -> Any:
    """The same value with lengths and feeds in `units`, every number rounded; 3.0 becomes 3, no zero is negative."""
    if isinstance(value, dict):
        kinds = IN_A_PLANE if kind == "planes" else KINDS | {"planes": "planes"}
        return {key: in_units(part, units, kinds.get(key, "other")) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [in_units(part, units, kind) for part in value]
    if isinstance(value, bool | str):
        return value
    per_mm = 1 / MM_PER_INCH if units == "inch" and kind in ("length", "feed") else 1.0
    number = round(float(value) * per_mm, DECIMALS[units][kind])
    return int(number) if number == int(number) else number


def json_lines(value: Any, indent: str = "", room: int = 160) -> Iterator[str]:
    """JSON that a person can read: what fits on a line stays on one, and so does every column of numbers."""
    whole = json.dumps(value, separators=(", ", ": "), ensure_ascii=False)
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    if len(indent) + len(whole) <= room or not any(isinstance(part, dict | list | str) for part in parts):
        numbers_only = isinstance(value, list) and len(whole) > room
        yield json.dumps(value, separators=(",", ":")) if numbers_only else whole
        return
    named = [(f"{json.dumps(key)}: ", part) for key, part in value.items()] if isinstance(value, dict) else None
    yield "{" if named is not None else "["
    inner = indent + "  "
    items = named if named is not None else [("", part) for part in value]
    for number, (name, part) in enumerate(items, 1):
        lines = list(json_lines(part, inner, room))
        lines[-1] += "," if number < len(items) else ""
        yield f"{inner}{name}{lines[0]}"
        yield from lines[1:]
    yield indent + ("}" if named is not None else "]")


def write_both(folder: Path, toolpath: dict[str, Any]) -> list[Path]:
    """Write FOLDER/NAME.toolpath.json in mm and NAME-inch.toolpath.json, the same part converted exactly.

    toolpath  in mm, without its `units`; NAME is the folder's name
    """
    written = []
    for units, suffix in (("mm", ""), ("inch", "-inch")):
        head = {"steadyrest_toolpath": 1, "name": toolpath["name"], "units": units}
        whole = in_units(head | {key: part for key, part in toolpath.items() if key != "name"}, units)
        path = folder / f"{folder.name}{suffix}.toolpath.json"
        path.write_text("\n".join(json_lines(whole)) + "\n", encoding="utf-8", newline="\n")
        written.append(path)
    return written
