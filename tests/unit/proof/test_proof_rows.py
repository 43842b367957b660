"""What is known of each block: the time it takes, by its F and by the way of its tip."""

from __future__ import annotations

import math

import pytest
from proof_parts import HEAD_OF_IT, WRAPPED, profile, proof_of, rule_of, toolpath


def test_a_turn_under_the_tip_takes_the_time_of_the_way_round() -> None:
    quarter = 20 * math.pi / 2
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, -quarter, -1], "feed": 600}]
    text = HEAD_OF_IT + "G94 G1 Z19 F200\nG93 A90 F{f:.4f}\nG94\n"
    length = 19 * math.pi / 2
    assert "" == rule_of(text.format(f=600 / length), moves, WRAPPED)
    assert "feed" == rule_of(text.format(f=660 / length), moves, WRAPPED)
    assert "feed" == rule_of(text.format(f=300 / length), moves, WRAPPED)


@pytest.mark.parametrize(("seconds", "right"), [("0.1", True), ("0.4", False)])
def test_a_block_shorter_than_one_count_of_f_takes_one_count(seconds: str, right: bool) -> None:
    """A degree at radius 19 is 0.33 mm, 0.033 s at 600 mm/min: in tenths of a second F says 0.1 at the least."""
    developed = math.radians(1) * 20
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, -developed, -1], "feed": 600}]
    text = HEAD_OF_IT + f"G94 G1 Z19 F200\nG93 A1 F{seconds}\nG94\n"
    seconds_in_tenths = profile(feed={"inverse_is": "seconds"}, numbers={"inverse_feed": {"decimals": 1}})
    verdict = proof_of(text, toolpath(moves, WRAPPED), seconds_in_tenths)
    assert right == verdict.proved, verdict.text()
    assert not right or not verdict.findings, verdict.findings
