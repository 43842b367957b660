"""A program from elsewhere: what it cuts is wanted, and it goes to no controller that a profile describes.

Its language is that of a profile, and beyond it what programs for mills commonly hold besides (common practice, where no standard is
named): a program number; comments of any kind; G73 as drilling that breaks the chip; the code that ends a cycle in a group of its own,
so that the motion from before holds (ISO 6983-1, table of preparatory functions, from memory); the reference point for the axes that are
named only; no stated plane, unit of F or level after a hole. What is taken for granted so is told as an event, and limits of a controller
do not count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile, says_what_is_cut

NUMBER_LETTERS = "O:"
LONGEST_LINE = 100_000
MOST_NUMBER = 10**9

ENDS_WHAT_IS_NOT_ON = ("G13.1", "G15", "G50", "G50.1", "G67", "G69", "G91.1", "G97", "G113")
"""Codes that end what a program that is taken can never have begun: polar coordinates (G13.1, G15, G113), scaling, mirroring, macros,
turned coordinates, centres of arcs as positions, constant cutting speed (common practice)."""
ENDS_BY_AXIS = ("G50", "G50.1")
"""Those of them that end it for the axes whose words stand beside them, at some controllers (common practice)."""


LONGEST_PAUSE_S = 100.0
"""Longer pauses are refused: no chip takes so long, and they may be meant in milliseconds (common practice)."""
CHIP_BREAK = "G73"
"""Drilling in steps with a short way back, where the program's language has no code for it (common practice)."""
MAY_MOVE = "ABCUVW"
"""Letters of axes at some controller (ISO 6983-1, table of addresses, from memory): they never go with a code that is left out."""
WITHOUT_IT = "have the post-processor write the program without this code"


@dataclass(frozen=True, slots=True)
class Lenient:
    """What whoever takes the program says about it.

    left_out        codes that mean nothing for what is cut, such as G9 or M41
    mm_per_unit     1 or 25.4: the unit of length until the program states one; None: it has to state it
    """

    left_out: tuple[str, ...] = ()
    mm_per_unit: float | None = None


def without_limits(profile: Profile) -> Profile:
    """The profile without what only the controller of the program has to know: the largest numbers, and how its number is spelled."""

    numbers = profile.program.block_numbers.model_copy(update={"largest": MOST_NUMBER})
    limits: dict[str, dict[str, object]] = {
        "program": {"longest_line": max(profile.program.longest_line, LONGEST_LINE), "block_numbers": numbers},
        "feed": {"largest_mm": math.inf, "largest_inch": math.inf, "largest_inverse": math.inf},
        "arcs": {"smallest_radius": 0.0, "largest_radius": math.inf},
        "tool": {"largest": MOST_NUMBER},
        "spindle": {"largest_rpm": math.inf},
    }
    return profile.model_copy(update={part: getattr(profile, part).model_copy(update=values) for part, values in limits.items()})


def check_left_out(code: str, does: str | None) -> None:
    """Refuse to leave out a code that says what is cut; ProgramError.

    does    what it does in the program's language, None where it has no meaning there
    """
    what = says_what_is_cut(code)
    if not what and does not in (None, "nothing", "left_out"):
        what = f"'{does}'" if does != "refused" else "offsets, coordinates or compensation"
    if what:
        raise ProgramError(f"{code} cannot be left out: it affects the cut ({what})", cure=WITHOUT_IT)
