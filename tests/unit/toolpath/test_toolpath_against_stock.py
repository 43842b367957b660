"""How cuts lie against the stock, worked by hand."""

from __future__ import annotations

import pytest

from steadyrest.toolpath import Held, RectangularStock, RoundStock, reach, together


def bar(held: Held | None = None, **more: object) -> RoundStock:
    return RoundStock.model_validate({"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": held, **more})


def test_a_slot_is_as_long_as_the_tool_is_wide_beyond_its_ends() -> None:
    """Tip from X -30 to -10 at radius 18, with a 6 mm cutter, in a bar of 40 from -90 to 0 of which 20 are in the jaws."""
    found = reach(bar(Held(at="from", length=20)), "X", (0, 0, 0), (-30, -10), (18, 25), 6)
    assert ((-33, -7), (57, 7)) == (found.cuts, found.left)
    assert (18, 20, 2) == (found.nearest, found.swept, found.depth)
    assert 37 == found.clear_of_jaws
    assert found.touches


def test_a_cut_in_the_jaws_and_one_past_the_other_end_are_negative() -> None:
    found = reach(bar(Held(at="to", length=20)), "X", (0, 0, 0), (-100, -15), (18, 18), 6)
    assert -13 == found.left[0]
    assert -8 == found.clear_of_jaws
    assert -3 == reach(bar(Held(at="from")), "X", (0, 0, 0), (-50, 0), (18, 18), 6).left[1]


@pytest.mark.parametrize(("along", "radius"), [((-30, -10), (20, 25)), ((4, 9), (18, 18)), ((-120, -94), (18, 18))])
def test_what_stays_outside_cuts_nothing(along: tuple[float, float], radius: tuple[float, float]) -> None:
    assert not reach(bar(), "X", (0, 0, 0), along, radius, 6).touches


def test_the_stock_counts_from_the_centre_and_its_offset_widens_what_it_sweeps() -> None:
    found = reach(bar(offset=(0, 3)), "X", (100, 5, 5), (60, 90), (18, 18), 0)
    assert ((10, 100), 23, 5) == (found.stock, found.swept, found.depth)
    assert (50, 10) == found.left


def test_about_z_the_tool_is_wide_across_the_axis_and_not_along_it() -> None:
    stock = RectangularStock.model_validate({"shape": "rectangular", "across": [30, 40], "from": 0, "to": 20})
    found = reach(stock, "Z", (0, 0, 0), (15, 20), (23, 30), 6)
    assert ((15, 20), 20, 25) == (found.cuts, found.nearest, found.swept)
    assert 0 == reach(stock, "Z", (0, 0, 0), (15, 20), (2, 30), 6).nearest


def test_several_are_as_wide_and_as_deep_as_the_widest_and_the_deepest() -> None:
    one, other = (reach(bar(), "X", (0, 0, 0), along, radius, 2) for along, radius in (((-30, -10), (18, 18)), ((-60, -50), (5, 19))))
    both = together([one, other])
    assert both is not None
    assert ((-61, -9), 5) == (both.cuts, both.nearest)
    assert together([]) is None
