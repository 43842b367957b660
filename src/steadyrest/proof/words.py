"""What do the program's words and the toolpath's figures say, in the units that the program speaks?"""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees, isnan

from steadyrest.columns import Floats
from steadyrest.conventions import MM_PER_INCH
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.reading import FEED_INVERSE


def unit(setting: Setting) -> str:
    """The program's unit of length."""
    return "inch" if setting.program_scale == MM_PER_INCH else "mm"


def length(setting: Setting, mm: float) -> str:
    """A length in the program's units: `12.5 mm`."""
    return f"{_number(mm / setting.program_scale)} {unit(setting)}"


def speed(setting: Setting, mm_per_min: float) -> str:
    """A speed of the tip in the program's units: `45 inch/min`."""
    return f"{_number(mm_per_min / setting.program_scale)} {unit(setting)}/min"


def feed_word(rows: Rows, row: int, setting: Setting, mm_per_min: float) -> str:
    """The F in force at a block; where F is not the speed of the tip itself, with that speed as well: `F12.5, 35 inch/min at the tip`."""
    word = float(rows.feed_word[row])
    shown = f"F{_number(word)}"
    if rows.feed_mode[row] != FEED_INVERSE and abs(word * setting.program_scale / mm_per_min - 1) < 1e-2:
        return shown
    return f"{shown}, {speed(setting, mm_per_min)} at the tip"


def place_said(setting: Setting, position_mm: Sequence[float] | Floats) -> str:
    """Work coordinates in the program's units: `X-10 Y0 Z22 mm`."""
    numbers = (f"{axis}{_number(float(value) / setting.program_scale)}" for axis, value in zip("XYZ", position_mm, strict=True))
    return f"{' '.join(numbers)} {unit(setting)}"


def coordinate_said(setting: Setting, coordinate: int, point: Floats) -> str:
    """One coordinate of a point (4,) as a word: `Z30`, `A90`."""
    letter, value = _as_word(setting, coordinate, float(point[coordinate]))
    return f"{letter}{_number(value)}"


def axis_word(setting: Setting, coordinate: int, begin: Floats, end: Floats, goal: Floats) -> str:
    """What the word of a coordinate says and should say: `X-51; the toolpath asks for -50 mm`. Coordinate 3 is the rotary.

    begin, end, goal   (4,): X, Y, Z in work coordinates, mm, and the turn, rad; a word of steps is said as one
    """
    steps = setting.profile.words.distance == "incremental" and not isnan(float(begin[coordinate]))
    start = float(begin[coordinate]) if steps else 0.0
    said, asked = float(end[coordinate]) - start, float(goal[coordinate]) - start
    a_step = "a step of " if steps else ""
    (letter, word), (_, goal_word) = (_as_word(setting, coordinate, value, step=steps) for value in (said, asked))
    name = "degrees" if letter == setting.letter else unit(setting)
    return f"{letter}{_number(word)}; the toolpath asks for {a_step}{_number(goal_word)} {name}"


def _as_word(setting: Setting, coordinate: int, value: float, *, step: bool = False) -> tuple[str, float]:
    """The letter of a coordinate, and a number of mm or rad as its word says it."""
    if coordinate < 3:
        return "XYZ"[coordinate], value / setting.program_scale
    rotary = setting.rotary
    if rotary is None:
        return "rotary", degrees(value)
    if rotary.replaces:
        return rotary.replaces, degrees(value) * setting.sigma * rotary.mm_per_degree / setting.program_scale
    word = degrees(value) * setting.sigma
    return str(setting.letter), word % 360 if rotary.travel.kind == "rollover" and not step else word


def _number(value: float) -> str:
    """No more digits than a word has; zero without a sign."""
    return f"{round(value, 4) + 0.0:.8g}"
