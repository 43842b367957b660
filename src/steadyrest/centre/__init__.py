"""The centre of rotation from what is touched at the machine: with its uncertainty, what to repeat, and a place to remember it."""

from steadyrest.centre.ball import BallTouches, FoundLine, find_line, line_data, line_setting, line_text
from steadyrest.centre.of_job import balls_kept, mounted_part, touches_kept
from steadyrest.centre.offsets import WorkOffset, work_offsets
from steadyrest.centre.touches import COVERAGE, Centre, Touches, find_centre
from steadyrest.centre.user_files import (
    RotaryPlace,
    forget,
    places,
    places_file,
    recalled,
    remember,
    say_once,
    stated_by,
    uncertainties,
    usual,
    usual_file,
)
from steadyrest.centre.wording import centre_data, centre_text, place_of, place_text, recalled_data, recalled_text, remembered_text

__all__ = [
    "COVERAGE", "BallTouches", "Centre", "FoundLine", "RotaryPlace", "Touches", "WorkOffset", "balls_kept", "centre_data", "centre_text",
    "find_centre", "find_line", "forget", "line_data", "line_setting", "line_text", "mounted_part", "place_of", "place_text", "places",
    "places_file", "recalled", "recalled_data", "recalled_text", "remember", "remembered_text", "say_once", "stated_by", "touches_kept",
    "uncertainties", "usual", "usual_file", "work_offsets",
]  # fmt: skip
