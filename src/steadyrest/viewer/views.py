"""How is the part shown? From where it is looked at, unrolled as a map, in which colours; and its chuck and tools in outline.

Directions are those of a person in front of the machine, as its spindle stands. The person's own frame: to the right, away from them, up.
With an upright spindle that is X, Y, Z; with a horizontal one X, -Z, Y.

The map is what one sees looking at the surface from outside, so that text on it reads as it does on the part: along +X to the right with
the angle rising downwards, or along +Y upwards with the angle rising to the right (a developed length y is at the angle -y/r about X, a
developed length x at x/r about Y). About Z it is the view from above. Lengths are coordinates of the part frame, angles are alpha.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Complexes, Floats, Ints
from steadyrest.conventions import AXES
from steadyrest.proof import Setting
from steadyrest.simulation import Field, solid_of
from steadyrest.toolpath import Tool

OPERATION_COLOURS = ("#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442")
"""Seven of the eight colours of M. Okabe and K. Ito, Color Universal Design, 2008, in an order in which neighbours differ in lightness;
black is left to the text. They are used again from the start for the eighth operation, and the operation's number always stands beside."""
SKIN_COLOUR = "#a7abb0"
"""What no tool has cut."""
RAPID_COLOUR = "#8a8f98"
CHUCK_COLOUR = "#4a4f57"
NOT_COMPARED_COLOUR = "#665f6e"
"""What the program does after the first difference: dark, so that nobody takes it for an operation."""
TURN_DEG = 360.0
BODY, OUTSIDE = 0.5, 1.2
"""Length and radius of a chuck's body that is drawn, in swept radii of the stock: nobody says how large it is."""
LEAST_JAW = 0.15
"""A jaw is drawn so long at least, in swept radii."""
JAWS, HALF_JAW = 3, 0.2
"""How many are drawn, and half their width in radians."""
CHORDS, ROUND = 48, 8
"""Of a circle round the chuck, and of the rounded corner of a tool."""
DRAWN_DIAMETERS = 3.0
"""A tool whose length is not known is drawn so many diameters long."""
PERSON: dict[str, Floats] = {"upright": np.eye(3), "horizontal": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])}
"""Rows: what is to the right, away and up for the person, in X, Y, Z; by how the spindle stands."""
_LOOKS = {
    "front": ("Front", "F", "As you stand in front of the machine", 0.0, 0.0),
    "top": ("Top", "T", "From above", 0.0, pi / 2),
    "right": ("Right", "R", "From your right", pi / 2, 0.0),
    "left": ("Left", "L", "From your left", -pi / 2, 0.0),
    "back": ("Back", "B", "From behind the machine", pi, 0.0),
    "below": ("Below", "U", "From below", 0.0, -pi / 2),
}
HATCHED, DARK = 240, np.array([0.72, 0.72, 0.72, 1.0])
"""Steps of the hatching over a picture, and by what it darkens a colour."""
CORNER = (-0.6, 0.5)
"""Azimuth and elevation, radians: from the left, somewhat above."""
STAND = (-0.12, 0.45)
"""The same of whoever stands in front of the machine and looks down at the part."""


def rgb(colours: Sequence[str]) -> Floats:
    """Colours `#rrggbb` as red, green and blue (c, 3) from 0 to 1."""
    return np.array([list(bytes.fromhex(one[1:])) for one in colours]) / 255


def axis_letters(setting: Setting) -> tuple[str, ...]:
    """What the machine calls its ways along X, Y and Z; nothing where the drive of one turns the rotary instead."""
    replaced = setting.rotary.replaces if setting.rotary is not None else ""
    return tuple(letter if letter != replaced else "" for letter in AXES)


def hatched(kind: Ints, across: Ints, up: Ints) -> Bools:
    """Whether hatching is dark at places of a picture, counted in steps to the right and upwards: beside its colour each kind has its own.

    kind    by number of operation: 0 none, 1 to 7 operations in turn, 8 what was not compared; the same as in `3_colours.js`
    """
    x, y = across % 8, up % 8
    falls, rises = (x + y) % 8 == 0, (x - y) % 8 == 0
    patterns = [
        np.zeros(x.shape, dtype=bool), falls, rises, y % 4 == 0, x % 4 == 0, (x % 4 < 2) & (y % 4 < 2), falls | rises,
        (x == 0) | (y == 0), (x + y) % 2 == 0,
    ]  # fmt: skip
    return np.asarray(np.choose(kind, patterns))


@dataclass(frozen=True, slots=True)
class Look:
    """One direction to look from: the button's name and title, its key, azimuth and elevation in radians."""

    name: str
    label: str
    title: str
    key: str
    azimuth: float
    elevation: float


def rows(azimuth: float, elevation: float, stands: str) -> Floats:
    """Rows: to the right on the picture, upwards, away from the eye, in X, Y, Z."""
    ahead = np.array([-sin(azimuth), cos(azimuth), 0.0])
    right = np.array([cos(azimuth), sin(azimuth), 0.0])
    up = sin(elevation) * ahead + np.array([0.0, 0.0, cos(elevation)])
    away = cos(elevation) * ahead - np.array([0.0, 0.0, sin(elevation)])
    return np.asarray(np.stack([right, up, away]) @ PERSON[stands])


def looks(axis: str, stands: str) -> tuple[Look, ...]:
    """The buttons: front, top and right, and the ends of the axis of rotation, which are named for it; the corner last."""
    found = []
    for name, (label, key, title, azimuth, elevation) in _LOOKS.items():
        from_there = -rows(azimuth, elevation, stands)[2]
        end = from_there["XYZ".index(axis)]
        if abs(end) > 0.5:
            sign = "+" if end > 0 else "\N{MINUS SIGN}"
            label = f"{label}, {sign}{axis} end" if name in ("front", "top") else f"{sign}{axis} end"
            title += f", from the {'+' if end > 0 else '-'} end of {axis}, the axis of rotation"
        elif name not in ("front", "top", "right"):
            continue
        found.append(Look(name, label, f"{title} ({key})", key.lower(), azimuth, elevation))
    return *found, Look("corner", "Corner", "From the corner (I)", "i", *CORNER)


def unrolled(part_mm: Floats, centre_mm: Floats, axis: str) -> Floats:
    """Points (k, 3) of the part frame to the map (k, 2), to the right and up or down as drawn: mm along, degrees from 0 to 360 around."""
    if axis == "Z":
        return part_mm[:, :2]
    rel = part_mm - centre_mm
    angle = np.arctan2(-rel[:, 1] if axis == "X" else rel[:, 0], rel[:, 2])
    around = np.degrees(np.mod(angle, 2 * np.pi))
    return np.column_stack([part_mm[:, 0], around] if axis == "X" else [around, part_mm[:, 1]])


def spans(field: Field, setting: Setting) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where the field's cells lie on the map: file units of the part frame along its first coordinate, and along the second
    too (heights) or degrees (radii), where the map goes on: the same cells lie a turn on and a turn back.

    Here alone a field's second coordinate becomes the angle of a drawing; page and picture both take it from here.
    """
    centre, scale, half = setting.frame.centre_mm, setting.scale, field.first_step_mm / 2
    along = float(centre[1 if field.axis == "Y" else 0])
    first = (field.first_mm[0] - half + along) / scale, (field.first_mm[-1] + half + along) / scale
    half = field.second_step / 2
    if field.chart == "radii":
        begin = float(np.degrees(field.second[0] - half))
        return first, (begin, begin + TURN_DEG)
    return first, ((field.second[0] - half + centre[1]) / scale, (field.second[-1] + half + centre[1]) / scale)


def lit_map(field: Field, last_cut: NDArray[np.uint16], colours: Floats, kinds: Ints, middle_mm: float) -> Floats:
    """The field as a picture (rows from above, columns, 4), each cell in the colour of its operation and hatched, lit from the upper left.

    colours     (c, 3) from 0 to 1, by number of operation
    kinds       (c,) of hatching, by number of operation
    middle_mm   the radius at which a step in angle counts as a length
    """
    outer = field.outer_mm.astype(np.float64)
    across = field.second_step * middle_mm if field.chart == "radii" else field.second_step
    along = np.gradient(outer, field.first_step_mm, axis=0)
    if field.chart == "radii":
        around = (np.roll(outer, -1, axis=1) - np.roll(outer, 1, axis=1)) / (2 * across)
    else:
        around = np.gradient(outer, across, axis=1)
    upright = field.axis == "Y"
    to_right, upwards = (around, along) if upright else (along, -around) if field.axis == "X" else (along, around)
    bright = 0.42 + 0.62 * np.maximum(0.0, (0.45 * to_right - 0.55 * upwards + 0.9) / np.sqrt(1 + to_right**2 + upwards**2))
    picture = np.empty((*outer.shape, 4))
    picture[..., :3] = np.clip(colours[last_cut] * bright[..., None], 0, 1)
    picture[..., 3] = outer > 0
    if upright:
        picture, kind = picture[::-1], kinds[last_cut][::-1]
    else:
        way = 1 if field.axis == "X" else -1
        picture, kind = picture.transpose(1, 0, 2)[::way], kinds[last_cut].T[::way]
    steps = max(kind.shape) / HATCHED
    row, column = (np.arange(count) / steps for count in kind.shape)
    dark = hatched(kind, *np.broadcast_arrays(column.astype(np.int64), -row.astype(np.int64)[:, None]))
    return np.asarray(np.where(dark[..., None], picture * DARK, picture))


@dataclass(frozen=True, slots=True)
class Chuck:
    """Lengths in mm, work coordinates with the rotary at 0.

    jaws_mm     from, to along the axis: what of the stock is in the jaws; both at its end where nobody said how much
    body_mm     from, to along the axis: the body, which nobody says the size of; its far end first
    tip_mm      how far along the axis the jaws reach as they are drawn
    radii_mm    of the jaws on the inside, of all on the outside
    lines_mm    all that is drawn, each (k, 3)
    label       what it is, for people
    """

    jaws_mm: tuple[float, float]
    body_mm: tuple[float, float]
    tip_mm: float
    radii_mm: tuple[float, float]
    lines_mm: tuple[Floats, ...]
    label: str


def chuck_of(setting: Setting) -> Chuck | None:
    """The chuck at the held end; None without rotary or stock."""
    stock, rotary, frame, scale = setting.mounted.stock, setting.rotary, setting.frame, setting.scale
    if stock is None or rotary is None:
        return None
    axis, unit = setting.mounted.axis, setting.mounted.units
    low, high = (end * scale + float(frame.centre_mm[frame.along]) for end in stock.along(axis))
    end, inward = (low, 1.0) if rotary.chuck_faces.startswith("+") else (high, -1.0)
    length = stock.held.length if stock.held is not None else None
    held, swept = (length or 0.0) * scale, stock.swept_radius(axis) * scale
    back, tip, outside = end - inward * BODY * swept, end + inward * max(held, LEAST_JAW * swept), OUTSIDE * swept

    def line(along: list[float], across: Complexes) -> Floats:
        return frame.joined(np.array(along), across)

    around = np.exp(2j * pi * np.arange(CHORDS + 1) / CHORDS)
    lines = [line([place] * (CHORDS + 1), outside * around) for place in (back, end)]
    lines += [line([back, end], np.full(2, outside * corner)) for corner in around[:-1:6]]
    for jaw in range(JAWS):
        one, other = np.exp(1j * (2 * pi * jaw / JAWS + pi / 2 + np.array([-HALF_JAW, HALF_JAW])))
        ring = np.array([swept * one, outside * one, outside * other, swept * other, swept * one])
        lines.append(line([tip] * 5, ring))
        lines += [line([end, tip], np.full(2, corner)) for corner in ring[:4]]
    label = f"chuck, holds the stock at {axis} {round(end / scale, 3) + 0.0:g}"
    label += f", {round(length, 3):g} {unit} in the jaws" if length is not None else ", length in the jaws not given"
    label += "; job turned end for end" if setting.end_for_end else ""
    face = end + inward * held
    return Chuck((min(end, face), max(end, face)), (back, end), tip, (swept, outside), tuple(lines), label)


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
