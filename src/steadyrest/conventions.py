"""What all rooms mean alike: the inch, the linear axes, planes of arcs, kinds of blocks, a number as it is said at the machine."""

from __future__ import annotations

from math import isfinite

MM_PER_INCH = 25.4
"""Exact (ISO 80000-3, from memory)."""

AXES = "XYZ"
PLANES = ("XY", "XZ", "YZ")
"""Planes of arcs, in the order of their numbers in columns."""
PLANE_AXES = ((0, 1, 2), (2, 0, 1), (1, 2, 0))
"""Per plane: the two axes in the order that turns counterclockwise seen from + of the third, and the third (ISO 841, from memory)."""
XY, XZ, YZ = 0, 1, 2
"""The numbers of the planes."""

RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE = 0, 1, 2, 3
"""Kinds of blocks, turning as seen from the + end of the third axis."""
PER_MINUTE, INVERSE = 0, 1
"""What F is in a block."""

LARGEST_LENGTH = 1e6
"""No machine measures more, in either unit; far larger numbers would overflow when they are squared."""


def length(said: str | float) -> float:
    """A number as it is said at the machine: with a decimal point or a decimal comma. ValueError for anything else."""
    number = float(str(said).strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    if not isfinite(number) or abs(number) > LARGEST_LENGTH:
        raise ValueError(f"{said} is not a length")
    return number
