"""Numbers: one by one and in columns they come out the same, and read back as what was meant."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.writing.numbers import Spelling, number_pieces, number_text, to_count, to_counts

spellings = st.builds(
    Spelling,
    st.integers(0, 6),
    st.sampled_from(["always", "when_needed", "counts"]),
    st.booleans(),
    st.booleans(),
    st.booleans(),
).map(lambda s: Spelling(s.decimals, s.point, s.trailing_zeros and s.point != "counts", s.leading_zero, s.plus))
counts = st.integers(-(10**15), 10**15)
values = st.floats(-1e8, 1e8, allow_nan=False)


@given(spellings, st.lists(counts, min_size=1, max_size=20))
def test_a_column_is_spelled_as_its_numbers_are_one_by_one(spelled: Spelling, some: list[int]) -> None:
    sign, digits = number_pieces(np.array(some, dtype=np.int64), spelled)
    sheet = np.column_stack([sign, *digits])
    assert [number_text(count, spelled) for count in some] == [row.tobytes().replace(b"\0", b"").decode() for row in sheet]


@given(spellings, values)
def test_a_written_number_is_within_half_the_least_increment_of_its_value(spelled: Spelling, value: float) -> None:
    text = number_text(to_count(value, spelled), spelled)
    read = Fraction(text) if spelled.point != "counts" else Fraction(text) / spelled.scale
    # The product of value and scale is itself rounded once, by at most one part in 2**53.
    assert abs(read - Fraction(value)) <= Fraction(1, 2 * spelled.scale) + abs(Fraction(value)) / 2**52
    assert "e" not in text.lower()
    assert text.strip("+0.") != "-"


@given(spellings, st.lists(values, min_size=1, max_size=20))
def test_a_column_is_rounded_as_its_values_are_one_by_one(spelled: Spelling, some: list[float]) -> None:
    assert [to_count(value, spelled) for value in some] == to_counts(np.array(some), spelled).tolist()
