"""The contract of the command line: exit codes, what goes to stdout and stderr, and a file that is whole or as it was."""

from __future__ import annotations

import json
import subprocess
import sys
from math import inf, nan
from pathlib import Path

import pytest

from steadyrest.cli.common import print_json

TOUR = Path(__file__).parents[1] / "golden" / "tour"
PART = TOUR / "indexed.toolpath.json"


def run(*args: object, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "steadyrest", *map(str, args)], cwd=folder, capture_output=True, text=True, check=False, timeout=120
    )


def test_post_writes_the_program_and_says_so_on_stderr(tmp_path: Path) -> None:
    done = run("post", PART, "--controller", "rs274ngc", "--output", "part.nc", folder=tmp_path)
    assert (0, "") == (done.returncode, done.stdout)
    assert "proved" in done.stderr
    assert (tmp_path / "part.nc").read_text(encoding="ascii").startswith("%\n")
    assert ["part.nc"] == [path.name for path in tmp_path.iterdir()]


def test_post_prints_json_on_stdout_when_asked(tmp_path: Path) -> None:
    done = run("post", PART, "--output", "part.nc", "--json", folder=tmp_path)
    data = json.loads(done.stdout)
    assert (True, "mm", 2) == (data["proved"], data["units"], len(data["operations"]))


def profile_that_stops_the_spindle(folder: Path) -> Path:
    """A shop's template that says the wrong thing: its programs are refused by the proof."""
    shop = folder / "shop"
    (shop / "templates").mkdir(parents=True)
    (shop / "controller.toml").write_text('extends = "rs274ngc"\n')
    (shop / "templates" / "index.j2").write_text("{{ motion }}\nM5\n")
    return shop


@pytest.mark.parametrize("command", ["post", "deliver"])
def test_a_refusal_is_data_too(command: str, tmp_path: Path) -> None:
    run("post", PART, "--output", "part.nc", folder=tmp_path)
    program = tmp_path / "part.nc"
    wrong = program.read_text(encoding="ascii").replace("G0 A60\n", "G0 A66\n", 1)
    if command == "deliver":
        program.write_text(wrong, encoding="ascii")
        done = run("deliver", "part.nc", "--toolpath", PART, "--to", ".", "--name", "other.nc", "--json", folder=tmp_path)
    else:
        done = run("post", PART, "-c", profile_that_stops_the_spindle(tmp_path), "--output", "part.nc", "--json", folder=tmp_path)
    assert 3 == done.returncode, done.stderr
    data = json.loads(done.stdout)
    assert ("Refused", 3) == (data["error"]["kind"], data["error"]["exit_code"])
    verdict = data["proof"] if command == "deliver" else data
    assert verdict["proved"] is False
    assert verdict["failure"]["kind"] == ("spindle" if command == "post" else "path")
    assert verdict["failure"]["sentence"] in " ".join(done.stderr.split())


def test_an_error_is_data_too(tmp_path: Path) -> None:
    (tmp_path / "part.toolpath.json").write_text('{"steadyrest_toolpath": 1, "units": "yards"}', encoding="ascii")
    done = run("post", "part.toolpath.json", "-o", "part.nc", "--json", folder=tmp_path)
    error = json.loads(done.stdout)["error"]
    assert (1, "ToolpathError", "part.toolpath.json") == (done.returncode, error["kind"], error["file"])
    assert error["wrong"] in done.stderr
    assert error["cure"] in done.stderr


def test_a_number_that_json_cannot_say_is_null(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"low": -inf, "list": [1.5, nan, (inf, 2)], "all": {"good": 0.25, "bad": nan, "text": "NaN"}})
    expected = {"schema": 1, "low": None, "list": [1.5, None, [None, 2]], "all": {"good": 0.25, "bad": None, "text": "NaN"}}
    assert expected == json.loads(capsys.readouterr().out)


def test_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one.nc", "two.nc"):
        run("post", PART, "--output", name, folder=tmp_path)
    assert (tmp_path / "one.nc").read_bytes() == (tmp_path / "two.nc").read_bytes()


@pytest.mark.parametrize(
    ("args", "code", "says"),
    [
        (["post", "missing.json", "-o", "part.nc"], 1, "there is no such file"),
        (["post", PART, "-c", "nobody", "-o", "part.nc"], 1, "there is no profile called 'nobody'"),
        (["post", PART, "--set", "rotary.A.chuck_face=-X", "-o", "part.nc"], 1, "did you mean chuck_faces"),
        (["post", PART, "-o", "."], 1, "is a folder"),
        (["post", PART, "-o", "missing/part.nc"], 1, "does not exist"),
        (["post", TOUR / "along_z.toolpath.json", "-o", "part.nc"], 1, "no rotary along Z"),
        (["post", PART], 2, "Missing option"),
        (["post", PART, "--tolerance", "wide", "-o", "part.nc"], 2, "not a valid float"),
        (["post", PART, "--tolerance", "inf", "-o", "part.nc"], 2, "'inf' is not a finite number"),
        (["prove", "part.nc", "-t", PART, "--tolerance", "nan"], 2, "'nan' is not a finite number"),
        (["post", PART, "--tool-length", "4", "-o", "part.nc"], 2, "'4' is not NUMBER=LENGTH, such as 4=128.35"),
        (["post", PART, "--tool-length", "1=90", "--tool-length", "1=91", "-o", "part.nc"], 2, "the length of tool 1 is given twice"),
        (["prove", "part.nc", "-t", PART, "--tool-length", "1=-90"], 2, "a gauge length is a number above 0"),
        (["post", PART, "--tool-length", "77=90", "-o", "part.nc"], 1, "the toolpath has no such tool; it has "),
        (["nothing"], 2, "No such command"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_exit_code(args: list[object], code: int, says: str, tmp_path: Path) -> None:
    (tmp_path / "part.nc").write_text("old", encoding="ascii")
    done = run(*args, folder=tmp_path)
    assert (code, "") == (done.returncode, done.stdout)
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert "old" == (tmp_path / "part.nc").read_text(encoding="ascii")


def test_prove_accepts_what_post_wrote(tmp_path: Path) -> None:
    run("post", PART, "--output", "part.nc", folder=tmp_path)
    assert 0 == run("prove", "part.nc", "--toolpath", PART, folder=tmp_path).returncode


def test_prove_refuses_a_program_edited_to_cut_elsewhere(tmp_path: Path) -> None:
    run("post", PART, "--output", "part.nc", folder=tmp_path)
    program = tmp_path / "part.nc"
    program.write_text(program.read_text(encoding="ascii").replace("G0 A60\n", "G0 A66\n", 1), encoding="ascii")
    done = run("prove", "part.nc", "--toolpath", PART, "--json", folder=tmp_path)
    assert 3 == done.returncode
    assert json.loads(done.stdout)["proved"] is False


def test_prove_accepts_a_program_edited_without_harm(tmp_path: Path) -> None:
    run("post", PART, "--output", "part.nc", folder=tmp_path)
    program = tmp_path / "part.nc"
    program.write_text(program.read_text(encoding="ascii").replace("G0 A60\n", "(next face)\nN77 g00 a 60.0\n", 1), encoding="ascii")
    assert 0 == run("prove", "part.nc", "--toolpath", PART, folder=tmp_path).returncode
