"""The centre of rotation from what is touched at the machine: with its uncertainty, what to repeat, and a place to remember it."""

from steadyrest.centre.circle import Circle, Runout, circle, runout, two_readings
from steadyrest.centre.estimates import Estimate, Touch, bar_diameter, faces, flip, sides, top, touched
from steadyrest.centre.remembered_places import RotaryPlace, forget, places, places_file, recalled, remember
from steadyrest.centre.touches import Centre, Coordinate, Touches, find_centre
from steadyrest.centre.usual_machine import Usual, say_once, stated_by, uncertainties, usual, usual_file
from steadyrest.centre.wording import centre_data, centre_text, place_of, place_text, recalled_data, recalled_text, remembered_text

__all__ = [
    "Centre",
    "Circle",
    "Coordinate",
    "Estimate",
    "RotaryPlace",
    "Runout",
    "Touch",
    "Touches",
    "Usual",
    "bar_diameter",
    "centre_data",
    "centre_text",
    "circle",
    "faces",
    "find_centre",
    "flip",
    "forget",
    "place_of",
    "place_text",
    "places",
    "places_file",
    "recalled",
    "recalled_data",
    "recalled_text",
    "remember",
    "remembered_text",
    "runout",
    "say_once",
    "sides",
    "stated_by",
    "top",
    "touched",
    "two_readings",
    "uncertainties",
    "usual",
    "usual_file",
]
