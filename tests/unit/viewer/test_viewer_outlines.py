"""The chuck in the pictures: at its end, as long over the stock as its jaws, said in words; and the part as it stands on the machine."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from steadyrest.posting import posted_text
from steadyrest.profile import load_profile
from steadyrest.reading import read_program
from steadyrest.sheet import setup_sheet_fragment, sheet_facts
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.viewer import draw, look, write_page
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.outlines import chuck_of
from steadyrest.viewer.page import _box, page_data

RIGHT = "rotary.A.chuck_faces=-X"


def part(held: dict[str, Any] | None) -> Toolpath:
    moves = [{"rapid": [-10, 5, 40]}, {"cut": [-10, 5, 12], "feed": 300}, {"cut": [-30, 5, 12]}, {"rapid": [-30, 5, 40]}]
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "rotary": {"intent": "indexed", "angles": [30]}, "moves": moves}
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 10, **({"held": held} if held is not None else {})}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    return parse_toolpath(
        {"steadyrest_toolpath": 1, "units": "mm", "centre": [0, 2, -3], "stock": stock, "tools": tools, "operations": [operation]}
    )


def looked(held: dict[str, Any] | None, *sets: str) -> Looked:
    profile = load_profile("rs274ngc", sets)
    return look(posted_text(part(held), "rs274ngc", sets=sets).encode(), "latch.nc", part(held), profile, cells=(40, 60))


@pytest.mark.parametrize(
    ("held", "sets", "jaws", "span", "said"),
    [
        ({"at": "from", "length": 20}, (), (-90, -70), (-100, -70), "chuck, holds the stock at X -90, 20 mm in the jaws"),
        ({"at": "from", "length": 20}, (RIGHT,), (70, 90), (70, 100), "holds the stock at X 90, 20 mm in the jaws; job turned end for end"),
        ({"at": "to"}, (RIGHT,), (10, 10), (7, 20), "holds the stock at X 10, length in the jaws not given"),
        (None, (), (-90, -90), (-100, -87), "holds the stock at X -90, length in the jaws not given"),
    ],
)
def test_the_chuck_stands_at_the_held_end_in_front_of_its_jaws(
    held: dict[str, Any] | None, sets: tuple[str, ...], jaws: tuple[float, float], span: tuple[float, float], said: str
) -> None:
    found = looked(held, *sets)
    chuck = chuck_of(found.setting)
    assert chuck is not None
    assert chuck.jaws_mm == pytest.approx(jaws)
    assert chuck.span_mm == pytest.approx(span)
    assert said in chuck.label
    every = np.concatenate(chuck.lines_mm)
    assert (every[:, 0].min(), every[:, 0].max()) == pytest.approx(span)
    assert every[:, 1:].mean(axis=0) == pytest.approx(found.setting.frame.centre_mm[1:], abs=2)
    box = _box(found)
    assert box["low"][0] <= span[0]
    assert box["high"][0] >= span[1]


def test_page_picture_and_sheet_show_the_part_as_it_stands() -> None:
    found = looked({"at": "from", "length": 20}, RIGHT)
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
    found = looked(None)
    without = found.setting.toolpath.model_copy(update={"stock": None, "clearance": 30.0})
    bare = look(found.text, "latch.nc", without, found.setting.profile)
    assert chuck_of(bare.setting) is None
    assert page_data(bare)[0]["chuck"] is None
