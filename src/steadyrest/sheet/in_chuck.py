"""How the stock is held: which end is in the jaws, how much of it, what sticks out; in words, and drawn to scale."""

from __future__ import annotations

from dataclasses import dataclass

from steadyrest.conventions import AXES
from steadyrest.profile import Rotary
from steadyrest.proof import Setting
from steadyrest.sheet.tools import number
from steadyrest.toolpath import RoundStock, Toolpath

HAND = {"X+": " (right)", "X-": " (left)", "Y+": "", "Y-": "", "Z+": " (top)", "Z-": " (bottom)"}
"""Which end of the stock that is for whoever stands in front of it."""

WIDTH, LONGEST, THICKEST = 420.0, 300.0, 110.0
"""Of the picture; the stock fills at most this much of it, along and across."""
CHUCK_DEEP, OPEN_JAW = 34.0, 26.0
"""How far the chuck is drawn, and its jaws where nobody says how much they hold; neither is to scale."""
_SEEN = {
    "X": "from the front",
    "Y": "from the right end of the table; you stand at the left of the picture",
    "Z": "from the front, lying: up is to the right",
}


def ends(toolpath: Toolpath) -> tuple[float, float]:
    """Where the stock begins and ends along the axis of rotation, in work coordinates and file units, as `toolpath` has it."""
    assert toolpath.stock is not None
    low, high = (end + toolpath.centre[AXES.index(toolpath.axis)] for end in toolpath.stock.along(toolpath.axis))
    return low, high


def stock_lines(setting: Setting) -> tuple[str, ...]:
    """The stock as it stands on the machine: its shape, where it lies, which end is held and how."""
    toolpath, rotary = setting.mounted, setting.rotary
    stock, axis, units = toolpath.stock, toolpath.axis, toolpath.units
    if stock is None:
        return (f"not given; nothing that turns may reach more than {number(toolpath.swept_radius)} {units} from the axis of rotation",)
    low, high = ends(toolpath)
    first, second = (letter for letter in AXES if letter != axis)
    if isinstance(stock, RoundStock):
        shape = f"round, diameter {number(stock.diameter)} {units}"
    else:
        shape = f"rectangular, {first} {number(stock.across[0])} by {second} {number(stock.across[1])}"
    lines = [f"{shape}, length {number(high - low)} {units}", f"from {axis} {number(low)} to {axis} {number(high)}"]
    if any(off := stock.offset_across(axis)):
        lines.append(f"its middle is off the axis of rotation by {first} {number(off[0])}, {second} {number(off[1])}")
    if rotary is None:
        return tuple(lines)
    plus = rotary.chuck_faces[0] == "+"
    held = low if plus else high
    if stock.held is None:
        how = "assumed from the way the chuck faces, the toolpath does not state it"
    elif stock.held.length is None:
        how = "the length in the jaws is not given"
    else:
        how = f"{number(stock.held.length)} {units} of it in the jaws" if stock.held.length else "bolted to a face, nothing in jaws"
    lines.append(f"held at {axis} {number(held)}{HAND[axis + ('-' if plus else '+')]}: {how}")
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class Holding:
    """The stock in the chuck, in file units.

    held, free    where its two ends are along the axis of rotation, in work coordinates
    in_jaws       how much of it is in the jaws; None: not known
    sticks_out    how much stands out of them; None: not known
    svg           to scale, chuck and jaws plain
    """

    held: float
    free: float
    in_jaws: float | None
    sticks_out: float | None
    svg: str


def holding(toolpath: Toolpath, chuck_faces: str) -> Holding:
    """The stock of a toolpath, as that has it, in a chuck that faces that way: for the machine give `Setting.mounted` and its chuck.

    It has to have a stock
    """
    stock = toolpath.stock
    assert stock is not None
    low, high = ends(toolpath)
    held, free = (low, high) if chuck_faces[0] == "+" else (high, low)
    in_jaws = stock.held.length if stock.held is not None else None
    out = high - low - in_jaws if in_jaws is not None else None
    return Holding(held, free, in_jaws, out, _drawn(toolpath, held, free, in_jaws))


def held_at(rotary: Rotary) -> str:
    """The end that the chuck of a rotary holds where nothing turns the job: `from` or `to`."""
    return "from" if rotary.chuck_faces[0] == "+" else "to"


def _drawn(toolpath: Toolpath, held: float, free: float, in_jaws: float | None) -> str:
    stock, axis, units = toolpath.stock, toolpath.axis, toolpath.units
    assert stock is not None
    length, way = abs(free - held), 1.0 if free > held else -1.0
    thick = stock.diameter if isinstance(stock, RoundStock) else stock.across[0 if axis == "Z" else 1]
    scale = min(LONGEST / length, THICKEST / thick)
    half, middle, height = thick * scale / 2, THICKEST / 2 + 52, THICKEST + 150
    span = length * scale + CHUCK_DEEP
    begin = WIDTH / 2 - way * span / 2  # the back of the chuck
    face = begin + way * CHUCK_DEEP
    end = face + way * length * scale
    jaws = OPEN_JAW if in_jaws is None else min(in_jaws, length) * scale

    def box(kind: str, first: float, last: float, top: float, bottom: float) -> str:
        return (
            f'<rect class="{kind}" x="{min(first, last):.1f}" y="{top:.1f}" width="{abs(last - first):.1f}" height="{bottom - top:.1f}"/>'
        )

    def text(x: float, y: float, said: str, anchor: str = "middle") -> str:
        return f'<text x="{min(max(x, 4), WIDTH - 4):.1f}" y="{y:.1f}" text-anchor="{anchor}">{said}</text>'

    def size(first: float, last: float, y: float, said: str) -> str:
        marks = f"M{first:.1f} {y - 5:.1f}v10M{last:.1f} {y - 5:.1f}v10M{first:.1f} {y:.1f}H{last:.1f}"
        width, at = len(said) * 8.2, (first + last) / 2  # a text that is wider than its line stays in the picture
        return f'<path class="size" d="{marks}"/>' + text(min(max(at, width / 2 + 2), WIDTH - width / 2 - 2), y + 19, said)

    inner_end = face + way * jaws
    kind = "jaw open" if in_jaws is None else "jaw"
    parts = [box("chuck", begin, face, middle - half - 22, middle + half + 22), box("stock", face, end, middle - half, middle + half)]
    if jaws:
        parts += [
            box(kind, face, inner_end, middle - half - 14, middle - half),
            box(kind, face, inner_end, middle + half, middle + half + 14),
        ]
    reach = (begin - way * 12, end + way * 26)
    parts.append(f'<path class="axle" d="M{min(reach):.1f} {middle:.1f}H{max(reach):.1f}"/>')
    zero = face - held * scale  # coordinates grow to the right
    if 8 <= zero <= WIDTH - 8:
        parts.append(f'<path class="zero" d="M{zero:.1f} {middle - half - 16:.1f}V{middle + half + 16:.1f}"/>')
    parts += [text(at, middle - half - 30, f"{axis} {number(value)}") for at, value in ((face, held), (end, free))]
    known = in_jaws is not None
    below = middle + half + 34
    if known and in_jaws:
        parts.append(size(face, inner_end, below, f"in the jaws {number(in_jaws or 0.0)} {units}"))
    else:
        parts.append(text(face, below + 19, "bolted to a face" if known else "in the jaws: ?", "start" if way > 0 else "end"))
    out = f"sticks out {number(length - (in_jaws or 0.0))} {units}" if known else f"whole length {number(length)} {units}"
    parts.append(size(inner_end if known else face, end, below + 36, out))
    title = f"the stock in the chuck, seen {_SEEN[axis]}: {out}"
    return f'<svg class="holding" viewBox="0 0 {WIDTH:g} {height:g}" role="img" aria-label="{title}">{"".join(parts)}</svg>'
