"""Which line of a file answers to which line of what would be written now."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from steadyrest.explaining import line_match
from steadyrest.explaining.line_match import matched
from steadyrest.explaining.word_origins import pieces

LINES = st.lists(st.sampled_from(["G1 X1", "G1 X2", "X3", "X4 F9", "M5", "(note)"]), max_size=30)


def test_equal_files_answer_line_for_line() -> None:
    assert [1, 2, 3] == matched(["a", "b", "c"], ["a", "b", "c"]).now


def test_a_line_put_in_answers_to_nothing_and_shifts_the_rest() -> None:
    assert [1, 0, 2, 3] == matched(["a", "M0", "b", "c"], ["a", "b", "c"]).now


def test_a_line_taken_out_is_missing() -> None:
    match = matched(["a", "c"], ["a", "b", "c"])
    assert ([1, 3], 1) == (match.now, match.missing)


def test_a_changed_line_answers_to_the_one_in_its_place() -> None:
    assert [1, 2, 3] == matched(["a", "G1 X2.5", "c"], ["a", "G1 X2", "c"]).now


def test_of_several_a_changed_line_answers_to_the_one_that_looks_like_it() -> None:
    match = matched(["a", "G1 X2 Y3 F950", "c"], ["a", "M8", "G1 X2 Y3 F900", "c"])
    assert ([1, 3, 4], 1) == (match.now, match.missing)


@given(LINES, LINES)
def test_numbers_rise_each_line_answers_once_and_equal_files_answer_wholly(file: list[str], now: list[str]) -> None:
    match = matched(file, now)
    answered = [pair for pair in match.now if pair]
    assert sorted(set(answered)) == answered
    assert len(now) - len(answered) == match.missing
    assert all(1 <= pair <= len(now) for pair in answered)
    assert list(range(1, len(file) + 1)) == matched(file, file).now


def test_a_long_program_with_a_few_edits_is_matched_by_lines_that_stand_once(monkeypatch: object) -> None:
    now = [f"G1 X{number}" for number in range(3 * line_match.SMALL)]
    file = [*now]
    file[5] = "G1 X-5"
    file.insert(2 * line_match.SMALL, "M0")
    file[-3] = "G1 X-7"
    match = matched(file, now)
    assert 0 == match.missing
    assert [2 * line_match.SMALL + 1] == [at + 1 for at, pair in enumerate(match.now) if not pair]
    assert 2 * line_match.SMALL + 1 == match.now[2 * line_match.SMALL + 1]


def test_a_line_is_taken_apart_with_or_without_spaces() -> None:
    assert ["N10", "G1", "X-1.5", "Y.5", "(a note: X3)"] == pieces("N10 G1 X-1.5 Y.5 (a note: X3)")
    assert ["N10", "G1", "X-1.5", "Y.5", ";X3"] == pieces("N10G1X-1.5Y.5;X3")
    assert ["%"] == pieces("%")
    assert ["/", "M1"] == pieces("/M1")
    assert ["O0042"] == pieces("O0042")
