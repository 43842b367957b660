"""What a terminal shows of long work: nothing of what is short, the share, and what is left where that can be told."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.cli import main
from steadyrest.cli.common import telling
from steadyrest.cli.pace import EVEN, ShownWork, left_text, progress_line, seconds_left
from steadyrest.progress import FITTING, PROVING, STAGES, WRITING

PART = Path(__file__).parents[2] / "golden" / "tour" / "wrapped.toolpath.json"


class Terminal:
    """What stands on one line, and a clock that is set by hand."""

    def __init__(self) -> None:
        self.now, self.lines = 0.0, list[str]()
        self.shown = ShownWork(self.write, lambda: self.now, 60)

    def write(self, text: str) -> None:
        assert text.startswith("\r")
        self.lines.append(text.strip("\r").rstrip())

    def tell(self, seconds: float, stage: str, done: int, total: int) -> None:
        self.now = seconds
        self.shown(stage, done, total)


def test_a_stage_that_takes_less_than_half_a_second_shows_nothing() -> None:
    terminal = Terminal()
    for at, stage in enumerate(STAGES):
        terminal.tell(0.49 * at, stage, 0, 10)
        terminal.tell(0.49 * at + 0.48, stage, 10, 10)
    terminal.shown.clear()
    assert terminal.lines == []


def test_share_and_time_left_are_shown_and_taken_away_again() -> None:
    terminal = Terminal()
    for tenth in range(61):
        terminal.tell(tenth / 10, WRITING, 10 * tenth, 1000)
    assert terminal.lines[0] == "planning and writing: 5 %"
    assert terminal.lines[-1] == "planning and writing: 59 %, about 5 s left"
    terminal.shown.clear()
    assert terminal.lines[-1] == ""
    terminal.shown.clear()
    assert terminal.lines[-2] != "", "it is taken away once"


def test_no_time_is_told_before_two_seconds_nor_where_the_pace_is_not_even() -> None:
    terminal = Terminal()
    for tenth in range(1, 20):
        terminal.tell(tenth / 10, WRITING, tenth, 100)
    assert not any("left" in line for line in terminal.lines)
    for tenth in range(20, 40):
        terminal.tell(tenth / 10, PROVING, tenth**2, 10_000)  # ever faster
    assert not any("left" in line for line in terminal.lines)


def test_a_stage_of_which_nobody_knows_how_much_there_is_shows_a_count() -> None:
    assert progress_line(FITTING, 1200, 0, None) == "trying what the example shows: 1,200 programs"
    assert progress_line(FITTING, 0, 0, None) == "trying what the example shows ..."
    assert progress_line(WRITING, 999, 1000, None) == "planning and writing: 99 %"


def test_a_line_is_never_wider_than_the_terminal() -> None:
    terminal = Terminal()
    terminal.shown = ShownWork(terminal.write, lambda: terminal.now, 20)
    terminal.tell(0, WRITING, 0, 100)
    terminal.tell(1, WRITING, 50, 100)
    assert terminal.lines == ["planning and writin"]


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.2, "1 s"),
        (7.3, "8 s"),
        (11, "12 s"),
        (38, "40 s"),
        (61, "70 s"),
        (91, "2 min"),
        (400, "7 min"),
        (3700, "1 h 0 min"),
        (7900, "2 h 10 min"),
    ],
)
def test_what_is_left_is_said_no_finer_than_it_is_known(seconds: float, text: str) -> None:
    assert left_text(seconds) == text


@given(st.floats(0.5, 3600.0), st.integers(10, 10**7), st.integers(2, 60))
def test_at_an_even_pace_the_time_left_is_right(whole: float, total: int, samples: int) -> None:
    known = [(whole * share / 100, total * share // 100) for share in range(samples)]
    left = seconds_left(known, total)
    now, done = known[-1]
    if left is not None:
        assert now >= 2.0
        assert left == pytest.approx(whole * (total - done) / total, rel=2 * EVEN, abs=2 * whole / total + 1e-6)
    elif now >= 2.0 and total >= 10_000 and samples > 10:
        raise AssertionError("an even pace says how long the rest takes")


def test_nothing_is_shown_where_there_is_no_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.cli.pace.QUIET_SECONDS", 0.0)
    result = CliRunner().invoke(main, ["post", str(PART), "-o", str(tmp_path / "part.nc")])
    assert "\r" not in result.output
    with telling() as progress:
        assert progress is None


def test_on_a_terminal_the_line_is_gone_when_the_outcome_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[str] = []
    monkeypatch.setattr("steadyrest.cli.pace.QUIET_SECONDS", 0.0)
    monkeypatch.setattr("steadyrest.cli.pace.EVERY_SECONDS", 0.0)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stderr, "write", written.append)
    with telling() as progress:
        assert progress is not None
        progress(WRITING, 0, 10)
        progress(WRITING, 5, 10)
    assert "planning and writing: 50 %" in written[0] + written[1]
    assert written[-1].strip(" \r") == ""
