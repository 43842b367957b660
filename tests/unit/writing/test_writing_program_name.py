"""The program's identification after the start mark."""

from __future__ import annotations

import pytest

from steadyrest.errors import ProfileError
from steadyrest.profile import Program, load_profile
from steadyrest.writing.events import program_name


def test_name_is_written_in_capitals_digits_and_hyphens() -> None:
    # ISO 6983-1, 3.6 (1982): the identification follows the program start directly
    assert "LANTERN-SPIN" == program_name(Program(name_letters=12), "lantern spindle, 2nd")


def test_name_that_holds_a_program_stays_a_name() -> None:
    assert "X-G0-Z-99" == program_name(Program(name_letters=20), "x) G0 Z-99 (\nM3")[:9]
    assert "\n" not in program_name(Program(name_letters=20), "x\nM3 S9000")


def test_no_name_is_written_unless_asked_for() -> None:
    assert "" == program_name(Program(), "lantern spindle")


def test_a_name_needs_a_mark_to_stand_after() -> None:
    with pytest.raises(ProfileError, match="the name stands after the start mark, and there is none"):
        load_profile("rs274ngc", ["program.name_letters=8", 'program.start_mark=""'])
