"""Which rotaries of a profile are meant, and what a profile can say about the names of programs and where they go."""

from __future__ import annotations

import pytest
from profile_parts import MakeProfile

from steadyrest.errors import ProfileError
from steadyrest.profile import Profile, load_profile, profile_digest, rotaries_of, rotaries_text

SECOND = 'extends = "rs274ngc"\n[rotary.B]\nalong = "Y"\nchuck_faces = "+Y"\npositive_turns_chuck = "clockwise"\n'


@pytest.fixture
def two(make_profile: MakeProfile) -> Profile:
    return load_profile(make_profile("two", SECOND))


@pytest.mark.parametrize(("axis", "letters"), [("X", ["A"]), ("Y", ["B"]), ("Z", []), (None, ["A", "B"])])
def test_those_along_the_axis_are_meant_and_all_where_it_is_not_known(two: Profile, axis: str | None, letters: list[str]) -> None:
    meant = rotaries_of(two, axis)
    assert list(meant) == letters
    assert all(meant[letter] is two.rotary[letter] for letter in meant)


@pytest.mark.parametrize("axis", ["Y", None])
def test_the_one_that_is_named_is_meant_alone(two: Profile, axis: str | None) -> None:
    assert list(rotaries_of(two, axis, "B")) == ["B"]


def test_a_letter_that_the_profile_lacks_is_refused_with_those_that_it_has(two: Profile) -> None:
    with pytest.raises(ProfileError, match="has no rotary C") as caught:
        rotaries_of(two, letter="C")
    assert caught.value.cure == "it has A along X, B along Y"


def test_a_letter_along_another_axis_is_refused(two: Profile) -> None:
    with pytest.raises(ProfileError, match="rotary A turns about X, but the toolpath's axis of rotation is Y"):
        rotaries_of(two, "Y", "A")


def test_a_profile_without_a_rotary_means_none() -> None:
    none = load_profile("plain-lines").model_copy(update={"rotary": {}})
    assert rotaries_of(none, "X") == {}
    assert rotaries_text(none) == "none"


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
