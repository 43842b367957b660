"""Mapping files: what the words of a system mean."""

from pathlib import Path

import pytest
from cl_text import piece_of

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.cl.mapping import load_mapping

AT = "RAPID\nGOTO/1,2,3\n"


OWN_WORDS = f"{AT}TINT/SHADE=10,(x)\nCHAPTR/roughing #1 é\nFETCH/4,50\nCUTTER/8\nPREFUN/64\n{AT}"


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
