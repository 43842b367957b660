"""The drawings of the step Part: to scale, named, and without anything that the content policy stops."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from steadyrest.page.drawings import SAMPLES, angles_drawing, end_drawing, side_drawing, sketch, tool_as_said, tool_drawing, wrap_drawing

PART = {
    "units": "mm",
    "axis": "X",
    "centre": [0, 0, 0],
    "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 10, "held": {"at": "from", "length": 20}},
    "operations": [{"number": 1, "angles": [0, 90], "path": [[-10, 18, 0], [-30, 18, 0], None, [-30, 18, 10]]}],
}


@pytest.mark.parametrize("shape", SAMPLES)
def test_a_tool_is_as_wide_as_its_dimension_says_and_its_tip_points_down(shape: str) -> None:
    drawn = ElementTree.fromstring(tool_drawing(shape))
    polygon = next(each for each in drawn if each.tag == "polygon")
    points = [tuple(map(float, each.split(","))) for each in str(polygon.get("points")).split()]
    wide = max(x for x, _ in points)
    assert f"M-{wide:g} 3H{wide:g}" in tool_drawing(shape)
    assert 30 == max(y for _, y in points)
    assert shape in str(drawn.get("aria-label"))


def marked(drawn: str, kind: str) -> list[ElementTree.Element]:
    return [each for each in ElementTree.fromstring(drawn) if each.get("class") == kind]


def spot(drawn: str) -> tuple[float, float]:
    """Where the origin is drawn."""
    (zero,) = (each for each in marked(drawn, "origin") if each.tag == "circle")
    return float(str(zero.get("cx"))), float(str(zero.get("cy")))


def test_the_stock_is_to_scale_with_its_origin_and_what_the_jaws_hold() -> None:
    drawn = side_drawing(PART)
    (stock,) = marked(drawn, "stock")
    assert pytest.approx(100 / 40, rel=1e-2) == float(str(stock.get("width"))) / float(str(stock.get("height")))
    along = (spot(drawn)[0] - float(str(stock.get("x")))) / float(str(stock.get("width")))
    assert pytest.approx(0.9, abs=1e-3) == along
    jaws = marked(drawn, "jaws")
    assert pytest.approx(0.2, abs=1e-2) == max(float(str(each.get("width"))) for each in jaws) / float(str(stock.get("width")))
    assert max(float(str(each.get("x"))) for each in jaws) == float(str(stock.get("x"))), "they hold where it begins"
    assert "" == side_drawing(None) == side_drawing({**PART, "stock": None, "operations": []}) == end_drawing(None)


def test_an_origin_below_the_axis_of_rotation_is_drawn_below_it() -> None:
    part = {**PART, "centre": [0, 5, 10]}
    scale = 58 / 20
    x, y = spot(end_drawing(part))
    assert pytest.approx((100 - 5 * scale, 95 + 10 * scale), abs=0.2) == (x, y)
    assert spot(side_drawing(part))[1] > spot(side_drawing(PART))[1]


def test_an_origin_that_is_far_away_is_pointed_at_and_does_not_make_the_part_small() -> None:
    drawn = end_drawing({**PART, "centre": [0, 0, -4000]})
    assert "is farther that way" in drawn
    assert [] == [each for each in marked(drawn, "origin") if each.tag == "circle"]


@pytest.mark.parametrize(
    ("axis", "angle", "right", "up"), [("X", 0, 0, 1), ("X", 90, -1, 0), ("Y", 90, -1, 0), ("Z", 0, 1, 0), ("Z", 90, 0, 1)]
)
def test_the_tool_stands_at_its_angle_as_seen_from_the_positive_end(axis: str, angle: float, right: float, up: float) -> None:
    """About X the tool's axis at 90 degrees is -Y, which is to the left there; about Y it is +X, to the left as well; about Z it is +Y."""
    drawn = angles_drawing(axis, [angle])
    found = re.search(r'class="tool-at" d="M([\d.]+) ([\d.]+)L', drawn)
    assert found is not None
    assert pytest.approx((100 + 52 * right, 95 - 52 * up), abs=0.1) == (float(found[1]), float(found[2]))
    assert f"{angle}°" in drawn


def test_many_angles_are_said_in_a_few_words() -> None:
    assert "and 24 more degrees" in angles_drawing("X", [10 * each for each in range(36)])


@pytest.mark.parametrize(
    ("axis", "words"), [("X", "Y 0 of the program is at 30 degrees, + goes clockwise"), ("Y", "+ goes counterclockwise")]
)
def test_wrapped_work_is_drawn_the_way_round_that_it_goes(axis: str, words: str) -> None:
    """Developed length y about X lies at start - y / r, x about Y at start + x / r."""
    drawn = wrap_drawing(axis, {"diameter": 40, "start_angle": 30}, "mm")
    assert words in drawn
    turned = re.search(r'class="dimension" d="M([\d.]+) ([\d.]+)L([\d.]+)', drawn)
    assert turned is not None
    assert (axis == "X") == (float(turned[3]) > float(turned[1])), "from near the top to the right is clockwise"
    assert "" == wrap_drawing("Z", {"diameter": 40}, "mm")
    assert "measured from the axis of rotation" in wrap_drawing(axis, {"diameter": 40, "z_from": "axis"}, "mm")


def test_a_tool_is_drawn_with_what_stands_out_of_its_holder() -> None:
    drawn = tool_as_said({"number": 1, "shape": "flat", "diameter": 6, "length": 30, "cutting_length": 12})
    assert "30 out of its holder" in drawn
    (holder,) = marked(drawn, "jaws")
    scale = 100 / 30
    assert pytest.approx(140 - 30 * scale, abs=0.1) == float(str(holder.get("y"))) + 26
    assert "is not said" in tool_as_said({"number": 1, "shape": "ball", "diameter": 6})


def test_the_sketch_has_each_angle_of_an_operation_and_lifts_the_pen_where_the_tool_is_lifted() -> None:
    drawn = sketch(PART)
    (path,) = re.findall(r' d="([^"]+)"', drawn)
    assert 4 == path.count("M")
    assert 2 == path.count("L")
    assert "from -30 to -10 mm" in drawn
    assert "round it from 0 to 100 degrees" in drawn
    assert "" == sketch(None) == sketch({**PART, "operations": []})


def test_the_sketch_reaches_from_the_first_to_the_last_angle_of_what_is_cut_where_operations_have_different_ones() -> None:
    letter = {"number": 2, "angles": [], "path": [[-60, 20, -6], [-60, 20, -34]]}
    drawn = sketch({**PART, "operations": [{**PART["operations"][0], "angles": [90]}, letter]})  # type: ignore[index]
    assert "round it from -34 to 100 degrees" in drawn
    heights = [float(each) for each in re.findall(r"[ML][\d.-]+ ([\d.-]+)", " ".join(re.findall(r' d="([^"]+)"', drawn)))]
    assert (20, 150) == (min(heights), max(heights))
