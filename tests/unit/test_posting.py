"""The whole way of a toolpath: from a file, bytes or memory; ended from outside; refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import steadyrest
from steadyrest import Cancelled, InputError, Refused, Request

PART = Path(__file__).parents[2] / "tests" / "golden" / "tour" / "wrapped.toolpath.json"


def test_a_part_is_posted_from_a_file_its_bytes_or_memory_alike(tmp_path: Path) -> None:
    posted = steadyrest.post(Request(PART, "rs274ngc", tmp_path / "part.nc"))
    text = (tmp_path / "part.nc").read_bytes()
    assert text.startswith(b"%\n(tour: wrapped)\n(toolpath wrapped.toolpath.json)\n")
    for part in (PART, PART.read_bytes(), steadyrest.load(PART)):
        again, other = steadyrest.post_to_memory(Request(part, "rs274ngc"))
        assert other.replace(b"(toolpath)", b"(toolpath wrapped.toolpath.json)") == text
        assert again.outcome.word == posted.outcome.word
    assert steadyrest.prove(text, Request(PART)).outcome.word == posted.outcome.word
    assert steadyrest.load(PART.read_bytes()).digest == steadyrest.load(PART).digest


def test_progress_may_cancel_and_nothing_is_put_in_place(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []

    def progress(stage: str, done: int, total: int) -> None:
        told.append((stage, done, total))
        if len(told) == 2:
            raise Cancelled("enough")

    output = tmp_path / "part.nc"
    output.write_text("as it was")
    with pytest.raises(Cancelled):
        steadyrest.post(Request(PART, output=output), progress)
    assert ["part.nc"] == [file.name for file in tmp_path.iterdir()]
    assert output.read_text() == "as it was"
    assert told[0][0] == "reading the toolpath"
    assert 0 <= told[0][1] <= told[0][2]


def test_a_program_that_must_not_run_is_refused_with_what_was_found(tmp_path: Path) -> None:
    data = json.loads(PART.read_text())
    data["stock"]["held"] = {"at": "from", "length": data["stock"]["to"] - data["stock"]["from"]}
    request = Request(json.dumps(data).encode(), output=tmp_path / "part.nc")
    with pytest.raises(Refused) as error:
        steadyrest.post(request)
    assert error.value.as_json()["outcome"] == "stop"
    assert not list(tmp_path.iterdir())


def test_a_post_without_an_output_says_so() -> None:
    with pytest.raises(InputError, match="no file is named"):
        steadyrest.post(Request(PART))


def test_proving_tells_at_which_line_it_is_and_ends_when_nobody_wants_it_any_more() -> None:
    request = Request(PART)
    _, text = steadyrest.post_to_memory(request)
    told: list[tuple[str, int, int]] = []
    assert steadyrest.prove(text, request, lambda *said: told.append(said)).verdict.proved
    assert {len(text.splitlines())} == {total for stage, _, total in told if stage == "proving"}
    assert 0 < told[-1][1] <= len(text.splitlines())

    def no_more(stage: str, done: int, total: int) -> None:
        raise Cancelled("enough")

    with pytest.raises(Cancelled):
        steadyrest.prove(text, request, no_more)
