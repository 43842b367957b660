"""Planes of indexed operations: where their coordinates lie once they stand upright, against an independent rotation library."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest import posted_text
from steadyrest.errors import PlanError
from steadyrest.motion.planes import lyings, phi_of_plane
from steadyrest.motion.setup import Setup, set_up
from steadyrest.profile import load_profile
from steadyrest.proof import prove
from steadyrest.toolpath import Plane, Toolpath, parse_toolpath

UP = np.array([0.0, 0.0, 1.0])
MOVES = [{"rapid": [0, 0, 40]}, {"cut": [0, 0, -2], "feed": 100}, {"cut": [10, 2, -2], "feed": 300}, {"rapid": [10, 2, 40]}]
"""No symmetry: what is turned or mirrored lands somewhere else."""


def toolpath(
    planes: list[dict[str, Any]],
    axis: str = "X",
    moves: list[dict[str, Any]] | None = None,
    rotary: dict[str, Any] | None = None,
    **more: Any,
) -> Toolpath:
    operation = {
        "tool": 1,
        "spindle": {"rpm": 3000, "turns": "clockwise"},
        "rotary": rotary or {"intent": "indexed", "planes": planes},
        "moves": moves or MOVES,
    }
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 10}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    said = {"steadyrest_toolpath": 1, "units": "mm", "axis": axis, "centre": [3, 5, -7], "stock": stock, "tools": tools}
    return parse_toolpath({**said, "operations": [operation], **more})


def setup(planes: list[dict[str, Any]], axis: str = "X", profile: str = "rs274ngc", **more: Any) -> Setup:
    return set_up(toolpath(planes, axis, **more), load_profile(profile))


def ends(text: str) -> list[tuple[float, ...]]:
    """Where X, Y and Z stand after each cut of a program, once all three are known."""
    at: dict[str, float] = {}
    found = []
    cutting = False
    for line in text.splitlines():
        words = [word for word in line.split() if word[0].isalpha() and not line.startswith("(")]
        cutting = True if {"G1", "G2", "G3"} & set(words) else False if {"G0", "G28", "G53"} & set(words) else cutting
        moved = {word[0]: float(word[1:]) for word in words if word[0] in "XYZ"}
        at |= moved
        if moved and cutting and len(at) == 3:
            found.append((at["X"], at["Y"], at["Z"]))
    return found


@given(alpha=st.floats(-180, 180), spin=st.floats(-180, 180), axis=st.sampled_from("XY"), origin=st.tuples(*[st.floats(-20, 20)] * 3))
def test_every_point_of_a_plane_lies_where_an_independent_library_turns_it(
    alpha: float, spin: float, axis: str, origin: tuple[float, float, float]
) -> None:
    turn = Rotation.from_euler(axis, alpha, degrees=True)
    frame = (turn * Rotation.from_euler("Z", spin, degrees=True)).as_matrix()
    plane = {"origin": list(origin), "z": frame[:, 2].tolist(), "x": frame[:, 0].tolist()}
    facts = setup([plane], axis, "rs274ngc" if axis == "X" else "rs274ngc-b")
    ((lying,),) = lyings(1, facts)
    points = np.array([[0.0, 0.0, 0.0], [7.0, 0.0, 0.0], [0.0, 11.0, 0.0], [3.0, -5.0, 13.0]])
    back = Rotation.from_rotvec(np.deg2rad(facts.sigma * lying.rotary_deg[0]) * np.eye(3)["XY".index(axis)])
    wanted = facts.centre + back.apply(np.array(origin) + points @ frame.T - facts.centre)
    np.testing.assert_allclose(lying.placed(points), wanted, atol=1e-6)
    np.testing.assert_allclose(back.apply(frame[:, 2]), UP, atol=1e-9)


@pytest.mark.parametrize("angle", [0, 30, 90, -135, 180])
def test_the_plane_of_an_angle_gives_the_very_program_of_that_angle(angle: float) -> None:
    """Design, two rotary axes, section 4: an angle alpha is the plane E = R(alpha), origin = c - R(alpha) c."""
    frame, centre = Rotation.from_euler("X", angle, degrees=True).as_matrix(), np.array([3.0, 5.0, -7.0])
    plane = {"origin": (centre - frame @ centre).tolist(), "z": frame[:, 2].tolist(), "x": frame[:, 0].tolist()}
    moves = [
        *MOVES,
        {"rapid": [20, 0, 40]},
        {"cut": [20, 0, 9], "feed": 50},
        {"arc": [24, 0, 9], "centre": [22, 0, 9], "turns": "clockwise"},
    ]
    moves += [{"arc": [24, 6, 9], "centre": [24, 3, 9], "plane": "YZ", "turns": "clockwise"}, {"rapid": [24, 6, 40]}]
    moves += [{"hole": [5, 1], "retract": 30, "bottom": 4, "feed": 90}, {"hole": [9, 1], "retract": 30, "bottom": 4}]
    in_plane = toolpath([plane], moves=moves)
    at_angle = toolpath([], moves=moves, rotary={"intent": "indexed", "angles": [angle]})
    one, other = (posted_text(each, "rs274ngc").splitlines() for each in (in_plane, at_angle))
    told = [line for line in one if not line.startswith("(")]
    assert told == [line for line in other if not line.startswith("(")]
    assert any(line.startswith("G17 G99 G81") for line in told)


def test_a_slot_at_ninety_degrees_with_its_own_zero_is_cut_where_a_hand_puts_it() -> None:
    """By hand, ISO 841 (from memory): A+ turns the part left-hand about X, so z = -Y of the part comes up at A90.

    The plane's zero (-20, -15, 2) is 20 from the centre (3, 5, -7) towards -Y and 9 above it, so it stands 20 above the axis and 9
    towards +Y: X -20, Y 14, Z 13.
    """
    text = posted_text(toolpath([{"origin": [-20, -15, 2], "z": [0, -1, 0], "x": [1, 0, 0]}]), "rs274ngc")
    assert "A90" in text
    assert ends(text) == [(-20, 14, 11), (-10, 16, 11)]


def test_a_plane_whose_x_lies_across_the_axis_turns_the_coordinates_about_the_spindle() -> None:
    """By hand: upright already, its x along +Y, so its y along -X: (10, 2) of the plane lies at X -2, Y 10 from its zero."""
    text = posted_text(toolpath([{"origin": [-20, 4, 12], "z": [0, 0, 1], "x": [0, 1, 0]}]), "rs274ngc")
    assert ends(text) == [(-20, 4, 10), (-22, 14, 10)]


@pytest.mark.parametrize("spin", [0, 90, 180, 270])
@pytest.mark.parametrize("plane", ["XZ", "YZ"])
def test_arcs_square_to_a_plane_stay_arcs_where_its_x_lies_along_an_axis(spin: int, plane: str) -> None:
    middle, end = ([3, 0, 0], [6, 0, 0]) if plane == "XZ" else ([0, 3, 0], [0, 6, 0])
    moves = [{"rapid": [0, 0, 40]}, {"cut": [0, 0, 0], "feed": 100}, {"arc": end, "centre": middle, "plane": plane, "turns": "clockwise"}]
    x = Rotation.from_euler("Z", spin, degrees=True).apply([1, 0, 0])
    text = posted_text(toolpath([{"origin": [-20, 4, 12], "z": [0, 0, 1], "x": x.tolist()}], moves=moves), "rs274ngc")
    across = (plane == "XZ") == (spin % 180 == 0)
    assert sum(line.startswith(("G18 G2", "G18 G3") if across else ("G19 G2", "G19 G3")) for line in text.splitlines()) == 1


def test_arcs_square_to_a_plane_that_lies_askew_are_cut_to_tolerance_and_proved() -> None:
    moves = [
        {"rapid": [0, 0, 40]},
        {"cut": [0, 0, 0], "feed": 100},
        {"arc": [6, 0, 0], "centre": [3, 0, 0], "plane": "XZ", "turns": "clockwise"},
    ]
    text = posted_text(toolpath([{"origin": [-20, 4, 12], "z": [0, 0, 1], "x": [0.8, 0.6, 0]}], moves=moves), "rs274ngc")
    places = np.array(ends(text)[1:])
    along = (places[:, :2] - [-20, 4]) @ [0.8, 0.6]
    assert len(places) > 8
    np.testing.assert_allclose(np.hypot(along - 3, places[:, 2] - 12), 3, atol=2e-3)
    np.testing.assert_allclose((places[:, :2] - [-20, 4]) @ [-0.6, 0.8], 0, atol=2e-3)


def test_about_z_the_free_rotary_turns_the_plane_s_x_onto_x() -> None:
    assert phi_of_plane(Plane(origin=(0, 0, 0), z=(0, 0, 1), x=(0, 1, 0)), "Z") == (-90.0, 0.0)


@pytest.mark.parametrize(
    ("plane", "axis", "profile", "wrong"),
    [
        ({"z": [0.1, 0, 1]}, "X", "rs274ngc", r"plane 1, \[0.0995037, 0, 0.995037\], leans 5.711 degrees .* square to X"),
        ({"z": [0, 0.1, 1]}, "Y", "rs274ngc-b", r"leans 5.711 degrees .* square to Y"),
        ({"z": [0, 0.1, 1]}, "Z", "upright-c", r"leans 5.711 degrees .* z has to be Z"),
        (
            {"z": [0, 1, 2.5]},
            "X",
            "fixed-steps",
            r"plane 1 is upright at -21.8014 degrees, not one of .* steps of 5 degrees; the nearest is -20",
        ),
    ],
)
def test_a_plane_that_the_machine_does_not_reach_is_refused_with_the_angle(plane: dict, axis: str, profile: str, wrong: str) -> None:
    with pytest.raises(PlanError, match=wrong):
        posted_text(toolpath([{"origin": [0, 0, 20], **plane}], axis), profile)


def test_a_head_with_steps_stands_exactly_at_the_step_of_a_plane() -> None:
    z = Rotation.from_euler("X", 35, degrees=True).apply(UP).round(6)
    ((lying,),) = lyings(1, setup([{"origin": [0, 0, 0], "z": z.tolist()}], profile="fixed-steps"))
    assert lying.rotary_deg == (35,)


def test_turned_end_for_end_a_plane_keeps_its_own_coordinates_and_the_angle_of_the_rotary() -> None:
    """By hand: the part turned by half a turn about Z, the plane's zero (-20, 4, 12) comes to (20, -4, 12), and x, y run the other way."""
    held = {"shape": "round", "diameter": 40, "from": -90, "to": 10, "held": {"at": "to"}}
    plane = {"origin": [-20, 4, 12], "z": [0, 0, 1]}
    text = posted_text(toolpath([plane], centre=[0, 0, 0], stock=held), "rs274ngc")
    assert ends(text) == [(20, -4, 10), (10, -6, 10)]


DRAWN = [
    {"rapid": [0, 0, 12]},
    {"cut": [0, 0, -1], "feed": 100},
    {"cut": [4, 15, -1], "feed": 300},
    {"arc": [8, 19, -1], "centre": [4, 19, -1], "turns": "counterclockwise"},
    {"arc": [8, 25, -1], "centre": [8, 22, -1], "plane": "YZ", "turns": "clockwise"},
    {"rapid": [8, 25, 12]},
    {"hole": [12, 7], "retract": 5, "bottom": -4, "feed": 80},
    {"rapid": [12, 7, 12]},
]
"""A drawing without symmetry, with all that can be wrapped."""


def wrapped(axis: str, moves: list[dict[str, Any]], **rotary: Any) -> Toolpath:
    return toolpath([], axis, moves, rotary={"intent": "wrapped", "diameter": 40, **rotary}, centre=[0, 0, 0])


def blocks(path: Toolpath) -> list[str]:
    return [line for line in posted_text(path, "rs274ngc" if path.axis == "X" else "rs274ngc-b").splitlines() if not line.startswith("(")]


def shifted(moves: list[dict[str, Any]], along: int, by: float, quarter: int) -> list[dict[str, Any]]:
    """The same drawing turned by quarters in its plane and moved along the axis, by hand."""
    turn = Rotation.from_euler("Z", 90 * quarter, degrees=True)

    def moved(point: list[float]) -> list[float]:
        place = turn.apply([*point, 0][:3]).round(9)
        place[along] += by
        return place.tolist()[: len(point)]

    out = []
    for move in moves:
        new = {key: moved(value) if key in ("rapid", "cut", "arc", "centre", "hole") else value for key, value in move.items()}
        if move.get("plane") == "YZ" and quarter:
            # about the axis that YZ is square to, which points another way now: +X to +Y, -X, -Y
            new |= {1: {"plane": "XZ"}, 2: {"turns": "counterclockwise"}, 3: {"plane": "XZ", "turns": "counterclockwise"}}[quarter]
        out.append(new)
    return out


@pytest.mark.parametrize(
    ("axis", "plane", "start", "quarter", "by"),
    [
        ("X", {"origin": [-30, 0, 0], "z": [0, 0, 1], "x": [1, 0, 0]}, 0, 0, -30),
        ("X", {"origin": [-30, 0, 0], "z": [0, -1, 0], "x": [1, 0, 0]}, 90, 0, -30),
        ("X", {"origin": [-30, 0, 0], "z": [0, 0, 1], "x": [-1, 0, 0]}, 0, 2, -30),
        ("X", {"origin": [-30, 0, 0], "z": [0, -1, 0], "x": [-1, 0, 0]}, 90, 2, -30),
        ("Y", {"origin": [0, -30, 0], "z": [0, 0, 1], "x": [0, 1, 0]}, 0, 1, -30),
        ("Y", {"origin": [0, -30, 0], "z": [1, 0, 0], "x": [0, -1, 0]}, 90, 3, -30),
    ],
)
def test_a_drawing_that_begins_in_a_plane_is_the_one_that_a_hand_turns_and_moves(
    axis: str, plane: dict[str, Any], start: float, quarter: int, by: float
) -> None:
    """Design, two rotary axes, section 4: the drawing is that of axis X in the plane's frame, its z where the angle is 0.

    By hand: -Y is at 90 about X, +X at 90 about Y; seen against the axis the drawing is turned by half a turn.
    """
    along = 0 if axis == "X" else 1
    by_hand = wrapped(axis, shifted(DRAWN, along, by, quarter), start_angle=start)
    assert blocks(wrapped(axis, DRAWN, plane=plane)) == blocks(by_hand)


def test_a_start_angle_counts_right_hand_about_the_plane_s_x() -> None:
    against = {"origin": [-30, 0, 0], "z": [0, 0, 1], "x": [-1, 0, 0]}
    assert blocks(wrapped("X", DRAWN, plane=against, start_angle=20)) == blocks(
        wrapped("X", shifted(DRAWN, 0, -30, 2), start_angle=-20),
    )


def test_turned_end_for_end_a_drawing_in_a_plane_gives_the_program_of_the_same_drawing_without() -> None:
    held = {"shape": "round", "diameter": 40, "from": -90, "to": 10, "held": {"at": "to"}}
    plane = {"origin": [-30, 0, 0], "z": [0, 0, 1], "x": [1, 0, 0]}
    one, other = (
        toolpath([], "X", moves, rotary={"intent": "wrapped", "diameter": 40, **rotary}, centre=[0, 0, 0], stock=held)
        for moves, rotary in ((DRAWN, {"plane": plane, "start_angle": 15}), (shifted(DRAWN, 0, -30, 0), {"start_angle": 15}))
    )
    assert blocks(one) == blocks(other)


@pytest.mark.parametrize(
    ("plane", "wrong"),
    [
        ({"origin": [0, 0.5, 0], "z": [0, 0, 1]}, "begins 0.5 mm beside the axis of rotation"),
        ({"origin": [0, 0, 0], "z": [0, 0, 1], "x": [1, 0.1, 0]}, "has an x that leans 5.711 degrees from X"),
        ({"origin": [0, 0, 0], "z": [0, 0, 1], "x": [0, 1, 0]}, "has an x that leans 90 degrees from X"),
    ],
)
def test_a_drawing_that_does_not_begin_on_the_axis_is_refused(plane: dict[str, Any], wrong: str) -> None:
    with pytest.raises(PlanError, match=wrong):
        posted_text(wrapped("X", DRAWN, plane=plane), "rs274ngc")


@pytest.mark.parametrize(
    "other",
    [
        {"origin": [-30.1, 0, 0]},
        {"z": [0, -0.01, 1]},
        {"x": [-1, 0, 0]},
        {"origin": [-30, 0.1, 0]},
        {"x": [1, 0.01, 0]},
    ],
)
def test_the_program_of_one_drawing_is_refused_against_a_drawing_in_another_plane(other: dict[str, Any]) -> None:
    plane = {"origin": [-30, 0, 0], "z": [0, 0, 1], "x": [1, 0, 0]}
    text = posted_text(wrapped("X", DRAWN, plane=plane), "rs274ngc").encode()
    profile = load_profile("rs274ngc")
    assert prove(text, wrapped("X", DRAWN, plane=plane), profile).proved
    assert not prove(text, wrapped("X", DRAWN, plane={**plane, **other}), profile).proved
