"""Lines, pivots and gauge lengths that a program's head says, held against those of the profile."""

from __future__ import annotations

import pytest

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, machine, planes, verdict, written
from steadyrest.proof.lines_said import other_lines
from steadyrest.proof.setting import setting_of

TABLE = setting_of(planes(), machine(C_ON_A), None, None)
HEAD = setting_of(planes(), machine(HEAD_AND_TABLE), None, None, GAUGE)


@pytest.mark.parametrize(
    "comment",
    [
        "axis of A through X1 Y2.12 Z51",
        "AXIS OF A THROUGH X-99.5 Y2.12 Z51",
        "axisofcthroughx1y2z0",
        "axis of A through the middle",
        "PROVED TOOLPATH 0123456789ABCDEF",
    ],
)
def test_any_point_of_the_line_is_right_however_it_is_spelled(comment: str) -> None:
    """The centre is 1 2 3; A goes 0.12 behind and 48 over it, along X; C stands upright in it."""
    assert other_lines(comment, TABLE) == ""


@pytest.mark.parametrize(
    ("comment", "told"),
    [
        ("axis of A through X1 Y2.13 Z51", "for an axis of A through X1 Y2.13 Z51; by profile and toolpath it goes through X1 Y2.12 Z51"),
        ("axis of C through X1.001 Y2 Z0", "for an axis of C"),
        ("axis of B through X1 Y2 Z3", "for an axis of B; the chain of the profile has none"),
        ("pivot of A at X0 Y0 Z150", "for a pivot of A; the chain of the profile has none"),
    ],
)
def test_another_line_is_told(comment: str, told: str) -> None:
    assert told in other_lines(comment, TABLE)


def test_a_pivot_counts_from_the_gauge_point_and_a_gauge_length_belongs_to_its_tool() -> None:
    assert other_lines("pivot of B at X0 Y0 Z150", HEAD) == ""
    assert "for a pivot of B" in other_lines("pivot of B at X0.1 Y0 Z150", HEAD)
    assert other_lines("T1 gauge length 128.35", HEAD) == ""
    assert other_lines("T7 gauge length 1", HEAD) == ""
    assert "for a gauge length of tool 1 of 128.36; it is 128.35" == other_lines("T1 gauge length 128.36", HEAD)


def test_a_program_whose_head_says_other_lines_is_refused_there() -> None:
    maker = written(planes())
    text = maker.program()
    assert verdict("(axis of A through X1 Y2.12 Z51)\n" + text, planes()).proved
    failure = verdict("(axis of A through X1 Y2.12 Z50)\n" + text, planes()).failure
    assert failure is not None
    assert (failure.rule, failure.place.line) == ("lines", 1)
