"""Codes of a shop's own templates: taken on trust where the profile says so, unknown otherwise."""

from __future__ import annotations

import pytest

from steadyrest.errors import ProfileError, ProgramError
from steadyrest.profile import load_profile
from steadyrest.reading import read_program

PROGRAM = b"%\nG17 G40 G49 G80\nG21 G90 G94\nG54\nM100\nG53 G0 Z0\nM30\n%\n"


def test_a_code_taken_on_trust_does_nothing() -> None:
    profile = load_profile("rs274ngc", ['codes.trusted=["M100"]'])
    assert "program_end" == list(read_program(PROGRAM, profile))[-1].kind  # type: ignore[union-attr]


def test_any_other_code_is_unknown() -> None:
    with pytest.raises(ProgramError, match="M100"):
        list(read_program(PROGRAM, load_profile("rs274ngc")))


def test_a_code_whose_meaning_is_known_is_never_taken_on_trust() -> None:
    with pytest.raises(ProfileError, match=r"M8 is the code of coolant\.flood"):
        load_profile("rs274ngc", ['codes.trusted=["M8"]'])
