"""Small toolpaths, profiles and hand-written programs for the tests of the proof."""

from __future__ import annotations

import math
from typing import Any

from steadyrest.profile import Profile
from steadyrest.proof import Difference, Verdict, prove
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


ONTO = [{"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}, {"rapid": [-50, 0, 30]}]
"""The first move is a cut: the tool comes down from the clear height onto its start, at its feed."""


HEAD_OF_IT = "G0 A0\nX-10 Y0\nZ30\n"


def rule_of(text: str, moves: list[dict[str, object]], intent: dict[str, object] | None = None, **settings: object) -> str:
    """The rule that a program breaks; empty where it is proved."""
    failure = proof_of(text, toolpath(moves, intent), profile(**settings)).failure
    return failure.rule if failure is not None else ""


WRAPPED = {"intent": "wrapped", "diameter": 40}


STEPS = 12


def wave(sign: float = 1, scale: float = 1, dy: float = 0, dz: float = 0, turns: float = 0, feed: str = "G93 F{f}") -> str:
    """A wrapped wave on a cylinder of 40, written by hand for a rotary in the sense of ISO 841 (from memory): A = -(180 / pi) s / r."""
    words = []
    for k in range(1, STEPS + 1):
        along, developed, height = point(k)
        length = math.dist(point(k - 1), (along, developed, height))
        a = sign * -math.degrees(developed / 20) + turns
        f = feed.format(f=round(600 / length, 3))
        words.append(f"{f} X{along * scale:.4f} Y{dy:.4f} Z{(20 + height) * scale + dz:.4f} A{a:.4f}")
    start = f"G0 A{turns}\nX{-10 * scale:.4f} Y{dy}\nZ{30 * scale + dz:.4f}\nG94 G1 Z{20 * scale + dz:.4f} F200\n"
    return HEAD + start + "\n".join(words) + "\nG94\n" + TAIL


def point(k: int) -> tuple[float, float, float]:
    return -10 - 3.0 * k, 7 * math.sin(k) + 2 * k, 0.0


def verdict_of(text: str, controller: Profile | None = None) -> Verdict:
    moves = [
        {"rapid": [-10, 0, 10]},
        {"cut": [-10, 0, 0], "feed": 200},
        *({"cut": list(point(k)), "feed": 600} for k in range(1, STEPS + 1)),
    ]
    part = toolpath(moves, {"intent": "wrapped", "diameter": 40})
    exact = profile(numbers={"length": {"decimals": 4}, "angle": {"decimals": 4}})
    return prove(text.encode(), part, controller or exact)


MOVES: list[dict[str, Any]] = [
    {"rapid": [-10, 5, 30]},
    {"rapid": [-10, 5, 22]},
    {"cut": [-10, 5, 18], "feed": 200},
    {"cut": [-50, 5, 18], "feed": 600},
    {"arc": [-50, -5, 18], "centre": [-50, 0, 18], "turns": "counterclockwise"},
    {"rapid": [-50, -5, 30]},
]
TEXT = "G0 A0\nX-10 Y5\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\nG3 Y-5 J-5\nG0 Z30\n"


def difference_of(text: str, moves: list[dict[str, Any]], intent: dict[str, Any] | None = None, **settings: Any) -> Difference:
    failure = proof_of(text, toolpath(moves, intent), profile(**settings)).failure
    assert failure is not None
    assert failure.difference is not None
    return failure.difference
