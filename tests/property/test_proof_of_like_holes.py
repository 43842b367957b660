"""Holes judged many at once get the verdict that they get one by one, also where a line of the program was changed."""

from __future__ import annotations

import sys
from functools import cache
from importlib import import_module
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import ProgramError
from steadyrest.posting import posted_text
from steadyrest.profile import bundled_folder, load_profile
from steadyrest.proof import prove
from steadyrest.toolpath import Toolpath, parse_toolpath

drilled = import_module("steadyrest.proof.holes")
HOLES = 24
AT_ONCE = ("rs274ngc", "rs274ngc-right-end", "counts-numbered", "inverse-seconds", "limited-clamped", "radius-arcs")
NAMES = (*AT_ONCE, "plain-lines", "incremental")
BROKEN = (
    "",
    "X-7.",
    "X-7.005 Y-9.",
    "X-7000",
    "Y-9.9",
    "Z14",
    "Z14.995",
    "F90",
    "F200",
    "M5",
    "M0",
    "G4 P1",
    "G98",
    "G80",
    "G0 Z30",
    "M30",
)


@cache
def part() -> Toolpath:
    """One face of a round bar: two rows of holes, some of them deeper."""
    holes: list[dict[str, Any]] = [
        {"hole": [-1.0 - at % 12, -10.0 + at // 12], "retract": 22.0, "bottom": 12.0 if at in (5, 6) else 15.0} for at in range(HOLES)
    ]
    holes[0]["feed"] = 100.0
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": {"at": "from", "length": 5}},
            "tools": [{"number": 3, "shape": "drill", "diameter": 3, "point_angle": 118}],
            "operations": [
                {
                    "tool": 3,
                    "spindle": {"rpm": 8000, "turns": "clockwise"},
                    "rotary": {"intent": "indexed", "angles": [0]},
                    "moves": [{"rapid": [-5, -5, 30]}, *holes],
                }
            ],
        }
    )


@cache
def program(name: str) -> tuple[str, ...]:
    return tuple(posted_text(part(), name).splitlines())


def rounded(value: Any) -> Any:
    """Sums of times depend in their last digits on what was added first."""
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(one) for one in value]
    return float(f"{value:.9g}") if isinstance(value, float) else value


def judged(lines: tuple[str, ...], name: str, *, at_once: bool) -> tuple[Any, int]:
    """The verdict, or the words of the refusal to read; and how many holes were judged at once."""
    counts = [0]

    def counted(*everything: Any) -> int:
        counts.append(follow(*everything) if at_once else 0)
        return counts[-1]

    follow = drilled.follow_like_holes
    with patch.object(drilled, "follow_like_holes", counted):
        try:
            verdict = prove("\n".join([*lines, ""]).encode(), part(), load_profile(bundled_folder() / name))
        except ProgramError as error:
            return str(error), 0
    return rounded(verdict.to_json()), sum(counts)


@pytest.mark.parametrize("name", AT_ONCE)
def test_most_like_holes_are_judged_at_once(name: str) -> None:
    verdict, at_once = judged(program(name), name, at_once=True)
    assert verdict["proved"]
    assert at_once >= HOLES / 2
    assert (verdict, 0) == judged(program(name), name, at_once=False)


def test_like_holes_in_inches_are_judged_at_once() -> None:
    inch = {"units": "inch", "stock": {"shape": "round", "diameter": 1.6, "from": -4, "to": 0}}
    data = part().model_dump(mode="json", by_alias=True, exclude_none=True, exclude={"digest", "file"}) | inch
    data["tools"][0]["diameter"] = 0.1
    hole = {"retract": 0.9, "bottom": 0.6, "feed": 4.0}
    data["operations"][0]["moves"] = [{"rapid": [-0.1, -0.4, 1.2]}, *({"hole": [-0.1 - 0.05 * at, -0.4], **hole} for at in range(HOLES))]
    holes = parse_toolpath(data)
    with patch.object(sys.modules[__name__], "part", lambda: holes):
        verdict, at_once = judged(tuple(posted_text(holes, "rs274ngc").splitlines()), "rs274ngc", at_once=True)
    assert verdict["proved"]
    assert at_once >= HOLES / 2


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=settings.default.max_examples // 3, deadline=None)
@given(back=st.integers(2, 3 * HOLES), change=st.sampled_from(["in", "out", "instead", "twice", "behind"]), broken=st.sampled_from(BROKEN))
def test_a_changed_program_gets_the_same_verdict_both_ways(name: str, back: int, change: str, broken: str) -> None:
    lines = program(name)
    at = max(0, len(lines) - back)
    middle = {"in": (broken, lines[at]), "out": (), "instead": (broken,), "twice": (lines[at],) * 2, "behind": (f"{lines[at]} {broken}",)}
    changed = (*lines[:at], *middle[change], *lines[at + 1 :])
    assert judged(changed, name, at_once=False)[0] == judged(changed, name, at_once=True)[0]
