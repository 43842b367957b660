"""What is fixed for a whole plan: the rotary, its sign and centre, the program's units, the clear height."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import Place, PlanError
from steadyrest.motion.end_for_end import check_start_position, end_for_end, held_at_the_other_end
from steadyrest.motion.frames import sigma
from steadyrest.notices import EndForEnd, Notice
from steadyrest.profile import Profile, Rotary, rotaries_of, rotaries_text
from steadyrest.profile.base import RotaryLetter
from steadyrest.toolpath import BEYOND, Toolpath
from steadyrest.toolpath.model import Operation

MM_PER_INCH = 25.4
DEFAULT_TOLERANCE_MM = 0.01
LEAST_TOLERANCE = 1e-6
"""File units: below it rounding is coarser than what is asked."""


@dataclass(frozen=True, slots=True)
class Setup:
    """What is fixed for a whole plan. Lengths are in the units of the program, in work coordinates.

    toolpath     as it stands on the machine: turned end for end where the chuck stands at the other end of the stock
    end_for_end  whether it is
    letter       the rotary's letter in the profile, None for plain three-axis work on a machine without one
    sign         sigma of the mounting: phi = sign * W
    axis         0, 1, 2: the axis of rotation runs along + of X, Y, Z
    centre       (3,) a point on the axis of rotation
    scale        program units per toolpath unit
    mm           program units per millimetre
    clear        height Z at which the rotary may turn at rapid; None where no height is enough (nothing known of the stock's top)
    tolerance    how far the tip may leave its path by subdivision
    notices      what was changed on the way; the only thing here that grows while a plan is carried out
    """

    toolpath: Toolpath
    end_for_end: bool
    profile: Profile
    letter: RotaryLetter | None
    rotary: Rotary | None
    sign: int
    axis: int
    centre: Floats
    inch: bool
    scale: float
    mm: float
    clear: float | None
    tolerance: float
    notices: list[Notice] = field(default_factory=list)

    def place(self, operation: int, move: int | None = None) -> Place:
        """The place of an operation, or of a move in it, in the toolpath."""
        name = self.toolpath.operations[operation - 1].name
        return Place(file=self.toolpath.file, operation=operation, operation_name=name, move=move or None)

    def operation(self, number: int) -> Operation:
        """The operation of that number, from 1."""
        return self.toolpath.operations[number - 1]


def set_up(toolpath: Toolpath, profile: Profile, *, tolerance: float | None = None) -> Setup:
    """Everything that is fixed for a plan of this toolpath on this controller.

    tolerance    file units, part frame; 0.01 mm unless given
    raises       PlanError where units, rotary or clear height do not go together
    """
    inch = _program_in_inches(toolpath, profile)
    scale = {("mm", True): 1 / MM_PER_INCH, ("inch", False): MM_PER_INCH}.get((toolpath.units, inch), 1.0)
    mm = 1 / MM_PER_INCH if inch else 1.0
    letter = rotary_letter(toolpath, profile)
    rotary = profile.rotary[letter] if letter else None
    if tolerance is not None and not LEAST_TOLERANCE <= tolerance < BEYOND:
        wrong = "is not more than 0" if not tolerance > 0 else f"is not from {LEAST_TOLERANCE:g} to {BEYOND:g}"
        raise PlanError(f"the tolerance {tolerance:g} {wrong}", cure="give a tolerance such as 0.01")
    notices: list[Notice] = []
    turned = held_at_the_other_end(toolpath, rotary)
    if turned:
        toolpath = end_for_end(toolpath)
        notices.append(EndForEnd(Place(key="stock, held"), profile.rotary[letter].chuck_faces if letter else ""))
    check_start_position(toolpath, profile)
    return Setup(
        toolpath=toolpath,
        end_for_end=turned,
        profile=profile,
        letter=letter,
        rotary=rotary,
        sign=sigma(rotary) if rotary else 1,
        axis="XYZ".index(toolpath.axis),
        centre=np.array(toolpath.centre, dtype=np.float64) * scale,
        inch=inch,
        scale=scale,
        mm=mm,
        clear=_clear_height(toolpath, profile, scale, mm),
        tolerance=tolerance * scale if tolerance is not None else DEFAULT_TOLERANCE_MM * mm,
        notices=notices,
    )


def rotary_letter(toolpath: Toolpath, profile: Profile) -> RotaryLetter | None:
    """The letter of the profile's rotary that runs along the toolpath's axis; None for still work without one.

    raises    PlanError when a rotary is needed and none runs along that axis
    """
    along = rotaries_of(profile, toolpath.axis)
    if along:
        return next(iter(along))
    if all(operation.rotary.intent == "still" for operation in toolpath.operations):
        return None
    raise PlanError(
        f"the toolpath turns about {toolpath.axis}, and {profile.name} has no rotary along {toolpath.axis}; it has: "
        + rotaries_text(profile),
        place=Place(file=toolpath.file, key="axis"),
        cure="choose a controller with the rotary along that axis, or make the toolpath for the axis that is mounted",
    )


def _program_in_inches(toolpath: Toolpath, profile: Profile) -> bool:
    wanted = toolpath.units if profile.units.program == "as_toolpath" else profile.units.program
    code = profile.units.inch if wanted == "inch" else profile.units.mm
    if profile.units.program == "as_toolpath" and not code:
        raise PlanError(
            f"{profile.name} has no code for {wanted}, the units of the toolpath",
            place=Place(file=toolpath.file, key="units"),
            cure="set units.program to the units that the controller runs in; the program is then converted",
        )
    return wanted == "inch"


def _clear_height(toolpath: Toolpath, profile: Profile, scale: float, mm: float) -> float | None:
    """Z over which the rotary may turn at rapid, program units: the swept radius over the axis, and the profile's clearance.

    With the axis of rotation along the spindle, height is counted over the top of the stock instead.
    """
    margin = profile.safety.clearance * mm
    if toolpath.axis == "Z":
        if toolpath.stock is None:
            return None
        return (toolpath.centre[2] + toolpath.stock.along("Z")[1]) * scale + margin
    return (toolpath.centre[2] + toolpath.swept_radius) * scale + margin
