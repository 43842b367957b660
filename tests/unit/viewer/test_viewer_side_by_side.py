"""From where the first difference is seen: the plane, the window, and what else is in it."""

from __future__ import annotations

import numpy as np
import pytest
from viewer_parts import C_ON_A, FLATS, looked, over_the_pole, part, program_of

from steadyrest.viewer import Looked, both_sides
from steadyrest.viewer.side_by_side import TALL, WIDE, View, view_of

PECK = {
    "name": "hole",
    "tool": 1,
    "spindle": FLATS["spindle"],
    "rotary": {"intent": "still"},
    "moves": [
        {"rapid": [-10, 0, 30]},
        {"hole": [-10, 0], "cycle": "peck", "retract": 22, "bottom": 10, "feed": 100, "peck": 5},
    ],
}


def refused(old: bytes, new: bytes, which: int = 0, **options: object) -> Looked:
    """The small bar's program with one of its words changed."""
    text = program_of(part())
    pieces = text.split(old)
    assert len(pieces) > which + 1
    seen = looked(text=old.join(pieces[: which + 1]) + new + old.join(pieces[which + 1 :]))
    assert seen.posted.verdict.failure is not None
    return seen


def seen(found: Looked) -> View:
    failure = found.posted.verdict.failure
    assert failure is not None
    assert failure.difference is not None
    view = view_of(failure.difference, found.setting)
    assert view is not None
    return view


def test_a_place_along_the_bar_is_seen_in_a_plane_that_has_the_bar_in_it() -> None:
    view = seen(refused(b"X-20", b"X-21"))
    assert view.right == "X"
    assert view.asked.asked_at is not None
    assert view.asked.asked_at[0] == pytest.approx(-20)
    assert view.apart_mm == pytest.approx(1)


def test_a_depth_is_seen_from_the_side() -> None:
    view = seen(refused(b"Z18", b"Z17.5"))
    assert view.up == "Z"
    assert view.apart_mm == pytest.approx(0.5)
    assert view.axis is not None
    assert view.stock is not None


def test_a_rotary_that_stands_at_another_angle_is_seen_along_its_axis() -> None:
    view = seen(refused(b"A90", b"A75"))
    assert (view.right, view.up) == ("Y", "Z")
    assert len(view.asked.tools) == 2
    along = [np.diff(tool, axis=0)[0] for tool in view.asked.tools]
    assert np.dot(*along) / np.prod([np.linalg.norm(one) for one in along]) == pytest.approx(np.cos(np.radians(15)))


def test_a_wrapped_path_is_seen_unrolled() -> None:
    text = program_of(part())
    line = next(one for one in text.split(b"\n") if b"F" in one and b" A" in b" " + one and b"X" not in one and b"A-17" in one)
    assert line
    view = seen(looked(text=text.replace(line, line.replace(b"A-17", b"A-14"))))
    assert view.name.startswith("the surface unrolled")
    assert view.right == "X"


def test_the_window_is_as_small_as_lets_the_difference_be_seen_and_has_the_form_of_the_drawing() -> None:
    view = seen(refused(b"Z18", b"Z17.9"))
    wide, tall = view.high - view.low
    assert wide / tall == pytest.approx(WIDE / TALL)
    assert 0.25 < wide < 2.5
    for mark in (view.asked.asked_at, view.asked.found_at):
        assert mark is not None
        assert (mark > view.low).all()
        assert (mark < view.high).all()


def test_a_hole_is_seen_by_its_heights_one_step_after_the_other() -> None:
    toolpath = part(PECK)
    view = seen(looked(toolpath, program_of(toolpath).replace(b"Z10 ", b"Z9 ").replace(b"Z10\n", b"Z9\n")))
    assert not view.together
    assert [name for name, _ in view.levels] == ["retract level", "bottom"]
    steps = view.asked.points[:, 0]
    assert (np.diff(steps) >= 0).all()
    assert len(set(steps.tolist())) >= 5


def test_where_nothing_is_to_be_drawn_there_is_no_view() -> None:
    found = refused(b"F600", b"F900")
    failure = found.posted.verdict.failure
    assert failure is not None
    assert failure.difference is not None
    assert view_of(failure.difference, found.setting) is None


def test_on_two_rotaries_the_way_is_seen_on_the_part_and_the_tool_as_it_leans_where_that_differs() -> None:
    """By hand: the tool leans by a degree less about X in the block that is changed, which is seen along X."""
    toolpath = part(over_the_pole(0.0))
    text = program_of(toolpath, *C_ON_A)
    assert b" A-6 " in text
    found = looked(toolpath, text.replace(b" A-6 ", b" A-5 "), *C_ON_A)
    view, failure = seen(found), found.posted.verdict.failure
    assert "on the part, Y to the right, Z up" == view.name
    assert failure is not None
    assert failure.difference is not None
    sides = both_sides(failure.difference, found.setting)
    assert " and tool axis 0.999" in sides.apart
    assert (len(view.found.tools), np.degrees(failure.difference.turned_rad)) == (2, pytest.approx(1.0, abs=0.01))
    leans = [float(np.degrees(np.arctan2(*(tool[1] - tool[0])))) for tool in view.found.tools]
    assert abs(leans[1] - leans[0]) == pytest.approx(1.0, abs=0.01)
    assert view.apart_mm < 0.5
