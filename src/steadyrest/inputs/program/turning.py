"""At which angles does the rotary stand while a program cuts: at 0 alone, or at one after the other, faces of the part?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.changes import TurnedAs
from steadyrest.inputs.items import Stretch
from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.motion import sigma
from steadyrest.profile import Profile
from steadyrest.reading import MotionRead
from steadyrest.reading.model import RAPID

ANGLE_DECIMALS = 9
FLAT = "flat"
"""The frame of a program's motion until it is known where it lies: ("flat", W in degrees)."""


@dataclass(slots=True)
class Turning:
    """Where the rotary stands by its word.

    w_deg   0 as long as the program has not said it
    line    the first at which it stands elsewhere than at 0; None: nowhere
    blind   the first line that cuts before the program has said where it stands; None: there is none
    """

    w_deg: float = 0.0
    known: bool = False
    line: int | None = None
    blind: int | None = None

    def stand(self, w_deg: float, line: int) -> None:
        """It stands at an angle; NaN: the program has not said where."""
        if np.isnan(w_deg):
            return
        self.w_deg, self.known = w_deg, True
        if w_deg != 0.0 and self.line is None:
            self.line = line

    def cuts(self, line: int) -> None:
        """A cut at the angle at which it stands."""
        if not self.known and self.blind is None:
            self.blind = line


def turned_rows(run: MotionRead) -> tuple[NDArray[np.bool_], int | None]:
    """Which rows (n,) end at another angle than they begin, and the first that cuts meanwhile; None: there is none.

    A first word of 0 is no motion: where the rotary stood was not known, and a program without turns begins at 0.
    """
    before, after = run.vertex_deg[:-1], run.vertex_deg[1:]
    if (after == run.start_rotary_deg).all():
        return np.zeros(len(run), dtype=np.bool_), None
    turned = (after != before) & ~(np.isnan(after) & np.isnan(before))
    really = turned & ~(np.isnan(before) & (after == 0.0))
    cutting = np.flatnonzero(really.any(axis=1) & (run.motion != RAPID))
    return turned.any(axis=1), int(cutting[0]) if len(cutting) else None


def stood_at_angles(
    stretches: Sequence[Stretch],
    turning: Turning,
    profile: Profile,
    letter: str | None,
    options: InputOptions,
    part: PartOptions,
    file: str,
) -> tuple[str, TurnedAs]:
    """Give the stretches of a program that turns the rotary between its cuts the faces on which they lie.

    letter    of the rotary of the profile that it turns
    returns   the axis of rotation, and what was made of the words

    raises    ProgramError where it is not said how the rotary is mounted, or where else the program lies
    """
    if turning.line is None or letter is None:
        raise ValueError("the program does not turn the rotary")
    place = Place(file=file, line=turning.line)
    if options.indexed is not None or options.wrap is not None:
        raise ProgramError(
            "the program turns the rotary itself, and it is said where it is cut", place=place, cure="leave out the angles or the diameter"
        )
    if options.language is None:
        raise ProgramError(
            "the program turns the rotary, and how that is mounted is not known",
            place=place,
            cure="name the profile of its machine with --language: its mounting says which face A90 is; or take the rotary words out and "
            "say where the program is cut: indexed at angles, or wrapped",
        )
    if turning.blind is not None:
        raise ProgramError(
            "a cut before the rotary's angle is stated, in a program that turns it",
            place=Place(file=file, line=turning.blind),
            cure="state the angle, such as A0, before the first cut",
        )
    rotary = next(each for name, each in profile.rotary.items() if name == letter)
    if part.axis is not None and part.axis != rotary.along:
        raise ProgramError(
            f"the rotary of {profile.name} turns about {rotary.along}, and the part is said to turn about {part.axis}",
            place=place,
            cure="name another profile, or leave the axis out",
        )
    sign = sigma(rotary)
    for stretch in stretches:
        angle = round(-sign * float(stretch.settings.frame[1]) % 360.0, ANGLE_DECIMALS) % 360.0
        stretch.settings = replace(stretch.settings, frame=("indexed", angle + 0.0))
    return rotary.along, TurnedAs(place, letter, profile.name, rotary.chuck_faces, rotary.positive_turns_chuck, -sign * 90.0 % 360.0)
