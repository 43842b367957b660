"""The turn check: a tiny program that turns the rotary a little, and what is seen then becomes the profile's two facts."""

from steadyrest.turn_check.program import TurnCheck, the_rotary, turn_check
from steadyrest.turn_check.question import Mounting, answers, face_question, mounting, mounting_in_chain, ways
from steadyrest.turn_check.storing import planned_change

__all__ = [
    "Mounting",
    "TurnCheck",
    "answers",
    "face_question",
    "mounting",
    "mounting_in_chain",
    "planned_change",
    "the_rotary",
    "turn_check",
    "ways",
]
