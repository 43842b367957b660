"""What is asked for: what a job says holds where the user says nothing, and a job writes into its own folder only."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from steadyrest.errors import InputError
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
