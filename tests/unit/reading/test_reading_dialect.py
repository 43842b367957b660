"""What codes and letters mean in the language of a profile."""

from __future__ import annotations

import pytest
from reading_parts import read, told

from steadyrest.errors import ProfileError, ProgramError
from steadyrest.profile import Rotary, load_profile
from steadyrest.reading import read_program

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
