"""Faults of which the tour has no place: programs by hand, and programs that no reader would hand on."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, radians, sin
from typing import Any

from faults_on_chains import FAULTS_ON_CHAINS

from steadyrest.profile import Profile
from steadyrest.proof import Verdict, prove
from steadyrest.reading import EventRead, ProgramItem, read_program
from steadyrest.toolpath import Toolpath, parse_toolpath

HEAD = "G17 G40 G49 G80\nG21 G90 G94\nG54\nG53 G0 Z0\nT1 M6\nG43 H1\nS1000 M3\nG0 Z50\nA0\nX-10 Y0\n"
TAIL = "G94\nG0 Z50\nM5\nM30\n"


def _profile(**rotary: Any) -> Profile:
    return Profile.model_validate(
        {
            "name": "hand",
            "speaks": "the language of NISTIR 6556, written by hand",
            "program": {"start_mark": "", "end_mark": ""},
            "feed": {"inverse_code": "G93", "rotary": "inverse", "combined": "inverse"},
            "rotary": {"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **rotary}},
        }
    )


def _toolpath(rotary: dict[str, Any], *moves: dict[str, Any]) -> Toolpath:
    operation = {"tool": 1, "spindle": {"rpm": 1000, "turns": "clockwise"}, "rotary": rotary, "moves": list(moves)}
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 40, "from": -100, "to": 0},
            "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
            "operations": [operation],
        }
    )


def _items(part: Toolpath, body: str, *, without_end: bool = False, twice: bool = False) -> Verdict:
    items: list[ProgramItem] = list(read_program((HEAD + body + TAIL).encode(), _profile()))
    end = [item for item in items if isinstance(item, EventRead) and item.kind == "program_end"]
    kept = [item for item in items if item not in end] if without_end else items
    return prove(iter([*kept, *(end if twice else [])]), part, _profile())


_LINE = _toolpath({"intent": "still"}, {"rapid": [-10, 0, 50]}, {"cut": [-10, 0, 18], "feed": 200})
_LINE_TEXT = "G1 Z18 F200\n"


def _tool_axis() -> Verdict:
    """The tip stays on the axis of rotation, so that only the tool axis tells how far the part is turned."""
    along = {"cut": [-10, 0, 0], "tool_axis": [0, 0, 1], "feed": 100}, {"cut": [-20, 0, 0], "tool_axis": [0, -0.5, 0.8660254]}
    part = _toolpath({"intent": "simultaneous"}, {"rapid": [-10, 0, 50], "tool_axis": [0, 0, 1]}, *along)
    return prove((HEAD + "G1 Z0 F100\nG93 X-20 A30.035 F10\n" + TAIL).encode(), part, _profile())


def _rotary_speed() -> Verdict:
    """A tip at a radius of 5 at 600 mm per minute: the rotary would turn 6875 degrees per minute."""
    part = _toolpath(
        {"intent": "wrapped", "diameter": 40, "z_from": "axis"},
        {"rapid": [-10, 0, 50]},
        {"cut": [-10, 0, 5], "feed": 200},
        {"cut": [-10, -62.8319, 5], "feed": 600},
    )
    return prove((HEAD + "G1 Z5 F200\nG93 A180 F38.197\n" + TAIL).encode(), part, _profile(fastest=3600))


def _turn_in_cut() -> Verdict:
    part = _toolpath(
        {"intent": "wrapped", "diameter": 40, "z_from": "axis"},
        {"rapid": [-10, 0, 50]},
        {"cut": [-10, 0, 15], "feed": 200},
        {"cut": [-10, -62.8319, 15], "feed": 600},
    )
    return prove((HEAD + "G1 Z15 F200\nG93 A180 F12.7324\n" + TAIL).encode(), part, _profile(turns_while_cutting=False))


def _feed_from_above() -> Verdict:
    hole = {"hole": [-10, 0], "retract": 22, "bottom": 10, "feed": 100, "cycle": "peck", "peck": 5}
    part = _toolpath({"intent": "still"}, {"rapid": [-10, 0, 50]}, hole)
    return prove((HEAD + "Z22\nG1 Z17 F100\nG0 Z30\nG1 Z12\nG0 Z22\n" + TAIL).encode(), part, _profile())


def _feed_to_unknown_height() -> Verdict:
    """In the hole the tool feeds to a place in the machine's own coordinates: where that is in the part nobody knows."""
    hole = {"hole": [-10, 0], "retract": 22, "bottom": 10, "feed": 100}
    part = _toolpath({"intent": "still"}, {"rapid": [-10, 0, 50]}, hole)
    return prove((HEAD + "Z22\nG1 Z17 F100\nG53 G1 Z0\nG0 Z22\n" + TAIL).encode(), part, _profile())


def _another_tool() -> Verdict:
    """The tool of another operation, with its own length."""
    data = _LINE.model_dump(mode="json", by_alias=True, exclude_none=True, exclude={"digest", "file"})
    data["tools"].append({"number": 2, "shape": "flat", "diameter": 6})
    data["operations"].append({**data["operations"][0], "tool": 2})
    text = (HEAD + _LINE_TEXT + TAIL).replace("T1", "T2").replace("H1", "H2")
    return prove(text.encode(), parse_toolpath(data), _profile())


def _plunge_at_rapid() -> Verdict:
    part = _toolpath({"intent": "still"}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-20, 0, 18]})
    return prove((HEAD + "G0 Z18\nG1 X-20 F200\n" + TAIL).encode(), part, _profile())


def back_from_another_side(turn: float = 30.0) -> Verdict:
    """The tool leaves its cut and comes down to it again with the part turned: the tip is right, and its edge goes into the part."""
    part = _toolpath(
        {"intent": "simultaneous"},
        {"rapid": [-10, 0, 50], "tool_axis": [0, 0, 1]},
        {"cut": [-10, 0, 18], "feed": 200},
        {"cut": [-20, 0, 18]},
        {"cut": [-30, 0, 18]},
    )
    y, z = 18 * sin(radians(turn)), 18 * cos(radians(turn))
    there = f"G0 Z50\nA{turn:g}\nY{y:.4f}\nZ30\nG1 Z{z:.4f} F200\n"
    back = "G0 Z50\nA0\nY0\nZ30\nG1 Z18 F200\n"
    return prove((HEAD + f"G1 Z18 F200\nX-20\n{there}{back}X-30\n" + TAIL).encode(), part, _profile())


def over_what_was_low_before_the_part_turned(way: str = "X-30\nZ12\nX-40\n") -> Verdict:
    """The toolpath's own rapid turns the part. The program turns it high up, and goes low down through what stands there now."""
    part = _toolpath(
        {"intent": "simultaneous"},
        {"rapid": [-10, 0, 50], "tool_axis": [0, 0, 1]},
        {"cut": [-10, 0, 12], "feed": 200},
        {"cut": [-20, 0, 12]},
        {"rapid": [-40, 12, 0], "tool_axis": [0, 1, 0]},
        {"cut": [-45, 12, 0]},
    )
    return prove((HEAD + f"G1 Z12 F200\nX-20\nG0 Z50\nA-90\n{way}G1 X-45 F200\n" + TAIL).encode(), part, _profile())


BY_HAND: dict[str, Callable[[], Verdict]] = {
    "lines": FAULTS_ON_CHAINS["another line in the head"][1],
    "tool-axis": _tool_axis,
    "rotary-speed": _rotary_speed,
    "turn-in-cut": _turn_in_cut,
    "hole-above": _feed_from_above,
    "unknown-place": _feed_to_unknown_height,
    "tool": _another_tool,
    "rapid-plunge": _plunge_at_rapid,
    "cut-elsewhere": back_from_another_side,
    "rapid-low": over_what_was_low_before_the_part_turned,
    "no-end": lambda: _items(_LINE, _LINE_TEXT, without_end=True),
    "after-end": lambda: _items(_LINE, _LINE_TEXT, twice=True),
}
"""Name of the rule to the verdict on a program that breaks it."""
