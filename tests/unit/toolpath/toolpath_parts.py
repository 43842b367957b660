"""Small toolpaths for the tests of this room, as the objects of their JSON."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from steadyrest.errors import ToolpathError
from steadyrest.toolpath import load_toolpath

RAPID = {"rapid": [0, 0, 30]}
CUT = {"cut": [-10, 0, 15], "feed": 300}
STILL = {"intent": "still"}
SIMULTANEOUS = {"intent": "simultaneous"}
WRAPPED = {"intent": "wrapped", "diameter": 40}


def toolpath(moves: Any = None, *, operation: dict[str, Any] | None = None, **top: Any) -> dict[str, Any]:
    """A valid toolpath of one operation 'slot', changed by what is given; a value of None takes a key out."""
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "name": "float valve",
        "units": "mm",
        "axis": "X",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": 3, "name": "6 mm end mill", "shape": "flat", "diameter": 6}],
        "operations": [
            {
                "name": "slot",
                "tool": 3,
                "spindle": {"rpm": 8000, "turns": "clockwise"},
                "coolant": "off",
                "rotary": STILL,
                "moves": copy.deepcopy(moves if moves is not None else [RAPID, CUT]),
            }
        ],
    }
    data["operations"][0].update(operation or {})
    data.update(top)
    if data["operations"]:
        data["operations"][0] = {key: value for key, value in data["operations"][0].items() if value is not None}
    return {key: value for key, value in data.items() if value is not None}


def table(n: int = 3, *, axes: bool = False, **columns: Any) -> dict[str, Any]:
    """A table of a rapid and n - 1 cuts, changed by what is given; None takes a column out."""
    found: dict[str, Any] = {
        "motion": [0] + [1] * (n - 1),
        "x": [-float(row) for row in range(n)],
        "y": [0.0] * n,
        "z": [30.0] + [15.0] * (n - 1),
        "feed": [0.0] + [300.0] * (n - 1),
    }
    if axes:
        found |= {"i": [0.0] * n, "j": [0.0] * n, "k": [1.0] * n}
    found |= columns
    return {name: column for name, column in found.items() if column is not None}


def with_table(value: Any, rotary: dict[str, Any] = STILL) -> dict[str, Any]:
    """A toolpath of one operation 'slot' with this table."""
    return toolpath(operation={"moves": None, "table": value, "rotary": rotary})


def written(folder: Path, data: Any) -> Path:
    """The file of a toolpath; text and bytes are written as they are."""
    path = folder / "part.toolpath.json"
    if isinstance(data, bytes):
        path.write_bytes(data)
    else:
        path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return path


def refusal(folder: Path, data: Any) -> ToolpathError:
    """The error of loading and streaming this toolpath."""
    try:
        for operation in load_toolpath(written(folder, data)).operations:
            for _ in operation.stream():
                pass
    except ToolpathError as error:
        return error
    raise AssertionError("this toolpath was accepted")
