"""The drawing of a mounting turns the way the machine will, from every side that it is drawn from."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadyrest.profile import Rotary
from steadyrest.sheet import chuck_drawing, moving_drawing, standing_drawing
from steadyrest.sheet.mounting import AXES, View, mounting_drawings, mounting_facts, turn_path, views

FACES = ["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
MOUNTINGS = [(faces, turns) for faces in FACES for turns in ("clockwise", "counterclockwise")]


def sense(faces: str, turns: str) -> int:
    return 1 if (faces[0] == "+") == (turns == "counterclockwise") else -1


def view_of(title: str, faces: str, stands: str = "upright") -> View:
    return next(view for view in views(faces, stands) if title in view.title)


def signed_area(path: np.ndarray) -> float:
    """Positive where a path goes counterclockwise round the middle of the paper."""
    return float(np.sum(path[:-1, 0] * path[1:, 1] - path[:-1, 1] * path[1:, 0])) / 2


@pytest.mark.parametrize("stands", ["upright", "horizontal"])
@pytest.mark.parametrize(("faces", "turns"), MOUNTINGS)
class TestEveryMounting:
    def test_looking_at_the_face_of_the_chuck_the_arrow_goes_as_the_profile_says(self, faces: str, turns: str, stands: str) -> None:
        path = turn_path(view_of("face of the chuck", faces, stands), faces, sense(faces, turns))
        assert (turns == "counterclockwise") == (signed_area(path) > 0)

    def test_every_arrow_is_a_small_turn_of_the_part_projected(self, faces: str, turns: str, stands: str) -> None:
        for view in views(faces, stands):
            path = turn_path(view, faces, sense(faces, turns))
            flat = np.column_stack([AXES[view.right], AXES[view.up]])
            outward = view.towards if abs(view.towards @ AXES[faces]) < 0.5 else AXES[view.up]
            turn = Rotation.from_rotvec(np.radians(5) * sense(faces, turns) * np.abs(AXES[faces]))
            moved = (turn.apply(outward) - outward) @ flat
            middle = path[len(path) // 2 + 1] - path[len(path) // 2]
            assert moved @ middle > 0.99 * np.hypot(*moved) * np.hypot(*middle)

    def test_the_chuck_looks_away_from_its_body_on_the_paper(self, faces: str, turns: str, stands: str) -> None:
        for drawing in mounting_drawings("A", faces, sense(faces, turns), stands):
            way = np.array([AXES[drawing.view.right] @ AXES[faces], -(AXES[drawing.view.up] @ AXES[faces])])
            root = ElementTree.fromstring(drawing.svg)
            boxes = {each.get("class"): each for each in root.iter("rect")}
            if np.hypot(*way) < 0.5:
                continue
            middles = {
                kind: np.array([float(box.get("x")) + float(box.get("width")) / 2, float(box.get("y")) + float(box.get("height")) / 2])  # type: ignore[arg-type]
                for kind, box in boxes.items()
                if kind in ("body", "chuck", "bar")
            }
            assert (middles["chuck"] - middles["body"]) @ way > 0
            assert (middles["bar"] - middles["chuck"]) @ way > 0

    def test_every_picture_is_right_handed(self, faces: str, turns: str, stands: str) -> None:
        for view in views(faces, stands):
            assert pytest.approx(1) == np.linalg.det([AXES[view.right], AXES[view.up], view.towards])

    def test_everything_lies_inside_the_picture(self, faces: str, turns: str, stands: str) -> None:
        for drawing in mounting_drawings("A", faces, sense(faces, turns), stands):
            root = ElementTree.fromstring(drawing.svg)
            width, height = (float(each) for each in root.get("viewBox", "").split()[2:])
            group = root.find("g")
            assert group is not None
            x0, y0 = (float(each) for each in group.get("transform", "")[10:-1].split())
            corners = [(float(each.get("x")) + x0, float(each.get("y")) + y0) for each in group.iter() if each.get("x")]  # type: ignore[arg-type]
            assert [] == [corner for corner in corners if not (0 <= corner[0] <= width and 0 <= corner[1] <= height)]

    def test_the_spindle_is_drawn_on_the_side_of_the_part_to_which_z_points(self, faces: str, turns: str, stands: str) -> None:
        for drawing in mounting_drawings("A", faces, sense(faces, turns), stands):
            way = np.array([AXES[drawing.view.right][2], AXES[drawing.view.up][2]])
            boxes = [(box.get("class"), _middle(box)) for box in ElementTree.fromstring(drawing.svg).iter("rect")]
            tool = [middle for kind, middle in boxes if kind == "tool"]
            assert bool(tool) == bool(way.any())
            assert [] == [middle for middle in tool if middle @ way < 20]


def _middle(box: ElementTree.Element) -> np.ndarray:
    """Right and up on the paper."""
    x, y, width, height = (float(box.get(name, "nan")) for name in ("x", "y", "width", "height"))
    return np.array([x + width / 2, -(y + height / 2)])


@pytest.mark.parametrize(
    ("stands", "right", "up", "title"),
    [
        ("upright", "+X", "+Z", "in front"),
        ("upright", "+X", "+Y", "from above"),
        ("horizontal", "+X", "+Y", "in front"),
        ("horizontal", "+X", "-Z", "from above"),
    ],
)
def test_the_machine_is_drawn_as_its_spindle_stands(stands: str, right: str, up: str, title: str) -> None:
    view = view_of(title, "+X", stands)
    assert (right, up) == (view.right, view.up)


@pytest.mark.parametrize("faces", ["+X", "-X"])
def test_in_front_of_a_rotary_along_x_a_right_hand_turn_comes_down_on_the_near_side(faces: str) -> None:
    path = turn_path(views(faces)[0], faces, 1)
    assert path[-1][1] < path[0][1]
    assert pytest.approx(0, abs=1e-9) == path[-1][0] - path[0][0]


@pytest.mark.parametrize("faces", ["+Y", "-Y"])
def test_in_front_of_a_rotary_along_y_a_right_hand_turn_takes_the_top_to_the_right(faces: str) -> None:
    path = turn_path(views(faces)[0], faces, 1)
    assert path[-1][0] > path[0][0]


@pytest.mark.parametrize("faces", ["+Z", "-Z"])
def test_in_front_of_a_rotary_along_z_a_right_hand_turn_takes_the_near_side_to_the_right(faces: str) -> None:
    path = turn_path(views(faces)[0], faces, 1)
    assert path[-1][0] > path[0][0]


def test_a_chuck_that_looks_to_the_right_is_seen_from_the_right_with_the_operator_at_the_left() -> None:
    view = view_of("face of the chuck", "+X")
    assert ("+Y", "+Z") == (view.right, view.up)


def test_a_view_that_would_be_drawn_twice_is_drawn_once() -> None:
    assert [3, 3, 3, 2, 2, 3] == [len(views(faces)) for faces in FACES]


@pytest.mark.parametrize("stands", ["upright", "horizontal"])
@pytest.mark.parametrize("along", ["X", "Y", "Z"])
@pytest.mark.parametrize("faces", ["+", "-"])
@pytest.mark.parametrize("turns", ["clockwise", "counterclockwise"])
def test_the_sentence_says_what_a_small_turn_does(faces: str, along: str, turns: str, stands: str) -> None:
    said = mounting_facts("A", Rotary(along=along, chuck_faces=faces + along, positive_turns_chuck=turns), stands, "mm").sentences[2]  # type: ignore[arg-type]
    up, near = ((0, 0, 1), (0, -1, 0)) if stands == "upright" else ((0, 1, 0), (0, 0, 1))
    sides = {"the top of the part": up, "the side nearest to you": near}
    ways = {"towards you": near, "away from you": -np.array(near), "to the right": (1, 0, 0), "to the left": (-1, 0, 0)}
    ways |= {"up": up, "down": -np.array(up)}
    side = next(np.array(where) for words, where in sides.items() if words in said)
    way = next(np.array(where) for words, where in ways.items() if said.endswith(words))
    turn = Rotation.from_rotvec(np.radians(1) * sense(faces, turns) * np.abs(AXES["+" + along]))
    assert (turn.apply(side) - side) @ way > 0.017


@pytest.mark.parametrize("faces", FACES)
def test_where_nobody_knows_which_way_it_turns_no_arrow_is_drawn(faces: str) -> None:
    for drawing in mounting_drawings("A", faces, None):
        assert "polyline" not in drawing.svg
    assert "polyline" in mounting_drawings("A", faces, 1)[0].svg
    assert "polyline" not in standing_drawing(faces).svg
    assert "polyline" not in chuck_drawing("A", None).svg
    assert "not known yet" in chuck_drawing("A", None).svg


@pytest.mark.parametrize(("turns", "way"), [("counterclockwise", 1), ("clockwise", -1)])
def test_the_face_of_a_chuck_is_drawn_turning_as_whoever_looks_at_it_sees_it(turns: str, way: int) -> None:
    """Points of the arrow, with y down on the paper: counterclockwise is against the sense in which x goes to y there."""
    line = next(ElementTree.fromstring(chuck_drawing("A", turns).svg).iter("polyline")).get("points", "")
    path = np.array([[float(each) for each in point.split(",")] for point in line.split()])
    assert way == np.sign(signed_area(path * [1, -1]))


@pytest.mark.parametrize(("stands", "along"), [(stands, along) for stands in ("upright", "horizontal") for along in "XYZ"])
@pytest.mark.parametrize("end", "+-")
def test_the_arrow_over_the_part_goes_the_way_that_was_seen(stands: str, along: str, end: str) -> None:
    """Ways worked by hand for whoever stands in front of the machine, X to the right: towards them is -Y with an upright spindle; with a
    horizontal one up is +Y."""
    ways = {
        "upright": {"X": ("-Y", "+Y"), "Y": ("+X", "-X"), "Z": ("+X", "-X")},
        "horizontal": {"X": ("-Y", "+Y"), "Y": ("+X", "-X"), "Z": ("-X", "+X")},
    }
    for way in ways[stands][along]:
        drawing = moving_drawing(end + along, way, stands)
        line = next(ElementTree.fromstring(drawing.svg).iter("polyline")).get("points", "")
        path = np.array([[float(each) for each in point.split(",")] for point in line.split()]) * [1, -1]
        assert (path[-1] - path[0]) @ drawing.view.flat(AXES[way]) > 40
