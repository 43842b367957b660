"""Operations of the neutral toolpath from a stretch: moves where they are few or mixed, tables where they are many."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from steadyrest.columns import gathered, join, take
from steadyrest.conventions import PLANES
from steadyrest.errors import Place
from steadyrest.inputs.geometry import axes_across, chorded
from steadyrest.inputs.stretches import ARC, Frame, Happening, Hole, Item, Moves, Stand, Stretch, coalesced, cuts, entered, is_note, line_of
from steadyrest.notices import Notice, noticed
from steadyrest.toolpath import RAPID, RUN_LENGTH, Table

FEW = 200
"""Up to so many rapids and cuts stay single moves, which a person can read."""
MOST_OBJECTS = 50_000
"""More moves than this become tables, and the arcs among them chords: an object costs some 3 microseconds and 1,500 bytes."""
JOINED = 20_000
"""Moves are joined to blocks of so many rows: of a few thousand, what a block costs would show beside its rows."""


def operations_of(stretch: Stretch, file: str | None, tolerance: float, notices: list[Notice]) -> list[dict[str, Any]]:
    """The operations of a stretch in one of the toolpath's own frames, as the objects of its JSON (tables in memory).

    tolerance    of chords, in the units of the stretch
    notices      what is changed is added to this list
    """
    count = _count(stretch.items)
    every, reason = False, "it is in none of the planes XY, XZ, YZ"
    if stretch.conditions.frame[0] == "simultaneous":
        every, reason = True, "an arc is not possible while the rotary moves"
    elif count > MOST_OBJECTS:
        every, reason = True, f"an operation of more than {MOST_OBJECTS} moves is kept in columns"
    items: list[Item] = []
    first, arcs = 0, 0
    for item in stretch.items:
        if isinstance(item, Moves) and item.arcs is not None:
            which = item.motion == ARC
            if not every:
                which[which] = axes_across(take(item.arcs, which)) < 0
            if which.any():
                first = first or int(item.line[np.argmax(which)])
                arcs += int(np.count_nonzero(which))
                item = chorded(item, tolerance, which)
        items.append(item)
    if arcs:
        notices.append(noticed("Chorded", Place(file=file, line=first), arcs=arcs, tolerance=tolerance, reason=reason))
    if stretch.comes_back:
        reason = "tool, spindle, coolant or rotary change there"
        notices.append(noticed("BrokenOff", Place(file=file, line=line_of(items[0])), reason=reason))
    if count <= MOST_OBJECTS or _plain(items):
        return [_operation(stretch, stretch.name, items)]
    return list(_broken_up(stretch, coalesced(items), file, notices))


def _count(items: Sequence[Item]) -> int:
    return sum(len(item.motion) if isinstance(item, Moves) else 1 for item in items)


def _plain(items: Sequence[Item]) -> bool:
    return all(isinstance(item, Moves) and not (item.motion == ARC).any() for item in items)


def _operation(stretch: Stretch, name: str, items: Sequence[Item]) -> dict[str, Any]:
    conditions = stretch.conditions
    frame: Frame = conditions.frame
    rotary: dict[str, Any] = {"intent": frame[0]}
    if frame[0] == "indexed":
        rotary["angles"] = list(frame[1:])
    if frame[0] == "plane":
        rotary = {"intent": "indexed", "planes": [dict(zip(("origin", "z", "x"), map(list, frame[1:]), strict=True))]}
    if frame[0] == "wrapped":
        rotary |= zip(("diameter", "start_angle", "z_from"), frame[1:], strict=True)
    tabled = _count(items) > FEW and _plain(items)
    return {
        "name": name,
        "tool": conditions.tool,
        "spindle": {"rpm": conditions.rpm, "turns": conditions.turns},
        "coolant": conditions.coolant,
        "rotary": rotary,
        "table" if tabled else "moves": Table.from_blocks(list(_blocks(items)), copy=False) if tabled else list(_objects(items)),
    }


def _blocks(items: Sequence[Item]) -> Iterator[dict[str, Any]]:
    """The blocks of a table of moves. Long moves stay in their own memory; short neighbours are joined."""
    moves = [item for item in items if isinstance(item, Moves)]
    some_cut = any(map(cuts, moves))
    for group in gathered(moves, len, JOINED, len(moves)):
        whole = join(group)
        for start in range(0, len(whole), RUN_LENGTH):
            item = take(whole, slice(start, start + RUN_LENGTH))
            axes = () if item.axis is None else zip("ijk", item.axis.T, strict=True)
            feed = {"feed": item.feed} if some_cut else {}
            yield {"motion": item.motion, **dict(zip("xyz", item.end.T, strict=True)), **dict(axes), **feed}


def _objects(items: Sequence[Item]) -> Iterator[dict[str, Any]]:
    feed: float | None = None
    axis: list[float] | None = None
    for item in items:
        if isinstance(item, Happening):
            yield item.move
        elif isinstance(item, Hole):
            x, y, z = item.point.tolist()
            place = [x, y, z] if item.clearance > 0 else [x, y]
            move = {"hole": place, "retract": z + item.clearance, "bottom": z - item.depth, **item.says}
            if move.get("feed") == feed and move.get("cycle") != "tap":
                move.pop("feed", None)
            feed = move.get("feed", feed)
            yield move
        else:
            axes = [None] * len(item.motion) if item.axis is None else item.axis.tolist()
            arcs = _arcs(item)
            for kind, end, value, tool_axis in zip(item.motion.tolist(), item.end.tolist(), item.feed.tolist(), axes, strict=True):
                move = next(arcs) if kind == ARC else {"rapid" if kind == RAPID else "cut": end}
                if kind != ARC and tool_axis != axis:
                    move["tool_axis"] = axis = tool_axis
                if kind != RAPID and value != feed:
                    move["feed"] = feed = value
                yield move


def _arcs(moves: Moves) -> Iterator[dict[str, Any]]:
    """The arcs among moves, each in one of the planes, without their feeds."""
    if moves.arcs is None:
        return
    chosen = moves.motion == ARC
    arcs, ends = take(moves.arcs, chosen), moves.end[chosen]
    thirds = axes_across(arcs)
    closed = np.isclose(arcs.start, ends).all(axis=1).tolist()
    turns_left = (arcs.normal[np.arange(len(ends)), thirds] > 0).tolist()
    columns = (ends.tolist(), arcs.centre.tolist(), thirds.tolist(), turns_left, closed, arcs.full_turns.tolist())
    for end, centre, third, counterclockwise, full, turns in zip(*columns, strict=True):
        move: dict[str, Any] = {"arc": end, "centre": centre, "turns": "counterclockwise" if counterclockwise else "clockwise"}
        if third != 2:
            move["plane"] = PLANES[2 - third]
        if turns > 1 or (turns and not full):
            move["full_turns"] = turns
        yield move


def _broken_up(stretch: Stretch, items: Sequence[Item], file: str | None, notices: list[Notice]) -> Iterator[dict[str, Any]]:
    """A long stretch with events in it: tables of motion, and operations of moves for what stands between."""
    name = stretch.name
    before = Stand()  # the way into the first group stands in it already
    for _, grouped in groupby(items, lambda item: isinstance(item, Moves) and len(item.motion) > FEW):
        group = list(grouped)
        if all(map(is_note, group)):
            name = "; ".join(item.move["note"] for item in group if isinstance(item, Happening))
            continue
        part = entered(Stretch(stretch.conditions, name, before, list(group)))
        if part.comes_back:
            reason = f"more than {MOST_OBJECTS} moves, with dwells, stops or texts between"
            notices.append(noticed("BrokenOff", Place(file=file, line=line_of(group[0])), reason=reason))
        yield _operation(stretch, name, coalesced(part.items))
        for item in group:
            before = before.after(item)
