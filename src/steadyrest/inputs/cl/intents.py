"""Intents of a stretch with tool axes: where it holds its axis still (indexed), and where the rotary moves while cutting (simultaneous).

A stretch is cut into groups where the tool axis changes in a rapid or on the way to a hole. A group whose axis holds over all of it
is indexed, at an angle if one rotary along the part's axis reaches it, else in a plane; the others are simultaneous, and neighbouring
simultaneous groups stay one operation. Whether a machine lays its tool along an axis is asked where its chain is known, in planning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.inputs.cl.arcs_and_holes import HELD
from steadyrest.inputs.cl.state import lying
from steadyrest.inputs.geometry import angle_of, indexed_points, turned
from steadyrest.inputs.stretches import Frame, Happening, Item, Moves, Stretch, coalesced, cuts, mapped
from steadyrest.toolpath import RAPID, Plane

REACH_DEG = 0.006
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector, 1e-4 of its length."""
ANGLE_DECIMALS = 9
DIRECTION_DECIMALS = 12


def by_intent(stretch: Stretch, letter: str, centre: Floats, beyond: dict[int, str]) -> list[Stretch]:
    """A stretch in the part frame as indexed and simultaneous stretches, in order; others as they are.

    letter    X, Y or Z: the axis of rotation; centre (3,) a point on it, toolpath units, part frame
    beyond    is added to, by its line: of each group the first tool axis that one rotary along `letter` does not reach, and the miss
    """
    frame: Frame = stretch.conditions.frame
    if frame[0] not in ("part", "laid"):
        return [stretch]
    if stretch.only_happens:  # a stop, and the tool stays where it was
        stretch.conditions = replace(stretch.conditions, frame=("simultaneous",))
        return [stretch]
    whole = coalesced(stretch.items if frame[0] == "part" else [_in_part(item, frame) for item in stretch.items])
    found: list[Stretch] = []
    for held, items in _joined(_groups(whole)):
        axes = _axes(items)
        within = _within_reach(axes, items, letter, beyond)
        frame = ("simultaneous",)
        if held and within:
            alpha = round(float(angle_of(axes, letter)[0][0]), ANGLE_DECIMALS) + 0.0  # no minus zero
            frame, points = ("indexed", alpha), partial(indexed_points, alpha_deg=alpha, letter=letter, centre=centre)
            items = [mapped(item, points, partial(turned, alpha_deg=-alpha, letter=letter)) for item in items]
        elif held:
            z = tuple((np.round(axes[0], DIRECTION_DECIMALS) + 0.0).tolist())
            columns = Plane(origin=(0.0, 0.0, 0.0), z=z).axes
            frame, along = ("plane", (0.0, 0.0, 0.0), z, tuple(columns[:, 0].tolist())), partial(_into, columns)
            items = [mapped(item, along, along) for item in items]
        found.append(Stretch(replace(stretch.conditions, frame=frame), items=items))
    found[0].name, found[0].before, found[0].comes_back = stretch.name, stretch.before, stretch.comes_back
    return found


def _into(columns: Floats, vectors: Floats) -> Floats:
    """Vectors (..., 3) in the coordinates of a plane, whose x, y and z are the columns (3, 3)."""
    return np.asarray(vectors @ columns)


def _in_part(item: Item, frame: Frame) -> Item:
    """An item said in the coordinates of a plane, its tool axes with it, in the part frame."""
    rows: Any = lying(frame)
    found = mapped(item, lambda points: np.asarray(frame[1] + points @ rows), lambda normals: np.asarray(normals @ rows))
    return found if isinstance(item, Happening) or item.axis is None else replace(found, axis=item.axis @ rows)


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


def _within_reach(axes: Floats, items: Sequence[Item], letter: str, beyond: dict[int, str]) -> bool:
    """Whether one rotary along `letter` reaches all of these tool axes (n, 3); else the first that it does not is told."""
    miss = angle_of(axes, letter)[1]
    if miss.max() <= REACH_DEG:
        return True
    row = int(np.argmax(miss > REACH_DEG))
    lines = np.concatenate([np.atleast_1d(item.line) for item in items if not isinstance(item, Happening)])
    shown = ", ".join(f"{value:g}" for value in axes[row])
    beyond.setdefault(int(lines[row]), f"the tool axis {shown} misses by {miss[row]:.4g} degrees what one rotary along {letter} reaches")
    return False
