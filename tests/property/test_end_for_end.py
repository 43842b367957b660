"""A job turned end for end is the same part: whatever is asked for, both mountings cut the same, word by word and on the stock."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import InputError
from steadyrest.motion import plan
from steadyrest.profile import ResolvedProfile, resolve
from steadyrest.proof import prove
from steadyrest.reading import read_program
from steadyrest.simulation import Cut, Simulation
from steadyrest.testing import toolpath_data
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.writing import write_program

PROFILES = {"X": ("rs274ngc", "rotary.A.chuck_faces=-X"), "Y": ("rs274ngc-b", "rotary.B.chuck_faces=-Y")}
ARC_WORD = re.compile(r"\bG0?([23])\b")


def written(toolpath: Toolpath, resolved: ResolvedProfile) -> str:
    planned = plan(toolpath, resolved.profile)
    pieces = write_program(
        planned.items, resolved.profile, resolved.template_folders, inch=planned.inch, rotary_letters=planned.letters
    )  # fmt: skip
    return b"".join(pieces).decode()


def held(data: dict[str, Any], end: str, offset: list[float] | None = None) -> Toolpath:
    more = {"offset": offset} if offset is not None else {}
    return parse_toolpath({**data, "stock": {**data["stock"], **more, "held": {"at": end}}})


def both(toolpath: Toolpath, end: str) -> tuple[tuple[str, ResolvedProfile], tuple[str, ResolvedProfile]]:
    """The program for the mounting in which the toolpath was made, and for the other one."""
    name, other = PROFILES[toolpath.axis]
    plus, minus = resolve(name), resolve(name, [other])
    first, second = (plus, minus) if end == "from" else (minus, plus)
    return (written(toolpath, first), first), (written(toolpath, second), second)


def words(line: str) -> list[tuple[str, float]]:
    return [(letter, float(number)) for letter, number in re.findall(r"([A-Z])([-+]?[0-9.]+)", line)]


def said(text: str, *, turned: bool) -> list[tuple[list[tuple[str, float]], float]]:
    """Line by line the words, and which of G0 to G3 holds there. Turned: as they have to be once the job is turned end for end, X, Y, I and
    J the other way, arcs in XZ and YZ as well.
    """
    out, plane, motion = [], 17.0, 0.0
    for line in text.splitlines():
        if line.startswith("("):
            continue
        plain = []
        for letter, number in words(line):
            if letter == "G" and number in (17.0, 18.0, 19.0):
                plane = number
            if letter == "G" and number in (0.0, 1.0, 2.0, 3.0):
                motion = number
            else:
                plain.append((letter, 0.0 - number if turned and letter in "XYIJ" else number))
        out.append((plain, 5.0 - motion if turned and motion >= 2 and plane != 17.0 else motion))
    return out


@pytest.mark.parametrize("axis", ["X", "Y"])
@pytest.mark.parametrize("end", ["from", "to"])
@given(data=st.data())
def test_x_y_i_and_j_change_their_sign_and_rotary_words_do_not(axis: str, end: str, data: st.DataObject) -> None:
    toolpath = held(data.draw(toolpath_data(axis=axis)), end)
    try:
        (here, _), (there, resolved) = both(toolpath, end)
    except InputError:
        return
    assert said(here, turned=True) == said(there, turned=False)
    assert prove(there.encode(), toolpath, resolved.profile).proved
    # It is no program for the mounting in which nothing is turned, unless the part looks the same from both ends.
    if said(here, turned=False) != said(there, turned=False):
        unturned = toolpath.model_copy(update={"stock": None, "clearance": toolpath.swept_radius})
        assert not prove(there.encode(), unturned, resolved.profile).proved


def simulated(text: str, toolpath: Toolpath, resolved: ResolvedProfile) -> Cut:
    return Simulation(toolpath, resolved.profile, along=48, around=96, carving="arrays").of(read_program(text.encode(), resolved.profile))


@pytest.mark.parametrize("axis", ["X", "Y"])
@settings(max_examples=settings.default.max_examples // 4)
@given(data=st.data(), off=st.sampled_from([None, [3.0, -2.0], [5.0, -1.0, 2.0]]))
def test_the_stock_is_cut_to_the_same_part(axis: str, off: list[float] | None, data: st.DataObject) -> None:
    toolpath = held(data.draw(toolpath_data(axis=axis, units="mm")), "from", off)
    try:
        (here, resolved), (there, turned_to) = both(toolpath, "from")
    except InputError:
        return
    one, other = simulated(here, toolpath, resolved), simulated(there, toolpath, turned_to)
    # Seen from the other end: along the axis backwards, and about it the other way.
    same = other.field.outer_mm[::-1, ::-1]
    assert np.allclose(one.field.first_mm, -other.field.first_mm[::-1])
    assert one.stock_mm3 == pytest.approx(other.stock_mm3, rel=1e-6)
    assert one.removed_mm3 == pytest.approx(other.removed_mm3, rel=2e-3, abs=1.0)
    assert np.quantile(np.abs(one.field.outer_mm - same), 0.98) < 0.1


@pytest.mark.parametrize("half", ["angles", "places", "senses"])
def test_a_program_that_was_turned_by_half_only_is_refused(half: str) -> None:
    """Planted: the places turned and not the angles, the angles and not the places, all but the sense of arcs."""
    toolpath = parse_toolpath(WITHOUT_SYMMETRY)
    (_, _), (there, resolved) = both(toolpath, "from")
    assert prove(there.encode(), toolpath, resolved.profile).proved
    change = {
        "angles": lambda line: re.sub(r"A(-?[0-9.]+)", lambda found: f"A{-float(found[1]):.3f}", line),
        "places": lambda line: re.sub(r"([XYIJ])(-?[0-9.]+)", lambda found: f"{found[1]}{-float(found[2]):.3f}", line),
        "senses": lambda line: ARC_WORD.sub(lambda found: f"G{5 - int(found[1])}", line) if "K" in line else line,
    }[half]
    broken = "\n".join(line if line.startswith("(") else change(line) for line in there.splitlines())
    assert broken != there.rstrip("\n")
    assert not prove(broken.encode(), toolpath, resolved.profile).proved


def test_a_program_that_was_not_turned_is_refused_where_the_chuck_stands_at_the_other_end() -> None:
    toolpath = parse_toolpath(WITHOUT_SYMMETRY)
    (here, first), (_, other) = both(toolpath, "from")
    assert prove(here.encode(), toolpath, first.profile).proved
    assert not prove(here.encode(), toolpath, other.profile).proved


WITHOUT_SYMMETRY: dict[str, Any] = {
    "steadyrest_toolpath": 1,
    "name": "latch bar",
    "units": "mm",
    "centre": [0, 2, -3],
    "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": {"at": "from", "length": 20}},
    "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
    "operations": [
        {
            "name": "slot with a rounded floor",
            "tool": 1,
            "spindle": {"rpm": 5000, "turns": "clockwise"},
            "rotary": {"intent": "indexed", "angles": [35, 110]},
            "moves": [
                {"rapid": [-10, 5, 40]},
                {"rapid": [-10, 5, 18]},
                {"cut": [-10, 5, 12], "feed": 300},
                {"arc": [-20, 5, 12], "centre": [-15, 5, 12], "turns": "counterclockwise", "plane": "XZ"},
                {"arc": [-26, 11, 12], "centre": [-20, 11, 12], "turns": "clockwise"},
                {"rapid": [-26, 11, 40]},
            ],
        },
        {
            "name": "groove",
            "tool": 1,
            "spindle": {"rpm": 5000, "turns": "clockwise"},
            "rotary": {"intent": "wrapped", "diameter": 40, "start_angle": 25},
            "moves": [{"rapid": [-40, 0, 5]}, {"cut": [-40, 0, -1], "feed": 200}, {"cut": [-55, 60, -1]}, {"rapid": [-55, 60, 5]}],
        },
    ],
}
