"""The turn check: a tiny program that turns the rotary a little, and what is seen then becomes the profile's two facts."""

from steadyrest.turn_check.program import TurnCheck, the_rotary, turn_check
from steadyrest.turn_check.question import Mounting, Watched, carried, face_question, mounting, watched, ways
from steadyrest.turn_check.storing import planned_change, settings_seen

__all__ = [
    "Mounting", "TurnCheck", "Watched", "carried", "face_question", "mounting", "planned_change", "settings_seen", "the_rotary",
    "turn_check", "watched", "ways",
]  # fmt: skip
