"""Inputs that would become far more than they say end in a message with its place: soon, and in little memory."""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.errors import InputError, PlanError, ProgramError, SteadyrestError, ToolpathError, cut
from steadyrest.inputs import InputOptions, load_input, load_job
from steadyrest.posting import post, posted_text, prove
from steadyrest.profile import load_profile, resolve
from steadyrest.request import Request
from steadyrest.toml_text import parse_toml
from steadyrest.toolpath import load_toolpath, parse_toolpath

SECONDS, BYTES = 20, 3_000_000_000
"""Far more than any of these takes, and far less than each took once."""
HEAD = "G21 G90 G17 G40 G80 G94\nT3 M6\nS8000 M3\nG0 X0 Y0 Z30\n"


@pytest.fixture(autouse=True)
def _soon_and_small() -> Iterator[None]:
    """No test here may take long or much: an alarm ends it, and so does memory that is not given."""

    def late(number: int, frame: object) -> None:
        raise TimeoutError("this takes too long")

    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, before[1]))
    handler = signal.signal(signal.SIGALRM, late)
    signal.alarm(SECONDS)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, handler)
    resource.setrlimit(resource.RLIMIT_AS, before)


def toolpath(moves: list[dict[str, Any]], rotary: dict[str, Any] | None = None, **others: Any) -> dict[str, Any]:
    operation = {"name": "op", "tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}, "rotary": rotary or {"intent": "still"}}
    return {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": 3, "shape": "flat", "diameter": 6}],
        "operations": [operation | {"moves": moves}],
    } | others


def refused(data: dict[str, Any], controller: str = "rs274ngc", sets: tuple[str, ...] = ()) -> SteadyrestError:
    with pytest.raises(InputError) as caught:
        posted_text(parse_toolpath(data), controller, sets=sets)
    return caught.value


RAPID = {"rapid": [-5, 0, 25]}
WRAPPED = {"intent": "wrapped", "diameter": 40}


@pytest.mark.parametrize("number", [1e-320, 9e-10, 0, 1e9, 1e300])
def test_lengths_and_feeds_beyond_what_a_word_can_say_are_refused_with_their_move(number: float) -> None:
    error = refused(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": number}]))
    assert (1, 2, "feed") == (error.place.operation, error.place.move, error.place.key)


@pytest.mark.parametrize("number", [1e-320, 1e300])
def test_a_diameter_beyond_what_a_word_can_say_is_refused(number: float) -> None:
    assert "rotary, diameter" == refused(toolpath([RAPID], {"intent": "wrapped", "diameter": number})).place.key


@pytest.mark.parametrize("turns", [2**63, 10**9, 100_001])
def test_an_arc_of_endless_turns_is_refused(turns: int) -> None:
    arc = {"arc": [-5, 0, 25], "centre": [-15, 0, 25], "turns": "clockwise", "full_turns": turns, "feed": 600}
    error = refused(toolpath([RAPID, arc]))
    assert (2, "full_turns") == (error.place.move, error.place.key)


@pytest.mark.parametrize("rotary", [{"intent": "still"}, WRAPPED])
def test_an_arc_of_too_many_chords_is_refused_before_they_are_made(rotary: dict[str, Any]) -> None:
    arc = {"arc": [-5, 0, 25], "centre": [-9e8, 0, 25], "turns": "clockwise", "full_turns": 100_000, "feed": 600}
    error = refused(toolpath([RAPID, arc], rotary))
    assert isinstance(error, PlanError)
    assert "2,000,000 are allowed" in error.wrong
    assert 2 == error.place.move


@pytest.mark.parametrize("peck", [1e-9, 1e-5])
def test_a_peck_below_the_least_count_is_refused(peck: float) -> None:
    error = refused(toolpath([RAPID, {"hole": [-10, 0], "cycle": "peck", "retract": 25, "bottom": 5, "peck": peck, "feed": 100}]))
    assert "the least that Q says" in error.wrong
    assert 2 == error.place.move


def test_a_hole_of_too_many_pecks_is_refused() -> None:
    error = refused(toolpath([RAPID, {"hole": [-10, 0], "cycle": "peck", "retract": 25, "bottom": 5, "peck": 0.001, "feed": 100}]))
    assert "20,000 pecks" in error.wrong or "2e+04 pecks" in error.wrong
    assert 2 == error.place.move


def test_a_move_that_turns_without_end_is_refused_before_it_is_cut_up() -> None:
    moves = [{"rapid": [-5, 0, 5]}, {"cut": [-5, 0, -1], "feed": 100}, {"cut": [-6, 1e8, -1]}]
    error = refused(toolpath(moves, {"intent": "wrapped", "diameter": 1e-6}))
    assert "are allowed" in error.wrong
    assert 3 == error.place.move
    assert 3 == refused(toolpath([*moves[:2], {"cut": [-6, 9e8, -1], "feed": 1e-9}], WRAPPED)).place.move


def test_a_cut_of_millions_of_turns_on_a_rollover_rotary_is_refused() -> None:
    moves = [{"rapid": [-5, 0, 50]}, {"cut": [-5, 0, 10], "feed": 100}, {"cut": [-6, 9e7, 10], "feed": 9e8}]
    assert 3 == refused(toolpath(moves, {"intent": "wrapped", "diameter": 0.01}), "rollover-sign").place.move


def test_what_is_long_and_no_more_than_that_is_still_cut() -> None:
    moves = [{"rapid": [-5, 0, 5]}, {"cut": [-5, 0, -1], "feed": 100}, {"cut": [-6, 1e5, -1]}]
    assert "A-286478.8976" in posted_text(parse_toolpath(toolpath(moves, WRAPPED)), "rs274ngc")


@pytest.mark.parametrize("program", ["G21 G90\nM30\n", "T3 M6\nM30\n", "G21 G90 M2\n", "%\n(nothing)\nM2\n%\n"])
def test_a_program_without_motion_is_not_proved_and_no_mistake_of_ours(program: str, tmp_path: Path) -> None:
    part, file = tmp_path / "part.toolpath.json", tmp_path / "part.nc"
    part.write_text(json.dumps(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])), encoding="utf-8")
    file.write_text(program, encoding="ascii")
    assert not prove(file, Request(part, "rs274ngc")).verdict.proved


@pytest.mark.parametrize(
    ("block", "wrong"),
    [
        ("G99 G91 G83 X1 Y1 Z-10 R-5 Q0.001 F100 L10000", "a cycle is repeated 1 to 1000 times"),
        ("G99 G91 G83 X1 Y1 Z-9 R-5 Q0.001 F100 L1000", "the cycle makes 27,000,000 moves"),
        ("G99 G91 G83 X1 Y1 Z-0.5 R-5 Q0.01 F100 L1000", "the cycle makes 150,000 moves"),
        ("G1 X1000000000 F100", "a number of 1e+09 or more"),
        ("G1 X[10**12] F100", "a number of 1e+09 or more"),
    ],
)
def test_a_block_that_becomes_too_much_is_refused_at_its_line(block: str, wrong: str, tmp_path: Path) -> None:
    file = tmp_path / "part.nc"
    file.write_text(f"{HEAD}{block}\nM30\n", encoding="ascii")
    for controller in ("rs274ngc",):
        part = tmp_path / "part.toolpath.json"
        part.write_text(json.dumps(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])), encoding="utf-8")
        with pytest.raises(ProgramError, match=r":5:") as caught:
            list(_items(file, controller))
        assert wrong in caught.value.wrong
        assert 5 == caught.value.place.line


def _items(file: Path, controller: str) -> Iterator[Any]:
    from steadyrest.reading import read_program

    return read_program(file, load_profile(controller))


@pytest.mark.parametrize(
    "line", ["G1 X10" + " " * 20_000 + "Y10 F100", "G1 X10" + " " * 20_000 + "?", " " * 90_000 + "?", "(" * 90_000, "X " * 40_000]
)
def test_a_line_of_thousands_of_blanks_is_read_in_no_time(line: str, tmp_path: Path) -> None:
    file = tmp_path / "part.nc"
    file.write_text(HEAD + f"{line}\n" * 20 + "M30\n", encoding="ascii")
    with pytest.raises(InputError) as caught:  # for most of these lines say nothing, and no stock is known
        load_input(file, InputOptions(tool=3))
    assert len(str(caught.value)) < 2_000


DEEP = "[" * 100_000
TOO_MUCH = {
    "a number of 5,000 digits": "tolerance = " + "1" * 5_000,
    "a hexadecimal number of 5,000 digits": "tolerance = 0x" + "f" * 5_000,
    "deep lists": f"indexed = {DEEP}",
    "deep tables": "indexed = " + "{a = " * 100_000,
    "a deep key": ".".join(["a"] * 20_000) + " = 1",
    "many deep keys": "\n".join(".".join([f"a{at}", *["b"] * 500]) + " = 1" for at in range(200)),
    "a deep heading": "[" + ".".join(["a"] * 20_000) + "]\nb = 1",
    "too many keys": "\n".join(f"a{at}.b = 1" for at in range(30_000)),
}


@pytest.mark.parametrize("what", TOO_MUCH)
def test_toml_that_is_too_much_is_refused_in_jobs_profiles_and_settings(what: str, tmp_path: Path) -> None:
    text = TOO_MUCH[what]
    job, profile = tmp_path / "part.job.toml", tmp_path / "mill"
    job.write_text(f"steadyrest_job = 1\n{text}\n", encoding="utf-8")
    profile.mkdir()
    (profile / "controller.toml").write_text(f'extends = "rs274ngc"\nspeaks = "A mill of ours."\n{text}\n', encoding="utf-8")
    with pytest.raises(InputError, match="this is not TOML"):
        load_job(job)
    with pytest.raises(InputError, match="this is not TOML"):
        load_profile(profile)


def test_a_setting_of_one_run_that_is_too_much_is_refused() -> None:
    with pytest.raises(InputError):
        resolve("rs274ngc", ["program.longest_line=" + "1" * 5_000])


def test_toml_in_strings_and_comments_is_as_long_as_it_likes() -> None:
    text = f'a = """{DEEP}{"." * 500}"""\n# {DEEP}\nb = \'{"1" * 5_000}\'\n"c.d" = [1.5, {{ e = 2026-11-28T07:00:00Z }}]\n'
    assert ["a", "b", "c.d"] == list(parse_toml("\ufeff" + text))


JOB = """steadyrest_job = 1
stock = { shape = "round", diameter = 40, from = -90, to = 0 }
"""


def test_job_files_in_a_ring_are_refused(tmp_path: Path) -> None:
    for one, other in (("a", "b"), ("b", "c"), ("c", "b")):
        (tmp_path / f"{one}.job.toml").write_text(f'{JOB}[[inputs]]\nfile = "{other}.job.toml"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"include each other in a ring: b.job.toml -> c.job.toml -> b.job.toml"):
        load_input(tmp_path / "a.job.toml")


def test_job_files_that_double_are_refused(tmp_path: Path) -> None:
    for at in range(40):
        inputs = f'[[inputs]]\nfile = "{at + 1}.job.toml"\n' * 2
        (tmp_path / f"{at}.job.toml").write_text(JOB + inputs, encoding="utf-8")
    part = toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])
    (tmp_path / "p.toolpath.json").write_text(json.dumps(part), encoding="utf-8")
    (tmp_path / "40.job.toml").write_text(f'{JOB}[[inputs]]\nfile = "p.toolpath.json"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"more than 200 job files include each other"):
        load_input(tmp_path / "0.job.toml")
    assert 4 == len(load_input(tmp_path / "38.job.toml").operations)


@pytest.mark.parametrize("job", ["true", "1.0", "2"])
def test_the_version_of_a_job_is_the_number_1(job: str, tmp_path: Path) -> None:
    file = tmp_path / "part.job.toml"
    file.write_text(f'steadyrest_job = {job}\n[[inputs]]\nfile = "a"\n', encoding="utf-8")
    if job == "1.0":
        assert 1 == load_job(file).steadyrest_job
        return
    with pytest.raises(InputError) as caught:
        load_job(file)
    assert "steadyrest_job" == caught.value.place.key


def test_a_byte_order_mark_is_left_out_of_toolpaths_jobs_profiles_and_templates(tmp_path: Path) -> None:
    mark = b"\xef\xbb\xbf"
    part = json.dumps(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])).encode()
    (tmp_path / "p.toolpath.json").write_bytes(mark + part)
    (tmp_path / "p.job.toml").write_bytes(mark + (JOB + '[[inputs]]\nfile = "p.toolpath.json"\n').encode())
    (tmp_path / "mill" / "templates").mkdir(parents=True)
    (tmp_path / "mill" / "controller.toml").write_bytes(mark + b'extends = "rs274ngc"\nspeaks = "A mill of ours."\n')
    (tmp_path / "mill" / "templates" / "operation_start.j2").write_bytes(mark + b"(ours)\n")
    (tmp_path / "named-otherwise").write_bytes((tmp_path / "p.job.toml").read_bytes())
    assert load_toolpath(tmp_path / "p.toolpath.json").operations == load_input(tmp_path / "named-otherwise").operations
    assert "(ours)" in posted_text(tmp_path / "p.job.toml", str(tmp_path / "mill"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a system without named pipes")
def test_a_pipe_or_a_device_is_refused_and_never_waited_for(tmp_path: Path) -> None:
    part = tmp_path / "p.toolpath.json"
    part.write_text(json.dumps(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])), encoding="utf-8")
    for name in ("a.nc", "a.toolpath.json", "a.job.toml", "a.cl"):
        os.mkfifo(tmp_path / name)
        for asked in (
            ["post", tmp_path / name, "-o", tmp_path / "o.nc"],
            ["take", tmp_path / name, "-o", tmp_path / "o.toolpath.json"],
            ["prove", tmp_path / name, "-t", part],
            ["report", tmp_path / name, "-t", part, "-o", tmp_path / "o.html"],
            ["explain", f"{tmp_path / name}:3", "-t", part],
            ["deliver", tmp_path / name, "-t", part, "--to", tmp_path],
        ):
            assert 1 == CliRunner().invoke(main, [str(each) for each in asked]).exit_code, asked


def test_long_words_and_names_are_cut_in_messages(tmp_path: Path) -> None:
    long = "x" * 10_000
    error = ToolpathError(f"found {long}, which is much", cure=f"no {long}")
    assert "found " + "x" * 60 + "..." + "x" * 19 + ", which is much" == error.wrong
    assert len(str(error)) < 400
    path = "/shop/" + "part/" * 100
    assert path == cut(path)
    data = toolpath([RAPID, {"cut": [-10, 0, 20], "fed" * 3_000: 100}])
    data["operations"][0]["name"] = long
    assert len(str(refused(data))) < 800


def test_an_error_of_a_template_names_the_template_and_no_file_of_ours(tmp_path: Path) -> None:
    part = tmp_path / "p.toolpath.json"
    part.write_text(json.dumps(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}])), encoding="utf-8")
    folder = tmp_path / "mill"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "A mill of ours."\n', encoding="utf-8")
    (folder / "templates" / "operation_start.j2").write_text("G999\n", encoding="utf-8")
    for run in (lambda: post(Request(part, str(folder), tmp_path / "o.nc")), lambda: posted_text(part, str(folder))):
        with pytest.raises(InputError) as caught:
            run()
        assert str(folder / "templates" / "operation_start.j2") == caught.value.place.file
        assert ".part" not in str(caught.value)


TEMPLATES = {
    "loops in each other": "{% for a in setting.axes_order %}" * 0
    + "".join(f"{{% for {name} in 'aaaaaaaaaaaaaaaaaaaa' %}}" for name in "abcdefgh")
    + "x"
    + "{% endfor %}" * 8,
    "a long text, again and again": "{% for a in 'aaaaaaaaaa' %}{% for b in 'aaaaaaaaaa' %}"
    + "("
    + "x" * 20_000
    + ")\n"
    + "{% endfor %}" * 2,
    "includes that double": "{% include 'one.j2' %}\n{% include 'one.j2' %}\n",
    "an include of itself": "{% include 'operation_start.j2' %}\n",
}


@pytest.mark.parametrize("what", TEMPLATES)
def test_a_template_that_multiplies_is_refused(what: str, tmp_path: Path) -> None:
    folder = tmp_path / "mill" / "templates"
    folder.mkdir(parents=True)
    (tmp_path / "mill" / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "A mill of ours."\n', encoding="utf-8")
    (folder / "operation_start.j2").write_text(TEMPLATES[what], encoding="utf-8")
    names = ["one", *(f"x{at}" for at in range(40))]
    for name, after in pairwise(names):
        (folder / f"{name}.j2").write_text(f"{{% include '{after}.j2' %}}\n{{% include '{after}.j2' %}}\n", encoding="utf-8")
    (folder / f"{names[-1]}.j2").write_text("{# the last #}\n", encoding="utf-8")
    error = refused(toolpath([RAPID, {"cut": [-10, 0, 20], "feed": 100}]), str(tmp_path / "mill"))
    assert str(error.place.file).startswith(str(folder)), error


def test_a_mistake_of_our_own_is_a_sentence_and_no_traceback(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def fails(*_: object, **__: object) -> None:
        raise ZeroDivisionError("nobody thought of this")

    monkeypatch.setattr("steadyrest.posting.post", fails)
    monkeypatch.delenv("STEADYREST_TRACEBACK", raising=False)
    done = CliRunner().invoke(main, ["post", str(tmp_path / "a.toolpath.json"), "-o", str(tmp_path / "o.nc")])
    assert 1 == done.exit_code
    assert done.stderr.startswith("steadyrest: a mistake in steadyrest itself: ZeroDivisionError at ")
    assert "Traceback" not in done.stderr


def test_a_library_that_warns_says_nothing_on_the_screen(tmp_path: Path) -> None:
    code = (
        "import warnings, sys; from steadyrest.cli.common import plainly\n"
        "@plainly\ndef run():\n    warnings.warn('of the library', RuntimeWarning)\n    print('done')\nrun()"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ("done\n", "") == (done.stdout, done.stderr)
