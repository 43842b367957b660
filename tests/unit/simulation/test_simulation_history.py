"""How the part came to be: at any time of the program its lines stand as if the simulation had been stopped there."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulated import cut
from steadyrest.simulation import Cut, History, carving

BLOCK = {"shape": "rectangular", "across": [30, 20], "from": 0, "to": 20}
BALL = {"number": 1, "shape": "ball", "diameter": 5}
LINES = {
    "radii": "G0 X-5 Y0 A0;G0 Z25;G1 Z17;G1 X20 Y2;G1 X30 Z14;G0 Z25;G0 A100;G1 Z16;G93;G1 A160 X20 F0.1;G94;G1 X5 Y-4 F100;G0 Z25",
    "heights": "G0 X-20 Y0;G0 Z25;G1 Z17;G1 X0 Y2;G2 X8 Y-6 I4 J-4;G1 Z14;G1 X-4 Y-8;G0 Z25;G0 X0 Y0;G1 Z12;G1 X10 Z15;G0 Z25",
}
"""Cuts that cross each other, by chart; a rotary that turns in the cut, an arc."""


def blocks_of(chart: str, lines: int) -> int:
    """How many blocks of the first so many lines move, with the one that `cut` puts before them."""
    return 1 + sum(not line.startswith("G9") for line in LINES[chart].split(";")[:lines])


@cache
def done(chart: str, lines: int, **options: Any) -> Cut:
    """The first so many lines, carried out in whole arrays unless said otherwise."""
    about = {"stock": BLOCK, "toolpath": {"axis": "Z"}} if chart == "heights" else {}
    program = "\n".join(LINES[chart].split(";")[:lines])
    more: dict[str, Any] = {"along": 24, "around": 90 if chart == "radii" else 30, "off_mm": 0.05, "history": (12, 45), "carving": "arrays"}
    return cut(program, tools=[BALL], **(about | more | options))


def kept(found: Cut) -> History:
    assert found.history is not None
    return found.history


def left_mm(found: Cut) -> np.ndarray[Any, Any]:
    """What is left on the lines of which the history tells."""
    history = kept(found)
    return found.field.outer_mm[np.ix_(history.rows, history.columns)]


@pytest.mark.parametrize("chart", ["radii", "heights"])
@given(data=st.data())
def test_at_any_time_it_is_what_a_program_that_ended_there_leaves(chart: str, data: st.DataObject) -> None:
    lines = data.draw(st.integers(0, len(LINES[chart].split(";"))))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(carving, "ONE_CHANGE", 1)  # every change by itself
        done.cache_clear()
        whole, stopped = kept(done(chart, 99)), done(chart, lines)
    done.cache_clear()
    np.testing.assert_array_equal(whole.at(blocks_of(chart, lines)), left_mm(stopped))


@pytest.mark.parametrize("chart", ["radii", "heights"])
def test_of_many_small_steps_over_a_line_the_last_counts_and_nothing_is_gone_too_early(chart: str) -> None:
    whole = kept(done(chart, 99))
    np.testing.assert_array_equal(whole.at(1e9), left_mm(done(chart, 99)))
    np.testing.assert_array_equal(whole.at(0), whole.before_mm)
    assert (np.diff(whole.blocks) >= 0).all()
    late = 0
    for lines in range(len(LINES[chart].split(";"))):
        over = whole.at(blocks_of(chart, lines)) - left_mm(done(chart, lines))
        assert over.min() >= 0
        late += int((over > 0).sum())
    assert late < 0.05 * whole.before_mm.size * len(LINES[chart].split(";"))
    assert len(whole) < 4 * np.count_nonzero(whole.before_mm > left_mm(done(chart, 99)))


@pytest.mark.parametrize("chart", ["radii", "heights"])
def test_arrays_and_compiled_loops_write_down_the_same(chart: str) -> None:
    pytest.importorskip("numba")
    one, other = (kept(done(chart, 99, carving=way)) for way in ("arrays", "compiled"))
    np.testing.assert_array_equal(one.line, other.line)
    np.testing.assert_array_equal(one.blocks, other.blocks)
    np.testing.assert_allclose(one.outer_mm, other.outer_mm, atol=1e-3)


@pytest.mark.parametrize("way", ["arrays", "compiled"])
def test_where_there_is_no_more_room_changes_count_as_one_and_the_end_is_the_same(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if way == "compiled":
        pytest.importorskip("numba")
    monkeypatch.setattr(carving, "ONE_CHANGE", 1)
    monkeypatch.setattr(carving, "MORE_CHANGES", 0)
    done.cache_clear()
    whole = done("radii", 99, carving=way)
    done.cache_clear()
    assert len(kept(whole)) == len(set(kept(whole).line.tolist()))
    np.testing.assert_array_equal(kept(whole).at(1e9), left_mm(whole))


def test_thinned_it_tells_of_fewer_lines_the_same() -> None:
    whole = kept(done("radii", 99))
    thin = whole.thinner(len(whole) // 3)
    assert len(whole) // 8 < len(thin) <= len(whole) // 3
    rows, columns = (np.flatnonzero(np.isin(*each)) for each in ((whole.rows, thin.rows), (whole.columns, thin.columns)))
    for blocks in np.linspace(0, 12, 25):
        np.testing.assert_array_equal(thin.at(blocks), whole.at(blocks)[np.ix_(rows, columns)])


def test_without_being_asked_for_none_is_kept() -> None:
    assert done("radii", 99, history=None).history is None
    np.testing.assert_array_equal(done("radii", 99, history=None).field.outer_mm, done("radii", 99).field.outer_mm)


@pytest.mark.parametrize("way", ["arrays", "compiled"])
def test_however_long_the_program_only_so_many_changes_are_kept_and_the_end_is_the_same(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if way == "compiled":
        pytest.importorskip("numba")
    monkeypatch.setattr(carving, "ONE_CHANGE", 1)
    done.cache_clear()
    many = kept(done("radii", 99, carving=way, at_once=16))
    done.cache_clear()
    monkeypatch.setattr(carving, "MOST_CHANGES", len(many) // 2)
    few = done("radii", 99, carving=way, at_once=16)
    done.cache_clear()
    assert len(kept(few)) <= len(many) // 2
    np.testing.assert_array_equal(kept(few).at(1e9), left_mm(few))
    assert (kept(few).at(6) >= many.at(6)).all()
    assert (np.diff(kept(few).blocks) >= 0).all()
