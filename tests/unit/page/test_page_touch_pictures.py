"""The drawings of what is touched: whole, named, and within their frame."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import pytest

from steadyrest.page.touch_pictures import HEIGHT, WIDTH, picture
from steadyrest.page.touches import ACROSS, ball_steps, steps

BALLS = [step for in_head in (False, True) for step in ball_steps("B", in_head=in_head, upright=False)]
EVERY = [(along, step.name) for along in "XYZ" for step in (*steps(along), *BALLS) if step.name != "errors"]


@pytest.mark.parametrize(("along", "name"), EVERY)
def test_each_step_has_a_drawing_with_a_name_within_its_frame(along: str, name: str) -> None:
    root = ElementTree.fromstring(picture(name, along))
    assert root.get("role") == "img"
    assert len(root.get("aria-label", "")) > 10
    for each in root.iter():
        for key, most in (("x", WIDTH), ("y", HEIGHT), ("cx", WIDTH), ("cy", HEIGHT), ("x1", WIDTH), ("y1", HEIGHT), ("x2", WIDTH)):
            assert 0 <= float(each.get(key, "0")) <= most, (each.tag, key)
        if each.tag == "circle":
            assert float(each.get("cy", "")) - float(each.get("r", "")) >= 0
        for x, y in re.findall(r"(-?[0-9.]+),(-?[0-9.]+)", each.get("points", "")):
            assert 0 <= float(x) <= WIDTH
            assert 0 <= float(y) <= HEIGHT


@pytest.mark.parametrize("along", ["X", "Y", "Z"])
def test_the_section_shows_the_two_axes_that_lie_across(along: str) -> None:
    texts = [each.text for each in ElementTree.fromstring(picture("bar", along)).iter("text") if each.get("class") == "axis"]
    assert list(ACROSS[along]) == texts
