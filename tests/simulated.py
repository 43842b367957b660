"""Small programs in the reference language, read back and cut on a stock; for the tests of the simulation."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyrest.profile import Profile, load_profile
from steadyrest.reading import read_program
from steadyrest.simulation import Cut, Field, Simulation
from steadyrest.toolpath import Toolpath, parse_toolpath

BAR = {"shape": "round", "diameter": 40, "from": 0, "to": 40}
END_MILL = {"number": 1, "shape": "flat", "diameter": 6}
SHAPES: dict[str, dict[str, Any]] = {
    "flat": {"shape": "flat", "diameter": 8},
    "ball": {"shape": "ball", "diameter": 8},
    "bullnose": {"shape": "bullnose", "diameter": 8, "corner_radius": 1},
    "drill": {"shape": "drill", "diameter": 8, "point_angle": 90},
    "flat drill": {"shape": "drill", "diameter": 8, "point_angle": 180},
    "chamfer": {"shape": "chamfer", "diameter": 8, "tip_diameter": 2, "included_angle": 90},
    "sharp chamfer": {"shape": "chamfer", "diameter": 8, "tip_diameter": 0, "included_angle": 60},
}


def part(tools: list[dict[str, Any]], stock: dict[str, Any] | None, **more: Any) -> Toolpath:
    """A toolpath with these tools and stock; its one operation is a formality."""
    operation = {
        "tool": tools[0]["number"],
        "spindle": {"rpm": 1000, "turns": "clockwise"},
        "rotary": {"intent": "still"},
        "moves": [{"dwell": 1}],
    }
    data = {"steadyrest_toolpath": 1, "units": "mm", "tools": tools, "operations": [operation], **more}
    return parse_toolpath(data | ({"stock": stock} if stock is not None else {"clearance": 50}))


def reference(*sets: str) -> Profile:
    """The reference profile, settings changed as `--set KEY=VALUE` would."""
    return load_profile("rs274ngc", sets)


def hidden_mm(field: Field) -> np.ndarray[Any, Any]:
    """(n, m) thickness of the voids that lie under material, 0 where there is no undercut."""
    held = np.arange(field.gaps_mm.shape[2]) < field.gaps_held[..., None]
    return np.where(held, field.gaps_mm[..., 1] - field.gaps_mm[..., 0], 0.0).sum(axis=2)


def not_held_mm3(done: Cut) -> float:
    """What is removed and drawn as if still there, because a line had no room left for its void."""
    return max(done.removed_mm3 - (done.stock_mm3 - done.field.volume_mm3()), 0.0)


def cut(
    program: str,
    *,
    tools: list[dict[str, Any]] | None = None,
    stock: dict[str, Any] | None = None,
    profile: Profile | None = None,
    toolpath: dict[str, Any] | None = None,
    **options: Any,
) -> Cut:
    """The program's lines between a retracted start with tool 1 and an end; F 100 until it says otherwise."""
    profile = profile or reference()
    text = f"G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nG43 H1\nF100\n{program}\nM2\n"
    job = part(tools or [END_MILL], stock or BAR, **(toolpath or {}))
    return Simulation(job, profile, **options).of(read_program(text.encode(), profile))
