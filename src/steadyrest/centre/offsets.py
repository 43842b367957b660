"""From the axis of rotation, as it was found on the machine, to the work offset of one job.

Two things bear the name of a centre and are not the same. The toolpath's `centre` says where the axis of rotation is in work coordinates:
it belongs to the part, and the program is made with it. What is touched at the machine is where the axis of rotation is in the machine's
own coordinates. The work offset is what lies between the two: what was found, less the toolpath's `centre`. Where the toolpath's origin is
on the axis, which is usual, the work offset is what was found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.toolpath import Toolpath


@dataclass(frozen=True, slots=True)
class WorkOffset:
    """One number to enter, with its standard uncertainty, and how it came about where it is not simply what was found."""

    axis: str
    value: float
    uncertainty: float
    how: str = ""


def work_offsets(found: Mapping[str, tuple[float, float]], units: str, mounted: Toolpath, end: str = "") -> tuple[WorkOffset, ...]:
    """What to enter for a job, in the units of what was found; nothing along the axis where nobody can say what its coordinate means.

    found     by axis the coordinate on the machine and its standard uncertainty
    mounted   the toolpath with its centre and stock as they stand on the machine, such as `Setting.mounted`
    end       where the coordinate along the axis is that of the bar's end: the direction in which that end looks, such as +X; its stock
              says where in work coordinates that end is
    """
    scale = {"mm": 1.0, "inch": MM_PER_INCH}
    ratio = scale[mounted.units] / scale[units]
    out = []
    for axis, (value, uncertainty) in found.items():
        work, what = mounted.centre[AXES.index(axis)], "the axis of rotation"
        if axis == mounted.axis:
            if mounted.stock is None or not end:
                continue
            work += mounted.stock.along(axis)[1 if end[0] == "+" else 0]
            what = f"the end of the stock that looks to {end}"
        how = f"found at {value:.4f}; {what} is at {axis} {work:g} {mounted.units} in the toolpath, as it stands on the machine"
        out.append(WorkOffset(axis, value - work * ratio, uncertainty, how if work else ""))
    return tuple(out)
