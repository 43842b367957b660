"""Deliver: into folders that were given and no others, the program that was looked at and no other."""

from __future__ import annotations

import hashlib
import os
import resource
from collections.abc import Callable
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.errors import OutputError, Refused
from steadyrest.page.deliver import work
from steadyrest.page.folder import file_digest
from steadyrest.posting import post_to_memory
from steadyrest.record import record_file
from steadyrest.request import Request

DELIVER = f"deliver?job={JOB}"


def asked(page: TestClient, parts: Path, **more: str) -> dict[str, str]:
    """What the form says when it is sent as it is, and `more`."""
    return {
        "seen": value_of(whole(page, DELIVER), "seen"),
        "program": "lantern_cap.nc",
        "place": str(parts.parent / "machine"),
        "name": "lantern_cap.nc",
        "copy": value_of(whole(page, DELIVER), "copy"),
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
    before, table = text.partition("Delivered before under this name")[2].split("<table>")
    assert 'class="wide" tabindex="0" role="region"' in before, "on a phone the table scrolls, and the page does not"
    assert "lantern_cap.nc" in table
    answer = page.post(DELIVER, data=asked(page, parts))
    assert "It is there already" in whole(page, answer.headers["location"])


def test_what_was_not_given_or_looked_at_is_refused_and_nothing_is_written(page: TestClient, parts: Path) -> None:
    right = asked(page, parts)
    for said, words in (
        ({"place": "/etc"}, "none of the folders"),
        ({"place": ""}, "none of the folders"),
        ({"program": "../../etc/passwd"}, "no program of this job"),
        ({"name": "../up.nc"}, "not allowed in a name"),
        ({"name": "lantern_cap.txt"}, "ending is not .nc"),
        ({"seen": "older"}, "changed since this page was shown"),
    ):
        answer = page.post(DELIVER, data={**right, **said})
        assert 422 == answer.status_code, said
        assert words in answer.text
        assert [] == list((parts.parent / "machine").iterdir()), said
        assert not (parts / "lantern_cap.nc").exists(), said


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


def gone(machine: Path) -> None:
    machine.rmdir()


def no_folder(machine: Path) -> None:
    machine.rmdir()
    machine.write_text("a file")


def taken(machine: Path) -> None:
    (machine / "lantern_cap.nc").mkdir()


@pytest.mark.parametrize(
    ("harm", "words"),
    [(gone, "the folder is not there"), (no_folder, "is not a folder"), (taken, "exists already and is not an ordinary file")],
)
def test_a_place_that_does_not_take_it_is_told_with_its_cure_and_the_form_stays(
    page: TestClient, parts: Path, harm: Callable[[Path], None], words: str
) -> None:
    machine = parts.parent / "machine"
    data = asked(page, parts)
    harm(machine)
    text = whole(page, page.post(DELIVER, data=data).headers["location"])
    assert "could not be done" in text
    assert words in text
    assert "cure: " in text
    assert "<button>Deliver" in text
    assert not (machine / "lantern_cap.nc").is_file()
    assert "Delivered before" not in text


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="whoever may do everything may write everywhere")
def test_a_place_that_may_not_be_written_is_told(page: TestClient, parts: Path) -> None:
    data = asked(page, parts)
    (parts.parent / "machine").chmod(0o500)
    assert "writing is not allowed there" in whole(page, page.post(DELIVER, data=data).headers["location"])


def test_a_full_place_is_told_and_keeps_what_was_there(page: TestClient, parts: Path, tmp_path: Path) -> None:
    """As large as files may be there is less than the program; the error of a full disk takes the same way."""
    data = asked(page, parts)
    there = parts.parent / "machine" / "lantern_cap.nc"
    whole(page, page.post(DELIVER, data=data).headers["location"])
    there.write_bytes(b"M30\n")
    made = {
        "job": str(parts / JOB),
        "program": str(parts / "lantern_cap.nc"),
        "edited": True,
        "place": str(there.parent),
        "name": there.name,
    }
    told = {**made, "digest": file_digest(parts / "lantern_cap.nc"), "when": "2026-01-01T00:00:00+00:00"}
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (512, limits[1]))
    try:
        with pytest.raises(OutputError, match="larger than the share allows"):
            work(tmp_path, told, lambda stage, done, total: None)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert b"M30\n" == there.read_bytes()
    assert [] == [each for each in there.parent.iterdir() if each.name.startswith(".")]


def test_what_was_changed_since_it_was_looked_at_is_not_delivered(page: TestClient, parts: Path, tmp_path: Path) -> None:
    copy, machine = parts / "lantern_cap.edited.nc", parts.parent / "machine"
    whole(page, page.post(DELIVER, data=asked(page, parts)).headers["location"])
    copy.write_bytes((parts / "lantern_cap.nc").read_bytes())
    data = asked(page, parts, program=copy.name, name="second.nc")
    copy.write_text(copy.read_text().replace("\nM2", "\n(MEANWHILE)\nM2", 1))
    answer = page.post(DELIVER, data=data)
    assert (422, True) == (answer.status_code, "was changed since this page was shown" in answer.text)
    told = {"job": str(parts / JOB), "program": str(parts / "lantern_cap.nc"), "edited": False, "place": str(machine), "name": "third.nc"}
    with pytest.raises(Refused, match="another program than the one that was looked at"):
        work(tmp_path, {**told, "digest": "of another", "when": "2026-01-01T00:00:00+00:00"}, lambda stage, done, total: None)
    job = parts / JOB
    data = asked(page, parts)
    job.write_text(job.read_text() + '[post.set]\nrotary.A.chuck_faces = "-X"\n')
    answer = page.post(DELIVER, data=data)
    assert (422, True) == (answer.status_code, "changed since this page was shown" in answer.text)
    assert ["lantern_cap.nc"] == [each.name for each in machine.iterdir()]


def test_a_name_that_the_machine_does_not_take_is_told_with_one_that_it_takes(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + "[post.set]\ndelivery.upper_case = true\ndelivery.longest = 8\n")
    text = whole(page, DELIVER)
    assert "at most 8 characters before it" in text
    assert "small letters become capitals" in text
    answer = page.post(DELIVER, data=asked(page, parts))
    assert 422 == answer.status_code
    assert "it has 11 characters before its ending, and 8 are allowed" in answer.text
    assert "LANTERN" in answer.text
    answer = page.post(DELIVER, data=asked(page, parts, name="cap.nc"))
    assert "Delivered, and read back" in whole(page, answer.headers["location"])
    assert ["CAP.NC"] == [each.name for each in (parts.parent / "machine").iterdir()]


def test_how_far_the_run_record_is_stands_beside_the_sheet(page: TestClient, parts: Path) -> None:
    text = whole(page, DELIVER)
    assert "Run record</a>: 0 of " in text
    seen = value_of(text, "seen")
    page.post(
        f"look/run?job={JOB}",
        data={"seen": seen, "checked": "sheet:Guards closed, nobody near, never unattended on the first part", "remarks": "slow <b>"},
    )
    text = whole(page, DELIVER)
    assert "Run record</a>: 1 of " in text
    assert "slow &lt;b&gt;" in text
    record_file(parts / JOB).write_text("no record\n")
    assert "this line is no record of a run" in whole(page, DELIVER)
