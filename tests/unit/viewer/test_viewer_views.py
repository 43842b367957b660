"""Pictures show the machine as its spindle stands, and name directions for the axis of rotation; the chuck stands at its end, as long over
the stock as its jaws, and is said in words; the part as it stands on the machine."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from viewer_parts import CONTROLLERS, looked, slot_and_letter

from steadyrest.posting import posted_text
from steadyrest.profile import load_profile
from steadyrest.reading import read_program
from steadyrest.sheet import setup_sheet_fragment, sheet_facts
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.viewer import draw, look, write_page
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.script_data import _box, page_data
from steadyrest.viewer.views import CORNER, chuck_of, looks, rows

RIGHT = "rotary.A.chuck_faces=-X"


@pytest.mark.parametrize(("stands", "up", "away"), [("upright", (0, 0, 1), (0, 1, 0)), ("horizontal", (0, 1, 0), (0, 0, -1))])
def test_from_the_front_x_goes_to_the_right_and_up_is_up_at_the_machine(stands: str, up: tuple[int, ...], away: tuple[int, ...]) -> None:
    assert np.allclose([(1, 0, 0), up, away], rows(0.0, 0.0, stands))


@pytest.mark.parametrize("stands", ["upright", "horizontal"])
@pytest.mark.parametrize("axis", ["X", "Y", "Z"])
def test_both_ends_of_the_axis_have_a_button_that_looks_from_there(axis: str, stands: str) -> None:
    along = np.eye(3)["XYZ".index(axis)]
    ends = [(one, float(-rows(one.azimuth, one.elevation, stands)[2] @ along)) for one in looks(axis, stands) if f"{axis} end" in one.label]
    assert [pytest.approx(-1), pytest.approx(1)] == sorted(side for _, side in ends)
    assert all(("+" in one.label) == (side > 0) for one, side in ends)
    assert all(f"from the {'+' if side > 0 else '-'} end of {axis}" in one.title for one, side in ends)


def test_every_button_has_a_key_of_its_own() -> None:
    for axis in "XYZ":
        for stands in ("upright", "horizontal"):
            keys = [one.key for one in looks(axis, stands)]
            assert len(keys) == len(set(keys))


def test_upright_is_as_it_always_was_and_horizontal_another_picture() -> None:
    assert np.allclose(rows(*CORNER, "upright")[0], [np.cos(-0.6), np.sin(-0.6), 0])
    one, other = (
        draw(looked(slot_and_letter("Y"), None, f"spindle.stands={stands}", controller=CONTROLLERS["Y"]), "part", "svg")
        for stands in ("upright", "horizontal")
    )
    assert one != other


def held_part(held: dict[str, Any] | None) -> Toolpath:
    moves = [{"rapid": [-10, 5, 40]}, {"cut": [-10, 5, 12], "feed": 300}, {"cut": [-30, 5, 12]}, {"rapid": [-30, 5, 40]}]
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "rotary": {"intent": "indexed", "angles": [30]}, "moves": moves}
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 10, **({"held": held} if held is not None else {})}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    return parse_toolpath(
        {"steadyrest_toolpath": 1, "units": "mm", "centre": [0, 2, -3], "stock": stock, "tools": tools, "operations": [operation]}
    )


def held_at(held: dict[str, Any] | None, *sets: str) -> Looked:
    profile = load_profile("rs274ngc", sets)
    return look(posted_text(held_part(held), "rs274ngc", sets=sets).encode(), "latch.nc", held_part(held), profile, cells=(40, 60))


@pytest.mark.parametrize(
    ("held", "sets", "jaws", "span", "said"),
    [
        ({"at": "from", "length": 20}, (), (-90, -70), (-100, -70), "chuck, holds the stock at X -90, 20 mm in the jaws"),
        ({"at": "from", "length": 20}, (RIGHT,), (70, 90), (70, 100), "holds the stock at X 90, 20 mm in the jaws; job turned end for end"),
        ({"at": "from", "length": 20.12345}, (), (-90, -69.87655), (-100, -69.87655), "at X -90, 20.123 mm in the jaws"),
        ({"at": "to"}, (RIGHT,), (10, 10), (7, 20), "holds the stock at X 10, length in the jaws not given"),
        (None, (), (-90, -90), (-100, -87), "holds the stock at X -90, length in the jaws not given"),
    ],
)
def test_the_chuck_stands_at_the_held_end_in_front_of_its_jaws(
    held: dict[str, Any] | None, sets: tuple[str, ...], jaws: tuple[float, float], span: tuple[float, float], said: str
) -> None:
    found = held_at(held, *sets)
    chuck = chuck_of(found.setting)
    assert chuck is not None
    assert chuck.jaws_mm == pytest.approx(jaws)
    assert said in chuck.label
    every = np.concatenate(chuck.lines_mm)
    assert (every[:, 0].min(), every[:, 0].max()) == pytest.approx(span)
    assert every[:, 1:].mean(axis=0) == pytest.approx(found.setting.frame.centre_mm[1:], abs=2)
    box = _box(found)
    assert box["low"][0] <= span[0]
    assert box["high"][0] >= span[1]


def test_page_picture_and_sheet_show_the_part_as_it_stands() -> None:
    found = held_at({"at": "from", "length": 20}, RIGHT)
    assert found.cut is not None
    assert found.cut.field.first_mm[0] == pytest.approx(-10 + 1.25)
    assert found.cut.field.outer_mm[:6].min() > 19.9
    assert found.cut.field.outer_mm[8:16].min() < 17
    assert found.cut.field.outer_mm[18:].min() > 19.9
    assert "turned end for end" in json.dumps(page_data(found)[0]["chuck"])
    assert b"turned end for end" in write_page(found)
    assert b"job turned end for end" in draw(found, "part", "svg")
    assert b"job turned end for end" in draw(found, "unrolled", "svg")
    items = read_program(found.text, found.setting.profile, rotary_letter="A")
    sheet = setup_sheet_fragment(sheet_facts(found.posted, found.setting, items, "latch.nc"))
    for line in (
        "the job is turned end for end about Z",
        "the tool&#39;s radius the other way",
        "from X -10 to X 90",
        "held at X 90 (right): 20 mm of it in the jaws",
        "the axis of rotation is at Y -2, Z -3 mm",
        "the - end of the stock (left) is at X -10 mm",
    ):
        assert line in sheet


def test_nothing_is_drawn_where_there_is_no_rotary_or_no_stock() -> None:
    found = held_at(None)
    without = found.setting.toolpath.model_copy(update={"stock": None, "clearance": 30.0})
    bare = look(found.text, "latch.nc", without, found.setting.profile)
    assert chuck_of(bare.setting) is None
    assert page_data(bare)[0]["chuck"] is None
