"""Statements of CL data: how they may be spelled, what each mistake is called; each word has one treatment, or that of a mapping file."""

from __future__ import annotations

from pathlib import Path

import pytest
from cl_text import moves_of, piece_of

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.cl.reader import HANDLERS
from steadyrest.inputs.cl.scan import Scan
from steadyrest.inputs.cl.statement import FIXED, HARMLESS, HONOURED, LITERAL_WORDS, REFUSED, Statement, load_mapping

AT = "RAPID\nGOTO/1,2,3\n"


MISTAKES = {
    "an argument is missing": ["GOTO/1,", "GOTO/,1", "GOTO/1,,2", "GOTO/A,", "GOTO/A,,1", "GOTO/,", "A)GOTO/1,", "GOTO/'A',"],
    "a comma is missing, or a number is badly written": [
        *("GOTO/1.2.3", "GOTO/1-2", "GOTO/1+2", "GOTO/A-1", "GOTO/1A", "GOTO/1EX", "GOTO/A'B'", "GOTO/'A'B", "GOTO/'A'1"),
    ],
    "arithmetic or a nested definition": ["GOTO/1/2", "GOTO/A/2", "GOTO/A=1", "GOTO/1=1", "GOTO/1,A=1", "TRANS=1"],
    "a statement begins with its major word": ["1", "1,2", "1/2", "/1", ",1", "-1", "=1", "'A'", "1)1", "A)1", "A)/", "A)", ")"],
    "a slash belongs between the major word and its arguments": ["GOTO,1", "GOTO-1", "GOTO.5", "GOTO'A'", "A)GOTO,1", "A)GOTO-1"],
    "a bracket without a beginning": ["GOTO/1)", "GOTO/A)", "GOTO/)", "A)GOTO)", "A)GOTO)GOTO", "GOTO/1,)"],
}
"""What is wrong, with statements that go wrong so."""


@pytest.mark.parametrize(
    "spelling",
    [
        "goto/1,2,3",
        " GOTO / 1 , 2 , 3 ",
        "GO TO/1,2,3",
        "GOTO/$ the rest of this line is nothing\n1,$\n2,3",
        "GOTO/1,2,3 $$ a comment",
        "L1)GOTO/1,2,3",
        "10) GOTO/1.,+2.0,30E-1",
        "GOTO/1,2,.3e+1",
        "$$ a comment\n\nGOTO/1,2,3\r",
    ],
)
def test_a_statement_may_be_spelled_in_many_ways(spelling: str) -> None:
    assert [{"rapid": [1, 2, 3]}] == moves_of(f"RAPID\n{spelling}\n")


def test_literal_statements_keep_dollars_and_blanks() -> None:
    statements = [item for item in Scan(b"PPRINT  cost  $5 $$ no comment\n", None) if isinstance(item, Statement)]
    assert [("PPRINT", "cost  $5 $$ no comment")] == [(each.word, each.text) for each in statements]


def test_the_place_of_an_error_in_a_continued_statement_is_that_in_the_file() -> None:
    with pytest.raises(ToolpathError, match="a number is badly written") as caught:
        piece_of(f"{AT}FEDRAT/$\n  100,PERMIN,-\n")
    assert (9, 14) == (caught.value.place.line, caught.value.place.column)


@pytest.mark.parametrize(("wrong", "example"), [(wrong, example) for wrong, examples in MISTAKES.items() for example in examples])
@pytest.mark.parametrize("before", ["", "0,", "0,0,"])
def test_each_mistake_of_spelling_gets_its_message_also_behind_other_arguments(wrong: str, example: str, before: str) -> None:
    statement = example.replace("GOTO/", f"GOTO/{before}")
    with pytest.raises(ToolpathError) as caught:
        piece_of(f"{AT}{statement}\n")
    assert caught.value.wrong.startswith(f"{wrong}: found ")
    assert f"in '{statement}'" in caught.value.wrong or f'in "{statement}"' in caught.value.wrong
    assert caught.value.cure


@pytest.mark.parametrize(
    ("statement", "wrong"),
    [
        ("GOTO/1,-", "badly written"),
        ("GOTO/1,(2)", "arithmetic"),
        ("GOTO/2*3,1,1", "arithmetic"),
        ("GOTO/1,#", "no meaning here"),
        ("GOTO/1,..2,3", "badly written"),
    ],
)
def test_a_character_out_of_place_is_shown_with_its_cure(statement: str, wrong: str) -> None:
    with pytest.raises(ToolpathError, match=wrong) as caught:
        piece_of(f"{AT}{statement}\n")
    assert 8 == caught.value.place.line
    assert caught.value.cure


@pytest.mark.parametrize("before", ["", "1,", "1,2,", "1,2,3,"])
@pytest.mark.parametrize(
    ("after", "wrong"),
    [(",5", "an argument is missing"), ("", "an argument is missing"), ("1.2.3", "badly written"), ("1/2", "arithmetic")],
)
def test_a_mistake_is_called_the_same_wherever_it_stands(before: str, after: str, wrong: str) -> None:
    if before or after:
        with pytest.raises(ToolpathError, match=wrong):
            piece_of(f"GOTO/{before}{after}\n")


OWN_WORDS = f"{AT}TINT/SHADE=10,(x)\nCHAPTR/roughing #1 é\nFETCH/4,50\nCUTTER/8\nPREFUN/64\n{AT}"


ABOVE = "RAPID\nGOTO/0,0,10\n"


def test_an_unknown_word_says_how_it_can_get_a_meaning() -> None:
    with pytest.raises(ToolpathError, match=r"the word TINT is not known, in 'TINT/SHADE=10,\(x\)'") as caught:
        piece_of(OWN_WORDS)
    assert (8, 1) == (caught.value.place.line, caught.value.place.column)
    assert '[words.TINT] means = "ignore"' in caught.value.cure


def test_an_unknown_word_behind_a_label_is_told_as_well() -> None:
    with pytest.raises(ToolpathError, match="the word TINT is not known"):
        piece_of(f"{AT}L1)TINT/5\n")


def test_a_misspelt_word_gets_the_nearest() -> None:
    with pytest.raises(ToolpathError) as caught:
        piece_of(f"{AT}FEDRTE/5\n")
    assert caught.value.cure.startswith("did you mean FEDRAT?")


def test_every_word_has_one_treatment() -> None:
    assert HONOURED == HANDLERS.keys()
    assert not HONOURED & HARMLESS.keys()
    assert not (HONOURED | HARMLESS.keys()) & REFUSED.keys()
    assert FIXED < HONOURED
    assert set(LITERAL_WORDS) <= HONOURED | HARMLESS.keys()


@pytest.mark.parametrize("word", sorted(HARMLESS))
def test_harmless_words_leave_one_notice_and_no_motion(word: str) -> None:
    piece = piece_of(f"{word}\n{word}\n{ABOVE}")
    assert [(word, 2)] == [(notice.facts["what"], notice.facts["times"]) for notice in piece.notices if notice.kind == "LeftOut"]
    assert [{"rapid": [0, 0, 10]}] == piece.operations[0]["moves"]  # type: ignore[index]


@pytest.mark.parametrize("word", sorted(REFUSED))
def test_refused_words_say_why_with_the_statement(word: str) -> None:
    with pytest.raises(ToolpathError, match=f"{word} is refused: .*, in '{word}/1'") as caught:
        piece_of(f"{ABOVE}{word}/1\n")
    assert (8, 1) == (caught.value.place.line, caught.value.place.column)
    assert caught.value.cure


WORDS = """steadyrest_words = 1
[words.TINT]
means = "ignore"
[words.chaptr]
means = "note"
[words.FETCH]
means = "LOADTL/{1},LENGTH,{2}"
[words.PREFUN]
means = "ignore"
"""


def test_a_mapping_file_gives_words_their_meaning(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text(WORDS)
    piece = piece_of(OWN_WORDS, words=file)
    assert [3, 4] == [operation["tool"] for operation in piece.operations]  # type: ignore[index]
    assert "CHAPTR roughing #1 é" == piece.operations[1]["name"]  # type: ignore[index]
    assert {"TINT", "PREFUN"} <= {notice.facts.get("what", "") for notice in piece.notices}


def test_a_mapping_that_asks_for_a_missing_argument_is_told_at_the_statement(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text(WORDS)
    with pytest.raises(ToolpathError, match=r"FETCH has 1 arguments, and .*words\.toml asks for number 2, in 'FETCH/4'"):
        piece_of("FETCH/4\n", words=file)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("[words.TINT]\nmeans = 'ignore'\n", "'steadyrest_words' is missing"),
        ("steadyrest_words = 2\n[words]\n", "found 2; allowed are 1"),
        (WORDS.replace('"note"', '"speak"'), "neither ignore, note, nor a statement"),
        (WORDS.replace("words.TINT", "words.GOTO"), "the word GOTO moves the tool"),
        (WORDS.replace("means", "meens", 1), "unknown key 'meens'; allowed are means"),
        (WORDS + "[", "this is not TOML"),
    ],
)
def test_a_wrong_mapping_file_is_refused(tmp_path: Path, text: str, wrong: str) -> None:
    file = tmp_path / "words.toml"
    file.write_text(text)
    with pytest.raises(InputError, match=wrong) as caught:
        load_mapping(file)
    assert str(file) == caught.value.place.file
    assert caught.value.cure
