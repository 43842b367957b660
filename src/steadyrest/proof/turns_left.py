"""Does the program leave the rotary turns away from where it began, so that the next part begins with unwinding?"""

from __future__ import annotations

from math import isnan

from steadyrest.findings import Finding
from steadyrest.proof.cursor import Totals
from steadyrest.proof.setting import Setting

MANY_TURNS = 2
"""From so many whole turns on it is told: one more or less is every day's work (common practice)."""


def turns_left(totals: Totals, setting: Setting, line: int) -> Finding | None:
    """A finding, or None: a rotary that rolls over has nothing to unwind."""
    rotary, way = setting.rotary, totals.last_deg - totals.first_deg
    if rotary is None or rotary.travel.kind == "rollover" or isnan(way) or abs(way) < 360.0 * MANY_TURNS - 0.5:
        return None
    sentence = (
        f"the rotary ends at {totals.last_deg:.10g} degrees, {round(abs(way) / 360.0, 1):.10g} turns from {totals.first_deg:.10g}, "
        "where the program begins: the next part begins with unwinding them at rapid"
    )
    if rotary.unwinding.at_end != "zero":
        sentence += f'; rotary.{setting.letter}.unwinding.at_end = "zero" turns back at the end of the program instead'
    return Finding("turns-left", "look", sentence, line)
