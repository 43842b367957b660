"""The frame of a program: marks, number, end, and where its bytes come from."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from reading_parts import read, refusal

from steadyrest.errors import ProgramError
from steadyrest.profile import load_profile
from steadyrest.reading import MotionRead, read_program

GOOD = "%\nG17 G21 G90 G94\nG0 X1\nM2\n%\n"


def test_marks_may_both_be_left_out() -> None:
    assert 1 == len(read(GOOD.replace("%\n", "")).column("line"))


@pytest.mark.parametrize("text", ["whatever (\n", "G0 Z-50\n", "%\n", "(a second program)\n", "\x1a"])
def test_nothing_stands_after_the_second_mark(text: str) -> None:
    assert "after the mark % at the end" in refusal(GOOD + text, whole=True).wrong
    assert 1 == len(read(GOOD + " \n\n").column("line"))


def test_the_start_is_told_once_with_its_line() -> None:
    assert [(2, "%")] == [(event.line, event.text) for event in read("\n" + GOOD).of("program_start")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("%\nG21\nM2\n", "mark % at the end is missing"),
        ("G21\nM2\n%\n", "no % at the start"),
        ("%\nG21\n%\n", "M2 is missing"),
        ("G21\n", "M2 is missing"),
        ("G21\nM2\nG0 X1\n", "text after the end"),
        ("%\nG21\n%1\nM2\n%\n", "no mark of this controller"),
        ("%\nO12\nG21\nM2\n%", "no words with O"),
    ],
)
def test_a_frame_that_is_not_whole_is_refused(text: str, words: str) -> None:
    assert words in refusal(text, whole=True).wrong


def test_a_program_without_marks_ends_with_its_end_code() -> None:
    assert 1 == len(read("G17 G21 G90 G94\nN100 G0 X1\nM30\n", "limited-clamped").column("line"))
    assert "no mark" in refusal("%\nG21\nM30\n", "limited-clamped", whole=True).wrong


def test_a_comment_may_stand_after_the_end() -> None:
    assert ["done"] == [event.text for event in read("G21\nM2\n(done)\n").of("comment")]


def test_the_program_number_is_told() -> None:
    got = read("%\nO120 (CAM)\nG17 G21 G90 G94\nM30\n%", "counts-numbered")
    assert [120.0] == [event.number for event in got.of("program_start")][1:]


@pytest.mark.parametrize("line", ["O1.5", "O-1", "O1 G21", "O123456789"])
def test_a_program_number_is_a_whole_number_alone_in_its_block(line: str) -> None:
    assert "program number" in refusal(f"%\n{line}\nM30\n%", "counts-numbered", whole=True).wrong


def test_a_program_number_comes_before_everything() -> None:
    assert "no words with O" in refusal("%\nG21\nO1\nM30\n%", "counts-numbered", whole=True).wrong


def test_bytes_files_streams_and_pieces_are_read_alike(tmp_path: Path) -> None:
    text = ("%\nG17 G21 G90 G94\n" + "".join(f"G1 X{n}.5 Y-{n} F{n + 1}\r\n" for n in range(500)) + "M2\n%\n").encode()
    path = tmp_path / "some.nc"
    path.write_bytes(text)
    profile = load_profile("rs274ngc")
    sources = [text, path, io.BytesIO(text), (text[at : at + 7] for at in range(0, len(text), 7))]
    lines = [[int(n) for item in read_program(source, profile) if isinstance(item, MotionRead) for n in item.line] for source in sources]
    assert list(range(3, 503)) == lines[0]
    assert lines[1:] == [lines[0]] * 3


def test_an_error_in_a_file_names_the_file(tmp_path: Path) -> None:
    path = tmp_path / "some.nc"
    path.write_bytes(b"G21\nG0 Q\n")
    with pytest.raises(ProgramError) as refused:
        list(read_program(path, load_profile("rs274ngc")))
    assert f"{path}:2:5" in str(refused.value)


def test_a_file_that_is_not_there_is_an_error_of_its_own(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match="cannot be read"):
        list(read_program(tmp_path / "none.nc", load_profile("rs274ngc")))


def test_a_line_without_an_end_does_not_fill_the_memory() -> None:
    endless = (b"X" * 100_000 for _ in range(10_000))
    with pytest.raises(ProgramError, match="this controller takes"):
        list(read_program(endless, load_profile("rs274ngc")))


def test_rows_come_in_runs_of_moderate_length() -> None:
    text = b"%\nG17 G21 G90 G94\nG1 X0 F100\n" + b"".join(b"X%d\n" % (n % 90) for n in range(200_000)) + b"M2\n%\n"
    lengths = [len(item) for item in read_program(text, load_profile("rs274ngc")) if isinstance(item, MotionRead)]
    assert 200_001 == sum(lengths)
    assert max(lengths) < 200_000
    assert min(lengths[:-1]) >= 16_384


def test_a_line_longer_than_the_controller_takes_is_refused() -> None:
    refused = refusal("G0 X1" + " " * 300)
    assert "305 characters" in refused.wrong
    assert (3, 251) == (refused.place.line, refused.place.column)
