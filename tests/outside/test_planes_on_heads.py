"""Planes and angles where a head turns the tool: SciPy puts tool and part together again, and every point has to lie where asked.

Sources: SciPy's rotations, nobody's work here; the worked numbers of the design, two rotary axes, section 10 (head B, table C, 150 to the
pivot with the tool).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from test_planes_on_two_rotaries import CENTRE, MOVES, direction, frame_of, toolpath

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import plan
from steadyrest.motion.model import Event, Motion
from steadyrest.motion.planes import lyings
from steadyrest.motion.setup import set_up
from steadyrest.profile import Profile, load_profile

GAUGE = 128.35
C = {"along": "Z", "seen": "+Z"}
HEADS: dict[str, tuple[str, dict[str, dict[str, Any]]]] = {
    "C below, B in the head": ("part C bed B spindle", {"C": C, "B": {"along": "Y", "seen": "+Y", "pivot": [0.2, 0, 150]}}),
    "A below, B in the head": (
        "part A bed B spindle",
        {"A": {"along": "X", "seen": "+X", "point": [0, 0.5, 20]}, "B": {"along": "Y", "seen": "-Y", "pivot": [0.3, 0, 150]}},
    ),
    "C and A in the head": (
        "part bed C A spindle",
        {"C": C | {"pivot": [0.1, 0, 90]}, "A": {"along": "X", "seen": "+X", "pivot": [0, -0.4, 170]}},
    ),
    "a head that leans": (
        "part bed C B spindle",
        {"C": C, "B": {"along": "Z", "seen": "+Z", "pivot": [0, 0, 145], "leans": {"towards": "-Y", "by": 45}}},
    ),
    "B in the head, alone": ("part bed B spindle", {"B": {"along": "Y", "seen": "+Y", "pivot": [0, 0, 150]}}),
}


def profile(name: str, **facts: Any) -> Profile:
    words, rotaries = HEADS[name]
    rotary = {
        letter: {"along": said["along"], "chuck_faces": said["seen"], "positive_turns_chuck": "clockwise"}
        | {key: said[key] for key in ("point", "pivot", "leans") if key in said}
        | facts.get(letter, {})
        for letter, said in rotaries.items()
    }
    spoken = load_profile("rs274ngc").model_dump(by_alias=True)
    return Profile.model_validate(spoken | {"name": "hand", "chain": words, "rotary": rotary})


def in_part(name: str, w_deg: np.ndarray, xyz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Tips and tool axis in the part: the head turned about its pivots, then the table turned back, by what is seen at the machine."""
    words, rotaries = HEADS[name]
    order = words.split()
    bed = order.index("bed")
    tip, axis, moved = np.zeros_like(xyz), np.array([0.0, 0.0, 1.0]), False
    for letter, angle in reversed(list(zip(rotaries, w_deg, strict=True))):
        said, in_head = rotaries[letter], order.index(letter) > bed
        # clockwise, looked at from the end `seen`, is left-hand about the direction of that end; a table turned back is right-hand
        sign = (1 if said["seen"][0] == "+" else -1) * (-1 if in_head else 1)
        turn = Rotation.from_rotvec(np.deg2rad(sign * angle) * direction(said))
        if not in_head and not moved:
            tip, moved = tip + xyz, True
        centre = np.array(said.get("pivot", (0, 0, 0))) + np.array([0, 0, GAUGE]) if in_head else CENTRE + said.get("point", (0, 0, 0))
        tip, axis = turn.apply(tip - centre) + centre, turn.apply(axis)
    return tip if moved else tip + xyz, axis


@pytest.mark.parametrize("name", HEADS)
@given(tilt=st.floats(-80, 80), first=st.floats(-180, 180), origin=st.tuples(*[st.floats(-20, 20)] * 3))
def test_every_point_of_a_plane_lies_where_it_was_asked_in_both_solutions(
    name: str, tilt: float, first: float, origin: tuple[float, float, float]
) -> None:
    frame = Rotation.from_euler("Y", tilt, degrees=True).as_matrix() @ Rotation.from_euler("Z", first, degrees=True).as_matrix()
    if not name.startswith("B"):
        frame = Rotation.from_euler("Z", first, degrees=True).as_matrix() @ frame
    plane = {"origin": list(origin), "z": frame[:, 2].tolist(), "x": frame[:, 0].tolist()}
    setup = set_up(toolpath({"intent": "indexed", "planes": [plane]}, MOVES), profile(name), gauge_lengths={1: GAUGE})
    (found,) = lyings(1, setup)
    points = np.array([[0.0, 0.0, 0.0], [7.0, 0.0, 0.0], [0.0, 11.0, 0.0], [3.0, -5.0, 13.0]])
    assert 1 <= len(found) <= 2
    for lying in found:
        placed = lying.placed(points)
        part, axis = in_part(name, np.array(lying.rotary_deg), placed)
        np.testing.assert_allclose(axis, frame[:, 2], atol=3e-6)
        np.testing.assert_allclose(part, np.array(origin) + points @ frame.T, atol=1e-3)
        np.testing.assert_allclose(lying.drawn(placed), points, atol=1e-6)


def stands(items: list[Any]) -> list[tuple[int, np.ndarray, np.ndarray]]:
    """Kind of each block, and where X Y Z and the rotaries stand after it; Z is unknown after a retract."""
    count = next(run.rotary_deg.shape[1] for item in items if isinstance(item, Motion) for run in [item])
    at, found = np.full(3 + count, np.nan), []
    for item in items:
        if isinstance(item, Event) and item.name == "retract":
            at[2] = np.nan
        for run in [item] if isinstance(item, Motion) else item.motion if isinstance(item, Event) else []:
            for row in range(len(run)):
                said = np.array([*run.xyz[row], *run.rotary_deg[row]])
                at = np.where(np.isnan(said), at, said)
                found.append((int(run.kind[row]), at[:3].copy(), at[3:].copy()))
    return found


FRAME = Rotation.from_euler("Y", 40, degrees=True).as_matrix()
PLANE = {"origin": [4, -3, 9], "z": FRAME[:, 2].tolist(), "x": FRAME[:, 0].tolist()}
ARC = {"arc": [10, 8, -2], "centre": [10, 5, -2], "turns": "counterclockwise"}


def planned(name: str, moves: list[dict[str, Any]], *planes: dict[str, Any], **facts: Any) -> list[Any]:
    path = toolpath({"intent": "indexed", "planes": list(planes) or [PLANE]}, moves)
    return list(plan(path, profile(name, **facts), gauge_lengths={1: GAUGE}).items)


@pytest.mark.parametrize("name", HEADS)
def test_with_the_tool_leaning_arcs_are_cut_straight_within_tolerance_and_nothing_goes_at_rapid_but_the_way_over_it(name: str) -> None:
    items = planned(name, [*MOVES[:3], ARC, {"rapid": [10, 8, 90]}])
    found = stands(items)
    drawn = []
    for kind, xyz, w_deg in found:
        if kind == RAPID or np.isnan(xyz).any():
            continue
        part, axis = in_part(name, w_deg, xyz[None])
        np.testing.assert_allclose(axis, FRAME[:, 2], atol=1e-9)
        drawn.append(FRAME.T @ (part[0] - [4, -3, 9]))
    low = [point for point in drawn if abs(point[2] + 2) < 1e-9]
    np.testing.assert_allclose(low[1], [10, 2, -2], atol=1e-9)
    assert len(low) > 8
    assert all(abs(np.hypot(*(point[:2] - (10, 5))) - 3) < 0.01 for point in low[1:])
    assert drawn[-1] == pytest.approx([10, 8, 90], abs=1e-9)


LEVEL = {"+X": ([1, 0, 0], [0, 1, 0]), "-X": ([-1, 0, 0], [0, 0.6, 0.8]), "+Y": ([0, 1, 0], [1, 0, 0]), "-Y": ([0, -1, 0], [0, 0, 1])}
HALF_CIRCLES = [
    ({"arc": [10, 8, -2], "centre": [10, 5, -2], "turns": "counterclockwise"}, [13, 5, -2]),
    ({"arc": [16, 8, -2], "centre": [13, 8, -2], "turns": "counterclockwise", "plane": "XZ"}, [13, 8, 1]),
    ({"arc": [16, 14, -2], "centre": [16, 11, -2], "turns": "clockwise", "plane": "YZ"}, [16, 11, 1]),
]
"""Half circles one after the other from (10, 2, -2), and by hand the middle of each."""


@pytest.mark.parametrize("name", HEADS)
@pytest.mark.parametrize("z", LEVEL)
def test_where_the_tool_lies_along_x_or_y_arcs_across_an_axis_stay_arcs_in_its_plane_and_turn_the_right_way(name: str, z: str) -> None:
    if name == "B in the head, alone" and z[1] == "Y":
        return  # out of its reach
    up, x = LEVEL[z]
    frame = np.column_stack([x, np.cross(up, x), up])
    plane = {"origin": [4, -3, 9], "z": up, "x": x}
    items = planned(name, [*MOVES[:3], *(arc for arc, _ in HALF_CIRCLES), {"rapid": [16, 14, 90]}], plane)
    turning = [run for run in items if isinstance(run, Motion) and run.arcs is not None]
    stand, middles = stands(items), []
    for at, (kind, end, w_deg) in enumerate(stand):
        if kind <= 1:
            continue
        begin, centre = stand[at - 1][1], (stand[at - 1][1] + end) / 2
        across = next(run.arcs.plane[row] for run in turning for row in np.flatnonzero(run.kind > 1) if np.allclose(run.xyz[row], end))  # type: ignore[union-attr]
        axis = np.eye(3)[
            {0: 2, 1: 1, 2: 0}[int(across)]
        ]  # XY across Z, XZ across Y, YZ across X; 3 is counterclockwise seen from its + end
        middle = centre + np.cross(axis, begin - centre) * (1 if kind == 3 else -1)
        middles.append(frame.T @ (in_part(name, w_deg, middle[None])[0][0] - [4, -3, 9]))
    wanted = [middle for _, middle in (HALF_CIRCLES[:1] if 0.6 in x else HALF_CIRCLES)]
    np.testing.assert_allclose(middles, wanted, atol=1e-6)


@pytest.mark.parametrize("name", HEADS)
def test_the_tool_comes_and_leaves_along_itself_clear_of_the_ball_of_the_stock(name: str) -> None:
    items = planned(name, [{"rapid": [0, 0, 5]}, {"cut": [0, 0, -2], "feed": 100}, {"cut": [10, 2, -2]}])
    found = [(kind, *in_part(name, w_deg, xyz[None])) for kind, xyz, w_deg in stands(items) if not np.isnan(xyz).any()]
    over = [float((tip[0] - CENTRE) @ axis) for _, tip, axis in found]
    assert over[0] == pytest.approx(np.hypot(20, 30) + 5)
    assert over[-1] == pytest.approx(np.hypot(20, 30) + 5)
    for at, along in ((0, 1), (len(found) - 2, len(found) - 1)):
        way = found[along][1][0] - found[at][1][0]
        assert np.linalg.norm(np.cross(way, FRAME[:, 2])) < 1e-9
        assert found[along][0] != RAPID


@pytest.mark.parametrize("name", HEADS)
def test_holes_are_written_out_along_the_tool(name: str) -> None:
    holes = [
        {"hole": [0, 3], "retract": 6, "bottom": -9, "feed": 140, "cycle": "peck", "peck": 6},
        {"hole": [12, -3], "retract": 6, "bottom": -9},
    ]
    items = planned(name, [*holes, {"rapid": [12, -3, 90]}])
    assert not any(isinstance(item, Event) and item.name == "cycle" for item in items)
    drawn = [
        (kind, FRAME.T @ (in_part(name, w_deg, xyz[None])[0][0] - [4, -3, 9]))
        for kind, xyz, w_deg in stands(items)
        if not np.isnan(xyz).any()
    ]
    lowest = [point for _, point in drawn if abs(point[2] + 9) < 1e-6]
    np.testing.assert_allclose(lowest, [[0, 3, -9], [12, -3, -9]], atol=1e-9)
    assert {kind for kind, point in drawn if point[2] < 6 - 1e-6} == {1}


def test_a_hand_s_numbers_for_a_head_are_met() -> None:
    """Design, section 10: head B, table C, 150 to the pivot: X 112.002825 Z -4.732441 for t = (1, 2, 3) / sqrt 14 and p (30, 10, 25)."""
    plain = profile("C below, B in the head", B={"pivot": [0, 0, 150]})
    path = toolpath({"intent": "indexed", "planes": [{"origin": [30, 10, 25], "z": [1, 2, 3]}]}, MOVES, centre=[0, 0, 0])
    (found,) = lyings(1, set_up(path, plain, gauge_lengths={1: 1e-12}))
    told = [lying.placed(np.zeros((1, 3)))[0].round(6).tolist() for lying in found]
    assert any([112.002825, -4.732441] == [abs(place[0]), place[2]] for place in told), told


def test_a_tool_that_would_point_up_is_refused() -> None:
    frame = Rotation.from_euler("Y", 100, degrees=True).as_matrix()
    below = {"origin": [4, -3, 9], "z": frame[:, 2].tolist()}
    with pytest.raises(PlanError, match="the tool would point up"):
        planned("B in the head, alone", MOVES, below)


def test_without_the_gauge_length_a_head_is_not_turned_and_the_tool_is_named() -> None:
    path = toolpath({"intent": "indexed", "planes": [PLANE]}, MOVES)
    with pytest.raises(PlanError, match="the gauge length of tool 1 is not known"):
        list(plan(path, profile("B in the head, alone")).items)


def test_a_head_is_retracted_to_the_machine_s_own_zero() -> None:
    items = planned("C below, B in the head", MOVES, PLANE, {"origin": [0, 0, 0], "z": [0, 0, 1]})
    z_known = False
    for item in items:
        if isinstance(item, Event) and item.name == "index":
            assert not z_known
        for run in [item] if isinstance(item, Motion) else []:
            z_known = z_known or not np.isnan(run.xyz[:, 2]).all()
        z_known = z_known and not (isinstance(item, Event) and item.name == "retract")


def test_the_head_of_the_program_says_pivots_and_gauge_lengths() -> None:
    facts = planned("C below, B in the head", MOVES)[0].facts
    assert facts["assumed"] == ("axis of C through X1 Y2 Z3", "pivot of B at X0.2 Y0 Z150", "T1 gauge length 128.35")


def test_at_the_pole_a_rotary_of_the_head_stands_at_zero_and_one_of_the_table_lays_x_onto_x() -> None:
    upright = {"origin": [5, 6, 7], "z": [0, 0, 1], "x": frame_of(0, 0, 30)[:, 0].tolist()}
    for name, wanted in (("C and A in the head", (0, 0)), ("a head that leans", (0, 0)), ("C below, B in the head", (30, 0))):
        ((lying,),) = lyings(1, set_up(toolpath({"intent": "indexed", "planes": [upright]}, MOVES), profile(name), gauge_lengths={1: 9}))
        assert lying.rotary_deg == pytest.approx(wanted)
        assert lying.frame is None


@pytest.mark.parametrize("name", HEADS)
@given(turns=st.tuples(st.floats(-180, 180), st.floats(-180, 180)), gauge=st.floats(0, 300), wide=st.floats(1, 80))
def test_at_the_height_where_a_head_may_turn_neither_tip_nor_edge_dips_under_the_clearance(
    name: str, turns: tuple[float, float], gauge: float, wide: float
) -> None:
    """The table at zero: a ball of 36.06 about the centre in which the stock lies, and a clearance of 5; the head anyhow."""
    chain = profile(name)
    height = chain.model_copy(update={"retract": chain.retract.model_copy(update={"form": "height"})})
    path = toolpath({"intent": "still"}, MOVES, tools=[{"number": 1, "shape": "flat", "diameter": wide}])
    clear = set_up(path, height, gauge_lengths={1: gauge}).clear
    assert clear is not None
    order, rotaries = HEADS[name][0].split(), HEADS[name][1]
    w_deg = [angle if order.index(letter) > order.index("bed") else 0.0 for letter, angle in zip(rotaries, turns, strict=False)]
    tip, axis = in_part(name, np.array(w_deg), np.array([[0.0, 0.0, clear]]))
    shorter = GAUGE - gauge  # the tip of a tool of that gauge length, and so the place of X Y Z, lies so much higher
    tip = tip + shorter * (axis - (0, 0, 1))
    lowest = tip[0, 2] - wide / 2 * np.hypot(*axis[:2])
    top = CENTRE[2] + np.hypot(20, 30) + 5
    assert lowest >= top - 1e-9
    assert clear <= top + (41 if "A below" in name else 1) + wide**2 / 8 / 90 + 0.02 * wide  # A takes the centre 20 up and 20 round
