"""Intents of a stretch with tool axes: where it holds its axis still (indexed), and where the rotary moves while cutting (simultaneous).

A stretch is cut into groups where the tool axis changes in a rapid or on the way to a hole. A group whose axis holds over all of it
is indexed; the others are simultaneous, and neighbouring simultaneous groups stay one operation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.arcs_and_holes import HELD
from steadyrest.inputs.geometry import angle_of, indexed_points, turned
from steadyrest.inputs.stretches import Happening, Item, Moves, Stretch, coalesced, cuts, line_of, mapped
from steadyrest.toolpath import RAPID

REACH_DEG = 0.006
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector, 1e-4 of its length."""
ANGLE_DECIMALS = 9


@dataclass(slots=True)
class _Group:
    items: list[Item]
    held: bool = True
    cuts: bool = False


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
    for group in _joined(_groups(coalesced(stretch.items))):
        alpha = _reached(group, letter, file)
        frame: tuple[object, ...] = ("indexed", alpha) if group.held else ("simultaneous",)
        if group.held:
            points = partial(indexed_points, alpha_deg=alpha, letter=letter, centre=centre)
            group.items = [mapped(item, points, partial(turned, alpha_deg=-alpha, letter=letter)) for item in group.items]
        found.append(Stretch(replace(stretch.conditions, frame=frame), items=group.items))
    found[0].name, found[0].before, found[0].comes_back = stretch.name, stretch.before, stretch.comes_back
    return found


def _axes(item: Item) -> Floats | None:
    if isinstance(item, Happening):
        return None
    assert item.axis is not None
    return np.atleast_2d(item.axis)


def _groups(items: Sequence[Item]) -> list[_Group]:
    """A group begins where the tool axis changes in a rapid or on the way to a hole; there moves are cut."""
    groups: list[_Group] = []
    first = last = np.zeros(3)
    waiting: list[Item] = []  # texts, dwells and stops go with what follows them where a group could end
    for item in items:
        axes = _axes(item)
        if axes is None:
            waiting.append(item)
            continue
        begins = np.linalg.norm(np.diff(axes, axis=0, prepend=last[None, :]), axis=1) > HELD
        if isinstance(item, Moves):
            begins &= item.motion == RAPID
        begins[0] |= not groups
        for start, stop in pairwise(sorted({0, *np.flatnonzero(begins).tolist(), len(axes)})):
            if begins[start]:
                groups.append(_Group([]))
                first = axes[start]
            group = groups[-1]
            part = take(item, slice(start, stop)) if isinstance(item, Moves) else item
            group.items += [*waiting, part]
            waiting = []
            group.held = group.held and bool((np.linalg.norm(axes[start:stop] - first, axis=1) <= HELD).all())
            group.cuts = group.cuts or cuts(part)
        last = axes[-1]
    groups[-1].items += waiting
    return groups


def _joined(groups: Sequence[_Group]) -> list[_Group]:
    """Neighbouring simultaneous groups as one; groups that only position belong to a simultaneous neighbour."""
    found: list[_Group] = []
    for group, following in zip(groups, [*groups[1:], _Group([])], strict=True):
        beside = not following.held or (bool(found) and not found[-1].held)
        moving = not group.held or (not group.cuts and beside)
        if moving and found and not found[-1].held:
            found[-1].items += group.items
        else:
            found.append(_Group(list(group.items), held=not moving, cuts=group.cuts))
    return found


def _reached(group: _Group, letter: str, file: str | None) -> float:
    """The angle at which the group begins, degrees; ToolpathError for a tool axis that the rotary does not reach."""
    angle: float | None = None
    for item in group.items:
        axes = _axes(item)
        if axes is None:
            continue
        alpha, miss = angle_of(axes, letter)
        angle = float(alpha[0]) if angle is None else angle
        if miss.max() > REACH_DEG:
            row = int(np.argmax(miss > REACH_DEG))
            line = int(item.line[row]) if isinstance(item, Moves) else line_of(item)
            shown = ", ".join(f"{value:g}" for value in axes[row])
            other = " or another axis" if letter != "Z" else ", or axis X or Y"
            raise ToolpathError(
                f"the tool axis {shown} misses by {miss[row]:.4g} degrees what a rotary along {letter} can reach",
                place=Place(file=file, line=line),
                cure=f"let the CAM hold the tool across {letter}{other}",
            )
    return round(angle or 0.0, ANGLE_DECIMALS) + 0.0  # no minus zero
