"""How does a stretch become operations of the neutral toolpath: moves where they are few or mixed, tables where they are many?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from steadyrest.errors import Place
from steadyrest.inputs.arcs import PLANES, axes_across, chorded
from steadyrest.inputs.changes import BrokenOff, Chorded
from steadyrest.inputs.items import (
    ARC,
    Before,
    Frame,
    Happening,
    Hole,
    Item,
    Moves,
    Stretch,
    coalesced,
    concatenated,
    entered,
    feed_after,
    is_note,
    line_of,
    tool_after,
)
from steadyrest.notices import Notice
from steadyrest.toolpath import CUT, RAPID, RUN_LENGTH, Table

FEW = 200
"""Up to so many rapids and cuts stay single moves, which a person can read."""
MOST_OBJECTS = 50_000
"""More moves than this become tables, and the arcs among them chords: an object costs some 3 microseconds and 1,500 bytes."""


LEAST_BLOCK = 10_000
"""Moves of so many rows are a block of a table by themselves: below that, what a block costs shows beside its rows."""


@dataclass(slots=True)
class Making:
    """What is the same for all operations of an input: its file, the chord tolerance in its units, and the notices gathered."""

    file: str | None
    tolerance: float
    notices: list[Notice] = field(default_factory=list)


def operations_of(stretch: Stretch, making: Making) -> list[dict[str, Any]]:
    """The operations of a stretch in one of the toolpath's own frames, as the objects of its JSON (tables in memory)."""
    items: list[Item] = stretch.items
    moves = sum(len(item.motion) if isinstance(item, Moves) else 1 for item in items)
    simultaneous = stretch.settings.frame[0] == "simultaneous"
    if simultaneous:
        items = _chorded(items, making, "an arc is not possible while the rotary moves", every=True)
    elif moves > MOST_OBJECTS:
        items = _chorded(items, making, f"an operation of more than {MOST_OBJECTS} moves is kept in columns", every=True)
    else:
        items = _chorded(items, making, "it lies in none of the planes XY, XZ, YZ", every=False)
    if stretch.comes_back:
        making.notices.append(BrokenOff(Place(file=making.file, line=line_of(items[0])), "tool, spindle, coolant or rotary change there"))
    if moves > FEW and all(isinstance(item, Moves) and item.arcs is None for item in items):
        return [_operation(stretch, stretch.name, table=_table(items))]
    if moves <= MOST_OBJECTS:
        return [_operation(stretch, stretch.name, moves=list(_objects(items)))]
    return list(_broken_up(stretch, coalesced(items), making))


def rotary_object(frame: Frame) -> dict[str, Any]:
    """The `rotary` of an operation in this frame."""
    if frame[0] == "indexed":
        return {"intent": "indexed", "angles": list(frame[1:])}
    if frame[0] == "wrapped":
        return {"intent": "wrapped", "diameter": frame[1], "start_angle": frame[2], "z_from": frame[3]}
    return {"intent": frame[0]}


def _operation(stretch: Stretch, name: str, **motion: Any) -> dict[str, Any]:
    settings = stretch.settings
    return {
        "name": name,
        "tool": settings.tool,
        "spindle": {"rpm": settings.rpm, "turns": settings.turns},
        "coolant": settings.coolant,
        "rotary": rotary_object(settings.frame),
        **motion,
    }


def _chorded(items: Sequence[Item], making: Making, reason: str, *, every: bool) -> list[Item]:
    """The items with arcs turned into chords: every one, or those in no plane of the machine."""
    found: list[Item] = []
    first, count = 0, 0
    for item in items:
        if isinstance(item, Moves) and item.arcs is not None:
            which = np.full(len(item.arcs.full_turns), True) if every else axes_across(item.arcs) < 0
            if which.any():
                first = first or int(item.line[np.flatnonzero(item.motion == ARC)[which][0]])
                count += int(np.count_nonzero(which))
                found.append(chorded(item, making.tolerance, which))
                continue
        found.append(item)
    if count:
        making.notices.append(Chorded(Place(file=making.file, line=first), count, making.tolerance, reason))
    return found


def _table(items: Sequence[Item]) -> Table:
    """One table of moves. Long ones stay the blocks that they are, in their own memory; short neighbours are joined."""
    moves = [item for item in items if isinstance(item, Moves)]
    cuts = any((item.motion == CUT).any() for item in moves)
    blocks = []
    for item in _in_blocks(moves):
        block: dict[str, Any] = {"motion": item.motion, "x": item.end[:, 0], "y": item.end[:, 1], "z": item.end[:, 2]}
        if item.axis is not None:
            block |= {"i": item.axis[:, 0], "j": item.axis[:, 1], "k": item.axis[:, 2]}
        if cuts:
            block["feed"] = item.feed
        blocks.append(block)
    return Table.from_blocks(blocks, copy=False)


def _in_blocks(moves: Sequence[Moves]) -> Iterator[Moves]:
    """The same rows in pieces of at least LEAST_BLOCK, but for the last, and at most RUN_LENGTH."""
    gathered: list[Moves] = []
    rows = 0
    for at, item in enumerate(moves):
        gathered.append(item)
        rows += len(item.motion)
        if rows >= LEAST_BLOCK or at == len(moves) - 1:
            joined = concatenated(gathered)
            yield from (joined.rows(start, start + RUN_LENGTH) for start in range(0, rows, RUN_LENGTH))
            gathered, rows = [], 0


def _objects(items: Sequence[Item]) -> Iterator[dict[str, Any]]:
    """The moves one by one; feed and tool axis where they change."""
    feed: float | None = None
    axis: list[float] | None = None
    for item in items:
        if isinstance(item, Moves):
            axes = [None] * len(item.motion) if item.axis is None else item.axis.tolist()
            arcs = _arcs(item)
            for kind, end, value, tool_axis in zip(item.motion.tolist(), item.end.tolist(), item.feed.tolist(), axes, strict=True):
                move: dict[str, Any] = next(arcs) if kind == ARC else {"rapid" if kind == RAPID else "cut": end}
                if kind != ARC and tool_axis != axis:
                    move["tool_axis"] = axis = tool_axis
                if kind != RAPID and value != feed:
                    move["feed"] = feed = value
                yield move
            continue
        if isinstance(item, Hole):
            move = _hole(item)
        else:
            yield item.move
            continue
        if move.get("feed") == feed and move.get("cycle") != "tap":
            move.pop("feed", None)
        feed = move.get("feed", feed)
        yield move


def _arcs(moves: Moves) -> Iterator[dict[str, Any]]:
    """The arcs among moves, each in one of the planes, without their feeds."""
    arcs = moves.arcs
    if arcs is None:
        return
    ends = moves.end[moves.motion == ARC]
    thirds = axes_across(arcs)
    closed = np.isclose(arcs.start, ends).all(axis=1).tolist()
    senses = (arcs.normal[np.arange(len(ends)), thirds] > 0).tolist()
    columns = (ends.tolist(), arcs.centre.tolist(), thirds.tolist(), senses, closed, arcs.full_turns.tolist())
    for end, centre, third, counterclockwise, full, turns in zip(*columns, strict=True):
        move: dict[str, Any] = {"arc": end, "centre": centre, "turns": "counterclockwise" if counterclockwise else "clockwise"}
        if PLANES[third] != "XY":
            move["plane"] = PLANES[third]
        if turns > 1 or (turns and not full):
            move["full_turns"] = turns
        yield move


def _hole(hole: Hole) -> dict[str, Any]:
    x, y, z = hole.point.tolist()
    place = [x, y, z] if hole.clearance > 0 else [x, y]
    return {"hole": place, "retract": z + hole.clearance, "bottom": z - hole.depth, **hole.says}


def _broken_up(stretch: Stretch, items: Sequence[Item], making: Making) -> Iterator[dict[str, Any]]:
    """A long stretch with events in it: tables of motion, and operations of moves for what stands between."""
    groups: list[list[Item]] = [[]]
    for item in items:
        if isinstance(item, Moves) and len(item.motion) > FEW:
            groups += [[item], []]
        else:
            groups[-1].append(item)
    name = stretch.name
    before: Before | None = None  # the way into the first group stands in it already
    for group in filter(None, groups):
        if all(is_note(item) for item in group):
            name = "; ".join(item.move["note"] for item in group if isinstance(item, Happening))
            continue
        part = entered(Stretch(stretch.settings, name, before, list(group)))
        if part.comes_back:
            reason = f"more than {MOST_OBJECTS} moves, with dwells, stops or texts between"
            making.notices.append(BrokenOff(Place(file=making.file, line=line_of(group[0])), reason))
        joined = coalesced(part.items)
        if all(isinstance(item, Moves) for item in joined):
            yield _operation(stretch, name, table=_table(joined))
        else:
            yield _operation(stretch, name, moves=list(_objects(joined)))
        feed = before.feed if before is not None else float("nan")
        for item in group:
            feed = feed_after(item, feed)
        standing = next((item for item in reversed(group) if not isinstance(item, Happening)), None)
        if standing is not None:
            before = Before(
                *tool_after(standing), placed=False, feed=feed, down=isinstance(standing, Moves) and bool(standing.motion[-1] != RAPID)
            )
