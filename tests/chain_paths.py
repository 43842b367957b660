"""Machines with two rotaries, paths for them, and what is planned of these without a toolpath or a profile; for tests of planning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyrest.errors import Place
from steadyrest.motion.chain import Line, linear_axes, tip_in_part, tool_axis
from steadyrest.motion.choice import Choice, Stretch, choose
from steadyrest.motion.courses import Allowed, Course, within
from steadyrest.motion.simultaneous import Limits, at_start, course, leaning
from steadyrest.motion.stretches import Stretches
from steadyrest.motion.winding import Unfit
from steadyrest.profile import Rotary, Travel
from steadyrest.profile.axes import Unwinding
from steadyrest.toolpath import MoveColumns

X, Y, Z = np.eye(3)
LEANING = np.array([0.0, 0.5**0.5, 0.5**0.5])


def table(direction: np.ndarray, *point: float, sign: int = -1) -> Line:
    return Line(direction, np.array(point), sign, carries_part=True)


def head(direction: np.ndarray, *point: float) -> Line:
    return Line(direction, np.array(point), 1, carries_part=False)


CHAINS = {
    "C on A": (table(Z, 1.0, 2.0, 3.0), table(X, 1.0, 2.12, 51.0)),
    "C on a leaning B": (table(Z, 1.0, 2.0, 3.0), table(LEANING, 1.1, 1.7, 63.0, sign=1)),
    "C below, B in the head": (table(Z, 0.0, 0.0, 0.0), head(Y, 0.0, 0.0, 250.0)),
    "C and A in the head": (head(Z, 0.0, 0.0, 0.0), head(X, 0.0, -0.4, 290.0)),
    "a head that leans": (head(Z, 0.0, 0.0, 0.0), head(LEANING * [1, -1, 1], 0.0, 0.0, 270.0)),
    "A and B in the head": (head(X, 0.0, 0.0, 320.0), head(Y, 0.0, 0.0, 240.0)),
    "B in the head, alone": (head(Y, 0.0, 0.0, 250.0),),
}


def rotary(**facts: Any) -> Rotary:
    return Rotary.model_validate({"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **facts})


def run_of(tips: Any, axes: Any, kind: Any = None, first: int = 1) -> MoveColumns:
    kind = np.ones(len(tips), dtype=np.uint8) if kind is None else np.asarray(kind, dtype=np.uint8)
    return MoveColumns(first, kind, np.asarray(tips, dtype=float), np.asarray(axes, dtype=float), np.where(kind == 0, np.nan, 500.0))


def past_pole(by_deg: float, widest_deg: float = 40.0, points: int = 41) -> MoveColumns:
    """Over a pole along Z on a great circle that passes it by so much, the tip going straight."""
    turn, by = np.radians(np.linspace(-widest_deg, widest_deg, points)), np.radians(by_deg)
    axes = np.column_stack([np.sin(turn) * np.cos(by), np.full(points, np.sin(by)), np.cos(turn) * np.cos(by)])
    return run_of(np.column_stack([np.linspace(-30, 30, points), np.zeros(points), np.full(points, 20.0)]), axes)


def place_of(row: int) -> Place:
    return Place(move=row + 1)


def surveyed(
    runs: Sequence[MoveColumns], lines: Sequence[Line], axis_deg: float = 0.1, *, swings: bool = True
) -> tuple[list[Any], Stretches]:
    """The runs laid out, half of the axis tolerance for poles; and their stretches."""
    limits, before = Limits(np.radians(0.01), np.radians(axis_deg / 2)), at_start(lines)
    met, laid = Stretches(1), []
    for run in runs:
        laid.append(leaning(run, before, lines, 1.0, limits, place_of))
        before = laid[-1].after
        met.meet(laid[-1], run, lines, swings=swings)
    return laid, met


def planned(
    runs: Sequence[MoveColumns],
    lines: Sequence[Line],
    rotaries: Sequence[Rotary] | None = None,
    axis_deg: float = 0.1,
    tolerance: float = 0.01,
    *,
    swings: bool = True,
) -> tuple[list[Choice], list[Course]]:
    """The choice for the stretches of runs, and the courses in it, cut into blocks."""
    laid, met = surveyed(runs, lines, axis_deg, swings=swings)
    chosen = choose(met.found, rotaries or [rotary()] * len(lines), [0.0] * len(lines))
    assert isinstance(chosen, list), chosen
    half, at, last, made = np.radians(axis_deg / 2), 0, None, []
    for one in laid:
        way, throughs = course(one, chosen[max(at - 1, 0) :], last, lines)
        allowed = Allowed(tolerance, half, 2 * half)
        blocks, xyz = within(way, throughs, lines, allowed, lambda parts, _row: parts.astype(np.int64))
        np.testing.assert_allclose(xyz, linear_axes(blocks.tip, blocks.alpha_rad, lines), atol=1e-9)
        made.append(blocks)
        at, last = at + one.stretches, made[-1].alpha_rad[-1]
    return chosen, made


def strays(made: Course, lines: Sequence[Line], nothing: float = 0.01, points: int = 33) -> tuple[float, float]:
    """How far the tip is off its line at most within the cuts' blocks, and the tool axis (degrees) off the one meant where the tip is.

    A plain measure at closely set points: the foot on each block's line, and the great circle's axis at that part of it.
    """
    xyz = linear_axes(made.tip, made.alpha_rad, lines)
    tip_off = axis_off = 0.0
    for way in np.flatnonzero(~made.free):
        share = np.linspace(0, 1, points)[:, None]
        alpha = made.alpha_rad[way] + share * (made.alpha_rad[way + 1] - made.alpha_rad[way])
        tip, axis = tip_in_part(xyz[way] + share * (xyz[way + 1] - xyz[way]), alpha, lines), tool_axis(alpha, lines)
        line, (first, last) = made.tip[way + 1] - made.tip[way], made.axis[way : way + 2]
        length = float(np.linalg.norm(line))
        foot = np.clip((tip - made.tip[way]) @ line / length**2, 0, 1) if length > 0 else np.zeros(points)
        tip_off = max(tip_off, float(np.linalg.norm(tip - made.tip[way] - foot[:, None] * line, axis=1).max()))
        angle = np.arccos(np.clip(first @ last, -1, 1))
        places = foot if length >= nothing else np.linspace(0, 1, points)
        if angle < 1e-6:
            meant = first + places[:, None] * (last - first)
        else:
            meant = (np.sin((1 - places) * angle)[:, None] * first + np.sin(places * angle)[:, None] * last) / np.sin(angle)
        apart = 2 * np.arcsin(np.minimum(np.linalg.norm(axis[:, None] - meant[None], axis=2) / 2, 1))
        off = np.diagonal(apart) if length >= nothing else apart.min(axis=1)
        axis_off = max(axis_off, float(np.degrees(off.max())))
    return tip_off, axis_off


@dataclass(frozen=True)
class Span:
    """A stretch of one rotary in numbers: where it begins, ends and goes, degrees of its word."""

    start_w: float
    end_w: float
    lowest_w: float
    highest_w: float
    operation: int = 0
    turned_to: bool = True


def span_of(stretch: Stretch) -> Span:
    angles = (float(each[0, 0]) for each in (stretch.start_deg, stretch.end_deg, stretch.lowest_deg, stretch.highest_deg))
    return Span(*angles, stretch.operation, stretch.turned_to)


def choose_turns(spans: Sequence[Span], travel: Travel, unwinding: Unwinding, start_w: float) -> list[int] | Unfit:
    """The whole turns that are chosen for the stretches of one rotary."""
    made = []
    for span in spans:
        start, end, lowest, highest = (np.array([[angle]]) for angle in (span.start_w, span.end_w, span.lowest_w, span.highest_w))
        made.append(Stretch(start, end, lowest, highest, span.operation, span.turned_to))
    chosen = choose(made, [rotary().model_copy(update={"travel": travel, "unwinding": unwinding})], [start_w])
    return chosen if isinstance(chosen, Unfit) else [one.turns[0] for one in chosen]
