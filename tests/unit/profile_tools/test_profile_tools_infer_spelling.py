"""How an example spells its words and numbers: what is seen of it, and what it cannot show."""

from __future__ import annotations

from profile_tools_parts import claim_of, claimed, shown


def test_a_few_round_numbers_do_not_show_how_many_decimals_there_are() -> None:
    found = shown("G21 G90", "G0 X1.5 Y2.25", "G1 X12.75 Y0.5 F100", "X3.125", "M2")
    assert claim_of(found, "numbers.length.decimals") is None
    assert "how many decimals the numbers of kind length have: at least 3 are shown" in found.unknown


def test_computed_numbers_show_how_many_decimals_there_are() -> None:
    found = shown("G21 G90", "G1 X1.234 Y2.347 F100", "X3.451 Y4.569", "X5.672 Y6.783", "M2")
    assert 3 == claimed(found)["numbers.length.decimals"]


def test_decimals_are_not_claimed_where_the_units_are_not_known() -> None:
    found = shown("G90", "G1 X1.234 Y2.347 F100", "X3.451 Y4.569", "X5.672 Y6.783", "M2")
    assert not [key for key in claimed(found) if key.endswith("decimals")]


def test_whole_numbers_beyond_any_machine_are_only_likely_to_be_counts() -> None:
    claim = claim_of(shown("G21 G90", "G0 X10000 Y0", "G1 X-12500 Y4330 F3000", "M2"), "numbers.length.point")
    assert claim is not None
    assert ("counts", False) == (claim.value, claim.sure)


def test_small_whole_numbers_show_nothing_of_points() -> None:
    assert claim_of(shown("G21 G90", "G0 X10 Y0", "G1 X-12 Y4 F300", "M2"), "numbers.length.point") is None


def test_axes_that_are_written_although_they_stand_still_are_repeated() -> None:
    found = shown("G21 G90", "G0 X0 Y0 Z5", "G1 X0 Y1 Z1 F100", *[f"X{n} Y{n} Z1" for n in (1, 1, 1, 1)], *["X0 Y0 Z1"] * 4, "M2")
    assert "XYZ" == claimed(found)["words.repeat_axes"]


def test_numbered_blocks_of_operations_are_told_from_every_block() -> None:
    lines = ["N100 G90", *["G0 X1"] * 9, "N200 G0 X2", *["X3"] * 9, "M2"]
    keys = claimed(shown(*lines))
    assert ("operations", 100, 100) == tuple(keys[f"program.block_numbers.{each}"] for each in ("use", "first", "step"))


def test_digits_of_tools_and_of_their_offsets_are_seen() -> None:
    found = claimed(shown("G90", "T03 M06", "G43 H003 Z5", "T12 M06", "G43 H012 Z5", "M2"))
    assert (2, 3) == (found["tool.digits"], found["tool.offset_digits"])
    assert (1, 1) == tuple(claimed(shown("T3 M6", "G43 H3 Z5", "M2"))[f"tool.{key}"] for key in ("digits", "offset_digits"))
    assert "tool.digits" not in claimed(shown("T12 M6", "T30 M6", "M2"))  # two digits each by themselves
    assert "tool.digits" not in claimed(shown("T03 M6", "T4 M6", "M2"))  # both ways


def test_codes_that_an_example_of_two_digits_does_not_show_get_two_as_well() -> None:
    found = claimed(shown("G90", "G00 X1 Y1", "G01 X2 F100", "G02 X3 Y1 I0.5 J0", "M02"))
    assert {"codes.arc_counterclockwise": "G03", "spindle.stop": "M05", "coolant.off": "M09"}.items() <= found.items()
    assert "coolant.through" not in found  # the parent has no code for it


def test_codes_of_both_spellings_are_taken_as_they_stand_and_said() -> None:
    found = shown("G90", "G00 X1 Y1", "G01 X2 F100", "G02 X3 Y1 I0.5 J0", "G3 X4 I0.5 J0", "M02")
    assert ("G02", "G3") == tuple(claimed(found)[f"codes.arc_{way}"] for way in ("clockwise", "counterclockwise"))
    assert "spindle.stop" not in claimed(found)
    assert any("whether codes below 10 have two digits: both G00 and G3 are used" in words for words in found.unknown)


def test_points_of_lengths_alone_say_nothing_of_angles() -> None:
    assert any("whether an angle needs a decimal point" in words for words in shown("G90", "G0 X1. Y2.", "M2").unknown)
    assert not any("whether an angle needs" in words for words in shown("G90", "G0 X1. A90.", "M2").unknown)


def test_words_in_two_orders_show_none() -> None:
    assert "words.order" not in claimed(shown("G90", "G1 Y1 X2 F100", "X1 Y2", "M2"))
