"""The pictures of the part in numbers, for whoever does not see them."""

from __future__ import annotations

import numpy as np
import pytest
from viewer_parts import CONTROLLERS, FLATS, looked, part, program_of, slot_and_letter

from steadyrest.viewer import write_page
from steadyrest.viewer.where_it_cuts import _arc, where_it_cuts


def test_each_operation_has_its_span_along_the_axis_around_it_and_from_it() -> None:
    seen = looked()
    heads, rows = where_it_cuts(seen)
    assert heads == ("Operation", "Along X, mm", "Around X, °", "From the axis, mm", "Lines")
    assert rows[0][:2] == ("1 two flats", "-20 to 5")
    assert rows[0][2:4] == ("0 to 90", "18")
    first, last = (int(one) for one in rows[0][4].split(" to "))
    lines = [b"", *seen.text.splitlines()]
    assert (b"X-20" in lines[first], b"X-20" in lines[last]) == (True, True)
    # The letter is 12 high on a radius of 20, and cut 1 deep.
    assert (rows[1][0], rows[1][1]) == ("2 letter", "-50 to -42")
    low, high = (float(one) for one in rows[1][2].split(" to "))
    assert (low, high) == (pytest.approx(np.degrees(-6 / 20) + 360, abs=0.01), pytest.approx(np.degrees(6 / 20), abs=0.01))
    assert rows[1][3] == "19 to 25"  # the way down is at feed


@pytest.mark.parametrize("axis", "XYZ")
def test_it_is_said_for_every_axis_of_rotation(axis: str) -> None:
    toolpath = slot_and_letter(axis)
    heads, rows = where_it_cuts(looked(toolpath, program_of(toolpath, controller=CONTROLLERS[axis]), controller=CONTROLLERS[axis]))
    assert len(rows) == 2
    assert all(len(row) == 5 for row in rows)
    assert heads[1] == ("X, mm" if axis == "Z" else f"Along {axis}, mm")
    if axis != "Z":
        assert rows[0][2] == "90"


def test_an_operation_that_never_cuts_has_no_row() -> None:
    toolpath = part(FLATS, FLATS | {"name": "only rapids", "moves": [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 31]}]})
    assert [row[0] for row in where_it_cuts(looked(toolpath))[1]] == ["1 two flats"]


@pytest.mark.parametrize(
    ("angles", "text"),
    [([350, 10, 0], "350 to 10"), ([45], "45"), ([360, 0], "0"), (list(range(0, 360, 10)), "all around"), ([0, 120, 230], "0 to 230")],
)
def test_an_arc_is_the_shortest_that_holds_all_angles(angles: list[float], text: str) -> None:
    assert _arc(np.array(angles, dtype=np.float64)) == text


def test_the_page_has_the_table() -> None:
    page = write_page(looked()).decode()
    assert "Where each operation cuts" in page
    assert "<td>-20 to 5</td>" in page
