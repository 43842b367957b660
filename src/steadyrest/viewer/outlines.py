"""Outlines to draw: the chuck, where it stands and how far its jaws reach over the stock, and a tool from the side."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from steadyrest.columns import Complexes, Floats
from steadyrest.proof import Setting
from steadyrest.simulation import solid_of
from steadyrest.toolpath import Tool

BODY, OUTSIDE = 0.5, 1.2
"""Length and radius of the body that is drawn, in swept radii of the stock: nobody says how large the chuck is."""
LEAST_JAW = 0.15
"""A jaw is drawn so long at least, in swept radii."""
JAWS, HALF_JAW = 3, 0.2
"""How many are drawn, and half their width in radians."""
CHORDS = 48
ROUND = 8
"""Chords of a rounded corner."""
DRAWN_DIAMETERS = 3.0
"""A tool whose length is not known is drawn so many diameters long."""


@dataclass(frozen=True, slots=True)
class Chuck:
    """Lengths in mm, work coordinates with the rotary at 0.

    span_mm     from, to along the axis: all that is drawn
    jaws_mm     from, to along the axis: what of the stock is in the jaws; both at its end where nobody said how much
    lines_mm    each (k, 3)
    label       what it is, for people
    """

    span_mm: tuple[float, float]
    jaws_mm: tuple[float, float]
    lines_mm: tuple[Floats, ...]
    label: str


def chuck_of(setting: Setting) -> Chuck | None:
    """The chuck at the held end; None without rotary or stock."""
    stock, rotary, frame = setting.mounted.stock, setting.rotary, setting.frame
    if stock is None or rotary is None:
        return None
    low, high = (end * setting.scale + float(frame.centre_mm[frame.along]) for end in stock.along(setting.mounted.axis))
    inward = 1.0 if rotary.chuck_faces.startswith("+") else -1.0
    end = low if inward > 0 else high
    length = stock.held.length if stock.held is not None else None
    face = end + inward * (length or 0.0) * setting.scale
    swept = stock.swept_radius(setting.mounted.axis) * setting.scale
    back = end - inward * BODY * swept
    tip = end + inward * max((length or 0.0) * setting.scale, LEAST_JAW * swept)
    outside = OUTSIDE * swept
    around = np.exp(2j * pi * np.arange(CHORDS + 1) / CHORDS)

    def line(along: list[float], across: Complexes) -> Floats:
        return frame.joined(np.array(along), across)

    lines = [line([place] * (CHORDS + 1), outside * around) for place in (back, end)]
    lines += [line([back, end], np.full(2, outside * complex(cos(at), sin(at)))) for at in np.arange(8) * pi / 4]
    for jaw in range(JAWS):
        sides = [complex(cos(at), sin(at)) for at in (2 * pi * jaw / JAWS + pi / 2 + off for off in (-HALF_JAW, HALF_JAW))]
        ring = np.array([swept * sides[0], outside * sides[0], outside * sides[1], swept * sides[1], swept * sides[0]])
        lines.append(line([tip] * 5, ring))
        lines += [line([end, tip], np.full(2, corner)) for corner in ring[:4]]
    axis, unit = setting.mounted.axis, setting.mounted.units
    holds = f"chuck, holds the stock at {axis} {round(end / setting.scale, 3) + 0.0:g}"
    holds += f", {length:g} {unit} in the jaws" if length is not None else ", length in the jaws not given"
    if setting.end_for_end:
        holds += "; job turned end for end"
    first, last = sorted((back, tip))
    return Chuck((first, last), (min(end, face), max(end, face)), tuple(lines), holds)


def outline(tool: Tool) -> list[tuple[float, float]]:
    """(radius, height over the tip) from the axis at the tip out and up and back to the axis, in file units."""
    solid = solid_of(tool, 1.0)
    below = [(0.0, 0.0), (solid.flat_mm, 0.0)] if solid.flat_mm else [(0.0, 0.0)]
    if solid.corner_mm:
        turns = [0.5 * pi * step / ROUND for step in range(1, ROUND + 1)]
        below += [(solid.flat_mm + solid.corner_mm * sin(turn), solid.corner_mm * (1 - cos(turn))) for turn in turns]
    elif solid.widening:
        below.append((solid.radius_mm, (solid.radius_mm - solid.flat_mm) / solid.widening))
    top = max(tool.length or tool.cutting_length or DRAWN_DIAMETERS * tool.diameter, below[-1][1])
    return [*below, (solid.radius_mm, top), (0.0, top)]
