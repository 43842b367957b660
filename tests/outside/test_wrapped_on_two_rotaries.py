"""Drawings wrapped on two rotaries, or by a head: SciPy turns the machine back into the part, where every point lies on the cylinder.

By hand, DEVELOPERS.md, Frames and signs, and the design, two rotary axes, section 4: about X alpha = start - y / r, about Y start + x / r;
in a plane the drawing is that of axis X in its frame.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import test_planes_on_heads as heads
from scipy.spatial import KDTree
from scipy.spatial.transform import Rotation
from test_planes_on_two_rotaries import CENTRE, cuts, in_part, profile, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion, plan

DRAWN = [
    {"rapid": [5, 0, 60]},
    {"cut": [5, 0, -1], "feed": 100},
    {"cut": [8, 15, -1], "feed": 300},
    {"cut": [-9, -40, 2]},
    {"rapid": [-9, -40, 60]},
]
THROUGH: dict[str, dict[str, Any]] = {"A": {"point": [0, 0, 0]}, "B": {"point": [0, 0, 0]}}
ABOUT_Z = {"origin": [1, 2, -4], "x": [0, 0, 1], "z": [0.6, 0.8, 0]}
"""On C's axis, which goes through X1 Y2."""
CASES: list[tuple[str, str, dict[str, Any] | None, dict[str, Any]]] = [
    ("C on A", "Z", ABOUT_Z, {}),
    ("C on A", "Z", ABOUT_Z | {"x": [0, 0, -1]}, {}),
    ("C on B", "Z", ABOUT_Z, {}),
    ("C on a leaning B", "Z", ABOUT_Z, {}),
    ("C on A", "X", None, THROUGH),
    ("C on A", "Y", None, THROUGH),
    ("C on B", "X", {"origin": [-7, 2, 3], "x": [-1, 0, 0], "z": [0, 1, 0]}, THROUGH),
    ("A on B", "Y", None, {"A": {"point": [0, 0, 0]}}),
]


def wrapped(axis: str, plane: dict[str, Any] | None, moves: list[dict[str, Any]], **rotary: Any) -> Any:
    more = {"plane": plane} if plane else {}
    return toolpath({"intent": "wrapped", "diameter": 40, **more, **rotary}, moves, axis=axis)


def on_cylinder(axis: str, plane: dict[str, Any] | None, start: float, point: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Where a drawn point lies in the part, and the tool axis there; r = 20."""
    x, y, z = point
    if plane is not None:
        origin, along, up = (np.array(plane[key], dtype=float) for key in ("origin", "x", "z"))
    elif axis == "X":
        origin, along, up = CENTRE * [0, 1, 1], np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
    else:
        origin, along, up = CENTRE * [1, 0, 1], np.array([0.0, 1, 0]), np.array([0.0, 0, 1])
        x, y = y, -x
    turn = Rotation.from_rotvec((np.deg2rad(start) - y / 20) * along)
    return origin + x * along + (20 + z) * turn.apply(up), turn.apply(up)


def inside(name: str, rotaries: dict[str, dict[str, Any]], w_deg: np.ndarray, xyz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    places, axis = in_part(name, w_deg, xyz[None], rotaries)
    return places[0], axis


@pytest.mark.parametrize(("name", "axis", "plane", "facts"), CASES)
@pytest.mark.parametrize("start", [0, 20])
def test_every_drawn_point_is_cut_where_it_lies_on_the_cylinder(
    name: str, axis: str, plane: dict[str, Any] | None, facts: dict[str, dict[str, Any]], start: float
) -> None:
    found = cuts(list(plan(wrapped(axis, plane, DRAWN, start_angle=start), profile(name, **facts)).items))
    asked = [move["cut"] for move in DRAWN if "cut" in move]
    assert len(asked) == len(found)
    for (xyz, w_deg), point in zip(found, asked, strict=True):
        place, up = on_cylinder(axis, plane, start, point)  # type: ignore[arg-type]
        part, tool = inside(name, facts, w_deg, xyz)
        np.testing.assert_allclose(part, place, atol=1e-6)
        np.testing.assert_allclose(tool, up, atol=1e-9)


@pytest.mark.parametrize(("name", "axis", "plane", "facts"), CASES)
def test_between_two_points_the_tip_stays_on_the_drawn_line(
    name: str, axis: str, plane: dict[str, Any] | None, facts: dict[str, dict[str, Any]]
) -> None:
    found = cuts(list(plan(wrapped(axis, plane, DRAWN), profile(name, **facts)).items))
    asked = [move["cut"] for move in DRAWN if "cut" in move]
    for part in (0.25, 0.5, 0.9):
        for step in range(1, len(asked)):
            xyz, w_deg = (before + part * (after - before) for before, after in zip(found[step - 1], found[step], strict=True))
            drawn = np.array(asked[step - 1]) + part * (np.array(asked[step]) - asked[step - 1])  # type: ignore[arg-type]
            np.testing.assert_allclose(inside(name, facts, w_deg, xyz)[0], on_cylinder(axis, plane, 0, drawn.tolist())[0], atol=1e-6)


def test_an_arc_of_the_drawing_is_cut_within_tolerance_and_a_hole_is_drilled_at_its_angle() -> None:
    moves = [*DRAWN[:3], {"arc": [8, 25, -1], "centre": [8, 20, -1], "turns": "clockwise"}, {"rapid": [8, 25, 60]}]
    moves += [{"hole": [3, -12], "retract": 8, "bottom": -6, "feed": 90}, {"rapid": [3, -12, 60]}]
    items = list(plan(wrapped("Z", ABOUT_Z, moves), profile("C on A")).items)
    found = cuts(items)
    assert len(found) > 8
    centre = np.array([8.0, 20.0])
    for xyz, w_deg in found[2:]:
        part, _ = inside("C on A", {}, w_deg, xyz)
        beside = part - np.array(ABOUT_Z["origin"])
        alpha = np.arctan2(beside @ np.cross(ABOUT_Z["x"], ABOUT_Z["z"]), beside @ np.array(ABOUT_Z["z"]))
        drawn = np.array([beside @ np.array(ABOUT_Z["x"]), -20 * alpha])
        assert abs(np.hypot(*(drawn - centre)) - 5) < 0.01
    (cycle,) = (item for item in items if isinstance(item, Event) and item.name == "cycle")
    assert cycle.holes is not None
    at = [run.rotary_deg[-1] for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion][-1]
    stands = [w_deg for _, w_deg in found][-1] if np.isnan(at).all() else np.where(np.isnan(at), found[-1][1], at)
    place, _ = on_cylinder("Z", ABOUT_Z, 0, [3, -12, 8])
    level = np.array([*cycle.holes.xy[0], cycle.words["r"].value])
    np.testing.assert_allclose(inside("C on A", {}, stands, level)[0], place, atol=1e-6)


ROUND: list[tuple[str, str, dict[str, Any] | None]] = [
    ("C on A", "X", None),
    ("C below, B in the head", "Y", None),
    ("C and A in the head", "X", {"origin": [-7, 2, 3], "x": [-1, 0, 0], "z": [0, 0, 1]}),
    ("a head that leans", "Y", None),
]


@pytest.mark.parametrize(("name", "axis", "plane"), ROUND)
def test_a_drawing_gone_round_is_followed_within_tolerance_by_tip_and_tool_axis_from_end_to_end(
    name: str, axis: str, plane: dict[str, Any] | None
) -> None:
    """The path as points 0.01 mm apart, by hand, and the program's blocks as axes that move evenly: each near the other everywhere."""
    swap = -1 if axis == "Y" and plane is None else 0
    points = [[5, 0, -1], [8, 15, -1], [-9, -20, -2]]
    moves: list[dict[str, Any]] = [{"rapid": [5, 0, 60]}, *({"cut": point, "feed": 300} for point in points)]
    moves += [{"arc": [-9, -10, -2], "centre": [-9, -15, -2], "turns": "counterclockwise"}, {"rapid": [-9, -10, 60]}]
    if swap:  # about Y the drawing's y runs along the axis, its x against the developed length
        turned = [
            {key: [-value[1], value[0], value[2]] if isinstance(value, list) else value for key, value in move.items()} for move in moves
        ]
        moves, points = turned, [[-y, x, z] for x, y, z in points]
    head = name in heads.HEADS
    machine = heads.profile(name) if head else profile(name)
    items = list(plan(wrapped(axis, plane, moves), machine, gauge_lengths={1: heads.GAUGE} if head else None).items)
    stand, program = heads.stands(items), []
    begins = next(at for at, (kind, _, _) in enumerate(stand) if kind and at > 2)
    for (_, xyz0, w0), (kind, xyz1, w1) in zip(stand[begins:], stand[begins + 1 :], strict=False):
        for share in (0.5, 1.0) if kind else ():
            xyz, w_deg = xyz0 + share * (xyz1 - xyz0), w0 + share * (w1 - w0)
            place, tool = heads.in_part(name, w_deg, xyz[None]) if head else in_part(name, w_deg, xyz[None], {})
            program.append([*place[0], *tool])
    turn = np.linspace(-np.pi / 2, np.pi / 2, 4000)
    arc = np.column_stack([-9 + 5 * np.cos(turn), -15 + 5 * np.sin(turn), np.full(4000, -2.0)])
    drawn = [np.linspace(one, other, 4000) for one, other in pairwise(points)]
    drawn.append(np.column_stack([-arc[:, 1], arc[:, 0], arc[:, 2]]) if swap else arc)
    asked = np.array([np.concatenate(on_cylinder(axis, plane, 0, point.tolist())) for point in np.concatenate(drawn)])
    made = np.array(program)
    over = np.linalg.norm(made[:, :3] - asked[0, :3], axis=1)
    first = int(np.argmax(over < 0.02))  # before it the tool comes down
    last = len(made) - int(np.argmax((np.linalg.norm(made[:, :3] - asked[-1, :3], axis=1) < 0.02)[::-1]))
    away, nearest = KDTree(asked[:, :3]).query(made[first:last, :3])
    assert away.max() < 0.0105
    assert KDTree(made[first:last, :3]).query(asked[:, :3])[0].max() < 0.3
    assert np.degrees(np.linalg.norm(made[first:last, 3:] - asked[nearest, 3:], axis=1).max()) < 0.25


def test_the_rotary_that_stands_may_be_one_that_only_indexes() -> None:
    stepped = {"steps": 90, "turns_while_cutting": False}
    assert cuts(list(plan(wrapped("Z", ABOUT_Z, DRAWN), profile("C on A", A=stepped)).items))
    with pytest.raises(PlanError, match="C only indexes"):
        plan_all(wrapped("Z", ABOUT_Z, DRAWN), profile("C on A", C=stepped))


def plan_all(path: Any, machine: Any) -> list[Motion | Event]:
    return list(plan(path, machine).items)


@pytest.mark.parametrize(
    ("axis", "plane", "wrong"),
    [
        ("Z", ABOUT_Z | {"origin": [1, 3, 0]}, "begins beside the toolpath's axis Z"),
        ("Z", ABOUT_Z | {"x": [0, 0.02, 1], "z": [1, 0, 0]}, "or its x does not lie along it"),
    ],
)
def test_a_drawing_whose_axis_no_rotary_turns_about_is_refused_with_the_reason(axis: str, plane: dict[str, Any] | None, wrong: str) -> None:
    with pytest.raises(PlanError, match=wrong):
        plan_all(wrapped(axis, plane, DRAWN), profile("C on A"))


def test_a_drawing_that_goes_round_farther_than_the_travel_is_refused() -> None:
    path = wrapped("Z", ABOUT_Z, [*DRAWN[:3], {"cut": [5, 100, -1]}, DRAWN[4]])
    with pytest.raises(PlanError, match="C goes from -90 to 90: it fits in no whole turn"):
        plan_all(path, profile("C on A", C={"travel": {"kind": "limited", "from": -90, "to": 90}}))
