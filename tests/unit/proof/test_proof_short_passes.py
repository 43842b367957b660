"""Which passes are gone through together, and what each is among them."""

from __future__ import annotations

from typing import Any

import numpy as np
from proof_parts import profile, proof_of, toolpath

from steadyrest.proof import Setting, setting_of
from steadyrest.proof.intended_path import elements_of, passes
from steadyrest.proof.short_passes import ShortPasses, grouped
from steadyrest.toolpath import MoveColumns

FACE = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
ROUND = [*FACE[:2], {"arc": [-10, 0, 18], "centre": [-15, 0, 18], "turns": "clockwise", "feed": 300}]
LONG = [*FACE, *({"cut": [-50 - x / 10, 0, 18]} for x in range(40))]


def setting(*moves: list[dict[str, Any]], rotary: dict[str, Any] | None = None) -> Setting:
    """One operation for each list of moves."""
    operation = {"tool": 1, "spindle": {"rpm": 1000, "turns": "clockwise"}, "rotary": rotary or {"intent": "still"}}
    return setting_of(toolpath([], operations=[{**operation, "moves": one} for one in moves]), profile(), None, None)


def test_short_passes_go_together_and_others_by_themselves_with_all_their_moves() -> None:
    paused = [*FACE, {"dwell": 1}, {"cut": [-60, 0, 18]}, {"rapid": [-60, 0, 30]}]
    groups = list(grouped(passes(setting(FACE, ROUND, paused, LONG, FACE))))
    assert [[this.number for this, _ in group] for group, _ in groups] == [[1, 2], [3], [4], [5]]
    assert [len(columns) for _, columns in groups] == [2, 0, 0, 1]
    assert [type(item).__name__ for item in groups[1][0][0][1]] == ["MoveColumns", "Dwell", "MoveColumns"]


def test_a_pass_that_turns_the_part_goes_by_itself() -> None:
    wrapped = {"intent": "wrapped", "diameter": 40}
    assert [[], []] == [columns for _, columns in grouped(passes(setting(FACE, FACE, rotary=wrapped)))]


def test_each_pass_has_among_the_others_the_elements_that_it_has_by_itself() -> None:
    here = setting(FACE, ROUND, FACE[:2])
    ((group, columns),) = grouped(passes(here))
    short = ShortPasses([this for this, _ in group], columns, here)
    together = short._elements
    for first, (this, items) in zip(short._first.tolist(), group, strict=True):
        (run,) = items
        assert isinstance(run, MoveColumns)
        alone, at = elements_of(run, this.frame, np.full(4, np.nan), here), slice(first, first + len(run))
        assert np.isnan(together.points[first, :3]).all()
        assert alone.points[1:].tolist() == together.points[at.start + 1 : at.stop + 1].tolist()
        assert alone.kind.tolist() == together.kind[at].tolist()
        assert np.array_equal(alone.feed, together.feed[at], equal_nan=True)
        if alone.arcs is not None:
            assert together.arcs is not None
            assert np.array_equal(alone.arcs.sweep_rad, together.arcs.sweep_rad[at], equal_nan=True)
            assert np.array_equal(alone.arcs.centre_mm, together.arcs.centre_mm[at], equal_nan=True)


def test_a_hair_at_the_end_of_a_pass_is_not_cut_at_the_feed_of_the_next() -> None:
    hair = [*FACE, {"cut": [-50.015, 0, 18]}]
    common = {"tool": 1, "spindle": {"rpm": 1000, "turns": "clockwise"}, "rotary": {"intent": "still"}}
    part = toolpath(
        [], operations=[common | {"moves": hair}, common | {"moves": [{"cut": [-20, 0, 18], "feed": 900}, {"cut": [-30, 0, 18]}]}]
    )
    text = "G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-50 F600\nX-50.015 F600\nG0 Z30\nX-20\nG1 Z18 F900\nX-30\nG0 Z30\n"
    assert proof_of(text, part).proved
    failure = proof_of(text.replace("X-50.015 F600", "X-50.015 F900"), part).failure
    assert failure is not None
    assert "feed" == failure.rule
