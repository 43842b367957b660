"""The drawing of a chain turns the way the machine will, and what lies beside what is on the side where it is."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from chain_programs import machine, turning
from steadyrest.profile import Profile, load_profile
from steadyrest.sheet import chain_drawings
from steadyrest.sheet.chain_drawing import Axis, chain_axes, chain_views, outline

LEFT, RIGHT, UP, DOWN = (-1, 0), (1, 0), (0, 1), (0, -1)
BY_HAND = {
    # Where the arrow goes in its middle, from the front and from the right, to the right and up on the paper. ISO 841, from memory: motions
    # are right-hand for a tool that goes round a part at rest, so that a table goes the other way; what a profile states otherwise counts.
    # C and A clockwise, seen from +Z and +X: the near side of C goes left, its right one towards you; the near side of A comes up, its top
    # goes away.
    "two-in-table": {"C": (LEFT, LEFT), "A": (UP, RIGHT)},
    # C counterclockwise. B clockwise, seen from its end that looks up and away: its lower side goes left, its right one up and towards you.
    "leaning-table": {"C": (RIGHT, RIGHT), "B": (LEFT, (-1, 1))},
    # B clockwise, seen from where you stand: the nose goes left, the right-hand side of the head down.
    "head-and-table": {"C": (LEFT, LEFT), "B": (LEFT, DOWN)},
    "one-in-head": {"B": (LEFT, DOWN)},
    # C clockwise, seen from below, which is right-hand about +Z: its near side goes right. A counterclockwise, seen from +X: its near side
    # comes down, its nose goes away from you.
    "two-in-head": {"C": (RIGHT, RIGHT), "A": (DOWN, RIGHT)},
    # B counterclockwise, seen from its end that looks up and towards you: its lower side goes right, its right one up and away.
    "leaning-head": {"C": (RIGHT, RIGHT), "B": (RIGHT, (1, 1))},
}
OTHERS = [
    machine({"chain": "part A B bed spindle", "rotary": {"A": turning("X", point=[0, 4, -30]), "B": turning("Y")}}),
    machine(
        {"chain": "part B A bed spindle", "rotary": {"B": turning("Y"), "A": turning("X", point=[0, 0, -60])}},
        spindle={"stands": "horizontal"},
    ),
    machine(
        {"chain": "part B bed A spindle", "rotary": {"B": turning("Y"), "A": turning("X", pivot=[0, 0, 99])}},
        spindle={"stands": "horizontal"},
    ),
    machine({"chain": "part bed A B spindle", "rotary": {"A": turning("X", pivot=[5, 0, 250]), "B": turning("Y", pivot=[0, 3, -40])}}),
]


def profiles() -> list[Profile]:
    return [*(load_profile(name) for name in BY_HAND), *OTHERS]


def arrows(svg: str) -> list[np.ndarray]:
    """The paths of the arrows, right and up."""
    lines = ElementTree.fromstring(svg).iter("polyline")
    return [np.array([[float(each) for each in pair.split(",")] for pair in line.get("points", "").split()]) * [1, -1] for line in lines]


@pytest.mark.parametrize("name", BY_HAND)
def test_every_arrow_goes_as_the_machine_does_worked_by_hand(name: str) -> None:
    for side, drawing in enumerate(chain_drawings(load_profile(name))):
        found = arrows(drawing.svg)
        assert len(BY_HAND[name]) == len(found)
        for path, (letter, ways) in zip(found, BY_HAND[name].items(), strict=True):
            middle = path[len(path) // 2 + 1] - path[len(path) // 2 - 1]
            way = np.array(ways[side])
            assert middle @ way > 0.99 * np.hypot(*middle) * np.hypot(*way), (letter, drawing.view.title, middle)


@pytest.mark.parametrize("profile", profiles(), ids=lambda one: one.chain)
def test_every_arrow_is_a_small_turn_of_what_the_rotary_carries_about_the_end_that_is_looked_at(profile: Profile) -> None:
    for axis in chain_axes(profile):
        rotary = profile.rotary[axis.letter]  # type: ignore[index]
        eye = axis.way * (1 if rotary.chuck_faces[0] == "+" else -1)
        turn = Rotation.from_rotvec(np.radians(1) * eye * (1 if rotary.positive_turns_chuck == "counterclockwise" else -1))
        for view in chain_views(profile.spindle.stands):
            path = axis.turn(view)
            start = path[12] - axis.point
            moved = turn.apply(start - start @ axis.way * axis.way) - (start - start @ axis.way * axis.way)
            way = path[13] - path[12]
            assert moved @ way > 0.99 * np.linalg.norm(moved) * np.linalg.norm(way)


@pytest.mark.parametrize("profile", profiles(), ids=lambda one: one.chain)
def test_all_of_it_lies_in_the_picture_of_either_side(profile: Profile) -> None:
    for drawing in chain_drawings(profile):
        root = ElementTree.fromstring(drawing.svg)
        wide, tall = (float(each) for each in root.get("viewBox", "").split()[2:])
        group = root.find("g")
        assert group is not None
        x0, y0 = (float(each) for each in group.get("transform", "")[10:-1].split())
        for one in group.iter():
            points = [pair.split(",") for pair in one.get("points", "").split()] + (
                [[one.get("x"), one.get("y")]] if one.tag == "text" else []
            )
            for x, y in points:
                assert 0 <= float(x) + x0 <= wide, one.attrib  # type: ignore[arg-type]
                assert 0 <= float(y) + y0 <= tall, one.attrib  # type: ignore[arg-type]


def texts(profile: Profile, units: str = "mm") -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(chain_drawings(profile, units)[0].svg).iter("text")]


def test_points_pivots_and_the_gauge_length_are_written_in_the_units_of_the_part() -> None:
    assert {"48", "A: Y 0.12", "+A", "+C"} <= set(texts(load_profile("two-in-table")))
    assert {"gauge length", "145", "B: X 0.02"} <= set(texts(load_profile("head-and-table")))
    assert {"210", "C: Y 0.05"} <= set(texts(load_profile("two-in-head")))
    assert "1.89" in texts(load_profile("two-in-table"), "inch")
    assert "gauge length" not in texts(load_profile("two-in-table"))
    lying, head, _ = (chain_drawings(one) for one in OTHERS[1:])
    assert ["A: Z -60" in each.svg for each in lying] == [True, False]
    # With a horizontal spindle its lengths are seen from the side.
    assert [">gauge length<" in each.svg and ">99<" in each.svg for each in head] == [False, True]


def test_an_axis_is_drawn_on_the_side_where_it_is() -> None:
    c, a = chain_axes(load_profile("two-in-table"))
    assert a.point[2] > 0
    assert not c.point.any()
    below = machine({"chain": "part C A bed spindle", "rotary": {"C": turning("Z"), "A": turning("X", point=[0, -7, -48])}})
    assert [0, -1, -1] == np.sign(chain_axes(below)[1].point).tolist()


def test_who_looks_from_the_other_end_sees_the_same_turn() -> None:
    profile = load_profile("two-in-table")
    ends = {"+X": "clockwise", "-X": "counterclockwise"}
    told = [profile.rotary["A"].model_copy(update={"chuck_faces": end, "positive_turns_chuck": turns}) for end, turns in ends.items()]
    one, other = (chain_axes(profile.model_copy(update={"rotary": {**profile.rotary, "A": each}}))[1] for each in told)
    assert (1, -1) == (one.seen_from, other.seen_from)
    assert replace(other, seen_from=1).carried == one.carried
    assert isinstance(one, Axis)


def test_no_chain_no_drawing() -> None:
    assert () == chain_drawings(load_profile("rs274ngc"))


def test_the_outline_of_points_holds_them_all_and_goes_round_counterclockwise() -> None:
    points = np.random.default_rng(4).normal(size=(60, 2))
    corners = outline(points)
    for here, there in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way, rel = there - here, points - here
        assert (way[0] * rel[:, 1] - way[1] * rel[:, 0] > -2e-2).all()
