"""Where the machine stands after blocks, and where each of them begins."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.motion.model import NAN, Stand, after, constant, motion, starts, unknown

STAND = Stand((1.0, 2.0, 3.0), (10.0,), arrived=(True,))


def rows(*places: tuple[float, float, float, float]) -> object:
    columns = np.array(places)
    return motion(1, columns[:, :3], columns[:, 3:])


def test_an_axis_that_is_not_commanded_stays_where_it_was_last_told_to_be() -> None:
    found = after(rows((5, NAN, 1, NAN), (6, NAN, 4, NAN), (7, NAN, NAN, NAN)), STAND)  # type: ignore[arg-type]
    assert ((7.0, 2.0, 4.0), (10.0,)) == (found.xyz, found.rotary_deg)


@pytest.mark.parametrize(("angle", "arrived"), [(10.0, True), (NAN, True), (11.0, False)])
def test_a_rotary_that_turns_in_a_cut_has_not_arrived_from_its_side(angle: float, arrived: bool) -> None:
    assert (arrived,) == after(rows((0, 0, 0, angle)), STAND).arrived  # type: ignore[arg-type]


def test_each_block_begins_where_the_one_before_ends() -> None:
    xyz, rotary = starts(rows((4, 5, 6, 20), (7, 8, 9, 30)), STAND)  # type: ignore[arg-type]
    assert [[1, 2, 3], [4, 5, 6]] == xyz.tolist()
    assert [[10], [20]] == rotary.tolist()


def test_before_anything_was_said_nothing_is_known() -> None:
    assert np.isnan([*unknown(2).xyz, *unknown(2).rotary_deg]).all()
    assert 5 == len([*unknown(2).xyz, *unknown(2).rotary_deg])
    assert ((None, None), (False, False)) == (unknown(2).clamped, unknown(2).arrived)


@pytest.mark.parametrize("n", [3, 1000])
def test_a_column_of_one_value_is_as_long_as_asked_for(n: int) -> None:
    assert ((n, 2), {7.0}) == ((column := constant(7.0, (n, 2))).shape, set(column.ravel().tolist()))
