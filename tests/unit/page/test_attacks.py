"""What a file or a request brings may be bad on purpose: nothing outside the folder is read, nothing is run, and text stays text.

Who may ask at all is tried in `test_page_guard.py`, names of files in `test_page_folder.py`.
"""

from __future__ import annotations

import gzip
import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_client import JOB, whole
from starlette.testclient import TestClient

from steadyrest.page import guard
from steadyrest.page.app import STEPS

SECRET = "TOPSECRET 4711"
SCRIPT = "<script>alert(1)</script><img src=x onerror=alert(2)>"


def steps(page: TestClient, job: str) -> Iterator[str]:
    for step, _ in STEPS:
        yield whole(page, f"{step}?job={job}")


@pytest.mark.parametrize("named", ['file = "../secret.nc"', 'file = "SECRET"', 'file = "link.nc"', 'file = "nested.job.toml"'])
def test_a_job_that_names_a_file_elsewhere_shows_nothing_of_it(page: TestClient, parts: Path, named: str) -> None:
    secret = parts.parent / "secret.nc"
    secret.write_text(f"{SECRET}\n")
    os.symlink(secret, parts / "link.nc")
    (parts / "nested.job.toml").write_text('steadyrest_job = 1\nname = "nested"\n[[inputs]]\nfile = "../secret.nc"\n')
    named = named.replace("SECRET", secret.as_posix())
    (parts / "bad.job.toml").write_text(f'steadyrest_job = 1\nname = "bad"\n[[inputs]]\n{named}\n')
    for text in steps(page, "bad.job.toml"):
        assert "is not in the folder" in text
        assert not any(word in text for word in SECRET.split())


def test_names_and_comments_of_a_toolpath_are_shown_as_text_on_every_step(page: TestClient, parts: Path) -> None:
    name = "<img src=x onerror=alert(3)>.toolpath.json"
    cut = [{"rapid": [5, 0, 30]}, {"note": SCRIPT}, {"cut": [-5, 0, 25], "feed": 900}]
    tool = {"number": 3, "name": SCRIPT, "shape": "flat", "diameter": 6, "flutes": 3, "cutting_length": 16, "length": 50}
    still = {"name": SCRIPT, "tool": 3, "spindle": {"rpm": 800, "turns": "clockwise"}, "coolant": "off", "rotary": {"intent": "still"}}
    toolpath = {"steadyrest_toolpath": 1, "name": SCRIPT, "units": "mm", "axis": "X", "centre": [0, 0, 0], "tools": [tool]}
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    (parts / name).write_text(json.dumps({**toolpath, "stock": stock, "operations": [{**still, "moves": cut}]}))
    (parts / "bad.job.toml").write_text(f'steadyrest_job = 1\nname = "{SCRIPT}"\n[[inputs]]\nfile = "{name}"\n')
    told = 0
    for text in [page.get("").text, *steps(page, "bad.job.toml"), page.get("look/sheet?job=bad.job.toml").text]:
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        told += "&lt;script" in text or "&lt;img" in text
    assert told >= 4, "it is shown, as text"
    assert page.get("program/line?job=bad.job.toml&line=1").headers["content-type"] == "application/json"


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("deep.toolpath.json", b'{"steadyrest_toolpath":1,"operations":' + b"[" * 300_000, "too deep"),
        ("deep.job.toml", b"steadyrest_job = 1\nname = " + b"[" * 100_000, "32 deep"),
        ("dotted.job.toml", b"steadyrest_job = 1\n[" + b"a." * 50_000 + b"a]\n", "32 deep"),
    ],
)
def test_what_is_nested_too_deep_is_told_and_stops_nothing(page: TestClient, name: str, content: bytes, words: str) -> None:
    answer = page.post("new", files={"dropped": (name, content)})
    assert answer.status_code in (303, 422)
    at = answer.headers.get("location", "").replace("/part?", "/look?")
    text = whole(page, at) if at else answer.text
    assert words in text
    assert "mistake in steadyrest itself" not in text
    assert 200 == page.get("").status_code


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("program.nc.gz", gzip.compress(b"G0 X0\n" * 2_000_000)),
        ("program.zip", b"PK\x03\x04" + bytes(500)),
        ("run.py", b"import pathlib; pathlib.Path('ran').touch()\n"),
        ("run.sh", b"#!/bin/sh\ntouch ran\n"),
    ],
)
def test_what_could_be_unpacked_or_run_is_refused_and_not_kept(page: TestClient, parts: Path, name: str, content: bytes) -> None:
    before = sorted(parts.rglob("*"))
    assert 422 == page.post("new", files={"dropped": (name, content)}).status_code
    assert before == sorted(parts.rglob("*"))


def test_a_script_that_calls_itself_a_program_is_kept_as_text_and_never_run(page: TestClient, parts: Path) -> None:
    page.post("new", files={"dropped": ("run.nc", b"#!/bin/sh\ntouch ran\n")})
    assert not any(os.access(each, os.X_OK) for each in parts.glob("run*"))
    for _ in steps(page, "run.job.toml"):
        assert not list(parts.rglob("ran"))


def test_a_request_that_hides_its_length_is_ended_where_it_grows_too_long(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "MOST_BYTES", 10_000)

    def pieces() -> Iterator[bytes]:
        yield b'--x\r\nContent-Disposition: form-data; name="dropped"; filename="a.nc"\r\n\r\n'
        yield from [b"G0 X0\n" * 100] * 100

    answer = page.post("new", content=pieces(), headers={"content-type": "multipart/form-data; boundary=x"})
    assert 422 == answer.status_code
    assert "that is more than" in answer.text
    assert "drop fewer or smaller files" in answer.text


def test_a_name_with_line_breaks_or_quotes_makes_no_header(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text().replace('output = "lantern_cap.nc"', 'output = "a\\"b.nc"'))
    whole(page, f"program?job={JOB}")
    answer = page.get(f"program/file?job={JOB}")
    assert 'filename="a_b.nc"' in answer.headers["content-disposition"]
