"""What the text of a program cannot look like. One line a rule."""

from __future__ import annotations

import pytest
from profile_parts import Refusal

RULES = {
    "the order names a letter once": ('words.order = "NGXYZABCIJKRPQLFSTHDMX"', "words.order", "X is named twice"),
    "counts have no trailing zeros": (
        'numbers.length.point = "counts"\nnumbers.length.trailing_zeros = true',
        "numbers.length.trailing_zeros",
        "no decimals",
    ),
    "codes have no number format": ("numbers.by_letter.G.decimals = 1", "numbers.by_letter.G", "no number format"),
    "block numbers have room": ("program.block_numbers.largest = 15", "program.block_numbers.largest", "past the largest, 15"),
    "a program number fits": ('program.number = {letter = "O", digits = 2, default = 100}', "program.number.default", "more than 2 digits"),
    "a comment ends where it should": ('program.comments.characters = "AB ("', "program.comments.characters", "would end it"),
    "a comment is plain text": ('program.comments.characters = "AB \\u00e4"', "program.comments.characters", "plain ASCII"),
    "a comment has spaces": ('program.comments.characters = "AB"', "program.comments.characters", "the space is missing"),
    "a comment in capitals has capitals": (
        'program.comments.characters = "ab "\nprogram.comments.upper_case = true',
        "program.comments.characters",
        "A is not one of the allowed",
    ),
    "a comment keeps off the marks": ('program.comments.characters = "AB %"', "program.comments.characters", "% begins and ends"),
    "a comment fits a line": ("program.longest_line = 60", "program.comments.longest", "does not fit into a line of 60"),
    "a safe start does not move": ('program.safe_start = ["G17 X0"]', "program.safe_start", "nothing that moves"),
    "a safe start has no text": ('program.safe_start = ["G17 (plane)"]', "program.safe_start", "nothing that moves"),
}


@pytest.mark.parametrize(("text", "key", "sentence"), RULES.values(), ids=RULES.keys())
def test_what_is_impossible_by_itself_is_refused_by_name(refusal: Refusal, text: str, key: str, sentence: str) -> None:
    error = refusal(text)
    assert key == error.place.key
    assert sentence in error.wrong
