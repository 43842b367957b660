"""How an example writes arcs: both readings of a centre are tried, and what fits both decides nothing."""

from __future__ import annotations

import pytest
from profile_tools_parts import claimed, shown

from steadyrest.profile_tools.example import read_example
from steadyrest.profile_tools.infer_motion import radii_of


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
