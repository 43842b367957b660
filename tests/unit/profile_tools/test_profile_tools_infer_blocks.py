"""What an example shows of its codes, arcs, cycles, clamp, pauses and repeated words; and what has to be asked for."""

from __future__ import annotations

import pytest
from profile_tools_parts import claim_of, claimed, shown

from steadyrest.profile_tools.example import read_example
from steadyrest.profile_tools.infer_blocks import radii_of


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


@pytest.mark.parametrize(
    ("start", "arc", "expected"),
    [
        ("G0 X10 Y10", "G2 X20 Y10 I5 J0", "incremental"),
        ("G0 X30 Y10", "G2 X10 Y10 I20 J10", "absolute"),
        ("G0 X10 Y10", "G2 X20 Y10 I4 J0", None),
    ],
    ids=["a step from the start", "a position", "neither"],
)
def test_the_centre_of_an_arc_is_read_so_that_both_radii_are_equal(start: str, arc: str, expected: str | None) -> None:
    assert expected == claimed(shown("G21 G90", start, arc, "M2")).get("arcs.centre_is")


def test_an_arc_that_fits_both_readings_decides_nothing() -> None:
    found = shown("G21 G90", "G0 X0 Y0", "G2 X10 Y0 I5 J0 F100", "M2")  # from the origin a step is a position
    assert "arcs.centre_is" not in claimed(found)
    assert any("whether I, J, K count from the start" in words for words in found.unknown)


def test_radii_of_both_readings_are_the_distances_from_the_centre() -> None:
    (_, arc) = read_example(b"G90\nG0 X10 Y0\nG3 X0 Y10 I-10 J0\nM2\n", "x").moves
    assert ((10.0, 10.0), (20.0, 200.0**0.5)) == (radii_of(arc, "incremental"), radii_of(arc, "absolute"))


def test_both_kinds_of_arcs_in_one_program_are_not_claimed() -> None:
    found = shown("G21 G90", "G0 X0 Y0", "G2 X10 Y0 I5 J0 F100", "G2 X20 Y0 R5", "M2")
    assert "arcs.form" not in claimed(found)
