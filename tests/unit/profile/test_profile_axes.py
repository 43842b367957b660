"""What the axes of a profile cannot be by themselves: mounting, travel, clamp, replaced axes. One line a rule."""

from __future__ import annotations

import pytest
from profile_parts import Refusal

RULES = {
    "a chuck faces along its axis": ('rotary.A.chuck_faces = "+Y"', "rotary.A.chuck_faces", "along X cannot have a chuck that faces +Y"),
    "a travel begins before it ends": (
        'rotary.A.travel = {kind = "limited", from = 90, to = 90}',
        "rotary.A.travel.from",
        "90 to 90 degrees is no travel that includes 0",
    ),
    "a travel at zero is none": (
        'rotary.A.travel = {kind = "limited", from = 0, to = 0}',
        "rotary.A.travel.from",
        "0 to 0 degrees is no travel",
    ),
    "a travel holds zero": (
        'rotary.A.travel = {kind = "limited", from = 5, to = 300}',
        "rotary.A.travel.from",
        "5 to 300 degrees is no travel that includes 0",
    ),
    "a replaced axis needs its ratio": ('rotary.A.replaces = "Y"', "rotary.A.mm_per_degree", "are given together or not at all"),
    "a ratio needs a replaced axis": ("rotary.A.mm_per_degree = 0.1", "rotary.A.mm_per_degree", "are given together or not at all"),
    "the axis along the part cannot be replaced": (
        'rotary.A.replaces = "X"\nrotary.A.mm_per_degree = 1',
        "rotary.A.replaces",
        "X is needed along the part",
    ),
    "the spindle's axis cannot be replaced": (
        'rotary.A.replaces = "Z"\nrotary.A.mm_per_degree = 1',
        "rotary.A.replaces",
        "Z is the spindle's axis",
    ),
    "a replaced axis does not roll over": (
        'rotary.A.replaces = "Y"\nrotary.A.mm_per_degree = 1\nrotary.A.travel.kind = "rollover"',
        "rotary.A.travel.kind",
        "does not roll over",
    ),
    "fixed steps never turn while cutting": ("rotary.A.steps = 5", "rotary.A.turns_while_cutting", "cannot turn while cutting"),
    "fixed steps divide the circle": (
        "rotary.A.steps = 7\nrotary.A.turns_while_cutting = false",
        "rotary.A.steps",
        "not a whole number of steps of 7",
    ),
    "a full circle has no radius form": ('arcs.form = "radius"', "arcs.full_circles", "has no centre"),
    "a full circle is one sweep": ("arcs.largest_sweep = 180", "arcs.full_circles", "wider than the largest sweep of 180"),
    "arcs lie in some plane": ("arcs.planes = []", "arcs.planes", "no plane is given"),
    "a plane is named once": ('arcs.planes = ["XY", "XY"]', "arcs.planes", "named twice"),
    "radii have room": ("arcs.smallest_radius = 5\narcs.largest_radius = 5", "arcs.smallest_radius", "not below the largest"),
}


@pytest.mark.parametrize(("text", "key", "sentence"), RULES.values(), ids=RULES.keys())
def test_what_is_impossible_by_itself_is_refused_by_name(refusal: Refusal, text: str, key: str, sentence: str) -> None:
    error = refusal(text)
    assert key == error.place.key
    assert sentence in error.wrong
