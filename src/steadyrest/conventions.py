"""What the toolpath, the programs and everything between mean alike: the inch, the linear axes, the planes of arcs, kinds of blocks."""

from __future__ import annotations

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
