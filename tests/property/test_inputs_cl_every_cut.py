"""Every cut of a drawn CL file, by an interpreter of its own that goes statement by statement, is in the toolpath, and no other."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import ToolpathError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.toolpath import CUT, Holes, Indexed, MoveColumns, Toolpath

CENTRE = np.array([3.0, -2.0, 5.0])
HEAD = ["UNITS/MM", "LOADTL/1", "CUTTER/6", "SPINDL/3000,CLW", "FEDRAT/500", "CLEARP/XYPLAN,80"]
UP = np.array([0.0, 0.0, 1.0])


def turn(vector: np.ndarray, degrees: float) -> np.ndarray:
    """Right-hand about +X."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([vector[0], c * vector[1] - s * vector[2], s * vector[1] + c * vector[2]])


def part_of(work: np.ndarray, alpha: float) -> np.ndarray:
    return CENTRE + turn(work - CENTRE, alpha)


def expected(lines: list[str]) -> Iterator[tuple[str, np.ndarray, np.ndarray | None]]:
    """Cuts with their start and holes, in the part frame: what the words of ISO 4343 say (design, frames and signs), from memory."""
    point: np.ndarray | None = None  # in the part frame, with MULTAX or TLAXIS; else in work coordinates
    rapid = multax = cycle = False
    alpha, in_part = 0.0, False
    for line in lines:
        word, _, rest = line.partition("/")
        numbers = [float(each) for each in rest.split(",") if each and not each[0].isalpha()]
        if word == "RAPID":
            rapid = True
        elif word in ("GOHOME", "END"):
            point, rapid = None, False
        elif word == "RETRCT":
            rapid = False
            if point is not None:
                axis = turn(UP, alpha) if in_part else UP
                rise = 80.0 - point[2]
                point = point + axis * (rise / axis[2]) if rise > 0 else point
        elif word == "CYCLE":
            cycle = "OFF" not in line
        elif word in ("MULTAX", "ROTABL"):
            if word == "MULTAX" and "ON" in line and not multax:
                point = None if point is None else part_of(point, alpha)
                multax = in_part = True
            elif word == "MULTAX" and "OFF" in line:
                multax = False
            elif word == "ROTABL":
                if in_part and point is not None:
                    point = CENTRE + turn(point - CENTRE, -numbers[0])
                alpha, in_part = numbers[0], False
        elif word == "GOTO":
            target = np.array(numbers[:3])
            if len(numbers) == 6:
                alpha = math.degrees(math.atan2(-numbers[4], numbers[5]))
            there = target if in_part else part_of(target, alpha)
            if cycle:
                yield "hole", there, None
                point = target + 2.0 * (turn(UP, alpha) if in_part else UP)
            else:
                if not rapid:
                    yield "cut", there, None if point is None else point if in_part else part_of(point, alpha)
                point = target
            rapid = False


def found(toolpath: Toolpath) -> Iterator[tuple[str, np.ndarray, np.ndarray | None]]:
    """The same of a toolpath; a first cut of an operation to where the tool stood is the way back to a cut that was broken off."""
    stood: list[np.ndarray] = []
    for operation in toolpath.operations:
        (alpha,) = operation.rotary.angles if isinstance(operation.rotary, Indexed) else (0.0,)
        at: np.ndarray | None = None
        for item in operation.stream():
            if isinstance(item, Holes):
                for hole in item:
                    yield "hole", part_of(np.array([hole.x, hole.y, hole.retract - 2.0]), alpha), None
                    at = np.array([hole.x, hole.y, hole.retract])
            elif isinstance(item, MoveColumns):
                for motion, end in zip(item.kind.tolist(), item.end, strict=True):
                    way_back = at is None and any(np.allclose(place, there) for place in stood for there in (end, part_of(end, alpha)))
                    if motion == CUT and not way_back:
                        yield "cut", part_of(end, alpha), None if at is None else part_of(at, alpha)
                    at = np.array(end)
        if at is not None:
            stood = [at, part_of(at, alpha)]


coordinates = st.integers(-400, 400).map(lambda number: number / 10)
KINDS = ("rapid", "cut", "cut", "cut", "cut", "hole", "coolant", "speed", "stop", "delay", "text", "home", "end", "up", "tool")


@st.composite
def bodies(draw: st.DrawFn) -> list[str]:
    """Statements between which a cut can get lost: what changes the frame or the settings, what goes away, what stops."""
    lines: list[str] = []
    multax, axis = False, (0.0, 1.0)
    known = False
    for kind in draw(st.lists(st.sampled_from([*KINDS, "multax", "table"]), min_size=10, max_size=25)):
        x, y, z = len(lines) + 1, draw(coordinates), draw(coordinates)  # no two places are the same
        known = kind in ("rapid", "cut", "hole") or (kind == "multax" and not multax) or (known and kind not in ("home", "end"))
        if kind == "up" and not known:
            continue
        if kind in ("rapid", "cut", "hole"):
            if multax and (kind != "cut" or draw(st.booleans())):
                degrees = draw(st.sampled_from([0.0, 30.0, 90.0])) if kind != "cut" else math.degrees(math.atan2(*axis)) % 360
                axis = (math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))
            words = f"{x},{y},{z}" + (f",0,{-axis[0]!r},{axis[1]!r}" if multax else "")
            lines += {
                "rapid": ["RAPID", f"GOTO/{words}"],
                "cut": [f"GOTO/{words}"],
                "hole": ["CYCLE/DRILL,5,PERMIN,100,2", f"GOTO/{words}", "CYCLE/OFF"],
            }[kind]
        elif kind == "multax":
            degrees = math.degrees(math.atan2(*axis))
            if multax:
                lines += ["MULTAX/OFF", f"ROTABL/ATANGL,{degrees!r}"]
            else:
                lines += ["MULTAX/ON", *([] if draw(st.booleans()) else ["RAPID"]), f"GOTO/{x},{y},{z},0,{-axis[0]!r},{axis[1]!r}"]
            multax = not multax
        elif kind == "table":
            if not multax:
                degrees = draw(st.sampled_from([0.0, 30.0, 90.0, 120.0]))
                axis = (math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))
                lines.append(f"ROTABL/ATANGL,{degrees!r}")
        else:
            lines += {
                "coolant": draw(st.sampled_from([["COOLNT/ON"], ["COOLNT/OFF"], ["COOLNT/TAPKUL"]])),
                "speed": [f"SPINDL/{draw(st.sampled_from([3000, 4000]))}"],
                "stop": ["STOP"],
                "delay": ["DELAY/1"],
                "text": ["PPRINT text"],
                "home": ["RAPID", "GOHOME"] if draw(st.booleans()) else ["GOHOME"],
                "end": ["END"],
                "up": ["RETRCT"],
                "tool": [f"LOADTL/{draw(st.sampled_from([1, 2]))},IN,3", "CUTTER/6"],
            }[kind]
    return lines


@given(bodies())
def test_every_cut_is_there_and_no_other(body: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "part.cl"
        file.write_text("\n".join([*HEAD, *body, "FINI", ""]))
        try:
            toolpath = take([Input(file=file)], PartOptions.model_validate({"clearance": 100.0, "centre": CENTRE.tolist()}))
        except ToolpathError as error:
            allowed = ("no motion in the file", "RETRCT from where", "cannot be reached along", "a hole is not possible in a simultaneous")
            if not any(each in error.wrong for each in allowed):
                raise
            return
    wanted, got = list(expected(body)), list(found(toolpath))
    assert [kind for kind, _, _ in wanted] == [kind for kind, _, _ in got]
    for (_, end, start), (_, other_end, other_start) in zip(wanted, got, strict=True):
        np.testing.assert_allclose(other_end, end, atol=1e-6)
        if start is not None and other_start is not None:
            np.testing.assert_allclose(other_start, start, atol=1e-6)


def test_the_interpreter_sees_what_is_lost() -> None:
    body = ["RAPID", "GOTO/0,0,50", "GOTO/0,0,18", "RAPID", "GOHOME", "GOTO/5,0,18", "GOTO/6,0,18"]
    assert [("cut", 18.0)] * 3 == [(kind, end[2]) for kind, end, _ in expected(body)]
    with pytest.raises(AssertionError):
        np.testing.assert_allclose(part_of(np.array([0.0, 0.0, 18.0]), 90.0), [0.0, 0.0, 18.0])
