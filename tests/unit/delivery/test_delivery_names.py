"""The name under which a machine takes a program keeps the rules of its profile, or the delivery is refused with one that does."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.delivery import delivered_name
from steadyrest.delivery.names import former_name
from steadyrest.errors import OutputError
from steadyrest.profile import load_profile

WHEN = datetime(2026, 11, 24, 23, 20, 48, tzinfo=UTC)
OPEN = load_profile("rs274ngc")
STRICT = load_profile("counts-numbered")


@pytest.mark.parametrize("name", ["part.nc", "Flansch Ø40 (neu).nc", "x" * 250 + ".nc"])
def test_a_profile_without_rules_takes_every_name_with_its_ending(name: str) -> None:
    assert name == delivered_name(name, OPEN)


def test_small_letters_become_capitals_where_the_machine_wants_capitals() -> None:
    assert "PEG_12.NC" == delivered_name("peg_12.nc", STRICT)


@pytest.mark.parametrize(
    ("name", "wrong", "cure"),
    [
        ("lantern_spindle.nc", "it has 15 characters before its ending, and 8 are allowed", "--name LANTERN.NC"),
        ("peg-12.nc", "'-' is not one of the allowed characters", "--name PEG_12.NC"),
        ("büchse.nc", "'Ü' is not one of the allowed characters", "--name BUCHSE.NC"),
        ("peg.txt", "its ending is not .NC", "--name PEG.NC"),
        ("peg", "its ending is not .NC", "--name PEG.NC"),
        (".nc", "nothing before its ending", "--name NAME"),
        ("a/b.nc", "'/' is not allowed in a name", "--name A_B.NC"),
        ("a\nb.nc", "is not allowed in a name", "--name A_B.NC"),
    ],
)
def test_a_name_that_breaks_a_rule_is_refused_with_one_that_keeps_them_all(name: str, wrong: str, cure: str) -> None:
    with pytest.raises(OutputError) as caught:
        delivered_name(name, STRICT)
    assert wrong in caught.value.wrong
    assert caught.value.cure.endswith(cure)


@given(st.text(max_size=30), st.sampled_from([OPEN, STRICT]))
def test_a_name_is_taken_as_it_is_or_refused_and_the_proposed_one_is_taken(name: str, profile: object) -> None:
    assert profile in (OPEN, STRICT)
    rules = OPEN if profile == OPEN else STRICT
    try:
        said = delivered_name(name, rules)
    except OutputError as error:
        proposed = re.search(r"--name (.+)$", error.cure)
        assert proposed is not None
        assert proposed[1] == "NAME" or proposed[1] == delivered_name(proposed[1], rules)
    else:
        assert said == (name.upper() if rules.delivery.upper_case else name)


def test_a_former_version_has_the_date_and_time_in_its_name_and_no_programs_ending() -> None:
    assert "peg-20261124-232048.old" == former_name("peg.nc", WHEN, OPEN)


def test_a_former_version_has_no_name_at_a_machine_whose_rules_leave_no_room() -> None:
    assert former_name("PEG.NC", WHEN, STRICT) is None
