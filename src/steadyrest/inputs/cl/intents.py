"""Intents of a stretch with tool axes: where it holds its axis still (indexed), and where the rotary moves while cutting (simultaneous).

A stretch is cut into groups where the tool axis changes in a rapid or on the way to a hole. A group whose axis holds over all of it
is indexed; the others are simultaneous, and neighbouring simultaneous groups stay one operation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.arcs_and_holes import HELD
from steadyrest.inputs.geometry import angle_of, indexed_points, turned
from steadyrest.inputs.stretches import Happening, Item, Moves, Stretch, coalesced, cuts, mapped
from steadyrest.toolpath import RAPID

REACH_DEG = 0.006
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector, 1e-4 of its length."""
ANGLE_DECIMALS = 9


def by_intent(stretch: Stretch, letter: str, centre: Floats, file: str | None) -> list[Stretch]:
    """A stretch in the part frame as indexed and simultaneous stretches, in order; others as they are.

    letter    X, Y or Z: the axis of rotation; centre (3,) a point on it, toolpath units, part frame
    raises    ToolpathError for a tool axis out of reach
    """
    if stretch.conditions.frame[0] != "part":
        return [stretch]
    if stretch.only_happens:  # a stop, and the tool stays where it was
        stretch.conditions = replace(stretch.conditions, frame=("simultaneous",))
        return [stretch]
    found: list[Stretch] = []
    for held, items in _joined(_groups(coalesced(stretch.items))):
        alpha = _reached(items, letter, file)
        frame: tuple[object, ...] = ("indexed", alpha) if held else ("simultaneous",)
        if held:
            points = partial(indexed_points, alpha_deg=alpha, letter=letter, centre=centre)
            items = [mapped(item, points, partial(turned, alpha_deg=-alpha, letter=letter)) for item in items]
        found.append(Stretch(replace(stretch.conditions, frame=frame), items=items))
    found[0].name, found[0].before, found[0].comes_back = stretch.name, stretch.before, stretch.comes_back
    return found


def _axes(items: Sequence[Item]) -> Floats:
    """The tool axes (n, 3) of all moves and holes."""
    return np.concatenate([np.atleast_2d(item.axis) for item in items if not isinstance(item, Happening)])  # type: ignore[arg-type]


def _groups(items: Sequence[Item]) -> list[list[Item]]:
    """A group begins where the tool axis changes in a rapid or on the way to a hole; there moves are cut."""
    groups: list[list[Item]] = []
    last = np.zeros((1, 3))
    waiting: list[Item] = []  # texts, dwells and stops go with what follows them where a group could end
    for item in items:
        if isinstance(item, Happening):
            waiting.append(item)
            continue
        axes = _axes([item])
        begins = np.linalg.norm(np.diff(axes, axis=0, prepend=last), axis=1) > HELD
        if isinstance(item, Moves):
            begins &= item.motion == RAPID
        begins[0] |= not groups
        for start, stop in pairwise(sorted({0, *np.flatnonzero(begins).tolist(), len(axes)})):
            if begins[start]:
                groups.append([])
            groups[-1] += [*waiting, take(item, slice(start, stop)) if isinstance(item, Moves) else item]
            waiting = []
        last = axes[-1:]
    groups[-1] += waiting
    return groups


def _joined(groups: Sequence[list[Item]]) -> list[tuple[bool, list[Item]]]:
    """Whether the axis is held, and the items: neighbouring simultaneous groups as one, with neighbours that only position."""
    found: list[tuple[bool, list[Item]]] = []
    held = [bool((np.linalg.norm(axes - axes[0], axis=1) <= HELD).all()) for axes in map(_axes, groups)]
    for group, still, following_still in zip(groups, held, [*held[1:], True], strict=True):
        follows = bool(found) and not found[-1][0]
        moving = not still or ((follows or not following_still) and not any(map(cuts, group)))
        if moving and follows:
            found[-1][1].extend(group)
        else:
            found.append((not moving, list(group)))
    return found


def _reached(items: Sequence[Item], letter: str, file: str | None) -> float:
    """The angle at which these begin, degrees; ToolpathError for a tool axis that the rotary does not reach."""
    axes = _axes(items)
    alpha, miss = angle_of(axes, letter)
    if miss.max() > REACH_DEG:
        row = int(np.argmax(miss > REACH_DEG))
        lines = np.concatenate([np.atleast_1d(item.line) for item in items if not isinstance(item, Happening)])
        shown = ", ".join(f"{value:g}" for value in axes[row])
        other = " or another axis" if letter != "Z" else ", or axis X or Y"
        raise ToolpathError(
            f"the tool axis {shown} misses by {miss[row]:.4g} degrees what a rotary along {letter} can reach",
            place=Place(file=file, line=int(lines[row])),
            cure=f"let the CAM hold the tool across {letter}{other}",
        )
    return round(float(alpha[0]), ANGLE_DECIMALS) + 0.0  # no minus zero
