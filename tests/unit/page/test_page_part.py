"""Part: what is missing is asked for at its place, and all that is said is in the job file that the command line reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_client import JOB, value_of
from starlette.testclient import TestClient

from steadyrest.inputs import load_job
from steadyrest.posting import post_to_memory
from steadyrest.request import Request

SLOT = """PARTNO/OWN SLOT
UNITS/MM
LOADTL/7
SPINDL/3000,CLW
MULTAX/ON
RAPID
GOTO/-10,-30,0,0,-1,0
RAPID
GOTO/-10,-22,0,0,-1,0
FEDRAT/200
GOTO/-10,-18,0,0,-1,0
GOTO/-30,-18,0,0,-1,0
RAPID
GOTO/-30,-30,0,0,-1,0
FINI
"""
"""A slot at 90 degrees, of a tool that nobody describes, and no stock."""


@pytest.fixture
def slot(page: TestClient) -> str:
    """The address of a job that was begun by dropping it."""
    answer = page.post("new", files={"dropped": ("slot.cl", SLOT.encode())}, data={"name": "slot"})
    assert 303 == answer.status_code
    return "part?job=slot.job.toml"


def test_what_is_missing_is_asked_for_and_what_is_said_makes_a_job_that_posts(page: TestClient, parts: Path, slot: str) -> None:
    text = page.get(slot).text
    assert "the shape of tool 7" in text
    assert "the stock, or a clearance" in text
    assert "indexed at 90" in text
    said = {"seen": value_of(text, "seen"), "name": "slot", "tool.7.shape": "drill", "tool.7.diameter": "6,5", "stock.shape": "round"}
    answer = page.post(slot, data=said)
    assert 422 == answer.status_code
    assert 'value="6,5"' in answer.text, "what was typed stays"
    assert answer.text.count('aria-invalid="true"') >= 4, "a comma, the point angle, and the sizes of the stock"
    assert "tools" not in (parts / "slot.job.toml").read_text()
    said |= {"tool.7.shape": "flat", "tool.7.diameter": "6", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0"}
    said |= {"stock.held.at": "from", "stock.held.length": "20"}
    assert 303 == page.post(slot, data=said).status_code
    assert "The part is whole" in page.get(slot).text
    posted, program = post_to_memory(Request(parts / "slot.job.toml").with_job())
    assert posted.verdict.proved
    assert b"A90" in program


def test_a_change_keeps_comments_and_changes_no_other_line(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text("# by hand\n" + job.read_text())
    before = job.read_text()
    text = page.get(f"part?job={JOB}").text
    fields = dict(re.findall(r'<input [^>]*name="([^"]+)"[^>]*value="([^"]*)"', text))
    fields |= dict(re.findall(r'name="([^"]+)" value="([^"]+)" checked', text))
    for name, options in re.findall(r'<select [^>]*name="([^"]+)"[^>]*>(.*?)</select>', text, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    assert 303 == page.post(f"part?job={JOB}", data=fields).status_code
    assert before == job.read_text(), "kept as it is, nothing changes"
    fields["seen"] = value_of(page.get(f"part?job={JOB}").text, "seen")
    assert 303 == page.post(f"part?job={JOB}", data={**fields, "stock.diameter": "41", "tool.1.length": "30"}).status_code
    gone = [line for line in before.splitlines() if line not in job.read_text().splitlines()]
    assert 1 == len(gone)
    assert "diameter = 40" in gone[0]
    changed = load_job(job)
    assert changed.stock is not None
    assert (41, 30) == (changed.stock.diameter, changed.tools[0].length)  # type: ignore[union-attr]


def test_inputs_are_moved_and_taken_away(page: TestClient, parts: Path) -> None:
    def order() -> list[str]:
        return [each.file.name for each in load_job(parts / JOB).inputs]

    def do(what: str, at: int) -> int:
        seen = value_of(page.get(f"part?job={JOB}").text, "seen")
        return page.post(f"part/order?job={JOB}", data={"seen": seen, "do": what, "at": str(at)}).status_code

    assert ["face.nc", "letters.nc"] == order()
    assert 303 == do("down", 0)
    assert ["letters.nc", "face.nc"] == order()
    assert 303 == do("remove", 0)
    assert ["face.nc"] == order()
    assert 422 == do("remove", 0)
    assert 422 == do("up", 7)


def test_a_file_that_is_written_anew_is_noticed_and_the_difference_is_said(page: TestClient, parts: Path, slot: str) -> None:
    page.get(slot)
    key = page.get(slot.replace("part?", "part/state?")).json()["key"]
    (parts / "slot.cl").write_text(SLOT.replace("FEDRAT/200", "FEDRAT/350"))
    now = page.get(slot.replace("part?", "part/state?")).json()["key"]
    assert key != now
    text = page.get(f"{slot}&was={key}").text
    assert "written anew" in text
    assert "feed 350, was 200" in text


def test_a_job_file_that_no_command_can_read_is_shown_with_what_is_wrong(page: TestClient, parts: Path) -> None:
    (parts / "bad.job.toml").write_text("steadyrest_job = 1\nnmae = 2\n")
    text = page.get("part?job=bad.job.toml").text
    assert "nmae" in text
    assert "did you mean" in text or "name" in text


def test_a_job_outside_of_the_folder_is_not_opened(page: TestClient, parts: Path) -> None:
    (parts.parent / "out.job.toml").write_text("steadyrest_job = 1\n")
    for name in ("../out.job.toml", "/etc/passwd", "..%2fout.job.toml", "out.job.toml"):
        assert 422 == page.get(f"part?job={name}").status_code


@pytest.mark.browser
def test_in_a_browser_a_dropped_file_becomes_a_whole_part(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    (parts.parent / "slot.cl").write_text(SLOT)
    with opened(1366, 768) as page:
        page.goto(address)
        assert [] == accessible(page)
        page.set_input_files("#dropped", str(parts.parent / "slot.cl"))
        page.get_by_role("button", name="Begin").click()
        page.get_by_text("Still missing").wait_for()
        page.get_by_label("end mill, flat end").check()
        page.locator("[name='tool.7.diameter']:enabled").fill("6")
        page.locator("#stock-shape").select_option("round")
        for name, value in (("diameter", "40"), ("from", "-90"), ("to", "0")):
            page.locator(f"[name='stock.{name}']:enabled").fill(value)
        page.get_by_role("button", name="Keep").click()
        page.get_by_text("The part is whole").wait_for()
        assert [] == accessible(page)
        (parts / "slot.cl").write_text(SLOT.replace("FEDRAT/200", "FEDRAT/350"))
        page.get_by_role("link", name="See what changed").click()
        page.get_by_text("feed 350, was 200").wait_for()
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
