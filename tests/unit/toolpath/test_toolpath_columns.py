"""Holes and arcs in columns: rows taken, and told apart where a cycle has to say something else."""

import numpy as np
from toolpath_parts import CUT, RAPID, toolpath

from steadyrest.toolpath import CYCLES, Holes, MoveColumns, parse_toolpath

DRILLED = {"hole": [0, 0], "retract": 22, "bottom": 15, "feed": 100}
PECKED = {**DRILLED, "cycle": "peck", "peck": 2}


def holes(*moves: dict[str, object]) -> Holes:
    (run,) = parse_toolpath(toolpath(list(moves))).operations[0].stream()
    assert isinstance(run, Holes)
    return run


def test_neighbouring_holes_are_one_run_whatever_their_cycles() -> None:
    run = holes(DRILLED, PECKED, DRILLED)
    assert [1, 2, 3] == run.move.tolist()
    assert ["drill", "peck", "drill"] == [CYCLES[cycle] for cycle in run.cycle]
    assert [None, 2.0, None] == [hole.peck for hole in run]


def test_holes_are_alike_as_long_as_only_their_places_and_surfaces_differ() -> None:
    elsewhere, from_a_surface = {**DRILLED, "hole": [5, 5]}, {**DRILLED, "hole": [0, 0, 20]}
    run = holes(DRILLED, elsewhere, from_a_surface, PECKED, PECKED, {**PECKED, "peck": 3}, {**PECKED, "peck": 3, "dwell": 1}, DRILLED)
    assert [[1, 2, 3], [4, 5], [6], [7], [8]] == [like.move.tolist() for like in run.alike()]
    assert [[1, 2], [3], [4, 5], [6], [7], [8]] == [like.move.tolist() for like in run.alike(2)]


def test_each_of_depth_height_and_feed_makes_another_cycle() -> None:
    for key, value in {"bottom": 14, "retract": 23, "feed": 90}.items():
        assert 2 == len(list(holes(DRILLED, {**DRILLED, key: value}).alike())), key


def test_rows_of_a_run_keep_their_arcs_and_the_numbers_of_their_moves() -> None:
    arc = {"arc": [-10, 10, 15], "centre": [-10, 5, 15], "turns": "clockwise"}
    (run,) = parse_toolpath(toolpath([RAPID, CUT, {**arc, "centre": [-10, 5, 0]}, CUT])).operations[0].stream()
    assert isinstance(run, MoveColumns)
    part = run.rows(2, 4)
    assert part.arcs is not None
    assert run.arcs is not None
    assert (3, 2) == (part.first_move, len(part))
    np.testing.assert_array_equal(part.arcs.sweep_rad, run.arcs.sweep_rad[2:4])
    np.testing.assert_array_equal(part.arcs.centre[0], [-10, 5, 15])
