"""Words of CL data: each has one treatment, and unknown ones are told."""

import pytest
from cl_text import piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.changes import LeftOut
from steadyrest.inputs.cl.reader import HANDLERS
from steadyrest.inputs.cl.vocabulary import FIXED, HARMLESS, HONOURED, LITERAL_WORDS, REFUSED

AT = "RAPID\nGOTO/1,2,3\n"


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
    assert [(word, 2)] == [(notice.what, notice.times) for notice in piece.notices if isinstance(notice, LeftOut)]
    assert [{"rapid": [0, 0, 10]}] == piece.operations[0]["moves"]  # type: ignore[index]


@pytest.mark.parametrize("word", sorted(REFUSED))
def test_refused_words_say_why_with_the_statement(word: str) -> None:
    with pytest.raises(ToolpathError, match=f"{word} is refused: .*, in '{word}/1'") as caught:
        piece_of(f"{ABOVE}{word}/1\n")
    assert (8, 1) == (caught.value.place.line, caught.value.place.column)
    assert caught.value.cure
