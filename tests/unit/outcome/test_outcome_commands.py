"""The outcome at the command line: exit codes, the first word, what is put in place, and a screen that needs no scrolling."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from outcome_parts import FLAT, operation, part, written

from steadyrest.cli import main

PLUNGE = [{"rapid": [-10, 3, 30]}, {"rapid": [-10, 3, 15]}, {"cut": [-20, 3, 15], "feed": 600}]
ON_TOP = [{"rapid": [5, 0, 2]}, {"cut": [5, 0, -2], "feed": 100}, {"cut": [-20, 0, -2]}]
CLAMPED = ("-c", "limited-clamped")


def run(*arguments: object) -> Result:
    done = CliRunner().invoke(main, [str(each) for each in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.output
    return done


@pytest.fixture
def good(tmp_path: Path) -> Path:
    return written(tmp_path, part(operation(FLAT)), "good")


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    return written(tmp_path, part(operation(PLUNGE)), "bad")


def findings(done: Result) -> list[tuple[str, str, bool]]:
    return [(one["name"], one["weight"], one["accepted"]) for one in json.loads(done.stdout)["findings"]]


def test_run_and_look_end_with_0_and_stop_with_3(good: Path, bad: Path, tmp_path: Path) -> None:
    for word, code, arguments in (
        ("RUN", 0, (good, *CLAMPED)),
        ("LOOK", 0, (good,)),
        ("STOP", 3, (bad, *CLAMPED)),
    ):
        done = run("post", *arguments, "-o", tmp_path / "x.nc", "--json")
        assert (code, word) == (done.exit_code, done.stderr.split()[0])
        assert word.lower() == json.loads(done.stdout)["outcome"]


def test_what_must_not_run_is_not_put_in_place(bad: Path, tmp_path: Path) -> None:
    (tmp_path / "x.nc").write_text("OLD\n", encoding="ascii")
    done = run("post", bad, *CLAMPED, "-o", tmp_path / "x.nc")

    assert 3 == done.exit_code
    assert f"stop: {tmp_path / 'x.nc'} is as it was before" in done.stderr
    assert "OLD\n" == (tmp_path / "x.nc").read_text(encoding="ascii")
    assert [] == list(tmp_path.glob("*.part"))


def test_accept_makes_a_stop_a_look_for_that_command_alone(bad: Path, tmp_path: Path) -> None:
    program = tmp_path / "x.nc"
    done = run("post", bad, *CLAMPED, "-o", program, "--accept", "rapid", "--json")

    assert (0, [("rapid", "look", True)]) == (done.exit_code, findings(done))
    assert "accepted by the user: rapid" in program.read_text(encoding="ascii").lower()
    assert 3 == run("prove", program, "-t", bad, *CLAMPED).exit_code
    assert 0 == run("prove", program, "-t", bad, *CLAMPED, "--accept", "rapid").exit_code


def test_an_accepted_name_that_finds_nothing_is_one_line(good: Path, tmp_path: Path) -> None:
    done = run("post", good, *CLAMPED, "-o", tmp_path / "x.nc", "--accept", "shank")

    assert 1 == done.stderr.count("--accept shank: nothing of that name was found")


@pytest.mark.parametrize("name", ["proof", "nothing-such"])
def test_a_name_that_cannot_be_accepted_is_a_usage_error(good: Path, tmp_path: Path, name: str) -> None:
    done = run("post", good, "-o", tmp_path / "x.nc", "--accept", name)

    assert 2 == done.exit_code
    assert f"there is no finding '{name}' to accept" in done.stderr


def test_a_job_accepts_for_every_command_that_reads_it(bad: Path, tmp_path: Path) -> None:
    job = tmp_path / "bad.job.toml"
    job.write_text(
        'steadyrest_job = 1\n[[inputs]]\nfile = "bad.toolpath.json"\n[post]\ncontroller = "limited-clamped"\noutput = "x.nc"\n'
        'accept = ["rapid"]\n',
        encoding="utf-8",
    )
    for arguments in (
        ("post", job),
        ("prove", tmp_path / "x.nc", "-t", job),
        ("setup-sheet", job, "-o", tmp_path / "sheet.html"),
        ("report", job, "--cells", "32x64", "-o", tmp_path / "report.html"),
        ("picture", job, "--cells", "32x64", "--of", "over-time", "-o", tmp_path / "p.svg"),
        ("deliver", tmp_path / "x.nc", "-t", job, "--to", tmp_path, "--name", "y.nc", "--log", tmp_path / "log"),
    ):
        done = run(*arguments)
        assert (0, "LOOK") == (done.exit_code, done.stderr.split()[0]), arguments
        assert "accepted" in done.stderr
    assert "outcome=look accepted=rapid result=delivered" in (tmp_path / "log").read_text(encoding="utf-8")


def test_a_job_that_accepts_what_there_is_not_says_what_there_is(bad: Path, tmp_path: Path) -> None:
    job = tmp_path / "bad.job.toml"
    job.write_text('steadyrest_job = 1\n[[inputs]]\nfile = "bad.toolpath.json"\n[post]\naccept = ["everything"]\n', encoding="utf-8")
    done = run("post", job, "-o", tmp_path / "x.nc")

    assert 1 == done.exit_code
    assert "there is no finding 'everything'" in done.stderr


def test_deliver_delivers_nothing_that_must_not_run(bad: Path, tmp_path: Path) -> None:
    run("post", bad, *CLAMPED, "-o", tmp_path / "x.nc", "--accept", "rapid")
    (tmp_path / "share").mkdir()
    log = ("--log", tmp_path / "log")
    done = run("deliver", tmp_path / "x.nc", "-t", bad, *CLAMPED, "--to", tmp_path / "share", *log, "--json")

    assert 3 == done.exit_code
    assert "stop" == json.loads(done.stdout)["outcome"]
    assert [] == list((tmp_path / "share").iterdir())


def test_what_must_not_run_is_shown_with_stop_across(bad: Path, tmp_path: Path) -> None:
    for arguments, sign in (
        (("report", bad, "--cells", "32x64", "-o", tmp_path / "r.html"), '<p class="stop-across"'),
        (("setup-sheet", bad, "-o", tmp_path / "s.html"), '<p class="stop-across"'),
        (("picture", bad, "--cells", "32x64", "-o", tmp_path / "p.svg"), ">STOP<"),
    ):
        done = run(*arguments)
        assert (3, "STOP") == (done.exit_code, done.stderr.split()[0])
        assert sign in arguments[-1].read_text(encoding="utf-8")  # type: ignore[union-attr]


def test_without_simulation_it_is_never_run(good: Path, tmp_path: Path) -> None:
    done = run("post", good, *CLAMPED, "-o", tmp_path / "x.nc", "--no-simulation", "--json")

    assert [("not-simulated", "look", False)] == findings(done)


def test_what_cannot_be_planned_has_an_error_and_no_outcome(good: Path, tmp_path: Path) -> None:
    data: dict[str, Any] = part(operation(FLAT, {"intent": "indexed", "angles": [31]}))
    done = run("post", written(tmp_path, data, "odd"), "-c", "fixed-steps", "-o", tmp_path / "x.nc", "--json")

    assert 1 == done.exit_code
    assert {"schema", "error"} == set(json.loads(done.stdout))


def test_the_worst_screen_fits_80_columns_and_24_lines(tmp_path: Path) -> None:
    many = [operation(ON_TOP, name=f"slot number {at} with a rather long name") for at in range(12)]
    done = run("post", written(tmp_path, part(*many), "many"), "-o", tmp_path / "x.nc")

    lines = done.stderr.rstrip("\n").split("\n")
    assert 3 == done.exit_code
    assert 80 >= max(map(len, lines[:-1])), "but for the last, which names the file"
    assert 24 >= len(lines)
    assert "(operation 1 'slot number 0 with a rather long name', 12 times)" in " ".join(done.stderr.split())


def test_the_first_word_is_in_colour_on_a_terminal(good: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["post", str(good), *CLAMPED, "-o", str(tmp_path / "x.nc")], color=True)

    assert "\x1b[32m\x1b[1mRUN\x1b[0m" in done.stderr


def test_a_line_that_nobody_reads_is_an_error_of_its_template_on_the_sheet_too(good: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    (shop / "templates").mkdir(parents=True)
    (shop / "controller.toml").write_text('extends = "rs274ngc"\n', encoding="utf-8")
    (shop / "templates" / "index.j2").write_text("{{ motion }}\nM88\n", encoding="utf-8")

    for arguments in (("setup-sheet", good, "-o", tmp_path / "s.html"), ("post", good, "-o", tmp_path / "x.nc")):
        done = run(*arguments, "-c", shop)
        assert 1 == done.exit_code, done.output
        assert "templates" in done.stderr
        assert "index.j2" in done.stderr
