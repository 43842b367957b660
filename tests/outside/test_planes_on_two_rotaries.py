"""Planes and angles on two rotaries in the table: SciPy turns the machine back into the part, and every point has to lie where asked.

Sources: SciPy's rotations, nobody's work here; by hand the numbers of a table C carried by A (ISO 841 names A+ on a table as it turns the
part left-hand about X, from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest.motion import plan
from steadyrest.motion.model import Event, Motion
from steadyrest.motion.planes import lyings
from steadyrest.motion.setup import Setup, set_up
from steadyrest.profile import Profile
from steadyrest.toolpath import parse_toolpath

C = {"along": "Z", "seen": "+Z"}
TABLES: dict[str, tuple[str, dict[str, dict[str, Any]]]] = {
    "C on A": ("part C A bed spindle", {"C": C, "A": {"along": "X", "seen": "+X", "point": [0, 0.12, 48]}}),
    "C on B": ("part C B bed spindle", {"C": C, "B": {"along": "Y", "seen": "-Y", "point": [0.2, 0, -30]}}),
    "C on a leaning B": (
        "part C B bed spindle",
        {"C": C, "B": {"along": "Z", "seen": "+Z", "point": [0.1, -0.3, 60], "leans": {"towards": "+Y", "by": 45}}},
    ),
    "A on B": ("part A B bed spindle", {"A": {"along": "X", "seen": "-X", "point": [3, 0, 0]}, "B": {"along": "Y", "seen": "+Y"}}),
}
CENTRE = np.array([1.0, 2.0, 3.0])


def profile(name: str, **facts: Any) -> Profile:
    words, rotaries = TABLES[name]
    rotary = {
        letter: {"along": said["along"], "chuck_faces": said["seen"], "positive_turns_chuck": "clockwise"}
        | {key: said[key] for key in ("point", "leans") if key in said}
        | facts.get(letter, {})
        for letter, said in rotaries.items()
    }
    return Profile.model_validate({"name": "hand", "speaks": "a machine of the tests", "chain": words, "rotary": rotary})


def direction(rotary: dict[str, Any]) -> np.ndarray:
    """The + direction of an axis, as section 3 of the design says it."""
    along = np.eye(3)["XYZ".index(rotary["along"])]
    if "leans" not in rotary:
        return along
    towards, by = rotary["leans"]["towards"], np.deg2rad(rotary["leans"]["by"])
    aside = np.eye(3)["XYZ".index(towards[1])] * (1 if towards[0] == "+" else -1)
    return np.cos(by) * along + np.sin(by) * aside


def in_part(
    name: str, w_deg: np.ndarray, points: np.ndarray, facts: dict[str, dict[str, Any]] | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Where points of the machine lie in the part, and where its Z points: the table turned back, from the bed to the part."""
    _, rotaries = TABLES[name]
    axis = np.array([0.0, 0.0, 1.0])
    for (letter, said), angle in reversed(list(zip(rotaries.items(), w_deg, strict=True))):
        # clockwise, looked at from the end `seen`, is left-hand about the direction of that end; turned back it is right-hand
        sign = 1 if said["seen"][0] == "+" else -1
        turn = Rotation.from_rotvec(np.deg2rad(sign * angle) * direction(said))
        centre = CENTRE + ((facts or {}).get(letter, said).get("point") or (0, 0, 0))
        points, axis = turn.apply(points - centre) + centre, turn.apply(axis)
    return points, axis


def toolpath(rotary: dict[str, Any], moves: list[dict[str, Any]], **more: Any) -> Any:
    operation = {"tool": 1, "spindle": {"rpm": 3000, "turns": "clockwise"}, "rotary": rotary, "moves": moves}
    stock = {"shape": "round", "diameter": 40, "from": -30, "to": 10}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    said = {"steadyrest_toolpath": 1, "units": "mm", "axis": "X", "centre": CENTRE.tolist(), "stock": stock, "tools": tools}
    return parse_toolpath({**said, "operations": [operation], **more})


MOVES = [{"rapid": [0, 0, 90]}, {"cut": [0, 0, -2], "feed": 100}, {"cut": [10, 2, -2], "feed": 300}, {"rapid": [10, 2, 90]}]


def setup(name: str, rotary: dict[str, Any]) -> Setup:
    return set_up(toolpath(rotary, MOVES), profile(name))


def frame_of(first: float, second: float, spin: float) -> np.ndarray:
    return Rotation.from_euler("ZXZ", [first, second, spin], degrees=True).as_matrix()


@pytest.mark.parametrize("name", TABLES)
@given(
    turns=st.tuples(st.floats(-180, 180), st.floats(0, 80), st.floats(-180, 180)),
    origin=st.tuples(*[st.floats(-20, 20)] * 3),
)
def test_every_point_of_a_plane_lies_where_it_was_asked_in_both_solutions(
    name: str, turns: tuple[float, float, float], origin: tuple[float, float, float]
) -> None:
    frame = frame_of(*turns)
    plane = {"origin": list(origin), "z": frame[:, 2].tolist(), "x": frame[:, 0].tolist()}
    (found,) = lyings(1, setup(name, {"intent": "indexed", "planes": [plane]}))
    points = np.array([[0.0, 0.0, 0.0], [7.0, 0.0, 0.0], [0.0, 11.0, 0.0], [3.0, -5.0, 13.0]])
    assert len(found) == 2 or turns[1] < 1e-3 or name == "A on B"
    for lying in found:
        part, axis = in_part(name, np.array(lying.rotary_deg), lying.placed(points))
        np.testing.assert_allclose(axis, frame[:, 2], atol=3e-6)
        np.testing.assert_allclose(part, np.array(origin) + points @ frame.T, atol=3e-4)


@given(angle=st.floats(-70, 70), axis=st.sampled_from("XYZ"), name=st.sampled_from(list(TABLES)))
def test_an_angle_is_the_plane_that_is_turned_about_the_axis_of_the_toolpath(angle: float, axis: str, name: str) -> None:
    """Design, two rotary axes, section 4: E = R(alpha), origin = c - R(alpha) c; work coordinates at that angle, so turned about c."""
    path = toolpath({"intent": "indexed", "angles": [angle]}, MOVES, axis=axis)
    (found,) = lyings(1, set_up(path, profile(name)))
    points = np.array([[0.0, 0.0, 0.0], [7.0, 0.0, 0.0], [3.0, -5.0, 13.0]])
    turn = Rotation.from_euler(axis, angle, degrees=True)
    for lying in found:
        part, axis_found = in_part(name, np.array(lying.rotary_deg), lying.placed(points))
        np.testing.assert_allclose(axis_found, turn.apply([0, 0, 1]), atol=3e-6)
        np.testing.assert_allclose(part, turn.apply(points - CENTRE) + CENTRE, atol=3e-4)


def test_the_plane_of_a_hand_is_reached_at_the_angles_and_the_place_that_the_design_quotes() -> None:
    """Design, two rotary axes, section 10: C on A, t = (1, 2, 3) / sqrt 14: A 36.699225, C 153.434949, X -22.360680 Y -2.988072 Z 33.407655
    for p (30, 10, 25), the axes through the zero of the part."""
    plane = {"origin": [30, 10, 25], "z": [1, 2, 3]}
    plain = profile("C on A", A={"point": None})
    path = toolpath({"intent": "indexed", "planes": [plane]}, MOVES, centre=[0, 0, 0])
    (found,) = lyings(1, set_up(path, plain))
    told = {tuple(round(angle, 6) for angle in lying.rotary_deg): lying.placed(np.zeros((1, 3)))[0] for lying in found}
    assert (153.434949, 36.699225) in told
    np.testing.assert_allclose(told[153.434949, 36.699225], [-22.360680, -2.988072, 33.407655], atol=1e-6)


@pytest.mark.parametrize("name", ["C on A", "C on B", "C on a leaning B"])
@pytest.mark.parametrize("spin", [0, 30, 90, -135, 180])
def test_at_the_pole_the_free_rotary_turns_the_plane_s_x_onto_x(name: str, spin: float) -> None:
    frame = frame_of(0, 0, spin)
    plane = {"origin": [5, 6, 7], "z": [0, 0, 1], "x": frame[:, 0].tolist()}
    ((lying,),) = lyings(1, setup(name, {"intent": "indexed", "planes": [plane]}))
    assert lying.quarters == 0
    assert lying.rotary_deg == pytest.approx((spin if spin > -180 else 180, 0))
    part, _ = in_part(name, np.array(lying.rotary_deg), lying.placed(np.array([[7.0, 0.0, 0.0]])))
    np.testing.assert_allclose(part, [np.array([5, 6, 7]) + 7 * frame[:, 0]], atol=1e-9)


def cuts(items: list[Any]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Where X Y Z and the rotaries stand at each end of a block at feed."""
    at, found = np.full(5, np.nan), []
    for item in items:
        for run in [item] if isinstance(item, Motion) else item.motion if isinstance(item, Event) else []:
            for row in range(len(run)):
                said = np.array([*run.xyz[row], *run.rotary_deg[row]])
                at = np.where(np.isnan(said), at, said)
                if run.kind[row]:
                    found.append((at[:3].copy(), at[3:].copy()))
    return found


@pytest.mark.parametrize("name", TABLES)
def test_a_whole_plan_cuts_what_is_asked_with_its_arcs_kept(name: str) -> None:
    frames = [frame_of(30, 40, 20), frame_of(-100, 65, 0), frame_of(0, 0, 50)]
    planes = [{"origin": [4, -3, 9], "z": frame[:, 2].tolist(), "x": frame[:, 0].tolist()} for frame in frames]
    arc = {"arc": [10, 8, -2], "centre": [10, 5, -2], "turns": "counterclockwise"}
    path = toolpath({"intent": "indexed", "planes": planes}, [*MOVES[:3], arc, MOVES[3] | {"rapid": [10, 8, 90]}])
    items = list(plan(path, profile(name)).items)
    found = cuts(items)
    asked = [[0, 0, -2], [10, 2, -2], [10, 8, -2]]
    wanted = [np.array([4, -3, 9]) + frame @ point for frame in frames for point in asked]
    assert len(wanted) == len(found)
    for (xyz, w_deg), place in zip(found, wanted, strict=True):
        np.testing.assert_allclose(in_part(name, w_deg, xyz[None])[0][0], place, atol=1e-4)
    assert 3 == sum(isinstance(run, Motion) and run.arcs is not None for run in items)
    centres = [run.arcs.centre[run.kind > 1][0] for run in items if isinstance(run, Motion) and run.arcs is not None]
    stands = [w_deg for _, w_deg in found[2::3]]
    for centre, w_deg, frame in zip(centres, stands, frames, strict=True):
        np.testing.assert_allclose(in_part(name, w_deg, centre[None])[0][0], np.array([4, -3, 9]) + frame @ [10, 5, -2], atol=1e-4)
