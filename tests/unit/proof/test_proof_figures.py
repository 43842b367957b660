"""How far the tool reaches, arcs between their ends included."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.proof import OperationFigures, Verdict, prove
from steadyrest.proof.figures import widen_reach

ARC = [{"rapid": [-30, 0, 30]}, {"rapid": [-30, 0, 22]}, {"cut": [-30, 0, 18], "feed": 200}]


def proved(body: str, moves: list[dict[str, Any]], **options: Any) -> Verdict:
    verdict = proof_of(body, toolpath(moves, **options))
    assert verdict.proved, verdict.text()
    return verdict


def only(verdict: Verdict) -> OperationFigures:
    (one,) = verdict.operations
    return one


@pytest.mark.parametrize(
    ("word", "to", "centre", "x", "y"),
    [
        ("G3 X-40 Y10 I-10", (-40, 10), (-40, 0), (-40, -30), (0, 10)),  # a quarter, between its ends
        ("G3 X-50 Y0 I-10", (-50, 0), (-40, 0), (-50, -30), (0, 10)),  # a half, up beyond its ends
        ("G2 X-50 Y0 I-10", (-50, 0), (-40, 0), (-50, -30), (-10, 0)),
        ("G2 X-40 Y10 I-10", (-40, 10), (-40, 0), (-50, -30), (-10, 10)),  # three quarters
        ("G3 X-30 Y0 I-10", (-30, 0), (-40, 0), (-50, -30), (-10, 10)),  # a full circle
        ("G3 X-30 Y0 I10", (-30, 0), (-20, 0), (-30, -10), (-10, 10)),
        ("G3 X-30 Y0 J10", (-30, 0), (-30, 10), (-40, -20), (0, 20)),
    ],
)
def test_extents_and_reach_of_an_arc_in_xy(word: str, to: Any, centre: Any, x: Any, y: Any) -> None:
    way = "counterclockwise" if word.startswith("G3") else "clockwise"
    moves = [*ARC, {"arc": [*to, 18], "centre": [*centre, 0], "turns": way, "plane": "XY"}]
    verdict = proved(f"G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\n{word} Z18\n", moves)
    assert verdict.whole.extents["X"] == pytest.approx(x)
    assert verdict.whole.extents["Y"] == pytest.approx(y)
    assert only(verdict).reach == pytest.approx(x)


@pytest.mark.parametrize(
    ("plane", "code", "to", "centre", "words", "extents"),
    [
        ("XZ", "G18 G3", (-50, 0, 18), (-40, 0, 18), "X-50 Z18 I-10 K0", {"X": (-50, -30), "Z": (8, 50)}),
        ("XZ", "G18 G2", (-50, 0, 18), (-40, 0, 18), "X-50 Z18 I-10 K0", {"X": (-50, -30), "Z": (18, 50)}),
        ("YZ", "G19 G3", (-30, -20, 18), (-30, -10, 18), "Y-20 Z18 J-10 K0", {"X": (-30, -30), "Y": (-20, 0), "Z": (18, 50)}),
    ],
)
def test_extents_of_arcs_in_other_planes(plane: str, code: str, to: Any, centre: Any, words: str, extents: dict[str, Any]) -> None:
    way = "counterclockwise" if code.endswith("G3") else "clockwise"
    moves = [*ARC, {"arc": [*to], "centre": [*centre], "turns": way, "plane": plane}]
    verdict = proved(f"G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\n{code} {words}\n", moves)
    for axis, ends in extents.items():
        assert verdict.whole.extents[axis] == pytest.approx(ends), axis
    assert only(verdict).reach == pytest.approx(extents["X"])


def test_rapids_count_for_the_reach_only_where_they_are_low_and_the_lines_are_told() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18]}]
    verdict = proved("G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50\nG0 Z40\nX-80\nX-10\n", moves)
    assert only(verdict).reach == pytest.approx((-50, -10))
    assert only(verdict).reach_lines == (13, 11)


def test_a_slanting_rapid_counts_from_where_it_comes_below_the_clear_height() -> None:
    moves = [{"rapid": [-90, 0, 45]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
    verdict = proved("G0 A0\nX-90 Y0\nZ45\nX-10 Z22\nG1 Z18 F200\n", moves)
    reach = only(verdict).reach
    clear = 25.0  # swept radius of 20 and the clearance of 5
    assert reach is not None
    assert reach[1] == pytest.approx(-10)
    assert reach[0] == pytest.approx(-10 - 80 * (clear - 22) / (45 - 22), abs=0.1)


def test_turning_is_counted_whole_and_at_rapid_and_its_ends_are_told() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
    verdict = proof_of(
        "G0 A-30\nA180\nA90\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\n", toolpath(moves, {"intent": "indexed", "angles": [90]}), profile()
    )
    assert verdict.proved, verdict.text()
    assert verdict.whole.rotary_extent_deg == (-30, 180)
    assert (verdict.whole.turning_deg, verdict.whole.rapid_turning_deg) == pytest.approx((300, 300))
    assert verdict.whole.tools == (1,)


def test_figures_are_in_the_units_of_the_toolpath() -> None:
    moves = [{"rapid": [-1, 0, 3]}, {"rapid": [-1, 0, 1.6]}, {"cut": [-1, 0, 1], "feed": 10}]
    inch = {"units": "inch", "stock": {"shape": "round", "diameter": 3, "from": -5, "to": 0}}
    verdict = proof_of("G20\nG0 A0\nX-1 Y0\nZ3\nZ1.6\nG1 Z1 F10\n", toolpath(moves, **inch), profile(units={"program": "inch"}))
    assert verdict.proved, verdict.text()
    assert only(verdict).reach == pytest.approx((-1, -1))
    assert verdict.whole.extents["X"] == pytest.approx((-1, -1))
    assert only(verdict).radius == pytest.approx(1)
    assert verdict.tolerance == pytest.approx(0.0004)


def test_figures_of_an_inch_toolpath_are_in_inches() -> None:
    """A cut at a radius of 0.9 inch, two ten-thousandths off."""
    bar = {"shape": "round", "diameter": 2, "from": -4, "to": 0}
    part = toolpath([{"rapid": [-1, 0, 2]}, {"cut": [-1, 0, 0.9], "feed": 10}, {"cut": [-2, 0, 0.9]}], units="inch", stock=bar)
    text = HEAD.replace("G21", "G20") + "G0 A0\nX-1 Y0\nZ2\nG1 Z0.9 F10\nX-2 Y0.0002\n" + TAIL
    one = only(prove(text.encode(), part, profile()))
    assert (one.radius, one.tip_off_path) == (pytest.approx(0.9, abs=1e-6), pytest.approx(0.0002, abs=1e-6))


def test_blocks_that_are_nowhere_low_reach_nothing() -> None:
    figures = OperationFigures(1, "cut", "still", 1)
    widen_reach(figures, np.array([np.nan]), np.array([np.nan]), np.array([7]))
    assert figures.reach is None
    widen_reach(figures, np.array([2.0, np.nan]), np.array([3.0, np.nan]), np.array([8, 9]))
    assert ((2.0, 3.0), (8, 8)) == (figures.reach, figures.reach_lines)
