"""Plain lines found in a piece of a program, and their numbers decoded from bytes, strictly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.profile import load_profile
from steadyrest.reading.dialect import read_dialect
from steadyrest.reading.plain_lines import PAD, decode_numbers, find_plain_lines
from steadyrest.reading.runs import plain_letters

LETTERS = plain_letters(read_dialect(load_profile("rs274ngc")))


def decoded(words: list[str]) -> tuple[list[float], list[bool], list[bool]]:
    text = " ".join(words).encode()
    lengths = np.array([len(word) for word in words])
    starts = np.cumsum(lengths + 1) - lengths - 1
    numbers = decode_numbers(text + b"\n" * PAD, starts, lengths)
    return numbers.values.tolist(), numbers.points.tolist(), numbers.bad.tolist()


def plain(text: str, longest: int = 80) -> list[bool]:
    return find_plain_lines(text.encode(), LETTERS, longest, with_points=False).plain.tolist()


@given(st.lists(st.tuples(st.sampled_from(["", "-", "+"]), st.integers(0, 10**9 - 1), st.integers(0, 6)), min_size=1))
def test_numbers_are_the_nearest_floats_to_what_they_say(parts: list[tuple[str, int, int]]) -> None:
    words = [
        f"{sign}{digits // 10**decimals}{'.' * (decimals > 0)}{str(digits)[-decimals:] * (decimals > 0)}"
        for sign, digits, decimals in parts
    ]
    values, points, bad = decoded(words)
    assert not any(bad)
    assert [float(word) for word in words] == values
    assert ["." in word for word in words] == points


@pytest.mark.parametrize(
    "word", ["", "-", ".", "-.", "1.2.3", "1-2", "1e3", "1234567890123456", "12345678901234567", "1000000000.0", "--1", "1,5"]
)
def test_what_is_no_plain_number_is_flagged(word: str) -> None:
    assert [False, True, False] == decoded(["1", word, "2"])[2]


@pytest.mark.parametrize(
    ("line", "is_plain"),
    [
        ("G1 X1 Y-2.5 F100", True),
        ("x 1 . 5 y2", True),
        ("N10 G0 X1", True),
        ("G0 N10 X1", False),
        ("N10.5 X1", False),
        ("N12345 X1", True),
        ("N1234567890 X1", False),
        ("G1 F100", False),
        ("G4 X1", False),
        ("X1 X2", False),
        ("X1 (note)", False),
        ("X1 S500", False),
        ("X#1", False),
        ("1 X2", False),
        ("G2 X1 I1 J0", True),
        ("", False),
    ],
)
def test_a_line_is_plain_where_it_is_nothing_but_words_of_motion(line: str, is_plain: bool) -> None:
    assert [True, is_plain, True] == plain(f"X1\n{line}\nX2\n")


def test_a_line_longer_than_the_controller_takes_is_not_plain() -> None:
    assert [True, False] == plain("X" + "1" * 9 + "\nX" + " " * 2 + "1" * 8 + "\n", 10)
