"""The pictures of the part in numbers, for whoever does not see them."""

from __future__ import annotations

import numpy as np
import pytest
from viewer_parts import C_ON_A, CONTROLLERS, FLATS, LETTER, looked, over_the_pole, part, program_of, slot_and_letter

from steadyrest.viewer import write_page
from steadyrest.viewer.where_it_cuts import _arc, passed, where_it_cuts


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


@pytest.mark.parametrize(("beside", "near", "turns"), [(0.0, "0.00", 0.0), (0.9, "0.90", 120.0)])
def test_a_pole_is_where_the_tool_axis_comes_to_lie_along_the_axis_of_the_first_rotary(beside: float, near: str, turns: float) -> None:
    """By hand: the tool leans by 12 degrees to one side, then to the other, and on the way `beside` towards a third one. Nearer than 2
    degrees it swings by 2 arccos(0.9 / 2) or half a turn; straight through, C need not turn at all."""
    sets = (*C_ON_A, 'poles={past="slow", slowest_percent=1}')
    seen = looked(part(over_the_pole(beside)), None, *sets)
    assert seen.posted.verdict.proved
    (pole,) = passed(seen)
    assert ("pole", "\N{BLACK CIRCLE}") == (pole.what, pole.sign)
    assert f"comes within {near} degrees of the axis of C, which turns " in pole.sentence
    said = float(pole.sentence.split("which turns ")[1].split()[0])
    assert said == pytest.approx(turns, abs=12.0)
    track = seen.track
    at = int(np.flatnonzero(track.line == pole.line)[0])
    assert abs(track.word_deg[at, 1]) < 2.5


def test_no_pole_is_passed_where_the_tool_axis_rests_on_it_or_stays_away_and_none_with_one_rotary() -> None:
    assert [] == passed(looked())
    leaning = {**over_the_pole(0.0), "moves": [{**move, "tool_axis": [0, 0.6, 0.8]} for move in over_the_pole(0.0)["moves"]]}
    still = {**over_the_pole(0.0), "moves": [{**move, "tool_axis": [0, 0, 1]} for move in over_the_pole(0.0)["moves"]]}
    for moves in (leaning, still):
        assert [] == passed(looked(part(moves), None, *C_ON_A))


def test_where_the_tool_leaves_a_cut_so_that_a_rotary_can_turn_is_said_with_its_line() -> None:
    """A helix of five turns on a rotary with three: it is turned back once."""
    helix = {
        **LETTER,
        "moves": [{"rapid": [-50, 0, 5]}, {"cut": [-50, 0, -1], "feed": 200}, {"cut": [-30, 5 * 40 * np.pi, -1]}, {"rapid": [-30, 0, 5]}],
    }
    seen = looked(part(helix), None, 'rotary.A.travel={kind="limited", from=-540, to=540}')
    assert seen.posted.verdict.proved
    found = passed(seen)
    assert {("withdrawal", "\N{BLACK UP-POINTING TRIANGLE}")} == {(one.what, one.sign) for one in found}
    assert "the tool leaves the cut, the rotary turns clear of all, and it comes back to where it left" == found[0].sentence
    lines = ["", *seen.text.decode().splitlines()]
    assert "G0" in lines[found[0].line]
