"""What a profile can say about the names of programs and where they go."""

from __future__ import annotations

import pytest

from steadyrest.errors import ProfileError
from steadyrest.profile import load_profile, profile_digest


def test_a_profile_that_says_nothing_of_delivery_allows_every_name() -> None:
    delivery = load_profile("rs274ngc").delivery
    assert ("", 250, "", False) == (delivery.folder, delivery.longest, delivery.characters, delivery.upper_case)


def test_where_a_program_goes_does_not_change_the_digest_that_it_was_proved_with() -> None:
    here, there = load_profile("rs274ngc"), load_profile("rs274ngc", ["delivery.folder=/mnt/mill"])
    assert profile_digest(here) == profile_digest(there)


@pytest.mark.parametrize(
    ("sets", "wrong"),
    [
        (["delivery.characters=AB/"], "'/' is not allowed in the name"),
        (["delivery.characters=A B"], "' ' is not allowed in the name"),
        (["delivery.characters=ab", "delivery.upper_case=true"], "A is not one of the allowed characters"),
        (["delivery.longest=0"], "has to be at least 1"),
    ],
    ids=["slash", "space", "capitals lacking", "no name at all"],
)
def test_rules_that_no_name_could_keep_are_refused(sets: list[str], wrong: str) -> None:
    with pytest.raises(ProfileError, match=wrong):
        load_profile("rs274ngc", sets)
