"""Deliver: into folders that were given and no others, the program that was looked at and no other."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.posting import post_to_memory
from steadyrest.request import Request

DELIVER = f"deliver?job={JOB}"


def asked(page: TestClient, parts: Path, **more: str) -> dict[str, str]:
    """What the form says when it is sent as it is, and `more`."""
    return {
        "seen": value_of(whole(page, DELIVER), "seen"),
        "program": "lantern_cap.nc",
        "place": str(parts.parent / "machine"),
        "name": "lantern_cap.nc",
        **more,
    }


def test_the_program_is_posted_delivered_and_told_with_its_digest_and_the_former_version(page: TestClient, parts: Path) -> None:
    there = parts.parent / "machine" / "lantern_cap.nc"
    there.write_bytes(b"%\nM30\n%\n")
    answer = page.post(DELIVER, data=asked(page, parts))
    assert 303 == answer.status_code
    text = whole(page, answer.headers["location"])
    _, program = post_to_memory(Request(parts / JOB).with_job())
    assert program == there.read_bytes() == (parts / "lantern_cap.nc").read_bytes()
    assert hashlib.sha256(program).hexdigest() in text
    (former,) = (parts.parent / "machine").glob("*.old")
    assert b"%\nM30\n%\n" == former.read_bytes()
    assert former.name in text
    text = whole(page, DELIVER)
    assert "Delivered before under this name" in text
    answer = page.post(DELIVER, data=asked(page, parts))
    assert "It is there already" in whole(page, answer.headers["location"])


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"place": "/etc"}, "none of the folders"),
        ({"place": ""}, "none of the folders"),
        ({"program": "../../etc/passwd"}, "no program of this job"),
        ({"name": "../up.nc"}, "not allowed in a name"),
        ({"name": "lantern_cap.txt"}, "ending is not .nc"),
        ({"seen": "older"}, "changed since this page was shown"),
    ],
)
def test_what_was_not_given_or_looked_at_is_refused_and_nothing_is_written(
    page: TestClient, parts: Path, said: dict[str, str], words: str
) -> None:
    answer = page.post(DELIVER, data=asked(page, parts, **said))
    assert 422 == answer.status_code
    assert words in answer.text
    assert [] == list((parts.parent / "machine").iterdir())
    assert not (parts / "lantern_cap.nc").exists()


def test_a_program_that_must_not_run_is_not_delivered(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    seen = asked(page, parts)
    job.write_text(job.read_text().replace("length = 20", "length = 85"))
    text = whole(page, DELIVER)
    assert "A program that must not run is not delivered" in text
    assert "<button>Deliver" not in text
    assert 422 == page.post(DELIVER, data=seen).status_code
    assert [] == list((parts.parent / "machine").iterdir())


def test_a_copy_that_was_edited_is_proved_again(page: TestClient, parts: Path) -> None:
    page.post(DELIVER, data=asked(page, parts))
    whole(page, page.post(DELIVER, data=asked(page, parts)).headers["location"])
    good = (parts / "lantern_cap.nc").read_text()
    edited = parts / "lantern_cap.edited.nc"
    edited.write_text(good.replace("\nM2", "\n(LOOKED AT TWICE)\nM2", 1))
    answer = page.post(DELIVER, data=asked(page, parts, program=edited.name, name="second.nc"))
    assert "Delivered, and read back" in whole(page, answer.headers["location"])
    assert edited.read_bytes() == (parts.parent / "machine" / "second.nc").read_bytes()
    edited.write_text(good.replace("A120", "A125"))
    answer = page.post(DELIVER, data=asked(page, parts, program=edited.name, name="third.nc"))
    assert "stop" in whole(page, answer.headers["location"])
    assert not (parts.parent / "machine" / "third.nc").exists()
