"""What a program's head says its numbers hold: lines, pivots and gauge lengths that were worked into them. Are they those of the profile?

Held twice, in the program and in the machine, they differ one day. They stand in comments, in the program's units, with at most four
decimals: `axis of A through X0 Y0.12 Z48`, `pivot of B at X0 Y0 Z150`, `T4 gauge length 128.35`.
"""

from __future__ import annotations

import re

import numpy as np

from steadyrest.conventions import AXES
from steadyrest.proof.setting import Setting

_NUMBER = r"(-?\d*\.?\d+)"
_PLACE = rf"X{_NUMBER}Y{_NUMBER}Z{_NUMBER}$"
_AXIS, _PIVOT = (re.compile(begin + _PLACE) for begin in (r"AXISOF([A-Z])THROUGH", r"PIVOTOF([A-Z])AT"))
_GAUGE = re.compile(rf"T(\d+)GAUGELENGTH{_NUMBER}$")
_ROUNDED = 1e-4
"""As far as four decimals of three coordinates may be off together, units of the program."""


def other_lines(comment: str, setting: Setting) -> str:
    """What is wrong with a comment that says a line, pivot or gauge length, in a sentence; empty where nothing is, or it says none."""
    said = "".join(comment.upper().split())
    near = _ROUNDED * setting.program_scale
    if found := _GAUGE.fullmatch(said):
        number, mm = int(found[1]), float(found[2]) * setting.program_scale
        meant = setting.gauge_mm.get(number, mm)
        wrong = f"for a gauge length of tool {number} of {_said(setting, mm)}; it is {_said(setting, meant)}"
        return wrong if abs(mm - meant) > near else ""
    for form, carries_part, name in ((_AXIS, True, "an axis"), (_PIVOT, False, "a pivot")):
        if not (found := form.fullmatch(said)):
            continue
        place = np.array(found.groups()[1:], dtype=np.float64) * setting.program_scale
        line = next((one for one in setting.lines if one.letter == found[1] and one.carries_part is carries_part), None)
        if line is None:
            return f"for {name} of {found[1]}; the chain of the profile has none"
        off = float(np.linalg.norm(np.cross(line.about, place - line.point)))
        if off > near:
            through, stated = (" ".join(axis + _said(setting, mm) for axis, mm in zip(AXES, at, strict=True)) for at in (place, line.point))
            return f"for {name} of {found[1]} through {through}; by profile and toolpath it goes through {stated}"
    return ""


def _said(setting: Setting, mm: float) -> str:
    """A length in the program's unit, as such comments say it."""
    return f"{round(mm / setting.program_scale, 4) + 0.0:.8g}"
