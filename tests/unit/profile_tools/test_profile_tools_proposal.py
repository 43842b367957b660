"""Proposals from a program: every setting that is claimed is the one that wrote the program, and nothing is guessed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile, bundled_folder, load_profile, resolve
from steadyrest.profile_tools import create, tour
from steadyrest.profile_tools.example import Claim, read_example
from steadyrest.profile_tools.infer_motion import radii_of
from steadyrest.profile_tools.proposal import Proposal, proposal
from steadyrest.profile_tools.settings import value_of
from steadyrest.profile_tools.trial import program_text

NAMES = sorted(folder.parent.name for folder in bundled_folder().glob("*/controller.toml"))
PARENT = load_profile("rs274ngc")


def written(profile: Profile, name: str) -> str:
    return program_text(tour()[name], replace(resolve("rs274ngc"), profile=profile))


def shown(*lines: str, name: str = "part.nc") -> Proposal:
    return proposal(("\n".join(lines) + "\n").encode(), name, PARENT)


def claimed(found: Proposal) -> dict[str, Any]:
    return {claim.key: claim.value for claim in found.claims}


def claim_of(found: Proposal, key: str) -> Claim | None:
    return next((claim for claim in found.claims if claim.key == key), None)


def disagreements(profile: Profile, text: str) -> list[str]:
    """The claims that are not what the profile says. Of an order, that which the program shows counts."""
    found = []
    for claim in proposal(text.encode(), f"part{profile.program.extension}", PARENT).claims:
        value = value_of(profile, claim.key)
        if value is None and claim.key.endswith("inch_decimals"):
            value = value_of(profile, claim.key.replace("inch_decimals", "decimals"))
        if claim.key == "words.order":
            moves = read_example(text.encode(), "x").moves
            pairs = {(a.letter, b.letter) for move in moves for a, b in pairwise(w for w in move.line.words if w.letter != "M")}
            wrong = [
                pair
                for pair in pairs
                for order in (value, claim.value)
                if pair[0] != pair[1] and order.index(pair[0]) > order.index(pair[1])
            ]
            found += [f"{claim.key}: {pair}" for pair in wrong]
        elif value != claim.value:
            found.append(f"{claim.key} is {value!r}, claimed {claim.value!r} by line {claim.line}: {claim.text}")
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_claim_about_a_bundled_profiles_programs_is_what_it_says(name: str) -> None:
    profile = load_profile(name)
    texts = {toolpath: written(profile, toolpath) for toolpath in tour()}
    texts = {toolpath: text for toolpath, text in texts.items() if not text.startswith("refused: ")}
    assert texts
    assert {} == {toolpath: wrong for toolpath, text in texts.items() if (wrong := disagreements(profile, text))}


@pytest.mark.parametrize(
    ("sets", "toolpath", "keys"),
    [
        (["numbers.length.decimals=2"], "simultaneous", ["numbers.length.decimals"]),
        (["numbers.length.decimals=5", "numbers.angle.decimals=2"], "simultaneous", ["numbers.length.decimals", "numbers.angle.decimals"]),
        (["numbers.length.trailing_zeros=true"], "still", ["numbers.length.trailing_zeros", "numbers.length.decimals"]),
        (["numbers.length.point=always"], "still", ["numbers.length.point"]),
        (
            ["numbers.length.leading_zero=false", "numbers.length.plus=true"],
            "simultaneous",
            ["numbers.length.leading_zero", "numbers.length.plus"],
        ),
        (["units.program=inch"], "simultaneous", ["numbers.length.inch_decimals", "units.inch"]),
        (["units.mm=G71", "units.inch=G70"], "still", ["units.mm"]),
        (["words.spaces=false", "codes.rapid=G00"], "indexed", ["words.spaces", "codes.rapid"]),
        (["words.repeat_motion=true", "words.repeat_feed=true"], "overlong_turn", ["words.repeat_motion"]),
        (["words.repeat_axes=XYZA"], "simultaneous", []),
        (["words.order=NGAXYZBCIJKRPQLFSTHDM"], "wrapped", ["words.order"]),
        (["words.order=NGXYZABCIJKRPQLSTHDMF"], "still", []),
        (["program.block_numbers.use=every_block", "program.block_numbers.digits=6"], "still", ["program.block_numbers.digits"]),
        (["program.line_ending=crlf", "program.comments.style=semicolon"], "still", ["program.line_ending", "program.comments.style"]),
        (["arcs.centre_is=absolute"], "indexed", ["arcs.centre_is"]),
        (["arcs.form=radius", "arcs.full_circles=false"], "still", ["arcs.form", "arcs.full_circles"]),
        (["retract.form=reference"], "indexed", ["retract.form", "retract.reference_code"]),
        (["retract.machine_z=-12.5"], "indexed", ["retract.machine_z"]),
        (["feed.linear=inverse", "cycles.drill="], "wrapped", ["feed.linear", "feed.combined"]),
        (
            ["rotary.A.clamp.use=indexing", "rotary.A.clamp.on=M64", "rotary.A.clamp.off=M65"],
            "indexed",
            ["rotary.A.clamp.on", "rotary.A.clamp.off"],
        ),
        (["coolant.flood=M7", "coolant.mist=", "stops.end=M30"], "indexed", ["stops.end"]),
    ],
)
def test_what_a_setting_changes_in_a_program_is_claimed_of_it(sets: list[str], toolpath: str, keys: list[str]) -> None:
    profile = load_profile("rs274ngc", sets)
    text = written(profile, toolpath)
    wrong = [each for each in disagreements(profile, text) if not each.startswith("coolant.")]  # M7 is mist wherever nothing says otherwise
    assert [] == wrong
    assert set(keys) <= set(claimed(proposal(text.encode(), "part.nc", PARENT)))


def test_every_claim_but_those_of_the_whole_file_names_its_line() -> None:
    text = written(PARENT, "still")
    lines = text.splitlines()
    for claim in proposal(text.encode(), "part.nc", PARENT).claims:
        assert claim.text == (lines[claim.line - 1].strip() if claim.line else "")
        assert claim.why


def test_mounting_meaning_of_f_and_travel_are_never_claimed() -> None:
    for name in NAMES:
        for toolpath in ("indexed", "wrapped", "along_y", "along_z"):
            text = written(load_profile(name), toolpath)
            if text.startswith("refused: "):
                continue
            keys = claimed(proposal(text.encode(), "part.nc", PARENT))
            never = ("chuck_faces", "positive_turns_chuck", "along", "per_minute_counts", "inverse_is", "kind", "fastest")
            assert [] == [key for key in keys if key.rsplit(".", 1)[-1] in never]


def test_what_it_cannot_know_is_said() -> None:
    unknown = " ".join(shown("G90 G0 X1", "M2").unknown)
    for words in ("how the rotary is mounted", "what F means", "the travel of the axes", "mm or inches", "how arcs are given"):
        assert words in unknown


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


def test_axes_that_are_written_although_they_stand_still_are_repeated() -> None:
    found = shown("G21 G90", "G0 X0 Y0 Z5", "G1 X0 Y1 Z1 F100", *[f"X{n} Y{n} Z1" for n in (1, 1, 1, 1)], *["X0 Y0 Z1"] * 4, "M2")
    assert "XYZ" == claimed(found)["words.repeat_axes"]


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


def test_lines_that_cannot_be_read_are_said_and_not_used() -> None:
    found = shown("G21 G90", "#100 = 5.1234", "G0 X[#100]", "M2")
    assert "what line 2 does, which could not be read: #100 = 5.1234" in found.unknown
    assert "numbers.length.point" not in claimed(found)


def test_numbered_blocks_of_operations_are_told_from_every_block() -> None:
    lines = ["N100 G90", *["G0 X1"] * 9, "N200 G0 X2", *["X3"] * 9, "M2"]
    keys = claimed(shown(*lines))
    assert ("operations", 100, 100) == tuple(keys[f"program.block_numbers.{each}"] for each in ("use", "first", "step"))


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


def test_the_proposal_is_data() -> None:
    data = shown("G21 G90", "G0 X1", "M30").as_json()
    assert {"key": "stops.end", "value": "M30", "line": 3, "text": "M30", "why": "the end of the program", "sure": True} in data["claims"]


def test_a_program_typed_by_a_person_is_read_like_a_written_one() -> None:
    found = shown(
        "%",
        "O0042 (HINGE, SECOND SIDE)",
        "N1 G90 G21 G17 G40 G49 G80",
        "N2 M6 T1",
        "N3 M3 S5000",
        "N4 G54 G0 X-10. Y5.5",
        "N5 G43 H1 Z25.",
        "N6 M8",
        "N7 Z2.",
        "N8 G1 Z-1.5 F200.",
        "N9 X50.123 F800.",
        "N10 G3 X60.123 Y15.5 R10.",
        "N11 G0 Z25.",
        "N12 G83 G98 R2. Z-12. Q3. F120. X5. Y5.",
        "N13 G80",
        "N14 M5",
        "N15 G91 G28 Z0.",
        "N16 G90",
        "N17 M30",
        "%",
    )
    expected = {
        "program.number.digits": 4,
        "program.block_numbers.use": "every_block",
        "program.safe_start": ("G17 G40 G49 G80",),
        "numbers.length.point": "always",
        "words.distance": "absolute",
        "words.repeat_motion": False,
        "arcs.form": "radius",
        "retract.form": "reference",
        "codes.work_offset": "G54",
        "cycles.peck_letter": "Q",
        "stops.end": "M30",
    }
    assert expected.items() <= claimed(found).items()
    assert not [key for key in claimed(found) if key.endswith("decimals") or "clamp" in key or key == "arcs.centre_is"]


def test_steps_on_the_way_to_the_reference_point_are_no_habit() -> None:
    assert "absolute" == claimed(shown("G90", "G0 X1", "G91 G28 Z0", "G90", "M2"))["words.distance"]
    assert "words.distance" not in claimed(shown("G90", "G0 X1", "G91", "X1", "G90", "M2"))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "has no block"),
        (b"dear reader\n", "has no block"),
        (b"G0 X1\n\xff\n", "which is not plain ASCII"),
        (b"X1 Y2\n", "has no block"),
    ],
)
def test_a_file_that_is_no_program_is_an_error(data: bytes, words: str) -> None:
    with pytest.raises(ProgramError, match=words):
        proposal(data, "part.nc", PARENT)


def test_a_program_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match=r"(?i)no such file"):
        create("shop-mill", "rs274ngc", tmp_path, example=tmp_path / "none.nc")
