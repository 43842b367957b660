"""What is asked for: what a job says holds where the user says nothing, and a job writes into its own folder only."""

from __future__ import annotations

import math
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from steadyrest.errors import InputError
from steadyrest.posting import post_to_memory, prove
from steadyrest.reporting import look_at
from steadyrest.request import Request, files_of, load

TOUR = Path(__file__).parents[1] / "golden" / "tour"
JOB = 'steadyrest_job = 1\n\n[[inputs]]\nfile = "still.toolpath.json"\n\n[post]\n'


@pytest.fixture
def job(tmp_path: Path) -> Path:
    shutil.copy(TOUR / "still.toolpath.json", tmp_path)
    file = tmp_path / "part.job.toml"
    post = 'controller = "radius-arcs"\noutput = "part.nc"\ntolerance = 0.02\naccept = ["stale", "travel"]\n'
    file.write_text(f"{JOB}{post}[post.set]\nstops.end = 'M30'\n")
    return file


def test_a_job_says_what_the_user_leaves_open(job: Path) -> None:
    asked = Request(job).with_job()
    assert ("radius-arcs", job.parent / "part.nc", 0.02) == (asked.controller, asked.output, asked.tolerance)
    assert ["stale", "travel"] == list(asked.accept)


@pytest.mark.parametrize("name", ["job.toml", "part"])
def test_a_job_by_any_other_name_says_as_much(job: Path, name: str) -> None:
    """It is taken as a part whatever its name is: what it says about posting must not be passed over in silence then."""
    renamed = job.rename(job.with_name(name))
    assert replace(Request(renamed).with_job(), part=job) == Request(renamed.rename(job)).with_job()


def test_the_user_goes_before_the_job_and_both_accept_each_name_once(job: Path, tmp_path: Path) -> None:
    said = Request(job, "rs274ngc", tmp_path / "mine.nc", ["words.spaces=true"], 0.1, ["travel", "clamp"]).with_job()
    assert ("rs274ngc", tmp_path / "mine.nc", 0.1) == (said.controller, said.output, said.tolerance)
    assert ["stale", "travel", "clamp"] == list(said.accept)
    assert "words.spaces=true" == said.sets[-1] != said.sets[0]  # of two values the last counts


def test_a_job_puts_nothing_outside_of_its_folder(job: Path) -> None:
    job.write_text(f'{JOB}output = "../part.nc"\n')
    with pytest.raises(InputError, match="not in the job file's folder"):
        Request(job).with_job()
    assert "elsewhere.nc" == str(Request(job, output=Path("elsewhere.nc")).with_job().output)


def test_without_a_job_nothing_is_added_and_the_reference_is_meant() -> None:
    asked = Request(TOUR / "still.toolpath.json")
    assert asked is asked.with_job()
    assert "rs274ngc" == asked.named_controller


def test_a_part_is_loaded_from_a_file_its_bytes_or_memory(job: Path) -> None:
    loaded = load(TOUR / "still.toolpath.json")
    assert loaded is load(loaded)
    assert loaded.digest == load((TOUR / "still.toolpath.json").read_bytes()).digest
    assert loaded.tools == load(job).tools


def test_the_files_of_a_job_are_all_that_it_reads(job: Path) -> None:
    assert {job, job.parent / "still.toolpath.json"} == set(files_of(job))
    assert [] == files_of(b"{}")


def test_gauge_lengths_of_the_job_hold_and_those_of_the_user_go_before_them(job: Path) -> None:
    job.write_text(
        JOB.replace("[post]", "[[tools]]\nnumber = 1\ngauge_length = 128.35\n[[tools]]\nnumber = 2\ngauge_length = 90\n\n[post]")
    )
    assert {1: 128.35, 2: 90} == Request(job).with_job().gauge_lengths
    said = Request(job, gauge_lengths={2: 91.5}).with_job()
    assert {1: 128.35, 2: 91.5} == said.gauge_lengths
    assert [1, 2] == [tool.number for tool in said.toolpath().tools], "what inputs say of their tools stays"


@pytest.mark.parametrize(
    ("lengths", "wrong"),
    [
        ({7: 100.0}, "a gauge length is given for tool 7, and the toolpath has no such tool; it has 1, 2"),
        ({1: 0.0}, "the gauge length of tool 1 is 0.0; it has to be a number above 0"),
        ({1: -3.0}, "the gauge length of tool 1 is -3.0"),
        ({1: math.nan}, "the gauge length of tool 1 is nan"),
        ({1: "long"}, "the gauge length of tool 1 is 'long'"),
    ],
)
def test_a_gauge_length_that_is_none_or_of_no_tool_is_refused_with_the_cure(lengths: dict[int, float], wrong: str) -> None:
    part = TOUR / "still.toolpath.json"
    with pytest.raises(InputError, match=wrong) as caught:
        post_to_memory(Request(part, gauge_lengths=lengths, simulate=False))
    assert (str(part), "gauge_length") == (caught.value.place.file, caught.value.place.key)
    assert caught.value.cure


def test_what_was_given_as_gauge_lengths_is_said_on_the_screen_and_as_data() -> None:
    asked = Request(TOUR / "still.toolpath.json", gauge_lengths={1: 128.35}, simulate=False)
    posted, text = post_to_memory(asked)
    assert "Gauge lengths as given, to be checked at the tool setter: T1 128.35 mm." in posted.text()
    assert [{"tool": 1, "length": 128.35}] == posted.as_json()["gauge_lengths"]
    plain, same = post_to_memory(replace(asked, gauge_lengths={}))
    assert "Gauge lengths" not in plain.text()
    assert text == same, "no head turns: they are in no number of the program"


def test_a_head_is_judged_with_the_gauge_lengths_that_were_given_and_refused_without(tmp_path: Path) -> None:
    (tmp_path / "controller.toml").write_text(
        'extends = "rs274ngc"\nspeaks = "One rotary in the head."\nchain = "part bed A spindle"\nrotary.A.pivot = [0, 0, 150]\n'
    )
    asked = Request(TOUR / "still.toolpath.json", f"{tmp_path}/", simulate=False)
    for given, lacking in ({}, 1), ({1: 128.35}, 2):
        with pytest.raises(InputError, match=f"the gauge length of tool {lacking} is not known") as caught:
            prove(b"%\nG21 G90 G94\nM2\n%\n", replace(asked, gauge_lengths=given))
        assert f"--tool-length {lacking}=LENGTH" in (caught.value.cure or "")
    judged = prove(b"%\nG21 G90 G94\nM2\n%\n", replace(asked, gauge_lengths={1: 128.35, 2: 90}))
    assert "stop" == judged.outcome.word
    assert 2 == len(judged.as_json()["gauge_lengths"])


def test_of_two_rotaries_a_program_is_posted_simulated_and_looked_at(tmp_path: Path) -> None:
    (tmp_path / "controller.toml").write_text(
        'extends = "rs274ngc"\nspeaks = "C on a cradle A."\nchain = "part C A bed spindle"\n'
        'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}\n'
    )
    asked = Request(TOUR / "planes.toolpath.json", f"{tmp_path}/")
    posted, _ = post_to_memory(asked)
    assert posted.verdict.proved
    assert "run" == posted.outcome.word
    assert () == posted.outcome.findings
    seen = look_at(asked)
    assert (len(seen.track), 2) == seen.track.word_deg.shape
    assert seen.cut is not None
