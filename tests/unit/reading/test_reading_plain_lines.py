"""Plain lines found in a piece of a program, and their numbers decoded from bytes, strictly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.profile import load_profile
from steadyrest.reading import Lenient
from steadyrest.reading.dialect import Dialect, read_dialect
from steadyrest.reading.plain_lines import PAD, decode_numbers, find_plain_lines

DIALECT = read_dialect(load_profile("rs274ngc"))


def decoded(words: list[str]) -> tuple[list[float], list[bool], list[bool]]:
    text = " ".join(words).encode()
    lengths = np.array([len(word) for word in words])
    starts = np.cumsum(lengths + 1) - lengths - 1
    values, points, _, bad = decode_numbers(text + b"\n" * PAD, starts, lengths)
    return values.tolist(), points.tolist(), bad.tolist()


def plain(text: str, dialect: Dialect = DIALECT) -> list[bool]:
    return find_plain_lines(text.encode(), dialect).plain.tolist()


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
        ("F100", True),
        ("N10", True),
        ("G4 X1", False),
        ("X1 X2", False),
        ("X1 (note)", True),
        ("X1 (note) ", True),
        ("X1 (note) Y2", False),
        ("X1 ((note))", False),
        ("X1 (note", False),
        ("X1 ;note", False),
        ("(no\tte)", True),
        ("(n\xf6te)", False),
        ("G90 G94 G1 X1", True),
        ("G90 G91 X1", False),
        ("G1.00001 X1", False),
        ("G53 G0 Z1", True),
        ("G53 G0", False),
        ("G61 X1", False),
        ("I1", False),
        ("X1 S500", False),
        ("X#1", False),
        ("1 X2", False),
        ("G2 X1 I1 J0", True),
        ("", True),
    ],
)
def test_a_line_is_plain_where_it_says_nothing_but_motion(line: str, is_plain: bool) -> None:
    assert [True, is_plain, True] == plain(f"X1\n{line}\nX2\n")


def test_a_line_longer_than_the_controller_takes_is_not_plain() -> None:
    blanks = " " * (DIALECT.profile.program.longest_line - 2)
    assert [True, False] == plain(f"X1{blanks}\nX {blanks}1\n")


def test_a_mode_is_plain_where_it_is_stated_again_and_not_where_it_changes() -> None:
    assert [True, True, False, True, True, True, False] == plain("G90 X1\nX2\nG91\nG91 X3\nX4\nG94 X5\nG90 X6\n")


def test_comments_are_found_by_line_also_of_lines_that_are_not_plain() -> None:
    found = find_plain_lines(b"(a)\n\nX1 (b) \nS1 (c)\n(d) X1\n", DIALECT)
    assert [(0, "a"), (2, "b"), (3, "c")] == found.comments
    assert [True, True, True, False, False] == found.plain.tolist()
    assert [False, False, True, True, True] == found.worded.tolist()


def test_comments_of_a_program_from_elsewhere_hold_any_characters() -> None:
    elsewhere = read_dialect(load_profile("rs274ngc"), None, Lenient())
    found = find_plain_lines("X1 (n\xf6te)\nX2 ;;(\x01\n".encode() + b"X3 (\xf6; a)\nX4 (a(b))\n", elsewhere)
    assert [(0, "n\xf6te"), (1, ";(\x01"), (2, "\xf6; a")] == found.comments
    assert [True, True, True, False] == found.plain.tolist()
