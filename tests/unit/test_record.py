"""The run record: kept beside the job, a line a run; the next begins from the last."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from steadyrest.errors import InputError
from steadyrest.record import Run, differences, next_run, record_file, record_run, runs_of

TODAY = Run("2026-11-29T08:00:00+01:00", "look", "p1", "t1", "c1", mounting=("rotary A along X, at the left end",), settings=("rs274ngc",))


def test_a_run_that_is_being_set_up_is_replaced_and_one_that_was_run_stays(tmp_path: Path) -> None:
    job = tmp_path / "cap.job.toml"
    assert [] == runs_of(job)
    record_run(job, TODAY)
    record_run(job, replace(TODAY, tools={"1": "118.2"}, run=True))
    record_run(job, replace(TODAY, when="2026-11-30T08:00:00+01:00", remarks="chatter at the end"))
    first, second = runs_of(job)
    assert (True, {"1": "118.2"}) == (first.run, first.tools)
    assert (False, "chatter at the end") == (second.run, second.remarks)
    lines = record_file(job).read_text(encoding="utf-8").splitlines()
    assert tmp_path / "cap.runs.jsonl" == record_file(job)
    assert [1, 1] == [json.loads(line)["schema"] for line in lines]


def test_the_next_run_begins_from_the_last_with_nothing_checked() -> None:
    last = replace(TODAY, origin="G54 X-210.1", tools={"1": "118.2"}, checked=("guards",), run=True)
    today = replace(TODAY, when="2026-12-01T08:00:00+01:00", program="p2")
    begun = next_run([last], today)
    assert ("G54 X-210.1", {"1": "118.2"}, (), False, "p2") == (begun.origin, begun.tools, begun.checked, begun.run, begun.program)
    assert today == next_run([], today)


def test_a_run_that_is_being_set_up_goes_on_after_a_reload_unless_the_program_is_another() -> None:
    half = replace(TODAY, checked=("guards",), tools={"1": "118.2"})
    assert ("guards",) == next_run([half], TODAY).checked
    assert () == next_run([half], replace(TODAY, program="p2")).checked


def test_another_gauge_length_than_last_time_is_said_by_its_tool() -> None:
    last, today = replace(TODAY, gauge_lengths={"4": 128.35, "5": 90}), replace(TODAY, gauge_lengths={"4": 128.3, "5": 90, "6": 70})
    assert differences(last, today) == [
        "the gauge length of T4 is another one: then 128.35; now 128.3",
        "the gauge length of T6 is another one: then not given; now 70",
    ]
    assert {"4": 128.3, "5": 90, "6": 70} == next_run([replace(last, tools={"4": "as measured"})], today).gauge_lengths


def test_what_is_different_from_the_last_run_is_said() -> None:
    assert [] == differences(TODAY, TODAY)
    (told,) = differences(TODAY, replace(TODAY, mounting=("rotary A along X, at the right end",), program="p2"))
    assert "left end" in told
    assert "right end" in told
    assert ["the program is another one"] == differences(TODAY, replace(TODAY, program="p2"))
    assert 2 == len(differences(TODAY, replace(TODAY, toolpath="t2", settings=("other",))))


@pytest.mark.parametrize("line", ["", "{}", "[1]", "nonsense", '{"when": 3}'])
def test_a_line_that_is_no_record_is_told_with_its_number_and_nothing_is_lost(tmp_path: Path, line: str) -> None:
    job = tmp_path / "cap.job.toml"
    record_run(job, replace(TODAY, run=True))
    with open(record_file(job), "a", encoding="utf-8") as file:
        file.write(f"{line}\n")
    kept = record_file(job).read_bytes()
    with pytest.raises(InputError, match=r"cap\.runs\.jsonl:2: this line is no record of a run"):
        record_run(job, TODAY)
    assert kept == record_file(job).read_bytes()
