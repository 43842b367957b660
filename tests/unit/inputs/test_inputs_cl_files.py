"""How CL files are cut into statements, and what becomes of broken ones."""

from pathlib import Path

import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.cl import cl_piece
from steadyrest.inputs.cl.mapping import load_mapping
from steadyrest.inputs.cl.scan import Scan
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.options import InputOptions, PartOptions

AT = "RAPID\nGOTO/1,2,3\n"


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


MISTAKES = {
    "an argument is missing": ["GOTO/1,", "GOTO/,1", "GOTO/1,,2", "GOTO/A,", "GOTO/A,,1", "GOTO/,", "A)GOTO/1,", "GOTO/'A',"],
    "a comma is missing, or a number is badly written": [
        *("GOTO/1.2.3", "GOTO/1-2", "GOTO/1+2", "GOTO/A-1", "GOTO/1A", "GOTO/1EX", "GOTO/A'B'", "GOTO/'A'B", "GOTO/'A'1"),
    ],
    "arithmetic or a nested definition": ["GOTO/1/2", "GOTO/A/2", "GOTO/A=1", "GOTO/1=1", "GOTO/1,A=1", "TRANS=1"],
    "a statement begins with its major word": ["1", "1,2", "1/2", "/1", ",1", "-1", "=1", "'A'", "1)1", "A)1", "A)/", "A)", ")"],
    "a slash stands between the major word and its arguments": ["GOTO,1", "GOTO-1", "GOTO.5", "GOTO'A'", "A)GOTO,1", "A)GOTO-1"],
    "a bracket without a beginning": ["GOTO/1)", "GOTO/A)", "GOTO/)", "A)GOTO)", "A)GOTO)GOTO", "GOTO/1,)"],
}
"""What is wrong, with statements that go wrong so."""


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


def test_a_file_without_fini_is_refused() -> None:
    with pytest.raises(ToolpathError, match="ends without FINI"):
        piece_of(AT, tail="")


@pytest.mark.parametrize("cut", range(1, 40, 3))
def test_a_file_cut_off_anywhere_is_refused(cut: int) -> None:
    text = (HEAD + AT + "GOTO/1,2,3\nCIRCLE/1,3,3,0,0,1,1\nGOTO/2,3,3\nPPRINT done\nFINI\n").encode()
    with pytest.raises(ToolpathError):
        cl_piece(text[: -cut - 1], "part.cl", InputOptions(), PartOptions())


def test_something_after_fini_is_refused() -> None:
    with pytest.raises(ToolpathError, match="something after FINI"):
        piece_of(AT, tail="FINI\nGOTO/1,2,3\n")


def test_comments_after_fini_are_not_something() -> None:
    assert 1 == len(operations_of(AT, tail="FINI\n\n$$ end\n"))


def test_rapid_without_its_motion_is_a_file_cut_off() -> None:
    with pytest.raises(ToolpathError, match="RAPID without a motion"):
        piece_of(f"{AT}RAPID\n")


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (b"UNITS/MM\nPPRINT \xe4\nFINI\n", "0xe4 is not UTF-8"),
        ("UNITS/MM\nFINI\n".encode("utf-16"), "not UTF-8|control character"),
        (b"UNITS/MM\n\x00\x01\nFINI\n", "control character 0x00"),
        ("UNITS/MM\nFEDRAT/\u00e9\nFINI\n".encode(), "has no meaning in a statement"),
        (b"UNITS/MM\nFINI\n", "no motion in the file"),
        (HEAD.encode() + b"GOTO/1,2,$", "ends in the middle of a statement"),
    ],
)
def test_broken_files_are_refused(data: bytes, wrong: str) -> None:
    with pytest.raises(ToolpathError, match=wrong):
        cl_piece(data, "part.cl", InputOptions(), PartOptions())


def test_a_byte_order_mark_and_any_line_ends_are_taken() -> None:
    text = HEAD + AT + "FINI\n"
    for data in (b"\xef\xbb\xbf" + text.encode(), text.replace("\n", "\r\n").encode(), text.replace("\n", "\r").encode()):
        assert [{"rapid": [1, 2, 3]}] == cl_piece(data, None, InputOptions(), PartOptions()).operations[0]["moves"]  # type: ignore[index]


def test_card_columns_are_left_out_where_it_is_said() -> None:
    cards = "".join(f"{line:<72}{number:08d}\n" for number, line in enumerate((HEAD + AT + "FINI").splitlines()))
    assert [{"rapid": [1, 2, 3]}] == cl_piece(cards.encode(), None, InputOptions(cards=True), PartOptions()).operations[0]["moves"]  # type: ignore[index]
    with pytest.raises(ToolpathError):
        cl_piece(cards.encode(), None, InputOptions(), PartOptions())


def test_units_have_to_be_said_by_somebody() -> None:
    head = HEAD.replace("UNITS/MM\n", "")
    with pytest.raises(ToolpathError, match="before any UNITS"):
        piece_of(AT, head=head)
    assert "inch" == piece_of(AT, head=head, units="inch").units
    with pytest.raises(ToolpathError, match="said to be in inch"):
        piece_of(AT, units="inch")


def test_a_motion_before_any_tool_names_the_cure() -> None:
    head = HEAD.replace("LOADTL/3\n", "")
    with pytest.raises(ToolpathError, match="before any LOADTL") as caught:
        piece_of(AT, head=head)
    assert "--tool" in caught.value.cure
    assert 7 == piece_of(AT, head=head, tool=7).operations[0]["tool"]  # type: ignore[index]


OWN_WORDS = f"{AT}TINT/SHADE=10,(x)\nCHAPTR/roughing #1 é\nFETCH/4,50\nCUTTER/8\nPREFUN/64\n{AT}"


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
    assert {"TINT", "PREFUN"} <= {getattr(notice, "what", "") for notice in piece.notices}


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
        (WORDS.replace("words.TINT", "words.GOTO"), "the word GOTO says where the tool goes"),
        (WORDS.replace("means", "meens", 1), "there is no setting 'meens' here; allowed are means"),
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
