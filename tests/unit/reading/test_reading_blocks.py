"""What stands in a line: spelling, numbers, comments, and the words for each mistake."""

from __future__ import annotations

import pytest
from reading_parts import blocks, read, refusal

from steadyrest.errors import ProgramError
from steadyrest.reading.blocks import lex_line, read_block
from steadyrest.reading.expressions import Parameters
from steadyrest.reading.grammar import MISTAKES

SPELLED_WRONG = {
    "no_number": "X G1X G XY1 G1XY1 X. X- X+ X(NOTE) X--1 X] X=1 X*2 X/",
    "no_letter": "1 -1 .5 X1.2.3 X1-2 X1+2 /1 (NOTE)1",
    "late_delete_mark": "X1/ N1/X1 //X1 (NOTE)/X1",
    "outside_brackets": "] X1] [1] X1*2 X1=2 =2 X1[2] /] *",
    "open_bracket": "X[1 X[1+2 XSIN[30 X[[1] X[1*2 X[1**2 X[1X2 X[#1 X[1= XATAN[1 XATAN[1]/[2",
    "no_value": "X[ X[] X[1+] X[1* X[1** X[+] XSIN[] X[1+X X[X XATAN[] XATAN[1]/[] X[1*X",
    "no_brackets": "XSIN XSIN30 XATAN XATAN1 X[SIN30]",
    "one_of_two": "XATAN[1] XATAN[1]X2 XATAN[1]/2 XATAN[1]/",
    "no_parameter": "# X# #X X#X1 #=1 #] X##",
    "parameter_alone": "#1 #1X1 X1#1 #1#2 #[1] #1(NOTE) #1/2",
    "no_setting": "#1= #1=X1 #1=(NOTE) #1==2",
}
EXAMPLES = [(name, example) for name, examples in SPELLED_WRONG.items() for example in examples.split()]


def test_every_kind_of_mistake_has_examples() -> None:
    assert set(MISTAKES) == set(SPELLED_WRONG)


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_each_example_of_a_mistake_is_called_by_its_name(name: str, example: str) -> None:
    with pytest.raises(ProgramError) as refused:
        read_block(example, 7, comment_style="parentheses", parameters=Parameters())
    wrong, cure = MISTAKES[name]
    assert refused.value.wrong.startswith(wrong)
    assert refused.value.cure == cure
    assert refused.value.place.line == 7
    assert refused.value.place.column is not None


def test_a_mistake_is_placed_at_its_column_with_blanks_counted() -> None:
    refused = refusal("G1 X1 Y 2..5 F100")
    assert (3, 11) == (refused.place.line, refused.place.column)
    assert "'.5 F100'" in refused.wrong


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


@pytest.mark.parametrize(
    ("text", "column", "words"),
    [
        ("G0 X1 (open", 7, "not closed"),
        ("G0 X1 (a (b) c)", 10, "inside a comment"),
        ("G0 X1) Y2", 6, "closed that was not opened"),
        ("G0 X1 ; note", 7, "begins no comment"),
        ("G0 X1 ?", 7, "'?' has no meaning"),
        ("G0 X1,5", 6, "',' has no meaning"),
        ("G0 X1 (caf\u00e9)", 11, "not allowed in a program"),
        ("G0 X1E-3", 6, "exponent"),
        ("G0 U5", 4, "no words with U"),
        ("G0 B5", 4, "rotary axis B"),
        ("G0 X1 X2", 7, "two words X"),
        ("G0 X123456789012345678.5", 4, "more than 17 digits"),
        ("G12", 1, "not a code of this controller"),
        ("G1.05 X1", 1, "no code"),
        ("M77", 1, "not a code of this controller"),
        ("G0 G1 X1", 4, "only one may stand"),
        ("G0 X1 N5", 7, "does not stand first"),
        ("N000009 G0 X1", 1, "no block number"),
        ("N1.5 G0 X1", 1, "no block number"),
        ("M3 S1 M7 M48 M0 M6", 17, "more than 4 M"),
        ("M7 M8", 4, "only one may stand"),
        ("/G0 X1", 2, "neither can be proved"),
        ("G41 D1", 1, "cannot be proved"),
        ("G92 X0", 1, "cannot be proved"),
        ("G10 L2 P1 X0", 1, "cannot be proved"),
    ],
)
def test_what_is_not_in_the_language_is_refused_at_its_place(text: str, column: int, words: str) -> None:
    refused = refusal(text)
    assert words in refused.wrong
    assert (3, column) == (refused.place.line, refused.place.column)
    assert refused.cure


def test_a_line_longer_than_the_controller_takes_is_refused() -> None:
    refused = refusal("G0 X1" + " " * 300)
    assert "305 characters" in refused.wrong
    assert (3, 251) == (refused.place.line, refused.place.column)


def test_a_parameter_set_on_a_line_counts_from_the_next_line_on() -> None:
    got = blocks("#3=15\n#3=6 G0 X#3\nG0 X#3")
    assert [15.0, 6.0] == [end[0] for end in got.ends]


def test_a_parameter_nobody_has_set_is_refused() -> None:
    assert "#7 was not set by this program" in refusal("G0 X#7").wrong


def test_the_machines_own_parameters_cannot_be_set() -> None:
    assert "#5221 holds an offset" in refusal("#5221=3").wrong


@pytest.mark.parametrize("calculation", ["1/0", "LN[0]", "SQRT[-1]", "ACOS[2]", "[-1]**0.5", "EXP[9999]"])
def test_a_calculation_without_a_value_is_refused(calculation: str) -> None:
    assert "calculation has no value" in refusal(f"G0 X[{calculation}]").wrong


def test_whole_counts_are_divided_and_a_point_means_units() -> None:
    text = "%\nO00012\nN0001 G17 G21 G90 G94\nN0002 G00 X12500 Y-1 Z2.5 A90000\nM30\n%\n"
    assert [(12.5, -0.001, 2.5, 90.0)] == read(text, "counts-numbered").ends


def test_whole_counts_in_inch_have_their_own_increment() -> None:
    text = "%\nO1\nG17 G20 G90 G94\nG00 X10000 Y5\nM30\n%\n"
    x, y, *_ = read(text, "counts-numbered").ends[0]
    assert (25.4, 5 / 10000 * 25.4) == (x, y)


def test_a_calculation_among_whole_counts_is_refused() -> None:
    text = "%\nG17 G21 G90 G94\nG00 X[1+2]\nM30\n%\n"
    assert "which of the two it means" in refusal(text, "counts-numbered", whole=True).wrong


def test_a_code_that_the_controller_does_not_have_is_refused_with_those_that_it_has() -> None:
    refused = refusal("G77")
    assert "G77 is not a code of this controller, it has G0 G1 G2 G3 " in refused.wrong
    assert " M3" not in refused.wrong


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
