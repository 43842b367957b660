"""The space that the stock sweeps, and rules of every block."""

from __future__ import annotations

from math import degrees, inf, radians
from typing import Any

import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.proof import Setting, prove, setting_of
from steadyrest.proof.safety import PART_IN, swept_space

NAN = float("nan")


def setting(axis: str = "X", **more: Any) -> Setting:
    """A bar of 40 from -100 to 0 and a tool of 6, or of 12 by number 2."""
    moves = [{"rapid": [0, 0, 50]}]
    tools = [{"number": 1, "shape": "flat", "diameter": 6}, {"number": 2, "shape": "flat", "diameter": 12}]
    part = toolpath(moves, axis=axis, tools=tools, **more)
    return setting_of(
        part, profile(rotary={"A": {"along": axis, "chuck_faces": f"+{axis}", "positive_turns_chuck": "clockwise"}}), None, None
    )


@pytest.mark.parametrize(
    ("begin", "end", "lowest"),
    [
        ((-200, 0, 10), (100, 0, 10), 10),  # through it
        ((-200, 0, 30), (100, 0, 0), 9.7),  # slanting: where it leaves it at X 3
        ((-200, 0, 30), (-50, 0, 10), 10),  # ends in it
        ((-50, 0, 10), (-50, 0, 5), 5),  # straight down in it
        ((-50, 24, 10), (-50, 24, 5), inf),  # beside it by more than the tool
        ((-50, 22, 10), (-50, 22, 5), 5),  # beside it by less
        ((4, 0, 10), (4, 10, 10), inf),  # before its end
        ((-50, 0, 20), (-60, 0, 20), inf),  # on its top
        ((-50, 0, 19), (-60, 0, 19), 19),
        ((-200, 30, 5), (30, 30, 5), inf),
        ((-50, 0, 40), (-50, 0, 15), 15),
        ((-110, 0, 10), (-104, 0, 10), inf),  # stops before it
        ((-110, 0, 10), (-102, 0, 10), 10),
    ],
)
def test_the_lowest_height_of_a_way_within_the_space(begin: Any, end: Any, lowest: float) -> None:
    found = swept_space(setting(), 1).lowest(begin, end)
    assert found == pytest.approx(lowest)


def test_a_place_that_is_not_known_may_be_over_the_stock_and_a_height_anywhere() -> None:
    space = swept_space(setting(), 1)
    assert space.lowest((NAN, NAN, 10.0), (50.0, NAN, 10.0)) == 10
    assert space.lowest((50.0, 0, NAN), (50.0, 0, 10.0)) == -inf
    assert space.lowest((50.0, 0, 10.0), (50.0, 0, NAN)) == -inf
    assert space.may_hold((NAN, NAN, NAN), 0)
    assert not space.may_hold((NAN, NAN, 21), 0)
    assert not space.may_hold((50, NAN, NAN), 0)


@pytest.mark.parametrize(
    ("tool", "place", "inside"),
    [
        (1, (2.9, 0, 0), True),
        (1, (3.1, 0, 0), False),
        (1, (-102.9, 0, 0), True),
        (1, (-103.1, 0, 0), False),
        (1, (-50, 22.9, 0), True),
        (1, (-50, -23.1, 0), False),
        (1, (-50, 0, 19.9), True),
        (1, (-50, 0, 20), False),
        (1, (-50, 0, -99), True),
        (2, (5.9, 0, 0), True),
        (2, (6.1, 0, 0), False),
        (7, (5.9, 0, 0), True),  # a tool that the toolpath does not have is as wide as the widest
        (NAN, (5.9, 0, 0), True),
    ],
)
def test_where_the_tip_may_touch_the_stock(tool: float, place: tuple[float, float, float], inside: bool) -> None:
    assert swept_space(setting(), tool).may_hold(place, 0) is inside


@pytest.mark.parametrize(
    ("axis", "place", "inside"),
    [
        ("Y", (22.9, -50, 0), True),
        ("Y", (23.1, -50, 0), False),
        ("Y", (0, 2.9, 0), True),
        ("Y", (0, 3.1, 0), False),
        ("Z", (22.9, 0, -1), True),
        ("Z", (23.1, 0, -1), False),
        ("Z", (0, 22.9, -1), True),
        ("Z", (0, -23.1, -1), False),
        ("Z", (0, 0, 1), False),
        ("Z", (0, 0, -200), True),
    ],
)
def test_about_other_axes(axis: str, place: tuple[float, float, float], inside: bool) -> None:
    assert swept_space(setting(axis), 1).may_hold(place, 0) is inside


TURN = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
INDEXED = {"intent": "indexed", "angles": [90]}
TURNED = "G0 A90\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\n"


def refused(body: str, moves: list[dict[str, Any]] = TURN, **rotary: Any) -> str:
    one = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **rotary}
    failure = proof_of(body, toolpath(moves, INDEXED), profile(rotary={"A": one})).failure
    return failure.rule if failure is not None else ""


@pytest.mark.parametrize(("least", "most", "rule"), [(0, 90, ""), (0, 89, "rotary-travel"), (-10, 100, "")])
def test_the_rotary_stays_within_its_travel_ends_included(least: float, most: float, rule: str) -> None:
    assert refused("G0 A0\n" + TURNED, travel={"kind": "limited", "from": least, "to": most}) == rule


@pytest.mark.parametrize(("height", "rule"), [(25, ""), (24.9, "turn-low")])
def test_the_rotary_turns_at_the_clear_height_and_not_lower(height: float, rule: str) -> None:
    moves = [{"rapid": [-10, 0, height]}, *TURN[1:]]
    assert refused(f"G0 A0\nX-10 Y0\nZ{height}\nA90\nZ22\nG1 Z18 F200\n", moves) == rule


def test_under_another_work_offset_nothing_moves() -> None:
    failure = proof_of("G55\n" + TURNED, toolpath(TURN, INDEXED), profile()).failure
    assert failure is not None
    assert (failure.rule, failure.place.line) == ("work-offset", 8)


def test_a_move_before_any_length_offset_is_on_is_told_so() -> None:
    text = HEAD.replace("G0 G43 H1 Z50", "G0 Z50") + "G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\n" + TAIL
    failure = prove(text.encode(), toolpath([{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}]), profile()).failure
    assert failure is not None
    assert "the tool moves before the length offset of the tool in the spindle is on" == failure.sentence


def test_a_rapid_that_rises_while_it_turns_has_been_low() -> None:
    moves = [*TURN, {"rapid": [-10, 0, 30]}]
    turned = {"intent": "indexed", "angles": [0, 90]}
    text = "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\n{}\nZ22\nG1 Z18 F200\nG0 Z30\n"
    for rise, rule in (("G0 Z30\nA90", ""), ("G0 Z24\nZ30 A90", "turn-low"), ("G0 Z30\nZ24 A90", "turn-low")):
        failure = proof_of(text.format(rise), toolpath(moves, turned), profile()).failure
        assert (failure.rule if failure is not None else "") == rule


@pytest.mark.parametrize(("roundings", "rule"), [(1.9, ""), (2.2, "rotary-speed")])
def test_only_the_rounding_of_both_ends_lengthens_a_turn_that_is_not_too_fast(roundings: float, rule: str) -> None:
    """At 300 degrees/min a degree takes 1/300 min; the words of its ends may be wrong by half their last place each."""
    half_a_place = degrees(setting_of(toolpath(TURN), profile(), None, None).rounding.angle_rad)
    limit = 300 * (1 + PART_IN)
    minutes = (1 - roundings * half_a_place) / limit
    developed = -radians(1) * 20
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, developed, -1], "feed": 19 * radians(1) / minutes}]
    text = f"G0 A0\nX-10 Y0\nZ30\nG94 G1 Z19 F200\nG93 A1 F{1 / minutes:.6f}\nG94\n"
    one = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "fastest": 300}
    failure = proof_of(text, toolpath(moves, {"intent": "wrapped", "diameter": 40}), profile(rotary={"A": one})).failure
    assert (failure.rule if failure is not None else "") == rule


@pytest.mark.parametrize(("roundings", "rule"), [(1.9, ""), (2.2, "rotary-speed")])
def test_where_f_is_the_speed_of_the_tip_the_rounding_of_both_ends_may_shorten_its_way(roundings: float, rule: str) -> None:
    """As above, the tip going round at 19 mm: its way may be wrong by as much as both ends are."""
    one = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "fastest": 300}
    machine = profile(rotary={"A": one}, feed={"per_minute_counts": "tip"})
    setting = setting_of(toolpath(TURN), machine, None, None)
    minutes = (1 - 2 * degrees(setting.rounding.angle_rad)) / (300 * (1 + PART_IN))
    feed = (19 * radians(1) + roundings * (setting.slack_mm - setting.tolerance_mm)) / minutes
    moves = [{"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, -radians(1) * 20, -1], "feed": feed}]
    text = f"G0 A0\nX-10 Y0\nZ30\nG94 G1 Z19 F200\nA1 F{feed:.6f}\n"
    failure = proof_of(text, toolpath([{"rapid": [-10, 0, 10]}, *moves], {"intent": "wrapped", "diameter": 40}), machine).failure
    assert (failure.rule if failure is not None else "") == rule
