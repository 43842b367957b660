"""What a run puts in place: never over its inputs, told when it is stopped, nothing left of killed ones; also as Windows has it."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.errors import InputError, OutputError
from steadyrest.request import Request
from steadyrest.writing import atomic_file, put_in_place

TOUR = Path(__file__).parents[2] / "golden" / "tour"
JOB = """steadyrest_job = 1
stock = { shape = "round", diameter = 40, from = -90, to = 0 }
[[inputs]]
file = "part.toolpath.json"
"""


@pytest.fixture
def part(tmp_path: Path) -> Path:
    file = tmp_path / "part.toolpath.json"
    file.write_bytes((TOUR / "indexed.toolpath.json").read_bytes())
    (tmp_path / "part.job.toml").write_text(JOB, encoding="utf-8")
    return file


def run(*said: object) -> tuple[int, str]:
    done = CliRunner().invoke(main, [str(each) for each in said])
    return done.exit_code, done.stderr


def test_no_output_takes_the_place_of_an_input(part: Path) -> None:
    job, before = part.with_name("part.job.toml"), part.read_bytes()
    program = part.with_name("part.nc")
    assert 0 == run("post", part, "-o", program)[0]
    (part.parent / "linked.json").symlink_to(part)
    for said in (
        ("post", part, "-o", part),
        ("post", job, "-o", part),
        ("post", job, "-o", job),
        ("post", part, "-o", part.parent / "linked.json"),
        ("take", job, "-o", part),
        ("take", part, "-o", part),
        ("setup-sheet", part, "-o", part),
        ("report", program, "-t", part, "--cells", "40x40", "-o", part),
        ("report", program, "-t", part, "--cells", "40x40", "-o", program),
        ("picture", part, "--cells", "40x40", "-o", part),
    ):
        code, told = run(*said)
        assert 1 == code, said
        assert before == part.read_bytes(), said
        if said[0] != "picture":
            assert "is an input of this, and would be lost" in told, said


@pytest.mark.parametrize("output", ["../part.nc", "/tmp/part.nc", "sub/../../part.nc"])
def test_a_job_puts_its_program_into_its_own_folder_unless_the_user_says_otherwise(output: str, part: Path) -> None:
    job = part.with_name("part.job.toml")
    job.write_text(f'{JOB}[post]\noutput = "{output}"\n', encoding="utf-8")
    with pytest.raises(InputError, match="is not in the job file's folder"):
        Request(job).with_job()
    assert Path("/elsewhere/a.nc") == Request(job, output=Path("/elsewhere/a.nc")).with_job().output
    job.write_text(f'{JOB}[post]\noutput = "sub/../part.nc"\n', encoding="utf-8")
    assert 0 == run("post", job)[0]


def test_an_interrupt_after_the_program_was_put_in_place_says_so(part: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic_file, "PUT", [])
    output = part.with_name("part.nc")

    def interrupted(self: object) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr("steadyrest.posting.Posted.text", interrupted)
    code, told = run("post", part, "-o", output)
    assert (130, True) == (code, output.exists())
    assert f"{output} had been put in place before" in told


def test_an_interrupt_in_the_very_moment_of_the_rename_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic_file, "PUT", [])
    rename = atomic_file._replace

    def interrupted(temporary: Path, path: Path) -> None:
        rename(temporary, path)
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic_file, "_replace", interrupted)
    with pytest.raises(KeyboardInterrupt), put_in_place([b"M2\n"], tmp_path / "a.nc") as placed:
        placed.commit()
    assert [tmp_path / "a.nc"] == atomic_file.PUT
    assert ["a.nc"] == os.listdir(tmp_path)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a system without /dev/full")
@pytest.mark.parametrize("ends", ["full out", "full both", "closed out", "closed both"])
def test_a_stream_that_is_full_or_closed_takes_nothing_back_of_what_is_done(ends: str, part: Path) -> None:
    output = part.with_name("part.nc")
    command = [sys.executable, "-m", "steadyrest", "post", str(part), "-o", str(output), "--json"]
    to = "/dev/full" if ends.startswith("full") else "&-"
    shell = f'exec "$@" >{to}' + (f" 2>{to}" if "both" in ends else "")
    done = subprocess.run(["sh", "-c", shell, "sh", *command], stderr=subprocess.PIPE, text=True, check=False)
    assert (0, True) == (done.returncode, output.exists()), done.stderr
    assert "Traceback" not in done.stderr
    refused = ["prove", str(output), "-t", str(TOUR / "still.toolpath.json"), "--json"]
    done = subprocess.run(["sh", "-c", shell, "sh", *command[:3], *refused], stderr=subprocess.PIPE, text=True, check=False)
    assert 3 == done.returncode, done.stderr
    done = subprocess.run(["sh", "-c", shell, "sh", *command[:3], "schema", "job"], stderr=subprocess.PIPE, text=True, check=False)
    assert (1 if ends.startswith("full") else 0) == done.returncode, "where the print is all that was asked for, a full disk is told"


def test_waiting_files_of_killed_runs_are_swept_and_those_of_living_ones_are_not(tmp_path: Path) -> None:
    killed = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, time; from pathlib import Path; from steadyrest.writing import put_in_place\n"
            "placed = put_in_place([b'half'], Path(sys.argv[1])); print('here', flush=True); time.sleep(60)",
            str(tmp_path / "killed.nc"),
        ],
        stdout=subprocess.PIPE,
    )
    assert killed.stdout is not None
    killed.stdout.readline()
    with put_in_place([b"living"], tmp_path / "living.nc") as living:
        left = [each for each in tmp_path.glob(".steadyrest-*.part") if each != living.temporary]
        assert 1 == len(left)
        killed.send_signal(signal.SIGKILL)
        killed.wait()
        killed.stdout.close()
        put_in_place([b"next"], tmp_path / "next.nc").commit()
        assert not left[0].exists()
        assert living.temporary.exists()
        living.commit()
    assert {"living.nc", "next.nc"} == set(os.listdir(tmp_path))


def test_on_windows_a_program_is_put_over_an_old_one_without_the_call_that_is_missing_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic_file.sys, "platform", "win32")
    monkeypatch.delattr(os, "fchmod")
    (tmp_path / "a.nc").write_bytes(b"old")
    with put_in_place([b"N1 G0\r\n"], tmp_path / "a.nc") as placed:
        placed.commit()
    assert b"N1 G0\r\n" == (tmp_path / "a.nc").read_bytes()


def test_on_windows_a_file_that_is_open_elsewhere_is_tried_again_and_then_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic_file.sys, "platform", "win32")
    monkeypatch.setattr(atomic_file, "TRIES", 3)
    monkeypatch.setattr(atomic_file.time, "sleep", lambda seconds: None)
    rename, tried = os.replace, []

    def open_elsewhere(one: Path, other: Path) -> None:
        tried.append(one)
        if len(tried) < 3:
            raise PermissionError(13, "Access is denied")
        rename(one, other)

    monkeypatch.setattr(os, "replace", open_elsewhere)
    (tmp_path / "a.nc").write_bytes(b"old")
    with put_in_place([b"new"], tmp_path / "a.nc") as placed:
        placed.commit()
    assert (3, b"new") == (len(tried), (tmp_path / "a.nc").read_bytes())
    tried[:] = [tmp_path] * -10

    def always(one: Path, other: Path) -> None:
        raise PermissionError(13, "Access is denied")

    monkeypatch.setattr(os, "replace", always)
    with pytest.raises(OutputError, match="is open in another program"), put_in_place([b"newer"], tmp_path / "a.nc") as placed:
        placed.commit()
    assert ["a.nc"] == os.listdir(tmp_path)


def test_a_console_that_has_not_all_characters_shows_the_others_by_number(part: Path) -> None:
    said = json.loads(part.read_text(encoding="utf-8")) | {"name": "v\u00e9lo \u2300 12"}
    part.write_text(json.dumps(said), encoding="utf-8")
    command = [sys.executable, "-m", "steadyrest", "post", str(part), "-o", str(part.with_name("a.nc"))]
    for encoding in ("cp1252", "cp437"):
        own = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
        done = subprocess.run(command, env=own, capture_output=True, check=False)
        assert 0 == done.returncode, done.stderr
        assert b"\\u2300" in done.stderr


def test_permissions_of_the_old_file_are_kept(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_bytes(b"old")
    (tmp_path / "a.nc").chmod(0o640)
    put_in_place([b"new"], tmp_path / "a.nc").commit()
    assert 0o640 == stat.S_IMODE((tmp_path / "a.nc").stat().st_mode)
