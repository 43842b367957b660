"""What codes and letters mean in the language of a profile."""

from __future__ import annotations

import pytest
from reading_parts import Reading, read, told

from steadyrest.errors import ProfileError, ProgramError
from steadyrest.profile import Rotary, load_profile
from steadyrest.reading import Lenient, read_program

PROGRAM = b"%\nG17 G40 G49 G80\nG21 G90 G94\nG54\nM100\nG53 G0 Z0\nM30\n%\n"


def test_codes_of_the_safe_start_that_say_nothing_about_the_cut_are_taken_on_trust() -> None:
    assert [] == told("M48\nM49\nG40")
    assert [("path_mode", None, "G61"), ("path_mode", None, "G64")] == told("G61\nG0 X1\nG64")
    assert [] == told("G69", "rs274ngc", 'program.safe_start=["G17 G69"]')


def test_two_rotaries_need_to_be_told_apart() -> None:
    one = load_profile("rs274ngc")
    two = one.model_copy(update={"rotary": {**one.rotary, "B": Rotary(along="Y", chuck_faces="+Y", positive_turns_chuck="clockwise")}})
    with pytest.raises(ProfileError, match="several rotaries, A, B"):
        read("%\nM2\n%", two)
    assert [5.0] == read("%\nG21 G90\nG0 B5\nM2\n%", two, rotary_letter="B").angles


def test_a_code_taken_on_trust_does_nothing() -> None:
    profile = load_profile("rs274ngc", ['codes.trusted=["M100"]'])
    assert "program_end" == list(read_program(PROGRAM, profile))[-1].kind  # type: ignore[union-attr]


def test_any_other_code_is_unknown() -> None:
    with pytest.raises(ProgramError, match="M100"):
        list(read_program(PROGRAM, load_profile("rs274ngc")))


def test_a_code_whose_meaning_is_known_is_never_taken_on_trust() -> None:
    with pytest.raises(ProfileError, match=r"M8 is the code of coolant\.flood"):
        load_profile("rs274ngc", ['codes.trusted=["M8"]'])


MODES = "G17 G21 G90 G94\n"


def elsewhere(text: str, *left_out: str, mm_per_unit: float | None = None) -> Reading:
    return read(text + "\nM30\n", lenient=Lenient(left_out, mm_per_unit))


def assumed(got: Reading) -> list[str]:
    return [event.text for event in got.of("assumed")]


def test_what_the_program_does_not_state_is_taken_for_granted_and_told() -> None:
    got = elsewhere("G90 G0 X0 Y0 Z0\nG2 X2 Y0 I1 J0 F50", mm_per_unit=25.4)
    expected = ["lengths in inches as given (no unit in the program)", "arcs in the XY plane (no plane in the program)"]
    assert [*expected, "F per minute (no feed mode in the program)"] == assumed(got)
    assert (50.8, 0.0, 0.0) == got.ends[-1][:3]


def test_holes_without_a_plane_are_assumed_to_be_along_z_and_told() -> None:
    got = elsewhere("G21 G90 G94\nG0 X0 Y0 Z10\nG81 X1 Y1 Z-3 R2 F50")
    assert "holes along Z (no plane in the program)" in assumed(got)
    assert ["drill"] == [event.text for event in got.of("cycle")]


def test_a_centre_without_an_end_is_a_full_circle() -> None:
    got = elsewhere(MODES + "G0 X2 Y0 Z0\nG3 I-2 F50")
    assert ["an arc with a centre but no end point is a full circle"] == assumed(got)
    assert got.runs[-1].arcs is not None
    assert [1] == got.runs[-1].arcs.full_turns.tolist()


@pytest.mark.parametrize("code", ["G41", "G92", "G68", "G1", "M3", "G20"])
def test_a_code_that_says_what_is_cut_is_never_left_out(code: str) -> None:
    with pytest.raises(ProgramError, match=f"{code} cannot be left out"):
        elsewhere(MODES + "G0 X1", code)


def test_a_code_left_out_takes_its_words_with_it_but_no_place() -> None:
    got = elsewhere(MODES + "G187 P3\nG0 X1", "G187")
    assert ["G187"] == [event.text for event in got.of("left_out")]
    with pytest.raises(ProgramError, match="whether the tool goes there is not known"):
        elsewhere(MODES + "G0 X1\nG187 X3", "G187")


def test_an_unknown_code_is_refused_with_the_way_to_leave_it_out() -> None:
    with pytest.raises(ProgramError, match="G187 has no meaning in the language") as refused:
        elsewhere(MODES + "G187")
    assert "--leave-out G187" in refused.value.cure


def test_an_end_of_a_mode_beside_a_place_is_refused() -> None:
    with pytest.raises(ProgramError, match="which ends a mode"):
        elsewhere(MODES + "G0 X1\nG69 X2")


def test_the_end_of_a_cycle_leaves_the_motion_from_before() -> None:
    got = elsewhere(MODES + "G98\nG0 X0 Y0 Z9\nG81 X1 Y1 Z-1 R2 F50\nG80\nX5")
    assert (5.0, 1.0, 9.0) == got.ends[-1][:3]


def test_a_long_pause_is_refused_for_it_may_be_in_milliseconds() -> None:
    with pytest.raises(ProgramError, match="a pause of 500 seconds"):
        elsewhere(MODES + "G4 P500")


def test_text_after_the_second_mark_is_not_read_and_comments_hold_anything() -> None:
    got = elsewhere("%NAME\nO77 (É)\n" + MODES + "G0 X1 ; (((")
    assert ["(((", "É"] == sorted(event.text.strip() for event in got.of("comment"))
    assert [77.0] == [event.number for event in got.of("program_start")[1:]]


@pytest.mark.parametrize("kind", ["length", "angle", "feed"])
def test_a_number_without_a_point_counts_least_increments_where_its_kind_is_counted(kind: str) -> None:
    """One kind alone may be counted, and then a point matters in its words: X1000 is less than a metre where lengths are counted."""
    counted = load_profile("rs274ngc", [f"numbers.{kind}.point=counts"])
    found = read("%\nG17 G40 G49 G80\nG21 G90 G94 G61\nG54\nG0 X1000 A1000\nG1 Y2. F1000\nM2\n%", counted)
    x, *_, angle = found.ends[-1]
    counted_kinds = [value < 1000.0 for value in (x, angle, found.column("feed_word")[-1])]
    assert counted_kinds == [kind == one for one in ("length", "angle", "feed")]
