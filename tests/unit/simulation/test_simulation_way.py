"""The way of the tool: from where it comes, what of it is in reach of the stock, and how finely it is stepped through."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import BAR, END_MILL, part, reference
from steadyrest.proof import Frame
from steadyrest.reading import MotionRead, read_program
from steadyrest.simulation.field import stock_field
from steadyrest.simulation.solid import solid_of
from steadyrest.simulation.way import Chart, Way, way_of

JOB = part([END_MILL], BAR)
MILL = solid_of(JOB.tool(1), 1.0)
FRAME = Frame("X", np.zeros(3))
CHART = Chart(stock_field(JOB, 80, 90), FRAME, off_mm=0.05, least_step_mm=0.1, top_mm=20.0)
HEAD = "G21 G90 G94 G17 G54 G40\nT1 M6\nG43 H1\nF100\n"


def way(program: str, sigma: int = -1, replaced: str = "") -> Way:
    """The last run of blocks of a program, which comes down from 77."""
    runs = [item for item in read_program(f"{HEAD}{program}\nM2\n".encode(), reference()) if isinstance(item, MotionRead)]
    return way_of(runs[-1], FRAME, sigma, replaced, 77.0)


def test_a_height_that_is_not_known_is_above_the_part_and_a_block_to_a_place_that_is_not_known_is_none() -> None:
    found = way("G0 X5\nG0 Y0\nG0 Z30")
    assert [False, True, True] == found.known.tolist()
    assert [77.0, 30.0] == found.vertex[2:, 2].tolist()


@pytest.mark.parametrize("sigma", [1, -1, 0])
def test_the_part_turns_by_sigma_times_the_word(sigma: int) -> None:
    assert sigma * np.pi == pytest.approx(way("G0 X5 Y0 Z30 A90\nG0 A180", sigma=sigma).phi[-1])


def test_an_axis_whose_drive_turns_the_rotary_stands_at_the_centre() -> None:
    assert {0.0} == set(way("G0 X5 Y40 Z30\nG0 Y50 X6", replaced="Y").vertex[:, 1].tolist())


def test_an_arc_is_as_long_as_it_sweeps_and_may_bulge_by_its_diameter() -> None:
    found = way("G0 X0 Y0 Z30\nG2 X10 Y0 I5 J0")
    assert [0.0, 5 * np.pi] == pytest.approx(found.arc_mm)
    assert [0.0, 10.0] == pytest.approx(found.bulge_mm)


@pytest.mark.parametrize(
    ("block", "near"),
    [
        ("X30", False),
        ("Z19", True),
        ("X100", False),  # over it
        ("X100 Z10", True),  # down beside it, but on a way that crosses it
        ("Y60", False),
    ],
)
def test_only_what_comes_down_to_the_stock_is_in_reach(block: str, near: bool) -> None:
    assert near == (1 in CHART.in_reach(way(f"G0 X20 Y0 Z25\nG0 {block}"), MILL))


def test_down_beside_the_stock_by_more_than_the_radius_is_out_of_reach() -> None:
    assert [[1], []] == [CHART.in_reach(way(f"G0 X{x} Y0 Z25\nG0 Z10"), MILL).tolist() for x in (40 + 2.9, 40 + 5)]


def stamps(program: str) -> int:
    found = way(f"G0 X10 Y0 Z25 A0\n{program}")
    one = np.array([1])
    return sum(len(block) for _, block, _ in CHART.stamps(found, one, np.array([False, True]), MILL, at_once=7))


@pytest.mark.parametrize("straight", ["G0 X30", "G0 Z15", "G0 Y5"])
def test_along_one_direction_one_stamp_is_the_whole_way(straight: str) -> None:
    assert 1 == stamps(straight)


@pytest.mark.parametrize("slanted", ["G0 X30 Z15", "G0 X30 Y5", "G0 A90"])
def test_askew_or_while_the_part_turns_stamps_are_as_close_as_the_tolerance_asks(slanted: str) -> None:
    assert stamps(slanted) > 15
