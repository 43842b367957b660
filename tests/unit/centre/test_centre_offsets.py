"""The work offset of a job is what was found on the machine, less the place of the axis of rotation in the toolpath."""

from __future__ import annotations

import json

import pytest

from steadyrest.centre import work_offsets
from steadyrest.toolpath import Toolpath


def part(centre: tuple[float, float, float], units: str = "mm") -> Toolpath:
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 10}
    tool = {"number": 1, "shape": "flat", "diameter": 6}
    moves = [{"rapid": [0, 0, 50]}, {"cut": [0, 0, 30], "feed": 100}]
    cut = {
        "name": "a",
        "tool": 1,
        "spindle": {"rpm": 100, "turns": "clockwise"},
        "coolant": "off",
        "rotary": {"intent": "still"},
        "moves": moves,
    }
    said = {"steadyrest_toolpath": 1, "name": "p", "units": units, "centre": centre, "stock": stock, "tools": [tool], "operations": [cut]}
    return Toolpath.model_validate_json(json.dumps(said))


def test_with_the_origin_on_the_axis_it_is_what_was_found() -> None:
    (offset,) = work_offsets({"Z": (-12.0, 0.01)}, "mm", part((0, 0, 0)))
    assert (-12.0, "") == (offset.value, offset.how)


def test_where_the_axis_lies_below_the_origin_the_origin_is_higher_than_what_was_found() -> None:
    """By hand: the axis is at Z -20 of the part and was found at -12 on the machine, so 0 of the part is at +8."""
    (offset,) = work_offsets({"Z": (-12.0, 0.01)}, "mm", part((0, 0, -20)))
    assert pytest.approx(8.0) == offset.value
    assert "Z -20 mm" in offset.how


def test_touches_in_inch_for_a_part_in_mm_are_entered_in_inch() -> None:
    (offset,) = work_offsets({"Y": (1.0, 0.001)}, "inch", part((0, 25.4, 0)))
    assert pytest.approx(0.0) == offset.value


@pytest.mark.parametrize(("end", "value"), [("+X", 190.0), ("-X", 290.0)])
def test_the_end_of_the_bar_gives_zero_along_the_axis(end: str, value: float) -> None:
    """By hand: touched at 200; that end is at +10 in the part, the other one at -90."""
    (offset,) = work_offsets({"X": (200.0, 0.01)}, "mm", part((0, 0, 0)), end)
    assert pytest.approx(value) == offset.value


def test_along_the_axis_nothing_is_made_up() -> None:
    assert () == work_offsets({"X": (200.0, 0.01)}, "mm", part((0, 0, 0)))
