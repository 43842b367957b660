"""Where does each operation cut? What the pictures of the part show, in numbers: along the axis of rotation, around it, and from it.

Angles are those of the map (`views`); lengths are coordinates of the part frame.
"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.views import TURN_DEG, unrolled

ALL_AROUND = 15.0
"""Cut places that leave no larger gap than this, degrees, go all around."""


def where_it_cuts(looked: Looked) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The headings of a table and its rows: an operation, with from where to where the tip is at feed, lengths in the toolpath's units,
    and the first and last of its lines that cut."""
    setting, track = looked.setting, looked.track
    axis, units, frame = setting.toolpath.axis, setting.toolpath.units, setting.frame
    part, rows = track.part_mm(setting), []
    for number, name in enumerate(looked.operation_names, 1):
        ends = np.flatnonzero((track.operation == number) & ~track.rapid & track.known)
        starts = ends[ends > 0] - 1
        here = part[np.union1d(ends, starts[track.known[starts]])]
        if not len(here):
            continue
        cells = [f"{number} {name}"]
        if axis == "Z":
            cells += [_span(here[:, one] / setting.scale) for one in range(3)]
        else:
            around = unrolled(here, frame.centre_mm, axis)[:, 1 if axis == "X" else 0]
            cells += [_span(here[:, frame.along] / setting.scale), _arc(around), _span(np.abs(frame.across(here)) / setting.scale)]
        lines = track.line[ends]
        cells.append(_count(int(lines[0]), int(lines[-1])))
        rows.append(tuple(cells))
    lengths = (f"X, {units}", f"Y, {units}", f"Z, {units}")
    heads = lengths if axis == "Z" else (f"Along {axis}, {units}", f"Around {axis}, °", f"From the axis, {units}")
    return ("Operation", *heads, "Lines"), rows


def _count(first: int, last: int) -> str:
    return str(first) if first == last else f"{first} to {last}"


def _span(values: Floats) -> str:
    low, high = (f"{round(float(value), 3) + 0.0:.10g}" for value in (values.min(), values.max()))
    return low if low == high else f"{low} to {high}"


def _arc(angles: Floats) -> str:
    """The shortest way round that has all of them on it: from where to where the angle rises."""
    places = np.unique(np.round(np.mod(angles, TURN_DEG), 3) % TURN_DEG)
    gaps = np.diff(np.append(places, places[0] + TURN_DEG))
    widest = int(np.argmax(gaps))
    if len(places) > 1 and gaps[widest] <= ALL_AROUND:
        return "all around"
    begin, end = places[(widest + 1) % len(places)], places[widest]
    return f"{begin:.10g}" if begin == end else f"{begin:.10g} to {end:.10g}"
