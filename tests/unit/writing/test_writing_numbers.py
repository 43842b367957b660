"""How counts become text, one by one and in columns, over every format a profile can ask for."""

from __future__ import annotations

import itertools
from decimal import Decimal

import numpy as np
import pytest

from steadyrest.errors import PlanError
from steadyrest.motion import Quantity
from steadyrest.profile import NumberFormat, Numbers
from steadyrest.writing.numbers import Spelling, number_pieces, number_text, spelling, to_count, to_counts, whole_pieces, word_text

SPELLINGS = [
    Spelling(decimals, point, trailing and point != "counts", leading, plus)
    for decimals, point, trailing, leading, plus in itertools.product(
        range(7), ("always", "when_needed", "counts"), (False, True), (False, True), (False, True)
    )
]


def texts(counts: list[int], spelled: Spelling) -> list[str]:
    """A column of counts spelled by pieces, zero bytes taken out of each."""
    sign, digits = number_pieces(np.array(counts, dtype=np.int64), spelled)
    sheet = np.column_stack([sign, *digits])
    return [row.tobytes().replace(b"\0", b"").decode("ascii") for row in sheet]


def value_of(text: str, spelled: Spelling) -> int:
    """The count that a text stands for, by exact decimal arithmetic of the standard library."""
    exact = Decimal(text) if spelled.point == "counts" else Decimal(text) * 10**spelled.decimals
    assert exact == int(exact)
    return int(exact)


@pytest.mark.parametrize("spelled", SPELLINGS, ids=str)
def test_every_count_of_a_small_range_reads_back_as_itself_and_both_ways_agree(spelled: Spelling) -> None:
    high = 3 * spelled.scale if spelled.decimals <= 3 else 3000
    counts = list(range(-high, high + 1)) + [s * (10**k + d) for s in (-1, 1) for k in range(4, 15) for d in (-1, 0, 1)]
    one_by_one = [number_text(count, spelled) for count in counts]
    assert one_by_one == texts(counts, spelled)
    assert counts == [value_of(text, spelled) for text in one_by_one]


@pytest.mark.parametrize("spelled", SPELLINGS, ids=str)
def test_spelled_numbers_keep_to_their_format(spelled: Spelling) -> None:
    for count in (0, 1, -1, 7, 10**spelled.decimals, -(10**spelled.decimals), 123_456_789, -120_000_000):
        text = number_text(count, spelled)
        assert not text.startswith("-0") or count < 0
        assert (count > 0 and spelled.plus) == text.startswith("+")
        digits = text.lstrip("+-")
        assert digits.strip("0123456789.") == ""
        assert digits.count(".") <= 1
        assert any(c.isdigit() for c in digits)
        if spelled.point == "counts":
            assert "." not in digits
        if spelled.point == "always":
            assert "." in digits
        if spelled.trailing_zeros and spelled.decimals:
            assert len(digits.split(".")[1]) == spelled.decimals
        elif "." in digits:
            assert not digits.endswith("0") or digits.endswith(".0") is False
            assert digits.endswith(".") is (spelled.point == "always" and count % spelled.scale == 0)


@pytest.mark.parametrize(
    ("spelled", "count", "text"),
    [
        (Spelling(3), 12500, "12.5"),
        (Spelling(3), -500, "-0.5"),
        (Spelling(3), 0, "0"),
        (Spelling(3, leading_zero=False), 500, ".5"),
        (Spelling(3, leading_zero=False), 0, "0"),
        (Spelling(3, leading_zero=False, trailing_zeros=True), 0, ".000"),
        (Spelling(3, "always"), 12000, "12."),
        (Spelling(0, "always"), 12, "12."),
        (Spelling(3, trailing_zeros=True), 12500, "12.500"),
        (Spelling(3, "counts"), 12500, "12500"),
        (Spelling(3, plus=True), 12500, "+12.5"),
        (Spelling(3, plus=True), 0, "0"),
        (Spelling(4), 12_0001, "12.0001"),
        (Spelling(6), 1_000_001, "1.000001"),
    ],
)
def test_spellings_by_example(spelled: Spelling, count: int, text: str) -> None:
    assert text == number_text(count, spelled)


def test_values_are_rounded_half_to_even() -> None:
    spelled = Spelling(0)
    values = [0.5, 1.5, 2.5, -0.5, -1.5, -0.4]
    assert [0, 2, 2, 0, -2, 0] == [to_count(value, spelled) for value in values]
    assert [0, 2, 2, 0, -2, 0] == to_counts(np.array(values), spelled).tolist()


def test_there_is_no_minus_zero() -> None:
    assert "0" == number_text(to_count(-0.0004, Spelling(3)), Spelling(3))
    assert ["0"] == texts(to_counts(np.array([-0.0004]), Spelling(3)).tolist(), Spelling(3))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e300])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(PlanError, match="cannot be written as a number"):
        to_count(value, Spelling(3))
    with pytest.raises(PlanError, match="cannot be written as a number"):
        to_counts(np.array([1.0, value]), Spelling(3))


def test_a_letters_own_format_goes_before_that_of_its_kind() -> None:
    numbers = Numbers(length=NumberFormat(decimals=3, inch_decimals=4), by_letter={"K": NumberFormat(decimals=5)})
    assert 3 == spelling(numbers, "length", "X", inch=False).decimals
    assert 4 == spelling(numbers, "length", "X", inch=True).decimals
    assert 5 == spelling(numbers, "length", "K", inch=True).decimals


def test_a_quantity_becomes_a_word() -> None:
    assert "S8000" == word_text(Quantity("S", 8000, "spindle"), Numbers(), inch=False)
    assert "Z-12.5" == word_text(Quantity("Z", -12.5, "length"), Numbers(), inch=False)
    assert "T3" == word_text(Quantity("T", 3, "count"), Numbers(spindle=NumberFormat(point="always")), inch=False)


@pytest.mark.parametrize("least", range(9))
def test_whole_numbers_have_at_least_the_digits_asked_for(least: int) -> None:
    values = [0, 1, 9, 10, 99, 9999, 10_000, 10_001, 12_345_678, 99_999_999]
    for some in (values[:5], values):
        sheet = np.column_stack(whole_pieces(np.array(some), least))
        expected = [(str(v) if v or least else "").rjust(least, "0") for v in some]
        assert expected == [row.tobytes().replace(b"\0", b"").decode() for row in sheet]
