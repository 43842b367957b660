"""Small toolpaths and their plans, for the tests of planning."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyrest.conventions import RAPID
from steadyrest.motion import Event, Motion, plan
from steadyrest.profile import Profile, load_profile
from steadyrest.toolpath import parse_toolpath

FLAT = [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 17]}, {"cut": [-20, 0, 17], "feed": 500}]


def toolpath(*operations: dict[str, Any], **changed: Any) -> Any:
    base = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "axis": "X",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": n, "shape": "flat", "diameter": 6} for n in (1, 2)],
        "operations": operations,
    }
    return parse_toolpath(base | changed)


def operation(rotary: dict[str, Any], moves: list[dict[str, Any]], **changed: Any) -> dict[str, Any]:
    base = {"name": "cut", "tool": 1, "spindle": {"rpm": 5000, "turns": "clockwise"}, "coolant": "off"}
    return base | {"rotary": rotary, "moves": moves} | changed


def indexed(*angles: float, moves: list[dict[str, Any]] = FLAT, **changed: Any) -> dict[str, Any]:
    return operation({"intent": "indexed", "angles": list(angles)}, moves, **changed)


def items_of(path: Any, profile: Profile | str = "rs274ngc", *sets: str, **options: Any) -> list[Any]:
    chosen = load_profile(profile, sets) if isinstance(profile, str) else profile
    return list(plan(path, chosen, **options).items)


def notices_of(path: Any, profile: str = "rs274ngc", *sets: str, **options: Any) -> list[Any]:
    planned = plan(path, load_profile(profile, sets), **options)
    for _ in planned.items:
        pass
    return planned.notices


def turns_in(items: list[Any]) -> list[float]:
    """Every angle that an index turns to."""
    return [float(run.rotary_deg[-1, 0]) for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]


def motion_in(items: list[Any]) -> list[tuple[int, float, float, float, float]]:
    """All rows in order, motion inside events too: kind, x, y, z, w; what is not commanded stays where it was."""
    stand = np.full(4, np.nan)
    rows = []
    for item in items:
        if isinstance(item, Event) and item.name == "retract" and item.facts["form"] != "height":
            stand[2] = np.inf
            rows.append((RAPID, *(float(value) for value in stand)))
        for run in [item] if isinstance(item, Motion) else item.motion:
            for row in range(len(run)):
                said = np.array([*run.xyz[row], *run.rotary_deg[row]])
                stand = np.where(np.isnan(said), stand, said)
                rows.append((int(run.kind[row]), *(float(value) for value in stand)))
    while rows and np.isinf(rows[-1][3]):
        rows.pop()
    return rows


TABLE = {
    "chain": "part C A bed spindle",
    "rotary": {
        "C": {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise"},
        "A": {
            "along": "X",
            "chuck_faces": "+X",
            "positive_turns_chuck": "clockwise",
            "point": [0, 0.12, 48],
            "travel": {"kind": "limited", "from": -120, "to": 30},
        },
    },
}
"""C carried by A."""


def table_of_two(C: dict[str, Any] | None = None, A: dict[str, Any] | None = None, **changed: Any) -> Profile:
    """C carried by A, on a machine of the tests that else speaks as rs274ngc does; facts of a rotary, or of the profile, changed."""
    rotary = {letter: TABLE["rotary"][letter] | (facts or {}) for letter, facts in (("C", C), ("A", A))}  # type: ignore[index]
    spoken = load_profile("rs274ngc").model_dump(by_alias=True)
    return Profile.model_validate(spoken | {"name": "hand", "chain": TABLE["chain"], "rotary": rotary} | changed)


def both_in(items: list[Any]) -> list[list[tuple[float, ...]]]:
    """The angles that each index goes through, of all rotaries; NaN is not commanded."""
    found = [item for item in items if isinstance(item, Event) and item.name == "index"]
    return [[tuple(w_deg) for run in item.motion for w_deg in run.rotary_deg.tolist()] for item in found]


def names_in(items: list[Any]) -> list[str]:
    return [item.name if isinstance(item, Event) else item.rule for item in items]


def turned(item: Any) -> list[float]:
    """Every angle that an index goes through."""
    if not isinstance(item, Event) or item.name != "index":
        return []
    return [float(w) for run in item.motion for w in run.rotary_deg[:, 0]]
