"""The first page: parts of the folder, files without a job, and new ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_client import JOB
from starlette.testclient import TestClient

from steadyrest.inputs import load_job


def test_parts_are_listed_and_files_that_no_job_names_are_offered(page: TestClient, parts: Path) -> None:
    (parts / "notes.txt").write_text("call the customer")
    text = page.get("").text
    assert f"part?job={JOB}" in text
    assert "faces.cl" in text, "no job names it"
    assert 'value="face.nc"' not in text, "a job names it"
    assert "notes.txt" not in text


def test_chosen_files_become_a_job_in_their_order(page: TestClient, parts: Path) -> None:
    answer = page.post("new", data={"file": ["faces.cl", "face.nc"], "name": "both"})
    assert 303 == answer.status_code
    assert ["faces.cl", "face.nc"] == [each.file.name for each in load_job(parts / "both.job.toml").inputs]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "no file is chosen"),
        ({"file": "nowhere.nc"}, "there is no file nowhere.nc"),
        ({"file": "../../etc/passwd"}, "is not in the folder"),
        ({"file": "faces.cl", "name": "../up"}, "no name for a part"),
        ({"file": "faces.cl", "name": "lantern_cap"}, "a job of that name already"),
    ],
)
def test_what_cannot_become_a_job_is_refused_in_words(page: TestClient, parts: Path, said: dict[str, str], words: str) -> None:
    before = sorted(parts.iterdir())
    answer = page.post("new", data=said)
    assert 422 == answer.status_code
    assert words in answer.text
    assert before == sorted(parts.iterdir())


def test_a_dropped_file_of_a_name_that_is_there_is_not_replaced_unless_somebody_says_so(page: TestClient, parts: Path) -> None:
    before = (parts / "face.nc").read_bytes()
    answer = page.post("new", files={"dropped": ("face.nc", b"M2\n")})
    assert "another file of that name" in answer.text
    assert before == (parts / "face.nc").read_bytes()
    page.post("new", files={"dropped": ("../face.nc", b"M2\n")}, data={"replace": "yes", "name": "other"})
    assert b"M2\n" == (parts / "face.nc").read_bytes()


def test_a_part_whose_file_is_dropped_anew_goes_on(page: TestClient, parts: Path) -> None:
    answer = page.post("new", files={"dropped": ("face.nc", b"G21 G90\nM2\n")}, data={"replace": "yes"})
    assert 303 == answer.status_code
    assert answer.headers["location"].endswith(f"part?job={JOB}")
    assert b"G21 G90\nM2\n" == (parts / "face.nc").read_bytes()


def test_a_dropped_page_is_never_shown_as_one(page: TestClient, parts: Path) -> None:
    page.post("new", files={"dropped": ("evil.html", b"<script>alert(1)</script>"), "name": (None, "evil")})
    assert 404 == page.get("evil.html").status_code
    text = page.get("part?job=evil.job.toml").text
    assert "<script>alert" not in text
