"""Which lines of a program stand under one heading."""

from __future__ import annotations

from pathlib import Path

import pytest
from explaining_parts import TOUR

from steadyrest.errors import SteadyrestError
from steadyrest.explaining import Section, Written, sections, write_anew
from steadyrest.profile import find_profiles
from steadyrest.request import Request

PATHS = {path.name.partition(".")[0]: path for path in TOUR}


def anew(name: str, controller: str = "rs274ngc", **more: tuple[str, ...]) -> Written:
    return write_anew(Request(PATHS[name], controller, **more))  # type: ignore[arg-type]


def test_head_operations_tool_changes_and_end_are_found_in_the_order_of_their_lines() -> None:
    written = anew("indexed")
    found = sections(written)
    assert ["head", "operation", "tool change"] == [one.kind for one in found[:3]]
    assert ["end"] == [one.kind for one in found if one is found[-1]]
    (operation,) = [one for one in found if one.kind == "operation"][:1]
    toolpath = written.toolpath.operations[0]
    assert (1, toolpath.name, toolpath.tool, "indexed") == (operation.operation, operation.name, operation.tool, operation.intent)
    assert tuple(toolpath.rotary.angles) == operation.angles  # type: ignore[union-attr]
    change = found[2]
    assert any("M6" in line for line in written.lines[change.first - 1 : change.last])
    assert not any("G1 " in line for line in written.lines[change.first - 1 : change.last])


@pytest.mark.parametrize("controller", [found.name for found in find_profiles() if found.where == "bundled"])
@pytest.mark.parametrize("name", sorted(PATHS))
def test_all_but_tool_changes_cover_the_program_without_a_gap_and_each_operation_has_one(name: str, controller: str) -> None:
    try:
        written = anew(name, controller)
    except SteadyrestError:
        pytest.skip("this controller cannot cut it")
    found = sections(written)
    whole = [one for one in found if one.kind != "tool change"]
    assert 1 == whole[0].first
    assert len(written.lines) == whole[-1].last
    assert [one.last + 1 for one in whole[:-1]] == [one.first for one in whole[1:]]
    assert list(range(1, len(written.toolpath.operations) + 1)) == [one.operation for one in whole if one.kind == "operation"]
    by_number = {one.operation: one for one in whole}
    changes = [one for one in found if one.kind == "tool change"]
    assert all(by_number[one.operation].first <= one.first <= one.last <= by_number[one.operation].last for one in changes)
    assert sorted(found, key=lambda one: one.first) == list(found)


def test_an_event_that_says_nothing_is_a_section_without_lines(tmp_path: Path) -> None:
    folder = tmp_path / "silent"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "rs274ngc without names of operations"\n')
    (folder / "templates" / "operation_start.j2").write_text("")
    found = sections(anew("indexed", str(folder)))
    (operation,) = [one for one in found if one.kind == "operation"][:1]
    change = found[found.index(operation) + 1]
    assert isinstance(change, Section)
    assert change.first == operation.first


def test_findings_that_were_accepted_stand_in_what_is_explained_as_in_what_is_posted() -> None:
    said = [line for line in anew("indexed", accept=("origin",)).lines if "ACCEPT" in line.upper()]
    assert len(said) == 1
