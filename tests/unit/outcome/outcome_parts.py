"""Small parts without symmetry, right and wrong for the job; for the tests of the outcome."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from steadyrest.posting import post_to_memory
from steadyrest.request import Request
from steadyrest.summary import Posted

MILL = {"number": 1, "name": "6 mm end mill", "shape": "flat", "diameter": 6, "cutting_length": 10, "length": 30}
BAR = {"shape": "round", "diameter": 40, "from": -60, "to": 0, "held": {"at": "from", "length": 15}}
FLAT = [{"rapid": [5, 3, 30]}, {"rapid": [5, 3, 17]}, {"cut": [-20, 3, 17], "feed": 600}, {"rapid": [-20, 3, 30]}]
CLAMPED = ("rotary.A.clamp.use=indexing", "rotary.A.clamp.on=M10", "rotary.A.clamp.off=M11", 'codes.trusted=["M10","M11"]')


def operation(moves: list[dict[str, Any]], rotary: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """One operation with the end mill, indexed at 90 degrees unless said."""
    spindle = {"rpm": 6000, "turns": "clockwise"}
    said = rotary or {"intent": "indexed", "angles": [90]}
    return {"name": "slot", "tool": 1, "spindle": spindle, "rotary": said, "moves": moves, **more}


def part(*operations: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A toolpath of these operations on a 40 mm bar that sticks out by 45 mm."""
    whole = {"steadyrest_toolpath": 1, "name": "peg", "units": "mm", "stock": BAR, "tools": [MILL], "operations": list(operations)}
    return {key: value for key, value in (whole | more).items() if value is not None}


def written(folder: Path, data: dict[str, Any], name: str = "peg") -> Path:
    """The toolpath as a file."""
    path = folder / f"{name}.toolpath.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def judged(folder: Path, data: dict[str, Any], *sets: str, controller: str = "rs274ngc", **more: Any) -> Posted:
    """The part posted to memory and judged."""
    posted, _ = post_to_memory(Request(written(folder, data), controller, sets=sets, **more))
    return posted


def names(posted: Posted) -> list[tuple[str, str]]:
    """Name and weight of each finding, in order."""
    return [(one.name, one.weight) for one in posted.outcome.findings]
