"""The ball that the stock may take up, seen from the part: over it along the tool axis, beside it, or in it."""

from __future__ import annotations

from math import inf, nan, pi

import pytest

from chain_programs import C_ON_A, GAUGE, TWO_IN_HEAD, machine, planes
from steadyrest.proof.setting import setting_of
from steadyrest.proof.swept_ball import SweptBall, swept_ball

BALL = 44.7213595


def ball(chain: dict = C_ON_A) -> SweptBall:
    """The stock is 40 high and 40 across, so its farthest point is 44.72 from the centre, 1 2 3; the tool is 6 across."""
    return swept_ball(setting_of(planes(), machine(chain), None, None, GAUGE), 1)


def test_the_ball_reaches_as_far_as_the_stock_and_beside_it_as_far_as_the_tool_as_well() -> None:
    assert (ball().radius_mm, ball().aside_mm) == pytest.approx((BALL, BALL + 3))


def test_a_way_is_as_low_as_its_lowest_place_over_the_ball() -> None:
    over = ball()
    assert over.lowest((1, 2, 60, 0, 0), (1, 2, 60, 0, 0)) == pytest.approx(57)
    assert over.lowest((1, 2, 60, 0, 0), (1, 2, 13, 0, 0)) == pytest.approx(10)
    assert over.lowest((101, 2, -50, 0, 0), (101, 200, -50, 0, 0)) == inf  # beside it
    assert over.lowest((101, 2, 13, 0, 0), (-99, 2, 13, 0, 0)) == pytest.approx(10)  # right through
    assert over.lowest((301, 2, 13, 0, 0), (101, 2, 13, 0, 0)) == inf  # towards it, and not so far
    assert over.lowest((101, 2, 60, 0, 0), (101, 2, -50, 0, 0)) == inf  # straight down beside it
    entered = over.lowest((101, 2, 3, 0, 0), (1, 2, 103, 0, 0))
    assert entered == pytest.approx(100 - (BALL + 3))  # it rises as it comes in


def test_it_lies_where_the_rotaries_have_brought_it() -> None:
    """A by a quarter, about a line 48 over the centre and 0.12 behind it: the centre comes to lie in front of that line, at its height."""
    y, z = 2 + 0.12 + 48, 3 + 48 + 0.12
    for at_y in (y, 2 * 2.12 - y):
        here = ball().lowest((1, at_y, z, 0, pi / 2), (1, at_y, z, 0, pi / 2))
        assert here == inf or here == pytest.approx(0, abs=1e-9)
    assert sorted((y, 2 * 2.12 - y)) == pytest.approx([-45.88, 50.12])


@pytest.mark.parametrize("chain", [C_ON_A, TWO_IN_HEAD], ids=["table", "head"])
def test_what_is_not_known_may_be_anywhere_unless_it_is_higher_than_the_stock_can_ever_come(chain: dict) -> None:
    over = ball(chain)
    assert over.may_hold((nan, nan, nan, nan, nan), 0.01)
    assert over.may_hold((nan, nan, 40, nan, nan), 0.01)
    assert not over.may_hold((nan, nan, 250, nan, nan), 0.01)
    assert over.lowest((nan, nan, nan, nan, nan), (nan, nan, 250, nan, nan)) == inf
    assert over.lowest((nan, nan, nan, nan, nan), (nan, nan, 40, nan, nan)) == -inf


def test_a_place_just_over_the_ball_is_clear_of_it() -> None:
    assert not ball().may_hold((1, 2, 3 + BALL + 0.001, 0, 0), 0.0)
    assert ball().may_hold((1, 2, 3 + BALL - 0.001, 0, 0), 0.0)
