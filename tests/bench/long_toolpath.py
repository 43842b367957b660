"""A simultaneous toolpath of any length: a lobed spiral round a bar, in table blocks. Run: long_toolpath.py MOVES FILE [BLOCK]."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

HEAD = {
    "steadyrest_toolpath": 1,
    "name": "long spiral",
    "units": "mm",
    "axis": "X",
    "stock": {"shape": "round", "diameter": 60, "from": -500, "to": 0},
    "tools": [{"number": 3, "name": "6 mm ball", "shape": "ball", "diameter": 6}],
    "operations": [
        {
            "name": "spiral",
            "tool": 3,
            "spindle": {"rpm": 8000, "turns": "clockwise"},
            "coolant": "flood",
            "rotary": {"intent": "simultaneous"},
            "table": "@",
        }
    ],
}


def write_long_toolpath(moves: int, path: Path, block: int = 50_000) -> None:
    """Write it, block by block; the first move is a rapid, all others cut."""
    before, after = json.dumps(HEAD).split('"@"')
    with path.open("w", encoding="utf-8") as file:
        file.write(before + "[")
        for start in range(0, moves, block):
            k = np.arange(start, min(moves, start + block))
            turn = k * 0.02
            lean = turn + 0.1 * np.sin(3 * turn)
            # The first point is the rapid's, clear of the bar.
            radius = 15.0 * (k == 0) + 25 + 2 * np.cos(3 * turn) + 0.3 * np.sin(0.001 * k)
            columns = {
                "motion": (k > 0).astype(int).tolist(),
                "x": np.round(-400.0 * k / moves, 4).tolist(),
                "y": np.round(-np.sin(lean) * radius + 0.2 * np.sin(0.1 * k), 4).tolist(),
                "z": np.round(np.cos(lean) * radius, 4).tolist(),
                "i": [0] * len(k),
                "j": np.round(-np.sin(lean), 7).tolist(),
                "k": np.round(np.cos(lean), 7).tolist(),
                "feed": [900] * len(k),
            }
            file.write(("," if start else "") + json.dumps(columns))
        file.write("]" + after)


if __name__ == "__main__":
    write_long_toolpath(int(float(sys.argv[1])), Path(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 50_000)
