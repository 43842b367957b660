"""Where the words of a line come from: every word of every program of the tour, and lines that a hand has changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from explaining_parts import TOUR, line_with, one, written
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.cli import main
from steadyrest.errors import InputError, SteadyrestError
from steadyrest.explaining import explain, explanation_text
from steadyrest.explaining.explanation import SMALL, matched
from steadyrest.explaining.word_origins import pieces
from steadyrest.profile import find_profiles
from steadyrest.request import Request

NAMES = [found.name for found in find_profiles() if found.where == "bundled"]
UNKNOWN = ("no word that planning asks for", "a feed")


@pytest.mark.parametrize("name", NAMES)
def test_every_word_of_the_tour_is_explained_in_every_dialect(name: str, tmp_path: Path) -> None:
    explained = 0
    for path in TOUR:
        try:
            file, toolpath = written(path.name.partition(".")[0], name, tmp_path)
        except SteadyrestError:
            continue
        text = file.read_text()
        count = len(text.splitlines())
        found = explain(file, 1, count, Request(toolpath, name))
        assert (0, None, 0) == (found.changed, found.first, found.missing)
        for line in found.lines:
            assert line.same
            assert line.words or not line.text
            assert line.text.replace(" ", "") == "".join(word.word for word in line.words).replace(" ", "")
            assert [] == [word.word for word in line.words if word.says in UNKNOWN], line.text
            assert line.why
            explained += 1
    assert explained > 0


@pytest.fixture
def changed(tmp_path: Path) -> tuple[Path, Path]:
    """A program with a line changed, a line put in, and a line taken out by hand."""
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    lines = file.read_text().splitlines()
    at = lines.index("G94 G1 X-30 F900")
    lines[at] = "G94 G1 X-30 F1200"
    lines.insert(at + 2, "M0 (look)")
    del lines[at + 10]
    file.write_text("\n".join(lines) + "\n")
    return file, toolpath


def test_a_changed_line_says_what_would_be_written_now_and_explains_that(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    line = one(file, "F1200", toolpath, "rs274ngc")
    assert not line.same
    assert "G94 G1 X-30 F900" == line.now
    text = explanation_text(explain(file, line.number, line.number, Request(toolpath, "rs274ngc")))
    assert "DIFFERS" in text
    assert "now it would be   G94 G1 X-30 F900" in text
    assert "not written by this toolpath and profile: F1200" in text


def test_a_line_that_was_put_in_is_said_to_answer_to_nothing(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    line = one(file, "M0 (look)", toolpath, "rs274ngc")
    assert line.now is None
    assert () == line.words


def test_lines_after_changes_are_still_matched_and_the_whole_file_is_counted(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    count = len(file.read_text().splitlines())
    found = explain(file, 1, count, Request(toolpath, "rs274ngc"))
    assert (2, line_with(file, "F1200"), 1) == (found.changed, found.first, found.missing)
    assert 1 == sum(line.missing for line in found.lines)
    assert "CAUTION: 2 line(s) of part.nc differ from what would be written now" in explanation_text(found)


def test_a_line_that_the_program_does_not_have_is_refused_with_how_many_there_are(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    count = len(file.read_text().splitlines())
    with pytest.raises(InputError, match=f"ask for lines from 1 to {count}"):
        explain(file, count + 1, count + 1, Request(toolpath, "rs274ngc"))


def test_windows_line_ends_are_no_difference(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert 0 == explain(file, 1, 1, Request(toolpath, "rs274ngc")).changed


@pytest.mark.parametrize("said", ["part.nc", "part.nc:0", "part.nc:5-3", "part.nc:x"])
def test_lines_that_are_not_named_are_a_usage_error(said: str) -> None:
    result = CliRunner().invoke(main, ["explain", said, "-t", str(TOUR[0])])
    assert 2 == result.exit_code


def test_a_program_that_is_not_there_is_an_input_error() -> None:
    result = CliRunner().invoke(main, ["explain", "nowhere.nc:1", "-t", str(TOUR[0])])
    assert 1 == result.exit_code
    assert "nowhere.nc: the program cannot be read" in result.stderr


def test_explaining_leaves_the_file_alone(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    before = file.stat().st_mtime_ns, file.read_bytes()
    explain(file, 1, 5, Request(toolpath, "rs274ngc"))
    assert before == (file.stat().st_mtime_ns, file.read_bytes())


LINES = st.lists(st.sampled_from(["G1 X1", "G1 X2", "X3", "X4 F9", "M5", "(note)"]), max_size=30)


def test_equal_files_answer_line_for_line() -> None:
    assert [1, 2, 3] == matched(["a", "b", "c"], ["a", "b", "c"])


def test_a_line_put_in_answers_to_nothing_and_shifts_the_rest() -> None:
    assert [1, 0, 2, 3] == matched(["a", "M0", "b", "c"], ["a", "b", "c"])


def test_a_line_taken_out_is_missing() -> None:
    assert [1, 3] == matched(["a", "c"], ["a", "b", "c"])


def test_a_changed_line_answers_to_the_one_in_its_place() -> None:
    assert [1, 2, 3] == matched(["a", "G1 X2.5", "c"], ["a", "G1 X2", "c"])


def test_of_several_a_changed_line_answers_to_the_one_that_looks_like_it() -> None:
    assert [1, 3, 4] == matched(["a", "G1 X2 Y3 F950", "c"], ["a", "M8", "G1 X2 Y3 F900", "c"])


@given(LINES, LINES)
def test_numbers_rise_each_line_answers_once_and_equal_files_answer_wholly(file: list[str], now: list[str]) -> None:
    answered = [pair for pair in matched(file, now) if pair]
    assert sorted(set(answered)) == answered
    assert all(1 <= pair <= len(now) for pair in answered)
    assert list(range(1, len(file) + 1)) == matched(file, file)


def test_a_long_program_with_a_few_edits_is_matched_by_lines_that_stand_once() -> None:
    now = [f"G1 X{number}" for number in range(3 * SMALL)]
    file = [*now]
    file[5] = "G1 X-5"
    file.insert(2 * SMALL, "M0")
    file[-3] = "G1 X-7"
    match = matched(file, now)
    assert len(now) == sum(map(bool, match))
    assert [2 * SMALL + 1] == [at + 1 for at, pair in enumerate(match) if not pair]
    assert 2 * SMALL + 1 == match[2 * SMALL + 1]


def test_a_line_is_taken_apart_with_or_without_spaces() -> None:
    assert ["N10", "G1", "X-1.5", "Y.5", "(a note: X3)"] == pieces("N10 G1 X-1.5 Y.5 (a note: X3)")
    assert ["N10", "G1", "X-1.5", "Y.5", ";X3"] == pieces("N10G1X-1.5Y.5;X3")
    assert ["%"] == pieces("%")
    assert ["/", "M1"] == pieces("/M1")
    assert ["O0042"] == pieces("O0042")
