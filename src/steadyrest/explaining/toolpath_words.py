"""What does the toolpath say at one of its moves?"""

from __future__ import annotations

from collections.abc import Iterable

from steadyrest.conventions import PLANE_AXES, PLANES
from steadyrest.toolpath import RAPID, Dwell, Hole, Holes, MoveColumns, Note, Operation, Stop


def moves_of(operation: Operation, wanted: Iterable[int]) -> dict[int, str]:
    """Some moves of an operation in words, by their numbers; a long table is read once."""
    left = set(wanted)
    found: dict[int, str] = {}
    for item in operation.stream():
        if not left:
            break
        if isinstance(item, MoveColumns):
            for move in [number for number in left if item.first_move <= number < item.first_move + len(item)]:
                found[move] = _motion(item, move - item.first_move)
                left.discard(move)
            continue
        for event in item if isinstance(item, Holes) else (item,):
            if event.move in left:
                found[event.move] = _event(event)
                left.discard(event.move)
    return found


def is_arc(asked: str) -> bool:
    """The words of `moves_of` are those of an arc."""
    return asked.startswith("arc")


def _motion(run: MoveColumns, row: int) -> str:
    place = _point(run.end[row])
    kind = int(run.kind[row])
    if kind == RAPID:
        text = f"rapid to {place}"
    elif kind < 2:
        text = f"cut to {place}"
    else:
        assert run.arcs is not None
        plane, centre = int(run.arcs.plane[row]), run.arcs.centre[row]
        across = ", ".join(f"{'XYZ'[axis]} {_number(centre[axis])}" for axis in sorted(PLANE_AXES[plane][:2]))
        turns = int(run.arcs.full_turns[row])
        text = f"arc {'clockwise' if kind == 2 else 'counterclockwise'} in {PLANES[plane]} to {place}, centre {across}"
        text += f", {turns} full turn(s)" if turns else ""
    if run.tool_axis is not None:
        text += f", tool axis ({', '.join(_number(value) for value in run.tool_axis[row])})"
    return text if kind == RAPID else f"{text}, feed {_number(float(run.feed[row]))}"


def _event(item: Dwell | Hole | Stop | Note) -> str:
    if isinstance(item, Dwell):
        return f"dwell of {_number(item.seconds)} seconds"
    if isinstance(item, Hole):
        return (
            f"hole at X {_number(item.x)} Y {_number(item.y)}, cycle {item.cycle}, "
            f"from {_number(item.retract)} to {_number(item.bottom)}, feed {_number(item.feed)}"
        )
    if isinstance(item, Stop):
        return "optional stop" if item.optional else "stop"
    return f"note {item.text!r}"


def _point(place: Iterable[float]) -> str:
    return " ".join(f"{letter} {_number(value)}" for letter, value in zip("XYZ", place, strict=True))


def _number(value: float) -> str:
    return f"{float(value):.6g}" if abs(value) < 1e6 else f"{float(value):.1f}"
