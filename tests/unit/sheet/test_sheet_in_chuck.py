"""The stock in the chuck, in words and drawn to scale: which end is held, what is in the jaws, what sticks out."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree

import pytest

from steadyrest.sheet import holding
from steadyrest.toolpath import Toolpath


def part(axis: str = "X", length: float | None = 20, units: str = "mm", **stock: object) -> Toolpath:
    held = {"held": {"at": "from", **({} if length is None else {"length": length})}}
    whole = {"shape": "round", "diameter": 40, "from": -90, "to": 10, **held, **stock}
    cut = {"name": "a", "tool": 1, "spindle": {"rpm": 100, "turns": "clockwise"}, "coolant": "off", "rotary": {"intent": "still"}}
    moves = [{"rapid": [0, 0, 50]}, {"cut": [0, 0, 30], "feed": 100}]
    said = {"steadyrest_toolpath": 1, "name": "p", "units": units, "axis": axis, "stock": whole}
    said |= {"tools": [{"number": 1, "shape": "flat", "diameter": 6}], "operations": [{**cut, "moves": moves}]}
    return Toolpath.model_validate_json(json.dumps(said))


def boxes(svg: str, kind: str) -> list[tuple[float, float]]:
    """From, to across the paper."""
    found = [each for each in ElementTree.fromstring(svg).iter("rect") if each.get("class") == kind]
    return [(float(each.get("x", "")), float(each.get("x", "")) + float(each.get("width", ""))) for each in found]


@pytest.mark.parametrize(("faces", "held", "free"), [("+X", -90, 10), ("-X", 10, -90)])
def test_the_end_that_the_chuck_holds_is_the_one_it_is_at(faces: str, held: float, free: float) -> None:
    """A stock of 100 with 20 in the jaws stands out by 80, and the picture is to scale: the jaws cover a fifth of it, at the chuck."""
    found = holding(part(), faces)
    assert (held, free, 20, 80) == (found.held, found.free, found.in_jaws, found.sticks_out)
    ((left, right),), ((jaw_left, jaw_right), _) = boxes(found.svg, "stock"), boxes(found.svg, "jaw")
    ((chuck_left, chuck_right),) = boxes(found.svg, "chuck")
    assert pytest.approx((right - left) / 5, abs=0.1) == jaw_right - jaw_left
    assert pytest.approx((left, left) if faces == "+X" else (right, right), abs=0.11) == (
        (jaw_left, chuck_right) if faces == "+X" else (jaw_right, chuck_left)
    )


def test_what_is_in_the_jaws_is_left_open_where_nobody_says_it() -> None:
    found = holding(part(length=None), "+X")
    assert (None, None) == (found.in_jaws, found.sticks_out)
    assert "in the jaws: ?" in found.svg
    assert "sticks out" not in found.svg
    assert 2 == len(boxes(found.svg, "jaw open"))


def test_a_part_bolted_to_a_face_has_no_jaws() -> None:
    found = holding(part(length=0), "+X")
    assert 100 == found.sticks_out
    assert [] == boxes(found.svg, "jaw")
    assert "bolted to a face" in found.svg


@pytest.mark.parametrize(("axis", "faces"), [("X", "+X"), ("X", "-X"), ("Y", "+Y"), ("Y", "-Y"), ("Z", "+Z")])
@pytest.mark.parametrize("stock", [{}, {"diameter": 900}, {"from": 9.5}, {"shape": "rectangular", "across": [30, 60], "diameter": None}])
def test_all_of_it_is_within_the_picture_and_every_text_says_its_unit(axis: str, faces: str, stock: dict[str, object]) -> None:
    wanted = {key: value for key, value in {**{"diameter": 40}, **stock}.items() if value is not None}
    if "diameter" not in wanted:
        whole = part(axis, 0.2, "inch").model_dump(by_alias=True, mode="json")
        whole["stock"] = {"shape": "rectangular", "across": [30, 60], "from": -90, "to": 10, "held": {"at": "from", "length": 0.2}}
        made = Toolpath.model_validate_json(json.dumps({key: value for key, value in whole.items() if value is not None}))
    else:
        made = part(axis, 0.2, "inch", **wanted)
    svg = holding(made, faces).svg
    _, _, width, height = (float(each) for each in ElementTree.fromstring(svg).get("viewBox", "").split())
    for each in ElementTree.fromstring(svg).iter("rect"):
        x, y, wide, high = (float(each.get(key, "")) for key in ("x", "y", "width", "height"))
        assert -0.1 <= x <= x + wide <= width + 0.1
        assert -0.1 <= y <= y + high <= height + 0.1
    assert "0.2 inch" in svg
