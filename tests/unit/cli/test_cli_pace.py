"""What a terminal shows of long work: nothing of what is short, the share, what is left where that can be told; and how it is ended."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.cli.common import say, telling
from steadyrest.cli.pace import QUIET_SECONDS, ShownWork, progress_line
from steadyrest.progress import CHECKING, DRAWING, FITTING, PROVING, READING, STAGES, WRITING, Progress

ROOT = Path(__file__).parents[3]
PART = ROOT / "tests" / "golden" / "tour" / "wrapped.toolpath.json"
JOB = ROOT / "demo" / "lantern_cap" / "lantern_cap.job.toml"


class Terminal:
    """What stands on one line, and a clock that is set by hand."""

    def __init__(self, columns: int = 80) -> None:
        self.now, self.lines, self.columns = 0.0, list[str](), columns
        self.shown = ShownWork(self.write, lambda: self.now, lambda: self.columns)

    def write(self, text: str) -> None:
        """Nothing but going back to the beginning of the line, letters and blanks: no code that a console may not know."""
        assert text.startswith("\r")
        assert all(letter == "\r" or letter.isprintable() for letter in text)
        before = self.lines[-1] if self.lines else ""
        assert len(text.strip("\r")) >= len(before), "nothing of the line before is left standing"
        self.lines.append(text.strip("\r").rstrip())

    def tell(self, seconds: float, stage: str, done: int, total: int) -> None:
        self.now = seconds
        self.shown(stage, done, total)


def test_work_that_takes_less_than_a_second_shows_nothing() -> None:
    terminal = Terminal()
    for at, stage in enumerate(STAGES):
        terminal.tell(QUIET_SECONDS * at / (len(STAGES) + 1), stage, 0, 10)
        terminal.tell(QUIET_SECONDS * (at + 0.9) / (len(STAGES) + 1), stage, 10, 10)
    terminal.shown.clear()
    assert terminal.lines == []


def test_share_and_time_left_are_shown_and_taken_away_again() -> None:
    terminal = Terminal()
    for quarter in range(25):
        terminal.tell(quarter / 4, WRITING, 25 * quarter, 1000)
    assert terminal.lines[0] == "planning and writing: 10 %"
    assert terminal.lines[-1] == "planning and writing: 60 %, about 4 s left"
    terminal.shown.clear()
    assert terminal.lines[-1] == ""
    terminal.shown.clear()
    assert terminal.lines[-2] != "", "it is taken away once"


def test_after_the_first_second_each_stage_is_shown_at_once_and_what_is_over_is_taken_away() -> None:
    terminal = Terminal()
    terminal.tell(0.1, READING, 0, 10)
    terminal.tell(1.5, READING, 9, 10)
    terminal.tell(1.6, READING, 10, 10)
    assert terminal.lines == ["reading the toolpath: 90 %", ""]
    terminal.tell(1.61, CHECKING, 0, 0)
    terminal.tell(1.62, DRAWING, 0, 0)
    assert terminal.lines[2:] == ["checking the moves ...", "drawing ..."]
    assert "100 %" not in "".join(terminal.lines)


def test_no_time_is_told_before_two_seconds_nor_where_the_pace_is_not_even() -> None:
    terminal = Terminal()
    for tenth in range(1, 20):
        terminal.tell(tenth / 10, WRITING, tenth, 100)
    assert terminal.lines
    assert not any("left" in line for line in terminal.lines)
    for tenth in range(20, 60):
        terminal.tell(tenth / 10, PROVING, (tenth - 20) ** 2, 10_000)  # ever faster
    assert not any("left" in line for line in terminal.lines)


def test_a_stage_of_which_nobody_knows_how_much_there_is_shows_a_count() -> None:
    assert progress_line(FITTING, 1200, 0, None, 80) == "trying what the example shows: 1,200 programs"
    assert progress_line(FITTING, 0, 0, None, 80) == "trying what the example shows ..."
    assert progress_line(WRITING, 999, 1000, None, 80) == "planning and writing: 99 %"


@pytest.mark.parametrize(
    ("columns", "line"),
    [
        (80, "planning and writing: 50 %, about 40 s left"),
        (40, "planning and writing: 50 %"),
        (20, "planning and : 50 %"),
        (6, ": 50 "),
        (1, ""),
        (0, ""),
    ],
)
def test_on_a_narrow_terminal_the_line_never_wraps_and_the_share_stays_longest(columns: int, line: str) -> None:
    assert progress_line(WRITING, 5, 10, 38.0, columns - 1) == line


def test_a_terminal_that_is_made_narrower_meanwhile_is_kept_to() -> None:
    terminal = Terminal()
    terminal.tell(1, WRITING, 0, 100)
    terminal.columns = 20
    terminal.tell(2, WRITING, 50, 100)
    assert terminal.lines == ["planning and writing: 0 %", "planning and : 50 %"]


def test_nothing_is_shown_where_there_is_no_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.cli.pace.QUIET_SECONDS", 0.0)
    result = CliRunner().invoke(main, ["post", str(PART), "-o", str(tmp_path / "part.nc")])
    assert "\r" not in result.output
    with telling() as progress:
        assert progress is None


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is written on stderr, which is a terminal."""
    written: list[str] = []
    monkeypatch.setattr("steadyrest.cli.pace.QUIET_SECONDS", 0.0)
    monkeypatch.setattr("steadyrest.cli.pace.EVERY_SECONDS", 0.0)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stderr, "write", written.append)
    return written


def test_on_a_terminal_the_line_is_gone_when_the_outcome_is_said(terminal: list[str]) -> None:
    with telling() as progress:
        assert progress is not None
        progress(WRITING, 0, 10)
        progress(WRITING, 5, 10)
    assert "planning and writing: 50 %" in "".join(terminal)
    assert terminal[-1].strip(" \r") == ""


def test_a_terminal_that_cannot_go_back_on_its_line_shows_nothing(terminal: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    with telling() as progress:
        assert progress is None


def test_without_colours_the_word_of_the_outcome_has_none(terminal: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    say("STOP part.nc")
    assert "".join(terminal) == "STOP part.nc\n"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize("quiet", [True, False])
def test_whoever_wants_it_quiet_sees_no_progress_on_a_terminal(quiet: bool, tmp_path: Path) -> None:
    import pty
    import subprocess

    shown, end = pty.openpty()
    code = "import steadyrest.cli.pace as pace; pace.QUIET_SECONDS = 0.0; from steadyrest.cli import main; main()"
    words = ["post", str(PART), "-o", str(tmp_path / "part.nc"), *(["--quiet"] if quiet else [])]
    environment = {**os.environ, "TERM": "xterm"}
    done = subprocess.run([sys.executable, "-c", code, *words], stdout=subprocess.DEVNULL, stderr=end, check=False, env=environment)
    os.close(end)
    said = b""
    with os.fdopen(shown, "rb", buffering=0) as terminal:
        while True:
            try:
                piece = terminal.read(4096)
            except OSError:  # Linux: the other end is closed
                break
            if not piece:
                break
            said += piece
    assert done.returncode == 0
    assert (b"planning and writing: " in said) is not quiet
    assert b"LOOK" in said or b"RUN" in said


STAGES_OF: dict[str, list[str]] = {
    "post {part} -c limited-clamped -o {out}": [
        "reading the toolpath",
        "checking the moves",
        "choosing the rotary's turns",
        "planning and writing",
        "proving",
    ],
    "post {job} -o {out}": ["reading the inputs", "taking the toolpath's digest", "planning and writing", "proving"],
    "take {job} -o {out}": ["reading the inputs", "writing the toolpath"],
    "report {part} -o {out} --cells 40x40": [
        "reading the program back",
        "proving",
        "cutting the stock",
        "finding where walls stand",
        "drawing",
        "packing",
    ],
    "picture {part} -o {out}.png --cells 40x40": ["cutting the stock", "drawing"],
    "setup-sheet {part} -o {out}": ["proving", "reading the program back"],
    "deliver {program} -t {part} --to {share} --log {log}": ["proving", "delivering"],
}


@contextmanager
def stopped_in(stage: str) -> Iterator[Progress]:
    """Ctrl-C in the middle of a stage."""

    def progress(now: str, done: int, total: int) -> None:
        if now == stage:
            raise KeyboardInterrupt

    yield progress


@pytest.mark.parametrize(("command", "stage"), [(command, stage) for command, stages in STAGES_OF.items() for stage in stages])
def test_a_command_that_is_stopped_in_any_stage_leaves_the_old_file_and_says_so(
    command: str, stage: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    share = tmp_path / "share"
    share.mkdir()
    program = tmp_path / "part.nc"
    if "{program}" in command:
        CliRunner().invoke(main, ["post", str(PART), "-o", str(program)])
    for old in (tmp_path / "out", tmp_path / "out.png", share / "part.nc"):
        old.write_text("as it was")
    words = command.format(part=PART, job=JOB, out=tmp_path / "out", program=program, share=share, log=tmp_path / "log").split()
    monkeypatch.setattr("steadyrest.writing.atomic_file.PUT", [])
    for module in ("programs", "show"):
        monkeypatch.setattr(f"steadyrest.cli.{module}.telling", lambda: stopped_in(stage))
    before = {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()}
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 130, result.output
    assert "stopped by hand; nothing was put in place" in result.output
    after = {
        file: file.read_bytes()
        for file in tmp_path.rglob("*")
        if file.is_file() and not file.name.startswith(".log") and file.name != "log"
    }
    assert after == before
