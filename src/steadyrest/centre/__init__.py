"""The centre of rotation from what is touched at the machine: with its uncertainty, what to repeat, and a place to remember it."""

from steadyrest.centre.circle import Circle, Runout, circle, runout, two_readings
from steadyrest.centre.estimate import Estimate, Touch
from steadyrest.centre.finding import Centre, Coordinate, Touches, find_centre
from steadyrest.centre.formulas import bar_diameter, faces, flip, sides, top
from steadyrest.centre.places import Place, forget, places, places_file, recalled, remember
from steadyrest.centre.settings import Usual, say_once, usual, usual_file

__all__ = [
    "Centre",
    "Circle",
    "Coordinate",
    "Estimate",
    "Place",
    "Runout",
    "Touch",
    "Touches",
    "Usual",
    "bar_diameter",
    "circle",
    "faces",
    "find_centre",
    "flip",
    "forget",
    "places",
    "places_file",
    "recalled",
    "remember",
    "runout",
    "say_once",
    "sides",
    "top",
    "two_readings",
    "usual",
    "usual_file",
]
