"""Plain points read by numpy, and by the grammar: the same numbers, or the grammar's error."""

from collections.abc import Callable

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl.scan import Points, Scan, read_points
from steadyrest.inputs.cl.statement import Statement

SIGNS = "0123456789+-.,eE \tGOTo/"

numbers = st.one_of(
    st.floats(-1e6, 1e6).map(lambda value: f"{value:.6f}"),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.integers(-(10**20), 10**20).map(str),
    st.sampled_from(["1.", ".5", "-.5", "+3", "-0", "1E5", "2.75e-2", "1.E+02", "1 2.5", "- 3", "0000001.25", "1e-400"]),
)
broken = st.sampled_from(["", "1e", "1..2", "--1", "1-2", ".", "E5", "1e999", "inf", "nan", "1_0", "0x1", "1e+", "1.2.3", "1,2,3,4"])
goto = st.sampled_from(["GOTO/", "goto/", " GOTO / ", "\tGoTo/"])


@st.composite
def lines(draw: st.DrawFn) -> bytes:
    """Lines of points, now and then one that is wrong."""
    found = []
    for _ in range(draw(st.integers(1, 6))):
        given_numbers = draw(st.lists(numbers, min_size=3, max_size=3) | st.lists(numbers, min_size=6, max_size=6))
        if draw(st.integers(0, 9)) == 0:
            given_numbers[draw(st.integers(0, len(given_numbers) - 1))] = draw(broken)
        found.append(draw(goto) + ",".join(given_numbers) + draw(st.sampled_from(["\n", "\r\n", " \n"])))
    return "".join(found).encode()


def by_grammar(text: bytes) -> list[tuple[int, list[float]]]:
    """Line and numbers of each statement, all of them through the grammar: a comment keeps numpy away."""
    commented = b"".join(line.rstrip(b"\r") + b"$$\n" for line in text.split(b"\n")[:-1])
    found = []
    for item in Scan(commented, None):
        assert isinstance(item, Statement)
        found.append((item.line, list(item.numbers(3, 6))))
    return found


def as_scanned(text: bytes) -> list[tuple[int, list[float]]]:
    found: list[tuple[int, list[float]]] = []
    for item in Scan(text, None):
        if isinstance(item, Points):
            found += [(item.line + row, values) for row, values in enumerate(item.values.tolist())]
        else:
            found.append((item.line, list(item.numbers(3, 6))))
    return found


def result_of(read: Callable[[bytes], list[tuple[int, list[float]]]], text: bytes) -> list[tuple[int, list[float]]] | int | None:
    """The points, or the line on which reading stops."""
    try:
        return read(text)
    except ToolpathError as error:
        return error.place.line


@given(lines())
def test_numpy_and_the_grammar_read_the_same_points(text: bytes) -> None:
    assert result_of(by_grammar, text) == result_of(as_scanned, text)


@given(lines(), st.data())
def test_they_agree_with_one_character_changed(text: bytes, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text) - 2))
    sign = data.draw(st.sampled_from(SIGNS)).encode()
    changed = text[:at] + sign + text[at + 1 :]
    assert result_of(by_grammar, changed) == result_of(as_scanned, changed)


@given(st.lists(st.lists(st.floats(-1e4, 1e4), min_size=6, max_size=6), min_size=1, max_size=30))
def test_numpy_reads_what_float_reads(rows: list[list[float]]) -> None:
    text = "".join("GOTO/" + ",".join(f"{value:.7f}" for value in row) + "\n" for row in rows)
    found = read_points(text.encode(), 1)
    assert found is not None
    expected = [[float(f"{value:.7f}") for value in row] for row in rows]
    np.testing.assert_array_equal(expected, np.concatenate([run.values for run in found]))
