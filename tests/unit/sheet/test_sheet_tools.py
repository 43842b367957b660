"""Which tools a program uses, what each does, how low and how far it cuts; and how lengths are read on paper."""

from __future__ import annotations

import copy

import pytest
from sheet_parts import PART

from steadyrest.posting import begin
from steadyrest.profile import load_profile, resolve
from steadyrest.reading import read_program
from steadyrest.sheet.tools import ToolFacts, number, of_part, tool_facts
from steadyrest.toolpath import parse_toolpath


def facts(operations: list[object] | None = None, **more: object) -> tuple[ToolFacts, ...]:
    part = parse_toolpath(copy.deepcopy(PART) | ({"operations": operations} if operations else {}) | more)
    text = b"".join(begin(part, resolve("rs274ngc")))
    return tool_facts(read_program(text, (profile := load_profile("rs274ngc"))), part, profile)[0]


@pytest.mark.parametrize(("value", "text"), [(1.0, "1"), (0.12345, "0.123"), (-0.0001, "0"), (10.0, "10"), (-2.5, "-2.5")])
def test_a_length_has_three_decimals_at_most(value: float, text: str) -> None:
    assert text == number(value)


def test_a_length_of_the_profile_is_read_in_the_parts_units() -> None:
    assert ("25.4", "1") == (of_part(25.4, "mm"), of_part(25.4, "inch"))


def test_the_lowest_place_is_that_of_cuts_and_the_reach_has_the_radius_in_it() -> None:
    mill, drill = facts()
    assert (3, 17.5, (-33.0, -27.0)) == (mill.tool.number, mill.lowest, mill.reach)
    assert (7, 19.0) == (drill.tool.number, drill.lowest)


def test_a_tool_that_no_operation_uses_is_left_out() -> None:
    assert [3] == [one.tool.number for one in facts(PART["operations"][:1])]


def test_operations_that_are_cut_alike_are_named_together_and_the_rest_counted() -> None:
    alike = [PART["operations"][0] | {"name": f"flat {at}"} for at in range(1, 7)]
    (mill,) = facts(alike)
    assert ("1. flat 1; 2. flat 2; 3. flat 3; 3 more to 6. flat 6 (indexed, 8000 rpm, flood)",) == mill.does
