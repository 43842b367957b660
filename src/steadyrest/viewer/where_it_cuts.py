"""Where does each operation cut, and where does it pass a pole or leave the cut to turn? What the pictures show, in numbers and words.

Along the axis of rotation, around it, and from it. Angles are those of the map (`views`); lengths are coordinates of the part frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.proof import angles_between, poses
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.track import off_way
from steadyrest.viewer.views import TURN_DEG, unrolled

ALL_AROUND = 15.0
"""Cut places that leave no larger gap than this, degrees, go all around."""

NEAR_POLE_DEG = 2.0
"""A cut whose tool axis comes nearer than this to the axis of the first rotary passes a pole: that turns 29 times as far there."""
SWINGS_DEG = 30.0
"""And is worth a mark where the tool axis, or the rotary, swings round that axis by more than this."""
MOST_MARKED = 60


@dataclass(frozen=True, slots=True)
class Passed:
    """A place that somebody wants to watch: what is there, the line, and a sentence without its end."""

    what: Literal["pole", "withdrawal"]
    line: int
    sentence: str

    @property
    def sign(self) -> str:
        """As it is marked in all views, beside its number."""
        return {"pole": "\N{BLACK CIRCLE}", "withdrawal": "\N{BLACK UP-POINTING TRIANGLE}"}[self.what]


def passed(looked: Looked) -> list[Passed]:
    """Poles that cuts pass, and where the tool leaves a cut so that a rotary can turn, as the program runs; of each so many at most."""
    verdict, setting = looked.posted.verdict, looked.setting
    turned = "they turn" if len(setting.rotaries) > 1 else "the rotary turns"
    leaves = f"the tool leaves the cut, {turned} clear of all, and it comes back to where it left"
    lines = [line for one in verdict.operations for line in one.lifted_lines][:MOST_MARKED]
    found = [Passed("withdrawal", line, leaves.replace("they", "the rotaries")) for line in lines]
    return sorted([*found, *_poles(looked)[:MOST_MARKED]], key=lambda one: one.line)


def _poles(looked: Looked) -> list[Passed]:
    """Stretches of a cut on which the tool axis lies nearly along the axis of the first rotary, which is then free, while it moves."""
    setting, track = looked.setting, looked.track
    if len(setting.lines) < 2 or len(track) < 2:
        return []
    first, units, scale = setting.lines[0], setting.toolpath.units, setting.scale
    axes = poses(setting.lines, track.place_mm, np.radians(track.word_deg))[1]
    cuts = ~track.rapid[1:] & track.known[1:] & track.known[:-1] & (track.operation[1:] == track.operation[:-1])
    # From either pole; so near to it a chord is as long as its arc.
    near = np.degrees(np.minimum(*(off_way(sign * first.about, axes[:-1], axes[1:]) for sign in (1.0, -1.0))))
    within = cuts & (near < NEAR_POLE_DEG) & (angles_between(axes[:-1], axes[1:]) > 0)
    found = []
    for begin, end in _runs(within):
        aside = axes[[begin, end]] - (axes[[begin, end]] @ first.about)[:, None] * first.about
        sizes = np.linalg.norm(aside, axis=1)
        swung = np.degrees(np.arccos(np.clip(aside[0] @ aside[1] / sizes.prod(), -1, 1))) if sizes.all() else 180.0
        turns = float(np.abs(np.diff(track.word_deg[begin : end + 1, 0])).sum())
        if max(swung, turns) < SWINGS_DEG:
            continue
        at = begin + int(near[begin:end].argmin())
        slowest = float(np.nanmin(track.tip_mm_per_min[begin + 1 : end + 1], initial=np.inf)) / scale
        says = f"the tool axis comes within {near[at]:.2f} degrees of the axis of {first.letter}, which turns {turns:.1f} degrees there"
        says += f"; the tip goes {slowest:.0f} {units}/min at the slowest" if np.isfinite(slowest) else ""
        found.append(Passed("pole", int(track.line[at + 1]), says))
    return found


def _runs(chosen: Bools) -> list[tuple[int, int]]:
    """From where to where (past the last) something holds without a break."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


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
