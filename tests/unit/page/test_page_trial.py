"""A copy is judged by the proof: right, wrong with its line and the change there, or not in the controller's language."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import Cancelled
from steadyrest.page.edited import Change
from steadyrest.page.tasks import Tasks
from steadyrest.page.trial import proved_beside, proved_now, tried
from steadyrest.posting import post_to_memory
from steadyrest.request import Request


def posted(parts: Path) -> tuple[Request, bytes, list[str]]:
    request = Request(parts / "lantern_cap.job.toml").with_job()
    text = post_to_memory(request)[1]
    return request, text, text.decode().splitlines()


def test_an_angle_changed_by_hand_is_refused_at_its_line_with_the_change_in_words(parts: Path) -> None:
    request, text, lines = posted(parts)
    line = next(number for number, each in enumerate(lines, 1) if "A120" in each)
    found = tried(text, [Change(line, line, (lines[line - 1].replace("A120", "A-120"),))], request)
    assert "stop" == found["outcome"]
    assert line <= found["line"] <= line + 3
    assert "was A120, is A-120" == found["words"]
    assert found["beside"]["asked"].startswith("<svg")
    assert found["beside"]["apart"].endswith("and A 240°")
    assert "along the axis of rotation" in found["beside"]["name"]
    assert found["changes"][0]["at"] == line


def test_nothing_changed_and_a_comment_put_in_are_as_good_as_the_program(parts: Path) -> None:
    request, text, _ = posted(parts)
    assert "look" == tried(text, [], request)["outcome"]
    assert tried(text, [], request)["beside"] is None
    assert "look" == tried(text, [Change(5, 4, ("(LOOK AT THE JAWS)",))], request)["outcome"]


def test_what_is_not_in_the_language_is_told_with_its_line_and_cure(parts: Path) -> None:
    request, text, lines = posted(parts)
    found = tried(text, [Change(5, 5, (lines[4] + " XX",))], request)
    assert (None, 5) == (found["outcome"], found["line"])
    assert found["sentence"]


def test_the_answer_to_older_changes_is_given_up(parts: Path) -> None:
    request, text, _ = posted(parts)
    asked: list[int] = []

    class Again(list[Change]):
        def __iter__(self):  # type: ignore[no-untyped-def]
            if not asked:
                asked.append(1)
                assert "look" == proved_now("tab", text, [], request)["outcome"]
            return super().__iter__()

    with pytest.raises(Cancelled):
        proved_now("tab", text, Again([]), request)


def test_a_long_copy_is_proved_beside(parts: Path, tmp_path: Path) -> None:
    from page_client import ended

    request, text, lines = posted(parts)
    program = tmp_path / "program.nc"
    program.write_bytes(text)
    tasks = Tasks(tmp_path / "work")
    key = proved_beside(tasks, "tab", "made-1", program, [Change(1, 1, (lines[0],))], parts / "lantern_cap.job.toml")
    assert "look" == ended(tasks, key)["result"]["outcome"]
    assert request.part == parts / "lantern_cap.job.toml"


def test_what_one_asker_typed_before_is_not_proved_to_its_end_and_another_is_left_alone(parts: Path, tmp_path: Path) -> None:
    program = tmp_path / "program.nc"
    program.write_bytes(posted(parts)[1])
    tasks = Tasks(tmp_path / "work")
    job = parts / "lantern_cap.job.toml"
    older, other, newer = (
        proved_beside(tasks, asker, "made-1", program, [Change(5, 4, (line,))], job)
        for asker, line in (("tab", "(A)"), ("other tab", "(A)"), ("tab", "(AB)"))
    )
    assert "unknown" == tasks.state(older)["status"]
    assert ["running", "running"] == [tasks.state(each)["status"] for each in (other, newer)]
    tasks.end()
