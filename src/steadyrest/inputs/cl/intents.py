"""Where does a stretch with tool axes hold its axis still (indexed), and where does the rotary move while cutting (simultaneous)?

A stretch is cut into groups where the tool axis changes in a rapid or on the way to a hole. A group whose axis holds over all of it
is indexed; the others are simultaneous, and neighbouring simultaneous groups stay one operation.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.circles import HELD
from steadyrest.inputs.frames import angle_of, indexed_points, turned
from steadyrest.inputs.items import Arcs, Happening, Hole, Item, Moves, Stretch, coalesced, line_of
from steadyrest.toolpath import RAPID

Floats = NDArray[np.float64]

REACH_DEG = 0.006
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector, 1e-4 of its length."""
ANGLE_DECIMALS = 9


@dataclass(slots=True)
class _Group:
    items: list[Item]
    held: bool = True
    cuts: bool = False


def told_apart(stretch: Stretch, letter: str, centre: Floats, file: str | None) -> list[Stretch]:
    """A stretch in the part frame as indexed and simultaneous stretches, in order; others as they are.

    letter    X, Y or Z: the axis of rotation; centre (3,) a point on it, toolpath units, part frame
    raises    ToolpathError for a tool axis out of reach
    """
    if stretch.settings.frame[0] != "part":
        return [stretch]
    if all(isinstance(item, Happening) for item in stretch.items):  # a stop, and the tool stays where it was
        stretch.settings = replace(stretch.settings, frame=("simultaneous",))
        return [stretch]
    groups = _joined(_groups(coalesced(stretch.items)))
    found: list[Stretch] = []
    for number, group in enumerate(groups):
        if group.held:
            alpha = _held_angle(group, letter, file)
            items = [_indexed(item, alpha, letter, centre) for item in group.items]
            frame: tuple[object, ...] = ("indexed", alpha)
        else:
            _check_reach(group, letter, file)
            items, frame = group.items, ("simultaneous",)
        before = stretch.before if number == 0 else None
        part = Stretch(replace(stretch.settings, frame=frame), stretch.name if number == 0 else "", before, items)
        part.comes_back = stretch.comes_back and number == 0
        found.append(part)
    return found


def _axis(item: Item) -> Floats | None:
    """The tool axes of an item, (n, 3); None for what has none."""
    if isinstance(item, Happening):
        return None
    assert item.axis is not None
    return item.axis if isinstance(item, Moves) else item.axis[None, :]


def _pieces(items: Sequence[Item]) -> Iterator[tuple[Item, bool]]:
    """The items, moves cut where a rapid changes the tool axis; with each, whether the axis may change on the way to it."""
    for item in items:
        if not isinstance(item, Moves):
            yield item, isinstance(item, Hole)
            continue
        assert item.axis is not None
        changes = np.linalg.norm(np.diff(item.axis, axis=0), axis=1) > HELD
        cuts = [0, *(np.flatnonzero(changes & (item.motion[1:] == RAPID)) + 1).tolist(), len(item.motion)]
        for start, stop in pairwise(cuts):
            yield item.rows(start, stop), bool(item.motion[start] == RAPID)


def _groups(items: Sequence[Item]) -> list[_Group]:
    groups: list[_Group] = []
    first: Floats | None = None
    last: Floats | None = None
    waiting: list[Item] = []  # texts, dwells and stops go with what follows them where a group could end
    for item, may_change in _pieces(items):
        axis = _axis(item)
        if axis is None:
            waiting.append(item)
            continue
        changed = last is None or float(np.linalg.norm(axis[0] - last)) > HELD
        if first is None or (may_change and changed):
            groups.append(_Group([]))
            first = axis[0]
        group = groups[-1]
        group.items += [*waiting, item]
        waiting = []
        group.held = group.held and bool((np.linalg.norm(axis - first, axis=1) <= HELD).all())
        group.cuts = group.cuts or not (isinstance(item, Moves) and bool((item.motion == RAPID).all()))
        last = axis[-1]
    groups[-1].items += waiting
    return groups


def _joined(groups: Sequence[_Group]) -> list[_Group]:
    """Neighbouring simultaneous groups as one; groups that only position belong to a simultaneous neighbour."""
    found: list[_Group] = []
    for at, group in enumerate(groups):
        following = groups[at + 1] if at + 1 < len(groups) else None
        loose = not group.cuts and ((found and not found[-1].held) or (following is not None and not following.held))
        moving = not group.held or loose
        if moving and found and not found[-1].held:
            found[-1].items += group.items
        else:
            found.append(_Group(list(group.items), held=not moving, cuts=group.cuts))
    return found


def _held_angle(group: _Group, letter: str, file: str | None) -> float:
    axis = next(axes for item in group.items if (axes := _axis(item)) is not None)
    alpha, _ = angle_of(axis[:1], letter)
    _check_reach(group, letter, file)
    rounded = round(float(alpha[0]), ANGLE_DECIMALS)
    return rounded + 0.0  # no minus zero


def _check_reach(group: _Group, letter: str, file: str | None) -> None:
    for item in group.items:
        axes = _axis(item)
        if axes is None:
            continue
        _, miss = angle_of(axes, letter)
        worst = int(np.argmax(miss))
        if miss[worst] > REACH_DEG:
            row = int(np.argmax(miss > REACH_DEG))
            line = int(item.line[row]) if isinstance(item, Moves) else line_of(item)
            shown = ", ".join(f"{value:g}" for value in axes[row])
            other = " or another axis" if letter != "Z" else ", or axis X or Y"
            raise ToolpathError(
                f"the tool axis {shown} misses by {miss[row]:.4g} degrees what a rotary along {letter} can reach",
                place=Place(file=file, line=line),
                cure=f"let the CAM hold the tool across {letter}{other}",
            )


def _indexed(item: Item, alpha: float, letter: str, centre: Floats) -> Item:
    """An item of the part frame in indexed coordinates."""
    if isinstance(item, Moves):
        end, arcs = indexed_points(item.end, alpha, letter, centre), item.arcs
        if arcs is not None:
            start, middle = (indexed_points(points, alpha, letter, centre) for points in (arcs.start, arcs.centre))
            arcs = Arcs(start, middle, turned(arcs.normal, -alpha, letter), arcs.full_turns)
        return replace(item, end=end, axis=None, arcs=arcs)
    if isinstance(item, Hole):
        return replace(item, point=indexed_points(item.point, alpha, letter, centre), axis=None)
    return item
