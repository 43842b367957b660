"""The two drawings of a difference: SVG that is whole, says in words what it shows, and says nothing by colour alone."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from viewer_parts import looked, part, program_of

from steadyrest.viewer import page_parts, write_page
from steadyrest.viewer.side_by_side import TALL, WIDE
from steadyrest.viewer.side_by_side_drawing import MARGIN, SideBySide, _inside, both_sides


def refused(old: bytes, new: bytes) -> SideBySide:
    found = looked(text=program_of(part()).replace(old, new, 1))
    failure = found.posted.verdict.failure
    assert failure is not None
    assert failure.difference is not None
    return both_sides(failure.difference, found.setting)


def test_both_drawings_have_both_places_with_the_distance_between_them_and_one_scale() -> None:
    found = refused(b"X-20", b"X-21")
    bars = []
    for svg in (found.asked, found.found):
        tree = ElementTree.fromstring(svg)
        assert tree.attrib["viewBox"] == f"0 0 {WIDE:g} {TALL:g}"
        names = [one.text for one in tree.iter("text")]
        assert {"asked for", "program", "1 mm"} <= set(names)
        assert len([one for one in tree if one.attrib.get("class", "").startswith("mark ")]) == 2
        bars.append(next(one.attrib["d"] for one in tree if one.attrib.get("class") == "bar"))
    assert bars[0] == bars[1]
    assert found.apart == "1 mm"


def test_a_drawing_says_in_words_what_it_shows() -> None:
    found = refused(b"X-20", b"X-21")
    for svg, place in ((found.asked, "Asked for: X-20 Y0 Z18 mm, A0°"), (found.found, "In the program: X-21 Y0 Z18 mm, A0°")):
        tree = ElementTree.fromstring(svg)
        assert (tree.attrib["role"], tree[0].tag) == ("img", "title")
        assert tree.attrib["aria-label"] == tree[0].text
        assert place in str(tree[0].text)
        assert "1 mm apart" in str(tree[0].text)


def test_the_move_and_the_line_that_are_named_are_drawn_bolder() -> None:
    found = refused(b"X-20", b"X-21")
    for svg in (found.asked, found.found):
        assert len(re.findall(r'class="way cut (?:asked|found) here"', svg)) == 1


def test_a_drawing_sets_no_style_of_its_own_which_the_page_would_refuse() -> None:
    found = refused(b"A90", b"A75")
    assert "style" not in found.asked + found.found
    assert 'class="tool asked"' in found.asked
    assert "A 15°" in found.apart


@pytest.mark.parametrize("far", [1e3, 1e8])
def test_no_line_is_drawn_far_outside(far: float) -> None:
    pieces = _inside(np.array([[-far, 10.0], [far, 10.0], [far, 5e8], [100.0, 100.0], [np.nan, 0.0], [5.0, 5.0], [6.0, 6.0]]))
    whole = np.concatenate(pieces)
    assert whole.min() >= -MARGIN - 1e-6
    assert whole[:, 0].max() <= WIDE + MARGIN + 1e-6
    assert whole[:, 1].max() <= TALL + MARGIN + 1e-6
    assert pieces[-1].tolist() == [[5, 5], [6, 6]]


def test_the_report_of_a_refused_program_begins_with_the_difference() -> None:
    found = looked(text=program_of(part()).replace(b"X-20", b"X-21", 1))
    page = write_page(found).decode()
    assert page.index('id="verdict"') < page.index('id="difference"') < page.index('id="picture"')
    section = page[page.index('id="difference"') : page.index('id="picture"')]
    assert 2 == section.count('class="side-by-side"')
    assert re.search(r'<tr class="off"><th scope="row">X</th><td>-20 mm</td><td>-21 mm</td><td>1 mm</td>', section)
    assert "operation 1, move 3" in section
    assert re.search(r'data-line="\d+">line \d+</button>', section)
    assert 'id="difference"' in page_parts(found).fragments["picture"]
    assert ">What it would cut<" in page


def test_the_report_of_a_difference_that_cannot_be_drawn_says_so_and_compares_the_figures() -> None:
    page = write_page(looked(text=program_of(part()).replace(b"F600", b"F900", 1))).decode()
    section = page[page.index('id="difference"') : page.index('id="picture"')]
    assert "There is nothing to draw" in section
    assert "<svg" not in section
    assert "<td>600 mm/min</td><td>900 mm/min</td><td>1.5 times as fast</td>" in section


def test_the_report_of_a_proved_program_has_no_difference() -> None:
    page = write_page(looked()).decode()
    assert 'id="difference"' not in page
    assert ">What it will cut<" in page
