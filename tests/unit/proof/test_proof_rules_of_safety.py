"""Rules that a small mistake in the proof would open: plunges, short blocks, backlash, the clamp. Each right, and wrong by one thing."""

from __future__ import annotations

import pytest
from proof_parts import HEAD_OF_IT, ONTO, WRAPPED, rule_of

REST = "X-50 F600\nG0 Z30\n"


@pytest.mark.parametrize(
    ("plunge", "rule"),
    [
        ("G1 Z18 F200\n", ""),
        ("Z18\nG1 ", "rapid-plunge"),
        ("Z18.005\nG1 Z18 F200\n", "rapid-plunge"),  # as near as this it is there
        ("Z18.5\nG1 Z18 F200\n", ""),
        ("G1 Z17.9 F200\nZ18\n", "cut-elsewhere"),  # too deep, and back up again
        ("G1 Z17 F200\nG0 Z30\nG1 Z18\n", "cut-elsewhere"),
        ("G1 Z18 F201\n", "feed"),
        ("G1 X-10.1 Z25 F200\nX-10 Z18\n", "cut-elsewhere"),  # not straight down
        ("G1 A1 Z25 F200\nA0 Z18\n", "cut-elsewhere"),
        ("G1 Z35 F200\nZ18\n", "cut-elsewhere"),  # up at feed
    ],
)
def test_onto_a_cut_the_tool_comes_straight_down_at_its_feed_and_no_deeper(plunge: str, rule: str) -> None:
    assert rule == rule_of(HEAD_OF_IT + plunge + REST, ONTO)


@pytest.mark.parametrize(("times", "right"), [(1.0, True), (1.3, False)])
def test_short_blocks_that_are_each_excused_by_rounding_are_too_fast_together(times: float, right: bool) -> None:
    """Blocks of 0.02 mm in words of 0.01: each may be twice as long as it is by rounding, all together are not."""
    ends = [round(-10 - 0.02 * k, 2) for k in range(1, 401)]
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, *({"cut": [x, 0, 18], "feed": 600} for x in ends)]
    text = HEAD_OF_IT + f"G1 Z18 F200\nX{ends[0]:.2f} F{600 * times:.0f}\n" + "".join(f"X{x:.2f}\n" for x in ends[1:])
    coarse = {"length": {"decimals": 2}}
    assert ("" if right else "feed") == rule_of(text, moves, numbers=coarse)


BEHIND_THE_CUTTER = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise"}
CLAMP = {"A": {**BEHIND_THE_CUTTER, "clamp": {"use": "indexing", "on": "M10", "off": "M11"}}}


@pytest.mark.parametrize(("clamp", "rule"), [("", ""), ("M10\nM11\n", ""), ("M10\n", "clamp-on")])
def test_the_clamp_is_off_in_an_operation_that_turns_the_part_though_its_cut_goes_straight(clamp: str, rule: str) -> None:
    """Along the axis nothing turns: only the operation says that the part is not to be held."""
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-50, 0, -1], "feed": 600}]
    text = f"M11\nG0 A0\n{clamp}X-10 Y0\nZ30\nG1 Z19 F200\nX-50 F600\n"
    assert rule == rule_of(text, moves, WRAPPED, rotary=CLAMP)


@pytest.mark.parametrize("side", ["below", "above"])
@pytest.mark.parametrize(("arrives", "right"), [("below", True), ("above", False)])
def test_the_rotary_arrives_from_the_side_that_backlash_asks_for(side: str, arrives: str, right: bool) -> None:
    unwinding = {"between": "one_side", "arrive_from": side, "overshoot": 2}
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}]
    before = 43 if (arrives == "below") == (side == "below") else 47
    text = f"G0 A{before}\nA45\nX-10 Y0\nZ30\nG1 X-50 F600\n"
    rule = rule_of(text, moves, {"intent": "indexed", "angles": [45]}, rotary={"A": {**BEHIND_THE_CUTTER, "unwinding": unwinding}})
    assert ("" if right else "backlash") == rule


@pytest.mark.parametrize(
    ("third", "rule"), [("G2 X-10 Y0 I-5 J0\n", ""), ("G2 X-10 Y0 I-3 J0\n", "off-path"), ("G3 X-10 Y0 I-5 J0\n", "off-path")]
)
def test_of_circles_that_begin_at_one_place_each_is_measured_by_itself(third: str, rule: str) -> None:
    def circle(radius: int) -> dict[str, object]:
        return {"arc": [-10, 0, 18], "centre": [-10 - radius, 0, 18], "turns": "clockwise"}

    moves = [*ONTO[:1], {**circle(5), "feed": 300}, circle(3), circle(5), {"rapid": [-10, 0, 30]}]
    text = HEAD_OF_IT + "G1 Z18 F200\nG2 X-10 Y0 I-5 J0 F300\nG2 X-10 Y0 I-3 J0\n" + third + "G0 Z30\n"
    assert rule == rule_of(text, moves)


@pytest.mark.parametrize(
    ("turns", "rule"),
    [
        ("G2 X-10 Y0 Z17 I-5 J0 F300\nX-10 Y0 Z16 I-5 J0\n", ""),
        ("G2 X-10 Y0 Z16 I-5 J0 F300\n", "off-path"),
        ("G2 X-10 Y0 Z17 I-5 J0 F300\nX-10 Y0 Z16 I-4 J0\n", "off-path"),
    ],
)
def test_a_helix_of_several_turns_is_not_cut_by_fewer_though_they_end_where_it_does(turns: str, rule: str) -> None:
    helix = {"arc": [-10, 0, 16], "centre": [-15, 0, 18], "turns": "clockwise", "full_turns": 2, "feed": 300}
    text = HEAD_OF_IT + "G1 Z18 F200\n" + turns + "G0 Z30\n"
    assert rule == rule_of(text, [*ONTO[:1], helix, {"rapid": [-10, 0, 30]}])
