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


def test_a_job_that_is_no_text_or_gone_does_not_shut_the_others_out(page: TestClient, parts: Path) -> None:
    (parts / "torn.job.toml").write_bytes(b"\xff\x00")
    (parts / "link.job.toml").symlink_to(parts / "nowhere")
    answer = page.get("")
    assert 200 == answer.status_code
    assert JOB in answer.text
    assert "torn.job.toml" in answer.text
    told = page.get("part?job=torn.job.toml")
    assert 422 == told.status_code
    assert "the file is not UTF-8" in told.text
    assert "there is no such file" in page.get("look?job=gone.job.toml").text


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


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("part.cl", b"", "part.cl: the file is empty"),
        ("photo.png", b"\x89PNG\r\n\x1a\n\0\0", "photo.png: neither the content nor the ending shows"),
        ("notes.txt", b"call the customer", "give it the ending of its kind"),
        ("con.nc", b"G1 X1", "no name for a file"),
    ],
)
def test_what_nothing_can_read_is_refused_before_it_is_kept(page: TestClient, parts: Path, name: str, content: bytes, words: str) -> None:
    before = sorted(parts.iterdir())
    answer = page.post("new", files={"dropped": (name, content)})
    assert (422, True) == (answer.status_code, words in answer.text)
    assert before == sorted(parts.iterdir())


def test_two_dropped_files_of_one_name_are_refused_and_neither_is_kept(page: TestClient, parts: Path) -> None:
    answer = page.post("new", files=[("dropped", ("own.nc", b"M2\n")), ("dropped", ("sub/own.nc", b"M30\n"))])
    assert "two of the dropped files are called own.nc" in answer.text
    assert not (parts / "own.nc").exists()


def test_a_name_with_spaces_and_umlauts_goes_all_the_way(page: TestClient, parts: Path) -> None:
    answer = page.post("new", files={"dropped": ("Fräser 2 (neu).nc", b"G21 G90\nT1 M6\nS900 M3\nG0 Z9\nG1 X1 F90\nM2\n")})
    assert "Fräser 2 (neu).nc" in page.get(f"http://127.0.0.1:4711{answer.headers['location']}").text
    assert ["Fräser 2 (neu).nc"] == [each.file.name for each in load_job(parts / "Fräser 2 (neu).job.toml").inputs]


def test_files_of_a_refused_part_are_ticked_so_that_another_name_is_enough(page: TestClient, parts: Path) -> None:
    answer = page.post("new", files={"dropped": ("new.nc", b"G21 G90\nG1 X1 F90\nM2\n")}, data={"name": "lantern_cap"})
    assert "there is a job of that name already, lantern_cap.job.toml, of face.nc, letters.nc" in answer.text
    assert 'value="new.nc" checked' in answer.text


def test_a_script_is_told_where_to_go_and_what_is_wrong(page: TestClient, parts: Path) -> None:
    asking = {"accept": "application/json"}
    told = page.post("new", data={"file": "faces.cl"}, headers=asking).json()
    assert told["to"].endswith("part?job=faces.job.toml")
    answer = page.post("new", files={"dropped": ("face.nc", b"M2\n")}, headers=asking)
    assert (422, True) == (answer.status_code, answer.json()["replace"])
    assert False is page.post("new", headers=asking).json()["replace"]


def test_a_dropped_page_is_never_shown_as_one(page: TestClient, parts: Path) -> None:
    page.post("new", files={"dropped": ("evil.nc", b"<script>alert(1)</script>"), "name": (None, "evil")})
    assert 404 == page.get("evil.nc").status_code
    assert (parts / "evil.job.toml").is_file()
    text = page.get("part?job=evil.job.toml").text
    assert "<script>alert" not in text
