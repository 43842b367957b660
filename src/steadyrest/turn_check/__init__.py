"""The turn check: a tiny program that turns the rotary a little, and what is seen then becomes the profile's two facts."""

from steadyrest.turn_check.program import TurnCheck, the_rotary, turn_check
from steadyrest.turn_check.question import FACES, SEEN, Mounting, face_question, mounting, question, seen_with
from steadyrest.turn_check.storing import Change, planned_change, store

__all__ = [
    "FACES",
    "SEEN",
    "Change",
    "Mounting",
    "TurnCheck",
    "face_question",
    "mounting",
    "planned_change",
    "question",
    "seen_with",
    "store",
    "the_rotary",
    "turn_check",
]
