"""What do the program's words and the toolpath's figures say, in the units that the program speaks?"""

from __future__ import annotations

from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import MM_PER_INCH, Setting
from steadyrest.reading.model import FEED_INVERSE


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


def _number(value: float) -> str:
    """No more digits than a word has; zero without a sign."""
    return f"{round(value, 5) + 0.0:.7g}"
