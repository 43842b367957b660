"""Columns of words: where an axis stands before each block, which blocks say it, and how words stand side by side."""

from __future__ import annotations

import numpy as np
import pytest
from writing_parts import NAN, in_steps, profile, rows

from steadyrest.errors import PlanError
from steadyrest.writing.numbers import Spelling
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import WordColumn, axis_column, axis_words, line_text, scattered
from steadyrest.writing.word_formats import word_format

FORM = word_format(profile(), inch=False, rotary_letter="A")
X = FORM.axes[0]
WHOLE = Spelling(0)


def test_an_axis_stays_where_the_last_block_with_a_command_left_it() -> None:
    run = rows([(NAN, 0, 0, 0), (2, 0, 0, 0), (NAN, 0, 0, 0), (2, 0, 0, 0), (3, 0, 0, 0)])
    column = axis_column(X, run, Held(counts={"X": 1000}, said={"X"}))
    assert column is not None
    assert [1000, 2000, 2000, 2000, 3000] == column.values.tolist()
    assert [1000, 1000, 2000, 2000, 2000] == column.before.tolist()
    assert [False, True, False, False, True] == column.said.tolist()
    assert 0 == column.known_from


def test_an_axis_of_unknown_place_is_known_from_the_block_after_its_first_command() -> None:
    run = rows([(NAN, 0, 0, 0), (2, 0, 0, 0), (2, 0, 0, 0)])
    column = axis_column(X, run, Held())
    assert column is not None
    assert (2, [False, True, False]) == (column.known_from, column.said.tolist())
    whole = axis_column(X, rows([(2, 0, 0, 0), (2, 0, 0, 0)]), Held())
    assert whole is not None
    assert (1, [True, False]) == (whole.known_from, whole.said.tolist())
    assert axis_column(X, rows([(NAN, 0, 0, 0)]), Held()) is None


def test_a_step_from_an_unknown_place_is_refused_and_one_from_a_known_place_is_the_difference() -> None:
    steps = word_format(in_steps(), inch=False, rotary_letter="A")
    run = rows([(2, 0, 0, 0), (5, 0, 0, 0)])
    known, unknown = axis_column(X, run, Held(counts={"X": 500})), axis_column(X, run, Held())
    assert known is not None
    assert unknown is not None
    assert [1500, 3000] == axis_words(known, steps).values.tolist()
    with pytest.raises(PlanError, match="an incremental X word starts from an unknown position"):
        axis_words(unknown, steps)


def test_a_space_stands_before_a_word_only_behind_another() -> None:
    rows_of = np.array([1])
    first = scattered("S", np.array([7]), np.ones(1, bool), WHOLE, rows_of, 2)
    second = WordColumn("M", np.array([0, 1]), np.ones(2, bool), ("M3", "M4"))
    text, widest = line_text([first, second], 2, spaces=True, ending="\n")
    assert b"M3\nS7 M4\n" == text
    assert widest >= len("S7 M4\n")
    assert b"M3\nS7M4\n" == line_text([first, second], 2, spaces=False, ending="\n")[0]


def test_block_numbers_are_filled_up_with_zeros() -> None:
    numbers = WordColumn("N", np.array([5, 12345]), np.ones(2, bool), Spelling(0, digits=4))
    assert b"N0005\r\nN12345\r\n" == line_text([numbers], 2, spaces=True, ending="\r\n")[0]
