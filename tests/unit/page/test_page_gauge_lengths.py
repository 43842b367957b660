"""Gauge lengths in the page: asked for where a head turns, kept in the job as the command line reads it, wrong ones told at their field."""

from __future__ import annotations

import re
from pathlib import Path

from page_client import value_of
from starlette.testclient import TestClient
from test_page_today import a_part, own_configuration

from steadyrest.inputs import load_job

__all__ = ["own_configuration"]
PLACE = "today/lengths?job=p.job.toml"


def keep(page: TestClient, address: str, **lengths: str) -> tuple[int, str]:
    """Say gauge lengths, as `T3="128,35"`; status and text of the answer."""
    said = {f"tool.{name[1:]}.gauge_length": value for name, value in lengths.items()}
    answer = page.post(PLACE, data={"seen": value_of(page.get(address).text, "seen"), **said})
    return answer.status_code, answer.text


def field_of(text: str, number: int) -> str:
    """What stands in the field of a tool, and what is said at it."""
    found = re.search(rf'name="tool.{number}.gauge_length" value="([^"]*)".*?</div>', text, re.DOTALL)
    assert found is not None
    return found[0]


def test_they_are_asked_for_where_a_head_turns_and_nowhere_else(page: TestClient, parts: Path) -> None:
    for controller, asked in (("rs274ngc", False), ("two-in-table", False), ("head-and-table", True), ("two-in-head", True)):
        text = page.get(a_part(parts, controller=controller)).text
        assert asked == ("Gauge lengths: how long each tool is" in text), controller
        assert asked == ("Say how long T3 is" in text), controller
    assert "not known yet: without it the program is refused" in field_of(text, 3)


def test_what_is_kept_is_what_the_command_line_reads_and_an_empty_one_is_said_no_more(page: TestClient, parts: Path) -> None:
    address, job = a_part(parts, controller="head-and-table"), parts / "p.job.toml"
    before = job.read_text()
    assert 303 == keep(page, address, T3="128,35")[0]
    assert {3: 128.35} == load_job(job).gauge_lengths
    text = page.get(address).text
    assert 'value="128.35"' in field_of(text, 3)
    assert "not known yet" not in field_of(text, 3)
    assert "Say how long" not in text
    assert 303 == keep(page, address, T3="")[0]
    assert before.strip() == job.read_text().strip()


def test_a_tool_that_the_job_describes_keeps_its_description(page: TestClient, parts: Path) -> None:
    address, job = a_part(parts, controller="head-and-table"), parts / "p.job.toml"
    described = '\n[[tools]]\nnumber = 9\ngauge_length = 80\n[[tools]]\nnumber = 3\nshape = "flat"\ndiameter = 6\n'
    job.write_text(job.read_text() + described)
    assert 303 == keep(page, address, T3="99")[0]
    assert {9: 80, 3: 99} == load_job(job).gauge_lengths
    assert 303 == keep(page, address, T3="")[0]
    assert [{9: 80}, [9, 3]] == [load_job(job).gauge_lengths, [tool.number for tool in load_job(job).tools]]


def test_a_wrong_one_is_told_at_its_field_and_nothing_is_kept(page: TestClient, parts: Path) -> None:
    address, job = a_part(parts, controller="two-in-head"), parts / "p.job.toml"
    before = job.read_text()
    for typed in ("-3", "0", "long", "1,000"):
        status, text = keep(page, address, T3=typed)
        assert 422 == status
        here = field_of(text, 3)
        assert f'value="{typed}"' in here
        assert 'aria-invalid="true"' in here
        assert 'role="alert"' in here
    assert before == job.read_text()
