"""What all rooms mean alike: the inch, the linear axes, planes of arcs, kinds of blocks, a number as it is said at the machine."""

from __future__ import annotations

import re
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


HOW_TO_TYPE = "write 12.5 or 12,5, without a unit; three decimals with a point, such as 12.500, since 12,500 may be thousands"
"""The cure for a number that is typed and not understood."""
_THOUSANDS = re.compile(r"[-+]?[1-9][0-9]{0,2},[0-9]{3}")


def with_point(said: str) -> str:
    """A number as somebody types it, with a decimal point where it had a decimal comma; what is no number stays as it is.

    So does 1,000, which may be one or a thousand; 0,125 and 1,5 and 1234,125 have one meaning.
    """
    said = said.strip().replace("\N{MINUS SIGN}", "-")
    return said if _THOUSANDS.fullmatch(said) else said.replace(",", ".")


def length(said: str | float) -> float:
    """A number as it is said at the machine: with a decimal point or a decimal comma (`with_point`). ValueError for anything else."""
    try:
        number = float(with_point(str(said)))
    except ValueError:
        raise ValueError(f"{said} is not a number: {HOW_TO_TYPE}") from None
    if not isfinite(number) or abs(number) > LARGEST_LENGTH:
        raise ValueError(f"{said} is not a length")
    return number
