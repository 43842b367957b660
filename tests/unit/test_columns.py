"""Rows of columns are taken and put together field by field; what is no array stays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.columns import Floats, Ints, gathered, join, run_around, take


@dataclass(frozen=True, slots=True)
class Some:
    name: str
    first: Ints
    places: Floats
    extra: Floats | None = None


@dataclass(frozen=True, slots=True)
class Whole:
    """Columns with columns within."""

    number: Ints
    within: Some | None = None

    def __len__(self) -> int:
        return len(self.number)


def some(n: int, extra: bool = False) -> Some:
    return Some("one", np.arange(n), np.arange(3.0 * n).reshape(n, 3), np.arange(n) / 2 if extra else None)


@given(st.integers(1, 20), st.data())
def test_columns_cut_anywhere_and_joined_are_what_they_were(n: int, data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, n))
    whole = some(n, extra=data.draw(st.booleans()))
    again = join([take(whole, slice(0, cut)), take(whole, slice(cut, n))])
    np.testing.assert_array_equal(again.first, whole.first)
    np.testing.assert_array_equal(again.places, whole.places)
    assert (again.extra is None) == (whole.extra is None)
    assert again.name == "one"


def test_a_slice_shares_memory_and_an_index_keeps_its_order() -> None:
    whole = some(5)
    assert np.shares_memory(take(whole, slice(1, 3)).places, whole.places)
    np.testing.assert_array_equal(take(whole, np.array([3, 0])).first, [3, 0])


def test_what_lacks_a_column_of_the_first_cannot_be_joined() -> None:
    for parts in ([some(2, extra=True), some(2)], [some(2), some(2, extra=True)]):
        with pytest.raises(ValueError, match=r"concatenated|dimension"):
            join(parts)


def test_columns_within_columns_are_taken_and_joined_with_them_and_blank_where_a_part_has_none() -> None:
    part = take(Whole(np.arange(4), some(4)), slice(1, 3))
    assert part.within is not None
    np.testing.assert_array_equal(part.within.first, [1, 2])
    for parts, there in (([Whole(np.arange(2)), part], slice(2, 4)), ([part, Whole(np.arange(2))], slice(0, 2))):
        joined = join(parts)
        assert joined.within is not None
        blank = np.ones(4, bool)
        blank[there] = False
        np.testing.assert_array_equal(joined.within.first[there], [1, 2])
        np.testing.assert_array_equal(joined.within.first[blank], 0)
        assert np.isnan(joined.within.places[blank]).all()
    assert join([Whole(np.arange(2)), Whole(np.arange(1))]).within is None


def test_items_are_gathered_in_order_to_lists_of_so_many_rows_and_items_at_most_and_a_long_one_stands_alone() -> None:
    assert [["ab", "c"], ["abcd"], ["", "", "a"], ["b"]] == list(gathered(["ab", "c", "abcd", "", "", "a", "b"], len, 3, 3))
    assert [] == list(gathered([], len, 3, 3))


def test_a_run_ends_where_the_next_number_is_further_off_than_the_gap() -> None:
    numbers = np.array([3, 4, 5, 7, 10])
    assert [(3, 5), (3, 5), (7, 7), (10, 10)] == [run_around(numbers, number) for number in (3, 5, 7, 10)]
    assert (3, 7) == run_around(numbers, 4, gap=2)
    assert (10, 10) == run_around(numbers, 10, gap=2)
