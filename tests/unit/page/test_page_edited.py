"""A copy changed by hand: its bytes, and the change in words."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import InputError
from steadyrest.page.edited import Change, change_at, changes_between, edited, read_changes, said

POSTED = ["G0 A90.", "G1 X5. F200", "", "M30"]
TEXT = "".join(f"{line}\n" for line in POSTED).encode()
lines = st.lists(st.text("GXA 1.-(", min_size=1, max_size=6), min_size=1, max_size=8)


@given(was=lines, now=lines)
def test_the_changes_between_two_programs_make_the_one_of_the_other(was: list[str], now: list[str]) -> None:
    one, other = ("".join(f"{line}\n" for line in each).encode() for each in (was, now))
    changes = changes_between(one, other)
    assert other == edited(one, changes)
    assert changes == read_changes(json.dumps([each.as_json() for each in changes]), len(was))
    assert (not changes) == (one == other)


def test_lines_that_are_put_in_end_as_the_others_do() -> None:
    assert b"G0 A90.\r\nM0\r\nM30\r\n" == edited(b"G0 A90.\r\nM30\r\n", [Change(2, 1, ("M0",))])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Change(1, 1, ("G0 A-90.",)), "was A90., is A-90."),
        (Change(2, 2, ("G1 X5.",)), "F200 was taken out"),
        (Change(1, 1, ("G0 A90. M8",)), "M8 was put in"),
        (Change(2, 2, ()), "1 line taken out: G1 X5. F200"),
        (Change(2, 1, ("M0", "M1")), "2 lines put in: M0"),
        (Change(1, 2, ("G0 A0",)), "2 lines became 1: was G0 A90., is G0 A0"),
        (Change(1, 1, ("G0  A90.",)), "the same words, with other spaces"),
    ],
)
def test_a_change_is_said_in_words(change: Change, words: str) -> None:
    assert words == said(change, POSTED)


@pytest.mark.parametrize(
    "text",
    [
        "{", "3", "[1]", "[" * 5000, '[{"first": 0, "last": 0, "lines": []}]', '[{"first": 1, "last": 5, "lines": []}]',
        '[{"first": 2, "last": 2, "lines": ["a\\nb"]}]', '[{"first": 2, "last": 2, "lines": [1]}]',
        '[{"first": true, "last": 1, "lines": []}]',
        '[{"first": 2, "last": 3, "lines": []}, {"first": 3, "last": 3, "lines": []}]', '[{"first": 1.0, "last": 1, "lines": []}]',
    ],
)  # fmt: skip
def test_changes_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_changes(text, 4)


def test_a_line_of_the_copy_belongs_to_the_change_before_it() -> None:
    changes = (Change(2, 1, ("M0", "M1")), Change(4, 4, ("M2",)))
    assert [None, changes[0], changes[0], changes[0], changes[0], changes[1]] == [change_at(changes, line) for line in range(1, 7)]
