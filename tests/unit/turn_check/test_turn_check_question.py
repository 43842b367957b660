"""What is seen at the machine becomes the two facts of the mounting, and nothing else decides."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadyrest.errors import InputError
from steadyrest.motion import sigma
from steadyrest.profile import Profile, Rotary, resolve
from steadyrest.reading import sigma as sigma_by_facts
from steadyrest.turn_check import Mounting, mounting, watched
from steadyrest.turn_check.question import FACES, Stands, question

LETTER = {"X": "A", "Y": "B", "Z": "C"}


@cache
def machine(along: str, stands: str = "upright") -> Profile:
    """A machine with one rotary along that axis."""
    letter = LETTER[along]
    facts = {"along": along, "chuck_faces": f"+{along}", "positive_turns_chuck": "clockwise"}
    return resolve("rs274ngc", [f"spindle.stands={stands}", *(f"rotary.{letter}.{key}={said}" for key, said in facts.items())]).profile


def said_of(along: str, faces: str, seen: str, stands: str = "upright") -> Mounting:
    return mounting(machine(along, stands), LETTER[along], seen, faces)


def answers(along: str, stands: str = "upright") -> tuple[str, ...]:
    return watched(machine(along, stands), LETTER[along]).seen


STANDS: tuple[Stands, ...] = ("upright", "horizontal")
EVERY = [
    (stands, along, faces, seen)
    for stands in STANDS
    for along in "XYZ"
    for faces, _ in FACES[stands][along]
    for seen in answers(along, stands)
]
UPRIGHT = {"towards-me": (0, -1, 0), "away-from-me": (0, 1, 0), "to-the-right": (1, 0, 0), "to-the-left": (-1, 0, 0)}
WAY = {"upright": UPRIGHT, "horizontal": {"to-the-right": (1, 0, 0), "to-the-left": (-1, 0, 0), "up": (0, 1, 0), "down": (0, -1, 0)}}
WATCHED = {
    "upright": {"X": (0, 0, 1), "Y": (0, 0, 1), "Z": (0, -1, 0)},
    "horizontal": {"X": (0, 0, 1), "Y": (0, 0, 1), "Z": (0, 1, 0)},
}

# ISO 841 (derived from its rules 1 and 6, from memory): the letter's positive sense moves the tool right-hand round the part, so a table
# that carries the part turns it left-hand. About X the top mark goes to +Y, about Y to -X, about Z (0, 1, 0) goes to (1, 0, 0).
ISO_841_SEEN = {"X": "away-from-me", "Y": "to-the-left", "Z": "to-the-left"}


def sigma_of_the_proof(said: Mounting) -> int:
    return sigma_by_facts(said.chuck_faces, said.positive_turns_chuck)


@pytest.mark.parametrize(("stands", "along", "faces", "seen"), EVERY)
def test_turning_the_part_by_the_stored_facts_moves_the_watched_side_as_it_was_seen_to(
    stands: Stands, along: str, faces: str, seen: str
) -> None:
    said = said_of(along, faces, seen, stands)
    rotary = Rotary(along=along, chuck_faces=said.chuck_faces, positive_turns_chuck=said.positive_turns_chuck)  # type: ignore[arg-type]
    axis = np.eye(3)["XYZ".index(along)]
    small = Rotation.from_rotvec(sigma(rotary) * np.radians(1) * axis)
    moved = small.apply(WATCHED[stands][along]) - np.array(WATCHED[stands][along])
    assert moved @ np.array(WAY[stands][seen]) > 0.017
    assert sigma(rotary) == sigma_of_the_proof(said)


@pytest.mark.parametrize(("stands", "along", "faces", "seen"), EVERY)
def test_looking_at_the_face_of_the_chuck_it_turns_as_the_facts_say(stands: Stands, along: str, faces: str, seen: str) -> None:
    said = said_of(along, faces, seen, stands)
    # Whoever looks at the face looks against the direction in which it faces; counterclockwise there is right-hand about it.
    towards_eye = np.eye(3)["XYZ".index(along)] * (1 if faces[0] == "+" else -1)
    from_side_to_way = np.cross(WATCHED[stands][along], WAY[stands][seen])
    assert (said.positive_turns_chuck == "counterclockwise") == bool(from_side_to_way @ towards_eye > 0)


@pytest.mark.parametrize("along", "XYZ")
def test_the_iso_841_answer_with_the_chuck_facing_plus_is_clockwise(along: str) -> None:
    assert Mounting(f"+{along}", "clockwise") == said_of(along, f"+{along}", ISO_841_SEEN[along])  # type: ignore[arg-type]


@pytest.mark.parametrize("along", "XYZ")
def test_the_iso_841_answer_is_left_hand_whichever_way_the_chuck_faces(along: str) -> None:
    assert [-1, -1] == [sigma_of_the_proof(said_of(along, faces, ISO_841_SEEN[along])) for faces, _ in FACES["upright"][along]]


@pytest.mark.parametrize(("stands", "along", "faces", "seen"), EVERY)
def test_what_the_facts_say_will_be_seen_is_what_was_seen(stands: Stands, along: str, faces: str, seen: str) -> None:
    assert seen == answers(along, stands)[0 if sigma_of_the_proof(said_of(along, faces, seen, stands)) == 1 else 1]


def test_the_operator_in_front_of_a_rotary_along_x_sees_the_top_come_when_the_part_turns_right_hand() -> None:
    assert 1 == sigma_of_the_proof(said_of("X", "+X", "towards-me"))


@pytest.mark.parametrize(
    ("along", "faces", "seen", "wrong"),
    [
        ("X", "+Y", "towards-me", "A, which is along X, cannot face"),
        ("X", "+X", "to-the-left", "when A turns about X on a machine with upright spindle, .* cannot go"),
        ("Y", "+Y", "towards-me", "when B turns about Y"),
        ("Z", "+X", "to-the-left", "C, which is along Z, cannot face"),
    ],
)
def test_an_answer_that_this_rotary_cannot_give_is_refused(along: str, faces: str, seen: str, wrong: str) -> None:
    with pytest.raises(InputError, match=wrong):
        said_of(along, faces, seen)


@pytest.mark.parametrize("stands", STANDS)
@pytest.mark.parametrize("along", "XYZ")
def test_the_question_names_both_answers_and_both_directions_of_the_chuck(along: str, stands: Stands) -> None:
    text = question(machine(along, stands), LETTER[along])
    assert [] == [each for each in (*answers(along, stands), *(faces for faces, _ in FACES[stands][along])) if f"{each}:" not in text]
