"""Columns of words: where an axis stands before each block, which blocks say it, and how words stand side by side."""

from __future__ import annotations

import numpy as np
import pytest
from writing_parts import NAN, in_steps, profile, rows

from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.writing.numbers import Spelling
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import AxisColumn, Breaks, WordColumn, axis_column, axis_words, line_text, scattered
from steadyrest.writing.word_formats import AxisWord, word_format

FORM = word_format(profile(), inch=False, rotary_letters=["A"])
X = FORM.axes[0]
WHOLE = Spelling(0)
NEVER = np.zeros(0, np.int64)
NONE = Breaks(NEVER, NEVER, NEVER)


def column_of(run: Motion, held: Held, breaks: Breaks | None = None, axis: AxisWord = X) -> AxisColumn:
    column = axis_column(axis, run, held, breaks or NONE)
    assert column is not None
    return column


def test_an_axis_stays_where_the_last_block_with_a_command_left_it() -> None:
    run = rows([(NAN, 0, 0, 0), (2, 0, 0, 0), (NAN, 0, 0, 0), (2, 0, 0, 0), (3, 0, 0, 0)])
    column = column_of(run, Held(counts={"X": 1000}, said={"X"}))
    assert [1000, 2000, 2000, 2000, 3000] == column.values.tolist()
    assert [1000, 1000, 2000, 2000, 2000] == column.before.tolist()
    assert [False, True, False, False, True] == column.said.tolist()
    assert not column.is_unknown


def test_an_axis_of_unknown_place_is_said_by_its_first_command() -> None:
    column = column_of(rows([(NAN, 0, 0, 0), (2, 0, 0, 0), (2, 0, 0, 0)]), Held())
    assert (True, [False, True, False]) == (column.is_unknown, column.said.tolist())
    whole = column_of(rows([(2, 0, 0, 0), (2, 0, 0, 0)]), Held())
    assert (True, [True, False]) == (whole.is_unknown, whole.said.tolist())
    assert axis_column(X, rows([(NAN, 0, 0, 0)]), Held(), NONE) is None


def test_an_axis_is_said_again_by_its_first_command_after_all_was_forgotten() -> None:
    run = rows([(2, 0, 0, 0), (NAN, 0, 0, 0), (2, 0, 0, 0), (2, 0, 0, 0)])
    column = column_of(run, Held(counts={"X": 2000}, said={"X"}), Breaks(np.array([1, 1]), NEVER, NEVER))
    assert [False, False, True, False] == column.said.tolist()
    assert not column.is_unknown


@pytest.mark.parametrize(("before", "holds"), [(2, True), (3, True), (4, False)])
def test_what_the_last_block_says_holds_after_the_batch_unless_all_was_forgotten_behind_it(before: int, holds: bool) -> None:
    run = rows([(1, 0, 5, 0), (2, 0, 6, 0), (3, 0, 7, 0), (4, 0, 8, 0)])
    column = column_of(run, Held(), Breaks(np.array([before]), np.array([before]), NEVER), FORM.axes[2])
    assert (holds, holds) == (column.stays, column.is_said)


def test_a_height_that_was_lost_is_not_known_before_the_next_command_and_other_axes_are() -> None:
    run = rows([(1, 0, 5, 0), (2, 0, NAN, 0), (3, 0, 5, 0)])
    held, breaks = Held(counts={"X": 1000, "Z": 5000}, said={"X", "Z"}), Breaks(NEVER, np.array([1]), NEVER)
    height = column_of(run, held, breaks, FORM.axes[2])
    assert (True, [False, False, True]) == (height.is_unknown, height.said.tolist())
    assert [5000, 5000, 5000] == height.before.tolist()
    assert not column_of(run, held, breaks).is_unknown


def test_a_step_from_an_unknown_place_is_refused_and_one_from_a_known_place_is_the_difference() -> None:
    steps = word_format(in_steps(), inch=False, rotary_letters=["A"])
    run = rows([(2, 0, 0, 0), (5, 0, 0, 0)])
    assert [1500, 3000] == axis_words(column_of(run, Held(counts={"X": 500})), steps).values.tolist()
    with pytest.raises(PlanError, match="an incremental X word starts from an unknown position"):
        axis_words(column_of(run, Held()), steps)


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
