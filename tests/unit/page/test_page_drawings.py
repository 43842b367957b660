"""The drawings of the step Part: to scale, named, and without anything that the content policy stops."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from steadyrest.page.drawings import SAMPLES, sketch, stock_drawing, tool_drawing

PART = {
    "units": "mm",
    "axis": "X",
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


def test_the_stock_is_to_scale_with_its_origin_and_what_the_jaws_hold() -> None:
    drawn = stock_drawing(PART)
    stock = next(each for each in ElementTree.fromstring(drawn) if each.get("class") == "stock")
    assert pytest.approx(100 / 40) == float(str(stock.get("width"))) / float(str(stock.get("height")))
    zero = next(each for each in ElementTree.fromstring(drawn) if each.get("class") == "origin")
    assert pytest.approx(0.9, abs=1e-3) == (float(str(zero.get("cx"))) - float(str(stock.get("x")))) / float(str(stock.get("width")))
    assert "jaws" in drawn
    assert "" == stock_drawing(None) == stock_drawing({**PART, "stock": None})


def test_the_sketch_has_each_angle_of_an_operation_and_lifts_the_pen_where_the_tool_is_lifted() -> None:
    drawn = sketch(PART)
    (path,) = re.findall(r' d="([^"]+)"', drawn)
    assert 4 == path.count("M")
    assert 2 == path.count("L")
    assert "from -30 to -10 mm" in drawn
    assert "" == sketch(None) == sketch({**PART, "operations": []})
