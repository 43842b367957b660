"""The words of a block: numbers by the dialect, codes that it has, and words that nothing takes."""

from __future__ import annotations

import pytest
from reading_parts import blocks, read, refusal

from steadyrest.errors import ProgramError
from steadyrest.reading import Lenient
from steadyrest.reading.block_words import lex_line


def test_whole_counts_are_divided_and_a_point_means_units() -> None:
    text = "%\nO00012\nN0001 G17 G21 G90 G94\nN0002 G00 X12500 Y-1 Z2.5 A90000\nM30\n%\n"
    assert [(12.5, -0.001, 2.5, 90.0)] == read(text, "counts-numbered").ends


def test_whole_counts_in_inch_have_their_own_increment() -> None:
    text = "%\nO1\nG17 G20 G90 G94\nG00 X10000 Y5\nM30\n%\n"
    x, y, *_ = read(text, "counts-numbered").ends[0]
    assert (25.4, 5 / 10000 * 25.4) == (x, y)


def test_a_calculation_among_whole_counts_is_refused() -> None:
    text = "%\nG17 G21 G90 G94\nG00 X[1+2]\nM30\n%\n"
    assert "its unit is unclear" in refusal(text, "counts-numbered", whole=True).wrong


def test_a_code_that_the_controller_does_not_have_is_refused_with_those_that_it_has() -> None:
    refused = refusal("G77")
    assert "G77 is not a code of this controller, it has G0 G1 G2 G3 " in refused.wrong
    assert " M3" not in refused.wrong


@pytest.mark.parametrize("orphan", ["I1", "R2", "P1", "Q1", "L2", "H3", "K1"])
def test_a_word_that_nothing_uses_is_refused(orphan: str) -> None:
    assert f"uses {orphan[0]}" in refusal(f"G0 X1 {orphan}").wrong


@pytest.mark.parametrize("text", ["G0 X12.5 Y-3 Z.5 A+7.", "g0x12.5y-3z.5a+7.", "G00 X 1 2 . 5 Y - 3 Z . 5 A + 7 .", "A7G0Z0.5Y-3.0X12.50"])
def test_blanks_capitals_and_the_order_of_words_mean_nothing(text: str) -> None:
    assert [(12.5, -3.0, 0.5, 7.0)] == blocks(text).ends


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_lines_end_in_any_way(ending: str) -> None:
    text = "%\nG17 G21 G90 G94\nG0 X1\nG0 X2\nM2\n%".replace("\n", ending)
    assert [4] == [int(n) for n in read(text).column("line")][1:]


def test_a_comment_is_an_event_with_its_text_untouched() -> None:
    assert "Six Flats, x1" == blocks("G0 X1 (Six Flats, x1)").of("comment")[0].text


def test_a_comment_after_a_semicolon_goes_to_the_end_of_the_line() -> None:
    got = blocks("G0 X1 ; SIX (FLATS) ; X2", "rs274ngc", "program.comments.style=semicolon")
    assert " SIX (FLATS) ; X2" == got.of("comment")[0].text


def test_a_skip_before_a_comment_alone_leaves_nothing_out() -> None:
    assert [(1, 0, 0)] == [end[:3] for end in blocks("G0 X0 Y0 Z0\n/ (nothing to do here)\nX1").ends[-1:]]


@pytest.mark.parametrize(
    ("text", "words", "comments", "rest"),
    [
        ("N10 G01X-.50 (a;b) y 2 ; end (x)", ["N10", "G01", "X-.50", "Y2"], ["(a;b)", "; end (x)"], ""),
        ("/G1 X#1 Y[2+3]", ["G1"], [], "/X#1Y[2+3]"),
        ("%", [], [], "%"),
        ("O1234(NAME)", ["O1234"], ["(NAME)"], ""),
    ],
)
def test_a_line_of_an_unknown_dialect_is_taken_apart_and_nothing_is_wrong(
    text: str, words: list[str], comments: list[str], rest: str
) -> None:
    got, commented, left = lex_line(text)
    assert (words, comments, rest) == ([word.text for word in got], list(commented), left.replace(" ", ""))


def test_words_know_how_they_are_spelled() -> None:
    (word,) = lex_line("x-01.50")[0]
    assert ("-01.50", "X-1.5", 2, True, 1) == (word.spelled, word.code, word.decimals, word.point, word.column)


def test_a_long_pause_of_a_program_from_elsewhere_says_what_it_is_and_what_may_be_meant() -> None:
    with pytest.raises(ProgramError) as refused:
        read("G21 G90\nG0 X0 Y0 Z9\nG4 P500\nM30\n", lenient=Lenient())
    assert "P500 is a pause of 500 seconds" in refused.value.wrong
    assert "if milliseconds are meant" in refused.value.cure
