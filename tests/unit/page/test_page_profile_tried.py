"""What is tried is told from what is stated where, and tried as long work that can be ended and begun anew."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from page_client import JOB, ended

from steadyrest.errors import Cancelled, InputError
from steadyrest.page.job_file import read_job_file
from steadyrest.page.profile_tried import Tried, changed, effect, prove_tour
from steadyrest.page.tasks import Tasks
from steadyrest.profile_tools import tour
from steadyrest.progress import STAGES


def heard() -> tuple[list[tuple[str, int, int]], Any]:
    told: list[tuple[str, int, int]] = []
    return told, lambda *said: told.append(said)


def asked(parts: Path, *sets: str, unset: tuple[str, ...] = ()) -> dict[str, Any]:
    from steadyrest.page.made import key_of

    return {"job": str(parts / JOB), "digest": key_of(read_job_file(parts / JOB)), "sets": sets, "unset": unset}


def test_a_key_is_taken_out_of_the_job_before_it_is_taken_out_of_the_profile(parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + "[post.set]\nwords.spaces = false\n")
    file, tried = read_job_file(job), Tried(("stops.end=M30",), ("words.spaces", "numbers.length.decimals"))
    assert (["words.spaces"], ["numbers.length.decimals"]) == (tried.in_job(file), tried.in_profile(file))
    request = tried.on_part(file)
    assert (("stops.end=M30",), ("numbers.length.decimals",)) == (request.sets, request.unset)
    assert not Tried()
    with pytest.raises(InputError, match="more than 60 settings"):
        Tried.of(["words.spaces=true"] * 61, [])


def test_what_is_wrong_is_told_for_each_key_and_what_is_wrong_together_too(parts: Path) -> None:
    file = read_job_file(parts / JOB)
    _, wrongs = changed(file, Tried(("numbers.length.decimals=99", "stops.end=M30", "words.space=true"), ()))
    assert {"numbers.length.decimals", "words.space"} == wrongs.keys()
    assert "did you mean spaces or distance" in str(wrongs["words.space"])
    _, wrongs = changed(file, Tried(('feed.inverse_code=""',), ()))
    assert ["feed"] == [key.split(".")[0] for key in wrongs]
    after, wrongs = changed(file, Tried(("stops.end=M30",), ()))
    assert after is not None
    assert ("M30", {}) == (after.profile.stops.end, wrongs)


def test_the_outcome_before_and_after_stands_beside_the_lines(parts: Path, tmp_path: Path) -> None:
    told, progress = heard()
    found = effect(tmp_path, asked(parts, "stops.end=M30"), progress)
    assert ("look", "look", 1) == (found["before"]["outcome"], found["after"]["outcome"], found["count"])
    assert [("M2", "M30", ["stops.end"])] == [(row["was"], row["is"], row["why"]) for row in found["rows"]]
    assert ([], []) == (found["come"], found["gone"])
    assert {stage for stage, _, _ in told} <= STAGES.keys()
    found = effect(tmp_path, asked(parts, "rotary.A.travel.kind=limited", "rotary.A.travel.from=-10", "rotary.A.travel.to=10"), progress)
    assert ("refused", "no program can be written") == (found["after"]["outcome"], found["after"]["line"])
    assert "travel" in found["come"][0]


def test_what_was_changed_while_it_was_tried_is_not_shown_as_tried(parts: Path, tmp_path: Path) -> None:
    said = asked(parts, "stops.end=M30")
    (parts / JOB).write_text((parts / JOB).read_text() + "[post.set]\nwords.spaces = false\n")
    with pytest.raises(InputError, match="were changed while this was tried"):
        effect(tmp_path, said, lambda *said: None)


def test_what_is_cancelled_while_it_is_tried_is_not_told_as_an_outcome(parts: Path, tmp_path: Path) -> None:
    cancelled = iter([Cancelled("ended")])

    def cancel(stage: str, done: int, total: int) -> None:
        for once in cancelled:
            raise once

    with pytest.raises(Cancelled):
        effect(tmp_path, asked(parts, "stops.end=M30"), cancel)


def test_the_tour_tells_how_many_programs_are_tried(tmp_path: Path) -> None:
    told, progress = heard()
    found = prove_tour(tmp_path, {"controller": "rs274ngc", "sets": ["numbers.length.decimals=0"], "unset": []}, progress)
    assert not found["good"]
    assert (len(tour()), len(tour())) == told[-1][1:]


def test_what_was_cancelled_is_begun_anew_only_when_asked(tmp_path: Path) -> None:
    class Alone:
        tasks = Tasks(tmp_path)

    page: Any = Alone()
    work = {"controller": "rs274ngc", "sets": [], "unset": []}
    assert "running" == page.tasks.begun("tour1", prove_tour, work)[1]["status"]
    page.tasks.cancel("tour1")
    assert "cancelled" == page.tasks.begun("tour1", prove_tour, work)[1]["status"]
    assert "running" == page.tasks.begun("tour1", prove_tour, work, again=True)[1]["status"]
    assert ended(page.tasks, "tour1")["result"]["good"]
