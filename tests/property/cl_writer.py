"""A toolpath as CL data, for tests: written straight from the words' meanings, and apart from what reads them.

Flat operations are written in either of two ways: as work coordinates after ROTABL (MULTAX/OFF), or as points of the part frame
with their tool axis (MULTAX/ON). Everything is also told as `happenings`: what happens, one after the other, in the part frame. The part
may lean: it is then turned as a whole about the toolpath's centre, so that its tool axes point anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from steadyrest.toolpath import ARC_CLOCKWISE, CUT, RAPID, Dwell, Hole, Holes, MoveColumns, Note, Operation, Stop, Toolpath

Floats = NDArray[np.float64]
Z = np.array([0.0, 0.0, 1.0])
NORMAL = (np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0]))
CYCLES = {"drill": "DRILL", "dwell-drill": "DRILL", "peck": "DEEP", "chip-break": "BRKCHP", "tap": "TAP", "bore": "BORE"}
COOLANT = {"off": "OFF", "flood": "FLOOD", "mist": "MIST", "through": "THRU"}


UPRIGHT = Rotation.identity()


def placed(toolpath: Toolpath, alpha_deg: float, leaning: Rotation = UPRIGHT) -> tuple[Rotation, Floats]:
    """R(alpha) about the toolpath's axis, and the centre."""
    axis = np.eye(3)["XYZ".index(toolpath.axis)]
    return leaning * Rotation.from_rotvec(np.radians(alpha_deg) * axis), np.array(toolpath.centre)


def _places(toolpath: Toolpath, operation: Operation, leaning: Rotation) -> Iterator[tuple[Rotation, Floats]]:
    """How the operation's own coordinates p lie in the part, as often as it is cut: a rotation, and what is then added."""
    if planes := getattr(operation.rotary, "planes", None):
        for plane in planes:
            yield Rotation.from_matrix(plane.axes), np.array(plane.origin)
        return
    for alpha in getattr(operation.rotary, "angles", (0.0,)):
        turn, centre = placed(toolpath, alpha, leaning)
        yield turn, centre - turn.apply(centre)


def happenings(toolpath: Toolpath, leaning: Rotation = UPRIGHT) -> Iterator[tuple[str, dict[str, Any]]]:
    """What happens in the part frame: kind, and its facts as numbers and texts."""
    for operation in toolpath.operations:
        settings = {"tool": operation.tool, "rpm": operation.spindle.rpm, "turns": operation.spindle.turns, "coolant": operation.coolant}
        if operation.name:
            yield "text", {"text": operation.name}
        for turn, origin in _places(toolpath, operation, leaning):
            for item in operation.stream():
                yield from _happening(item, settings, turn, origin)


def _happening(item: Any, settings: dict[str, Any], turn: Rotation, origin: Floats) -> Iterator[tuple[str, dict[str, Any]]]:
    def part(points: Floats) -> Floats:
        return np.asarray(origin + turn.apply(points))

    if isinstance(item, Note):
        yield "text", {"text": item.text}
    elif isinstance(item, Dwell):
        yield "dwell", {"seconds": item.seconds, **settings}
    elif isinstance(item, Stop):
        yield "stop", {"optional": item.optional, **settings}
    elif isinstance(item, Holes):
        for hole in item:
            yield from _happening(hole, settings, turn, origin)
    elif isinstance(item, Hole):
        top, bottom = (part(np.array([item.x, item.y, z])) for z in (item.retract, item.bottom))
        extra = {"peck": item.peck or 0.0, "dwell": item.dwell, "lead": item.lead or 0.0}
        yield item.cycle, {"top": top, "bottom": bottom, "feed": item.feed, **extra, **settings}
    else:
        simultaneous = item.tool_axis is not None
        for row in range(len(item)):
            facts: dict[str, Any] = {"end": part(item.end[row]), **settings}
            facts["axis"] = turn.apply(item.tool_axis[row] if simultaneous else Z)
            if item.kind[row] == RAPID:
                yield "rapid", facts
                continue
            facts["feed"] = item.feed[row]
            if item.kind[row] == CUT:
                yield "cut", facts
                continue
            arcs = item.arcs
            assert arcs is not None
            facts |= {"centre": part(arcs.centre[row]), "turn": turn.apply(NORMAL[arcs.plane[row]]) * arcs.sweep_rad[row]}
            yield "arc", facts


def cl_text(toolpath: Toolpath, *, with_axes: bool, leaning: Rotation = UPRIGHT) -> str:
    """The toolpath as CL data; `with_axes`: flat operations too as points with their tool axis, as has to be where the part leans."""
    lines = [f"PARTNO {toolpath.name}", f"UNITS/{'MM' if toolpath.units == 'mm' else 'INCHES'}"]
    for operation in toolpath.operations:
        if operation.name:
            lines.append(f"PPRINT {operation.name}")
        lines.append(f"LOADTL/{operation.tool}")
        lines.append(f"SPINDL/{operation.spindle.rpm!r},RPM,{'CLW' if operation.spindle.turns == 'clockwise' else 'CCLW'}")
        lines += ["COOLNT/OFF", "AIR/OFF"]
        lines.append("AIR/ON" if operation.coolant == "air" else f"COOLNT/{COOLANT[operation.coolant]}")
        simultaneous = operation.rotary.intent == "simultaneous"
        for alpha in getattr(operation.rotary, "angles", (0.0,)):
            axes = simultaneous or with_axes
            if axes:
                lines.append("MULTAX/ON")
            else:
                lines += ["MULTAX/OFF", "TLAXIS/0,0,1", f"ROTABL/ATANGL,{alpha!r}"]
            lines += _operation(toolpath, operation, *placed(toolpath, alpha, leaning), axes=axes)
    return "\n".join([*lines, "FINI", ""])


def _operation(toolpath: Toolpath, operation: Operation, turn: Rotation, centre: Floats, *, axes: bool) -> Iterator[str]:
    simultaneous = operation.rotary.intent == "simultaneous"

    def point(place: Floats, axis: Floats | None) -> str:
        if axes:
            place, axis = centre + turn.apply(place - centre), turn.apply(Z if axis is None else axis)
        return ",".join(repr(float(value)) for value in (*place, *(() if axis is None else axis)))

    for item in operation.stream():
        if isinstance(item, Note):
            yield f"PPRINT {item.text}"
        elif isinstance(item, Dwell):
            yield f"DELAY/{item.seconds!r}"
        elif isinstance(item, Stop):
            yield "OPSTOP" if item.optional else "STOP"
        elif isinstance(item, Holes):
            for hole in item:
                feed = f"PERREV,{hole.lead!r}" if hole.lead else f"PERMIN,{hole.feed!r}"
                step = f",STEP,{hole.peck!r}" if hole.peck else ""
                dwell = f",DWELL,{hole.dwell!r}" if hole.dwell or hole.cycle == "dwell-drill" else ""
                yield f"CYCLE/{CYCLES[hole.cycle]},DEPTH,{hole.retract - hole.bottom!r},{feed},CLEAR,0{step}{dwell}"
                yield "GOTO/" + point(np.array([hole.x, hole.y, hole.retract]), None)
                yield "CYCLE/OFF"
        else:
            yield from _moves(item, point, turn, axes=axes, simultaneous=simultaneous, centre=centre)


def _moves(item: MoveColumns, point: Any, turn: Rotation, *, axes: bool, simultaneous: bool, centre: Floats) -> Iterator[str]:
    for row in range(len(item)):
        end = point(item.end[row], item.tool_axis[row] if simultaneous and item.tool_axis is not None else None)
        if item.kind[row] == RAPID:
            yield "RAPID"
        else:
            yield f"FEDRAT/{float(item.feed[row])!r},PERMIN"
        if item.kind[row] >= ARC_CLOCKWISE:
            assert item.arcs is not None
            middle = item.arcs.centre[row]
            normal = NORMAL[item.arcs.plane[row]] * (-1.0 if item.kind[row] == ARC_CLOCKWISE else 1.0)
            begin = item.end[row - 1]
            across = begin - middle
            radius = float(np.linalg.norm(across - normal * float(across @ normal)))
            if axes:
                middle, normal = centre + turn.apply(middle - centre), turn.apply(normal)
            yield "CIRCLE/" + ",".join(repr(float(value)) for value in (*middle, *normal, radius))
        yield "GOTO/" + end
