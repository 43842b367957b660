"""A drawing that the tool goes round: laid out in straight parts that stay within a quarter of the tolerance, and hardly more of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from planning_parts import operation, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion.around import laid_out
from steadyrest.motion.setup import Setup, set_up
from steadyrest.profile import Profile, load_profile

TURNS = {"positive_turns_chuck": "clockwise"}
HEAD = {"C": TURNS | {"along": "Z", "chuck_faces": "+Z"}, "A": TURNS | {"along": "X", "chuck_faces": "+X", "pivot": [0, 0, 150]}}
QUARTER_MM = 0.0025
"""A quarter of the tolerance, 0.01 mm."""


def setup_of(moves: list[dict[str, Any]], **intent: Any) -> Setup:
    spoken = load_profile("rs274ngc").model_dump(by_alias=True)
    profile = Profile.model_validate(spoken | {"name": "hand", "chain": "part bed C A spindle", "rotary": HEAD})
    wrapped = operation({"intent": "wrapped", "diameter": 40, "z_from": "surface", **intent}, moves, tool=1)
    return set_up(toolpath(wrapped), profile, gauge_lengths={1: 100})


def drawn(tips: np.ndarray, axes: np.ndarray) -> np.ndarray:
    """x, developed length on a diameter of 40, and height over the surface, of places on the part round X."""
    turn = np.unwrap(np.arctan2(axes[:, 1], axes[:, 2]))
    np.testing.assert_allclose(tips[:, 1] * axes[:, 2], tips[:, 2] * axes[:, 1], atol=1e-9)
    return np.column_stack([tips[:, 0], 20 * turn, np.hypot(tips[:, 1], tips[:, 2]) - 20])


def wound(places: np.ndarray) -> np.ndarray:
    turn, high = places[:, 1] / 20, places[:, 2] + 20
    return np.column_stack([places[:, 0], high * np.sin(turn), high * np.cos(turn)])


START: list[dict[str, Any]] = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, -1], "feed": 200}]


def strays(move: dict[str, Any], asked: Any) -> np.ndarray:
    """How far the way half between the ends of each part of the last move is from the drawing there, mm.

    asked   of the places at which parts begin and end, (n, 3) in the drawing, the places of the drawing half between
    """
    (run,) = laid_out(1, setup_of([*START, move]))
    assert run.tool_axis is not None
    places = drawn(run.end, run.tool_axis)
    last = np.flatnonzero(run.move == 3)
    np.testing.assert_allclose(places[last[-1]], move.get("cut", move.get("arc")), atol=1e-9)
    between = wound(asked(places[last - 1], places[last]))
    return np.asarray(np.linalg.norm(between - (run.end[last - 1] + run.end[last]) / 2, axis=1))


@pytest.mark.parametrize(
    ("end", "parts"),
    [([-40, 30, -1], (40, 60)), ([-10, 30, 15], (60, 85)), ([-10, -50, -18], (95, 105)), ([-10, 2, -1], (3, 5)), ([-10, 0, 10], (1, 1))],
)
def test_a_straight_move_goes_round_in_parts_that_stray_by_no_more_than_a_quarter_of_the_tolerance(
    end: list[float], parts: tuple[int, int]
) -> None:
    """Round 19 mm out by 1.5 radians: chords of c radians stray by 19 c c / 8, so that 47 parts are needed."""
    off = strays({"cut": end, "feed": 500}, lambda begin, stop: (begin + stop) / 2)
    assert off.max() <= QUARTER_MM
    assert parts[0] <= len(off) <= parts[1]


@pytest.mark.parametrize(("radius", "most"), [(1.0, 90), (10.0, 320), (18.0, 600)])
@pytest.mark.parametrize("turns", ["clockwise", "counterclockwise"])
def test_an_arc_goes_round_in_parts_that_stray_by_no_more_than_a_quarter_of_the_tolerance(radius: float, most: int, turns: str) -> None:
    def on_arc(begin: np.ndarray, stop: np.ndarray) -> np.ndarray:
        outwards = (begin + stop)[:, :2] / 2 - (-10 - radius, 0)
        flat = (-10 - radius, 0) + radius * outwards / np.linalg.norm(outwards, axis=1)[:, None]
        return np.column_stack([flat, (begin + stop)[:, 2] / 2])

    off = strays({"arc": [-10, 0, -1], "centre": [-10 - radius, 0, -1], "turns": turns, "feed": 300}, on_arc)
    assert off.max() <= QUARTER_MM
    assert len(off) <= most


def test_the_axis_of_a_drawing_may_lie_a_quarter_of_the_tolerance_beside_the_toolpaths_own_and_no_farther() -> None:
    move = {"cut": [-40, 30, -1], "feed": 500}

    def beside(aside: float) -> list[Any]:
        return list(laid_out(1, setup_of([*START, move], plane={"origin": [0, aside, 0], "x": [1, 0, 0], "z": [0, 0, 1]})))

    assert len(beside(0.0024)) == 1
    with pytest.raises(PlanError, match="begins beside the toolpath's axis X"):
        beside(0.0026)
