"""Blocks by the grammar, and what is said of those that are none."""

from __future__ import annotations

import pytest
from reading_parts import blocks, refusal

from steadyrest.errors import ProgramError
from steadyrest.reading.grammar import MISTAKES
from steadyrest.reading.program import read_block

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
        read_block(example, 7, comment_style="parentheses", parameters={})
    wrong, cure = MISTAKES[name]
    assert refused.value.wrong.startswith(wrong)
    assert refused.value.cure == cure
    assert refused.value.place.line == 7
    assert refused.value.place.column is not None


def test_a_mistake_is_placed_at_its_column_with_blanks_counted() -> None:
    refused = refusal("G1 X1 Y 2..5 F100")
    assert (3, 11) == (refused.place.line, refused.place.column)
    assert "'.5 F100'" in refused.wrong


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
        ("G0 X1 N5", 7, "is not at the start"),
        ("N000009 G0 X1", 1, "is not a block number"),
        ("N1.5 G0 X1", 1, "is not a block number"),
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


@pytest.mark.parametrize("text", ["X1 ; caf\u00e9 (a) [b]", "X1 (a (b) \u00e9 [c] )", "X1 ((a))"])
def test_comments_hold_any_character_and_each_other_where_a_controller_takes_any(text: str) -> None:
    assert ["X"] == [word.letter for word in read_block(text, 1, comment_style="any", parameters={}).words]
