"""What inputs hold is read once for each content, and a difference is said in plain words."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
from page_client import JOB

from steadyrest.page.app import Page
from steadyrest.page.folder import Folder
from steadyrest.page.inputs_seen import begin_reading, changes, key_of, seen, span_text
from steadyrest.page.job_file import read_job_file
from steadyrest.page.tasks import Tasks


@pytest.fixture
def facts(parts: Path, tmp_path: Path) -> dict[str, Any]:
    page = Page(Folder.given(parts), Tasks(tmp_path / "work"))
    found = seen(page, begin_reading(page, read_job_file(parts / JOB)))
    assert found is not None
    return found


def test_a_touched_file_has_the_same_key_and_another_content_another(parts: Path) -> None:
    first = key_of(read_job_file(parts / JOB))
    (parts / "face.nc").touch()
    assert first == key_of(read_job_file(parts / JOB))
    (parts / "face.nc").write_text((parts / "face.nc").read_text() + " ")
    assert first != key_of(read_job_file(parts / JOB))


def test_differences_are_said_for_each_operation_and_tool(facts: dict[str, Any]) -> None:
    assert [] == changes(facts, facts)
    now = copy.deepcopy(facts)
    now["toolpath"]["operations"][0] |= {"feeds": [250, 250], "rpm": 9000}
    now["toolpath"]["tools"][0]["diameter"] = 8
    told = " ".join(changes(facts, now))
    assert "feed 250, was" in told
    assert "spindle 9000 rpm" in told
    assert "Tool 1 is described differently." in told
    now = copy.deepcopy(facts)
    now["toolpath"]["operations"][0]["path"][1][2] += 1
    assert "another path within the same reach" in " ".join(changes(facts, now))
    del now["toolpath"]["operations"][0]
    assert any(each.startswith("Operation gone") for each in changes(facts, now))
    assert any(each.startswith("New operation") for each in changes(now, facts))


def test_many_differences_are_counted(facts: dict[str, Any]) -> None:
    now = copy.deepcopy(facts)
    now["toolpath"]["operations"] = [{**now["toolpath"]["operations"][0], "name": f"face {number}"} for number in range(30)]
    assert changes(facts, now)[-1].startswith("And ")


def test_spans_are_rounded_as_one_reads_them() -> None:
    assert ["1.23 to 5", "1.235"] == [span_text([1.2345, 5], "mm"), span_text([1.2346, 1.2349], "inch")]
    assert "nothing cut" == span_text(None, "mm")
