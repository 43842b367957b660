"""Small parts and programs to look at; for the tests of the report."""

from __future__ import annotations

import base64
import zlib
from typing import Any

import numpy as np

from steadyrest.posting import begin
from steadyrest.profile import load_profile, resolve
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.viewer import Looked, look

CELLS = (64, 128)
BAR = {"shape": "round", "diameter": 40, "from": -60, "to": 0}
MILL = {"number": 1, "name": "6 mm end mill", "shape": "flat", "diameter": 6}
BALL = {"number": 2, "name": "3 mm ball", "shape": "ball", "diameter": 3}
CLOCKWISE = {"rpm": 6000, "turns": "clockwise"}

FLATS: dict[str, Any] = {
    "name": "two flats",
    "tool": 1,
    "spindle": CLOCKWISE,
    "rotary": {"intent": "indexed", "angles": [0, 90]},
    "moves": [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 18]}, {"cut": [-20, 0, 18], "feed": 600}, {"dwell": 3}, {"rapid": [-20, 0, 30]}],
}
LETTER: dict[str, Any] = {
    "name": "letter",
    "tool": 2,
    "spindle": CLOCKWISE,
    "rotary": {"intent": "wrapped", "diameter": 40},
    # An F: stem from below upwards, long arm at the top, short arm in the middle.
    "moves": [
        {"rapid": [-50, -6, 5]},
        {"cut": [-50, -6, -1], "feed": 200},
        {"cut": [-50, 6, -1], "feed": 400},
        {"cut": [-42, 6, -1]},
        {"rapid": [-42, 6, 5]},
        {"rapid": [-50, 0, 5]},
        {"cut": [-50, 0, -1], "feed": 200},
        {"cut": [-45, 0, -1], "feed": 400},
        {"rapid": [-45, 0, 5]},
    ],
}

C_ON_A = (
    'chain="part C A bed spindle"',
    'rotary.C={along="Z", chuck_faces="+Z", positive_turns_chuck="clockwise"}',
    "rotary.A.point=[0, 1, 9]",
)
"""Settings that make a tilting table with another one on it of the profile of one rotary along X."""


def over_the_pole(beside: float) -> dict[str, Any]:
    """A cut on top of the bar on which the tool leans by 12 degrees to +Y, then to -Y, and on the way by so many degrees to +X."""
    lean = np.radians(np.linspace(12, -12, 25))
    axes = np.column_stack([np.full(25, np.tan(np.radians(beside))), np.tan(lean), np.ones(25)])
    axes /= np.linalg.norm(axes, axis=1)[:, None]
    moves: list[dict[str, Any]] = [{"cut": [-40 + k, 0, 20], "tool_axis": axis, "feed": 500} for k, axis in enumerate(axes.tolist())]
    return {"name": "over the pole", "tool": 2, "spindle": CLOCKWISE, "rotary": {"intent": "simultaneous"}, "moves": moves}


CONTROLLERS = {"X": "rs274ngc", "Y": "rs274ngc-b", "Z": "upright-c"}
ALL_MOUNTINGS = [(axis, face, turns) for axis in "XYZ" for face in ("+", "-") for turns in ("clockwise", "counterclockwise")]
"""Axis of rotation, sign of the direction in which the chuck faces, sense of a positive command."""


def mounted(axis: str, face: str, turns: str) -> tuple[str, ...]:
    """The settings of a mounting, for CONTROLLERS[axis]."""
    letter = {"X": "A", "Y": "B", "Z": "C"}[axis]
    return f"rotary.{letter}.chuck_faces={face}{axis}", f"rotary.{letter}.positive_turns_chuck={turns}"


def slot_and_letter(axis: str) -> Toolpath:
    """No two places alike: one slot at 90 degrees from the + end, and an F, 200 degrees round (Z: beside the slot, on the end)."""

    def place(right: float, up: float, z: float) -> list[float]:
        """A point of the flat drawing of the letter, which stands at its lower left."""
        return {"X": [right - 50, up - 6, z], "Y": [right - 4, up - 36, z], "Z": [right - 4, up - 6, z]}[axis]

    strokes = [(0, 0), (0, 12), (8, 12)], [(0, 6), (5, 6)]
    letter: list[dict[str, Any]] = []
    for stroke in strokes:
        letter += [{"rapid": place(*stroke[0], 5)}, *({"cut": place(*point, -1), "feed": 300} for point in (stroke[0], *stroke[1:]))]
        letter.append({"rapid": place(*stroke[-1], 5)})
    along = {"X": lambda x, z: [x, 0, z], "Y": lambda x, z: [0, x, z], "Z": lambda x, z: [x + 30, 0, z - 20]}[axis]
    slot = [{"rapid": along(5, 30)}, {"rapid": along(5, 18)}, {"cut": along(-20, 18), "feed": 600}, {"rapid": along(-20, 30)}]
    wrapped = {"intent": "wrapped", "diameter": 40, "start_angle": 200} if axis != "Z" else {"intent": "still"}
    return part(
        FLATS | {"name": "one slot", "rotary": {"intent": "indexed", "angles": [90]}, "moves": slot},
        LETTER | {"rotary": wrapped, "moves": letter},
        axis=axis,
        name=f"slot and letter about {axis}",
    )


def three_sides(axis: str) -> Toolpath:
    """A slot at 90 degrees in the upright side, a pocket in a plane that leans, and an F on the end: no two places alike."""

    def cut(name: str, tool: int, origin: list[float], z: list[float], *strokes: list[tuple[float, float]]) -> dict[str, Any]:
        moves: list[dict[str, Any]] = []
        for stroke in strokes:
            moves += [{"rapid": [*stroke[0], 10]}, *({"cut": [*point, -4 if tool == 1 else -1], "feed": 400} for point in stroke)]
            moves.append({"rapid": [*stroke[-1], 10]})
        rotary = {"intent": "indexed", "planes": [{"origin": origin, "z": z}]}
        return {"name": name, "tool": tool, "spindle": CLOCKWISE, "rotary": rotary, "moves": moves}

    turn = {"Z": lambda x, y, z: [x, y, z], "X": lambda x, y, z: [z, x, y]}[axis]
    return part(
        cut("slot", 1, turn(20, 0, 15), turn(1, 0, 0), [(-8, 0), (8, 2)]),
        cut("pocket", 1, turn(-10, 10, 24), turn(-1, 1, 1), [(-4, 0), (4, 0), (4, 3), (-4, 3)]),
        cut("letter", 2, turn(4, -8, 30), turn(0, 0, 1), [(0, 0), (0, 10), (6, 10)], [(0, 5), (4, 5)]),
        axis=axis,
        stock={"shape": "round", "diameter": 40, "from": 0, "to": 30},
    )


def part(*operations: dict[str, Any], **more: Any) -> Toolpath:
    """A bar with these operations, by default two flats and a letter."""
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "name": "small bar",
        "units": "mm",
        "stock": BAR,
        "tools": [MILL, BALL],
        "operations": list(operations or (FLATS, LETTER)),
    }
    return parse_toolpath(data | more)


def program_of(toolpath: Toolpath, *sets: str, controller: str = "rs274ngc") -> bytes:
    """Its program, unproved."""
    return b"".join(begin(toolpath, resolve(controller, sets)))


def looked(toolpath: Toolpath | None = None, text: bytes | None = None, *sets: str, controller: str = "rs274ngc", **options: Any) -> Looked:
    """A program of the toolpath, or this one, looked at with a coarse field."""
    toolpath = toolpath or part()
    if text is None:
        text = program_of(toolpath, *sets, controller=controller)
    return look(text, "small.nc", toolpath, load_profile(controller, sets), **{"cells": CELLS, **options})


def unpacked(head: dict[str, Any], body: str) -> dict[str, np.ndarray]:
    """What the page's own script does, in numpy."""
    data = np.frombuffer(zlib.decompress(base64.b64decode(body)), dtype=np.uint8)
    columns = {}
    for name, one in head["arrays"].items():
        form = np.dtype("<" + one["form"])
        bytes_of = data[one["at"] : one["at"] + one["count"] * form.itemsize].reshape(form.itemsize, -1)
        raw = np.ascontiguousarray(bytes_of.T).view(form).ravel()
        if one["order"]:
            whole = raw.astype(np.int64) % 2 ** (8 * form.itemsize)
            raw = np.where(whole % 2, -(whole + 1) // 2, whole // 2).astype(form)
        for _ in range(one["order"]):
            raw = np.cumsum(raw, dtype=raw.dtype)
        columns[name] = raw if one["step"] == 1 else raw * one["step"]
    return columns


def put_together(facts: dict[str, Any], columns: dict[str, np.ndarray]) -> bytes:
    """The listing, as the page's own script puts it together."""
    forms, taken = (
        columns["forms"].tobytes().split(b"\n"),
        {letter: iter(columns[f"word_{letter}"].tolist()) for letter in facts["written"]},
    )

    def number(letter: str) -> str:
        most, least, point, zero = facts["written"][letter]
        count = next(taken[letter])
        whole, _, part = f"{abs(count) / 10**most:.{most}f}".partition(".")
        while len(part) > least and part.endswith("0"):
            part = part[:-1]
        whole = "" if whole == "0" and not zero and part else whole
        return "-" * (count < 0) + whole + ("." if part or point else "") + part

    lines = []
    for form in columns["lines"]:
        first, *rest = forms[form].decode("latin-1").split("\0") if facts["written"] else [forms[form].decode("latin-1")]
        for piece in rest:
            first += number(first[-1]) + piece
        lines.append(first)
    return "\n".join(lines).encode("latin-1")


def shank_in_stock() -> Toolpath:
    """A slot in six blocks, twice as deep as the edges of its mill are long: its shank goes into the stock along all of them."""
    cuts = [{"cut": [x, 0, 18], "feed": 600} for x in (-4, -8, -12, -16, -20)]
    moves = [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 18]}, *cuts, {"rapid": [-20, 0, 30]}]
    return part(
        FLATS | {"rotary": {"intent": "indexed", "angles": [0]}, "moves": moves}, tools=[MILL | {"cutting_length": 1, "length": 30}]
    )
