"""Programs for two rotaries or a head broken on purpose: each fault is refused by the rule that should refuse it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from faults_on_chains import BOWL, FAULTS_ON_CHAINS, at_the_tip, right, with_arcs, withdrawn

from chain_programs import C_ON_A, HEAD_AND_TABLE, LEANING, TWO_IN_HEAD, machine, planes


@pytest.mark.parametrize("chain", [C_ON_A, LEANING, HEAD_AND_TABLE, TWO_IN_HEAD])
def test_without_a_fault_they_are_proved(chain: dict) -> None:
    for toolpath in (planes(), BOWL):
        assert right(machine(chain), toolpath).proved


@pytest.mark.parametrize("chain", [LEANING, HEAD_AND_TABLE, TWO_IN_HEAD])
def test_f_may_be_the_speed_of_the_tip_in_table_and_head(chain: dict) -> None:
    found = at_the_tip(list, chain)
    assert found.failure is None
    tips = next(BOWL.operations[0].stream()).end[:-1]  # type: ignore[union-attr]
    way_mm = 60 + np.linalg.norm(np.diff(tips, axis=0), axis=1).sum()  # down to the cut and along it
    assert found.operations[0].cutting_minutes == pytest.approx(way_mm / 600, rel=1e-3)


def test_with_the_tool_level_an_arc_across_it_is_read_in_its_plane() -> None:
    def seen(text: str) -> str:
        assert re.search(r"G1[89] G[23] ", text)
        return text

    assert with_arcs(seen).failure is None


def test_a_head_may_leave_a_cut_along_its_tool_and_come_back_in_the_other_solution() -> None:
    found = withdrawn()
    assert found.failure is None
    assert found.operations[0].lifted == 1


@pytest.mark.parametrize("fault", FAULTS_ON_CHAINS)
def test_a_fault_of_two_rotaries_is_refused_by_its_rule(fault: str) -> None:
    rule, plant = FAULTS_ON_CHAINS[fault]
    failure = plant().failure
    assert failure is not None
    assert (failure.rule, bool(failure.sentence)) == (rule, True), failure.sentence
    difference = failure.difference
    assert difference is None or bool(difference.shown) != bool(difference.why_not)


def test_at_least_forty_kinds_are_planted() -> None:
    assert len(FAULTS_ON_CHAINS) >= 40
