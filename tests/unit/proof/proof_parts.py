"""Small toolpaths, profiles and hand-written programs for the tests of the proof."""

from __future__ import annotations

from typing import Any

from steadyrest.profile import Profile
from steadyrest.proof import Verdict, prove
from steadyrest.toolpath import Toolpath, parse_toolpath

HEAD = "G17 G40 G49 G80\nG21 G90 G94\nG54\nG53 G0 Z0\nT1 M6\nG0 G43 H1 Z50\nG53 G0 Z0 S1000 M3\n"
TAIL = "G53 G0 Z0\nM5\nM9\nM30\n"


def profile(**groups: Any) -> Profile:
    """NIST's language with a rotary along X in the sense of ISO 841; groups of settings laid over it."""
    base: dict[str, Any] = {
        "name": "hand",
        "speaks": "the language of NISTIR 6556, written by hand",
        "program": {"start_mark": "", "end_mark": ""},
        "feed": {"inverse_code": "G93", "rotary": "inverse", "combined": "inverse"},
        "rotary": {"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise"}},
    }
    for group, settings in groups.items():
        base[group] = {**base.get(group, {}), **settings} if isinstance(settings, dict) and group != "rotary" else settings
    return Profile.model_validate(base)


def toolpath(moves: list[dict[str, Any]], rotary: dict[str, Any] | None = None, **more: Any) -> Toolpath:
    """One operation with tool 1 on a round bar of 40, 100 long."""
    operation = {
        "tool": 1,
        "spindle": {"rpm": 1000, "turns": "clockwise"},
        "rotary": rotary or {"intent": "still"},
        "moves": moves,
        **more.pop("operation", {}),
    }
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -100, "to": 0},
        "tools": [{"number": 1, "shape": "flat", "diameter": 6}, {"number": 2, "shape": "drill", "diameter": 5, "point_angle": 118}],
        "operations": [operation],
        **more,
    }
    return parse_toolpath(data)


def proof_of(body: str, part: Toolpath, controller: Profile | None = None, **options: Any) -> Verdict:
    """The verdict on a program of the usual head and tail around `body`."""
    return prove((HEAD + body + TAIL).encode(), part, controller or profile(), **options)
