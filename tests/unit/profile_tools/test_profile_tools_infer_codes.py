"""Which codes an example has for what: units, clamp, pauses, the safe start; and those that have to be asked for."""

from __future__ import annotations

import pytest
from profile_tools_parts import claim_of, claimed, shown


def test_units_that_change_are_not_claimed_as_one() -> None:
    assert any("mm or inches" in words for words in shown("G20 G90", "G0 X1", "G21", "G0 X2", "M2").unknown)


def test_a_clamp_needs_the_same_codes_around_every_turn() -> None:
    lines = ["G90", "M11", "G0 A0", "M10", "G1 X5 F100", "M11", "G0 A90", "M12", "M2"]
    assert not [key for key in claimed(shown(*lines)) if "clamp" in key]
    lines[7] = "M10"
    assert {"rotary.A.clamp.on": "M10", "rotary.A.clamp.off": "M11"}.items() <= claimed(shown(*lines)).items()


def test_a_pause_in_parts_of_a_unit_is_in_seconds() -> None:
    assert "seconds" == claimed(shown("G90", "G4 P0.5", "M2"))["codes.dwell_unit"]


def test_a_pause_of_many_units_is_only_likely_in_milliseconds() -> None:
    claim = claim_of(shown("G90", "G4 X500", "M2"), "codes.dwell_unit")
    assert claim is not None
    assert ("milliseconds", False) == (claim.value, claim.sure)


def test_codes_without_a_common_meaning_are_asked_for_with_their_line() -> None:
    assert "what M77 means (line 2: M77)" in shown("G90", "M77", "M2").unknown


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("G00 G17 G40 G49 G80 G90", ("G17 G40 G49 G80",)),
        ("G21 G90 G0", None),
        ("G0 X1 Y1", None),
        ("T1 M6", None),
    ],
    ids=["a rapid among the states", "nothing but what every program says", "a move at once", "a tool at once"],
)
def test_a_safe_start_keeps_its_states_and_none_is_never_an_empty_one(start: str, expected: tuple[str, ...] | None) -> None:
    found = shown(start, "G0 X1 Y1", "G1 X2 F100", "M2")
    assert expected == claimed(found).get("program.safe_start")
    assert (expected is None) == any("which block is the safe start" in words for words in found.unknown)


def test_steps_on_the_way_to_the_reference_point_are_no_habit() -> None:
    assert "absolute" == claimed(shown("G90", "G0 X1", "G91 G28 Z0", "G90", "M2"))["words.distance"]
    assert "words.distance" not in claimed(shown("G90", "G0 X1", "G91", "X1", "G90", "M2"))
