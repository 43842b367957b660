from __future__ import annotations

import base64
import re
import zlib

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from viewer_parts import looked, put_together, unpacked

from steadyrest.viewer.packing import Column, best, counted, listing, packed


def there_and_back(columns: dict[str, Column]) -> dict[str, np.ndarray]:
    """Columns as the page has them."""
    head, body = packed(columns)
    return unpacked(head, base64.b64encode(zlib.compress(body)).decode())


@given(arrays(np.float64, st.integers(1, 50), elements=st.floats(-1e6, 1e6)))
def test_numbers_survive_packing_within_half_a_step(values: np.ndarray) -> None:
    column = counted(values, 1e-4)
    assert np.abs(there_and_back({"it": column})["it"] - values).max() <= 0.5 * column.step * (1 + 1e-9) + 1e-9


@given(arrays(st.sampled_from([np.uint16, np.int32, np.uint8]), st.integers(1, 50)), st.integers(0, 2))
def test_whole_numbers_come_back_however_often_differences_were_taken(values: np.ndarray, order: int) -> None:
    np.testing.assert_array_equal(values, there_and_back({"before": Column(values), "it": Column(values, order=order)})["it"])


def test_as_many_differences_are_taken_as_make_the_numbers_short() -> None:
    k = np.arange(1000, dtype=np.int32)
    walk = np.cumsum(np.random.default_rng(1).integers(-100, 100, 1000)).astype(np.int32)
    assert [0, 1, 2] == [best(each).order for each in (k % 2, walk, k * k)]


def back(text: bytes) -> bytes:
    facts, columns = listing(text)
    return put_together(facts, there_and_back(columns))


NUMBERS = st.from_regex(rb"[-+]?(?:[0-9]{1,20}\.?[0-9]{0,6}|\.[0-9]{1,6})", fullmatch=True)
WORDS = st.tuples(st.sampled_from([b"X", b"Y", b"A", b"F", b"N", b"G", b"(T", b"; Z "]), NUMBERS).map(b"".join)
LINES = st.lists(st.one_of(WORDS, st.binary(max_size=4)), max_size=5).map(b" ".join)


@given(st.lists(LINES, max_size=8).map(b"\n".join))
@example(b"X-0 X0. X.5 X-.5 X+5 X007 X99999999999.5\r\nX1.50\n")
@example(b"X0.5 X00.5 X00 X0 X-.0\nX2147483647. X2147483648 X1234567890123456789\nX. X- X+. X1.2.3 X")
@example(b"X214748364.7 X-214748364.8 X.0000001 X0.00000000000000000001")
@example(b"N10 X1.\nN20 X2.\n\0")
@example(b"")
def test_a_listing_comes_back_byte_for_byte(text: bytes) -> None:
    assert text == back(text)


@pytest.mark.parametrize("form", ["X{:.3f} Y{:.4f}", "X{:.3f} F{:.0f}.", "N{0:.0f} X{0:.1f}"])
def test_lines_of_one_kind_are_one_form(form: str) -> None:
    text = "\n".join(form.format(at, at / 7) for at in range(200)).encode()
    assert text == back(text)
    assert 1 == len(set(listing(text)[1]["lines"].numbers))


def test_the_words_of_a_program_are_numbers() -> None:
    text = looked().text
    facts, columns = listing(text)
    assert {"X", "Z", "A", "F"} <= set(facts["written"])
    forms = columns["forms"].numbers.tobytes()
    plain = [form for form in forms.split(b"\n") if b"(" not in form]
    assert len(plain) > 5
    assert [] == [form for form in plain if re.search(rb"[XZAF]-?[0-9]", form)]
