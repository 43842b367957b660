"""CIRCLE and CYCLE: what the points after them make, arcs and holes.

CIRCLE/x,y,z,i,j,k,r (centre, axis vector, radius) describes the arc on which the points after it lie. Some systems write all
points of the arc, no farther apart than their tolerance, others its end only. A first chord within the tolerance of the arc shows
that the points are all of them; then they tell the sense, and the last of them is the end. Else the first point is the end, and
the arc turns right-hand round its axis vector (common practice). But systems are known whose axis vector has no sense, so an arc
that would double back on the cut before it, where the other sense would go smoothly on, is refused unless circle_turns is said.
Where a further point on the circle leaves both readings open, and they differ by more than the tolerance, the file is refused
unless circle_points says which is meant.

CYCLE has two spellings (ISO 4343, from memory): couplets throughout, CYCLE/DRILL,DEPTH,20,PERMIN,120,CLEAR,3; or the numbers by place,
CYCLE/DRILL,depth,PERMIN,feed,clearance. Depth is measured down from the point, clearance up from it, along the tool axis.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from steadyrest.columns import Bools, Floats, join, take
from steadyrest.inputs.cl.auxiliary import FEED_WORDS, feed_of
from steadyrest.inputs.cl.state import Circle, ClState, Cycle
from steadyrest.inputs.cl.statement import Couplet, Statement
from steadyrest.inputs.geometry import flat
from steadyrest.inputs.stretches import ARC, ArcColumns, Hole, Moves
from steadyrest.toolpath import RADIUS_TOLERANCE

HELD = 1e-5
"""How far a tool axis may move, as a length of the unit vector, and still hold: five written decimals (common practice)."""
SMOOTH_RAD = math.radians(5.0)
"""Two directions this close are one smooth way."""
HALF_TURN_RAD = 1e-4
"""A step this close to half a turn has no sense of its own."""


def circle(state: ClState, statement: Statement) -> None:
    """CIRCLE/x,y,z,i,j,k,r: the next points lie on it."""
    numbers = state.lengths(statement, 7)
    if state.rapid is not None:
        raise statement.error("RAPID before an arc: an arc is a cut", "take RAPID out, or write the arc as points")
    if state.cycle is not None:
        raise statement.error("an arc while a CYCLE is on", "put CYCLE/OFF before it")
    state.carry_over(statement.line, cutting=True)
    if state.point is None:
        raise statement.error("an arc with no start point", "put FROM or GOTO to its start before it")
    normal = np.array(numbers[3:6])
    length = float(np.linalg.norm(normal))
    if abs(length - 1.0) > 1e-4:
        raise statement.error(
            f"the axis vector of the arc has length {length:.6g}; allowed is 1, within 0.0001", "divide i, j, k by their length"
        )
    if not numbers[6] > 0:
        raise statement.error(f"the radius {numbers[6]:g} is not more than 0", "correct it")
    centre = np.array(numbers[:3]) * state.factor + state.shift
    found = Circle(centre, normal / length, numbers[6] * state.factor, statement)
    _on_circle(state, found, state.point[None, :], "the point before it")
    state.circle = found


def _on_circle(state: ClState, found: Circle, points: Floats, what: str = "") -> Bools:
    """Which points (n, 3) are on it; ToolpathError where the first has to be, as `what` says, and is not."""
    radii = np.linalg.norm(flat(points - found.centre, found.normal), axis=1)
    on_it: Bools = np.abs(radii - found.radius) <= max(RADIUS_TOLERANCE[state.units or "mm"], state.tolerance or 0.0)
    if what and not on_it[0]:
        raise found.statement.error(
            f"{what} is {radii[0]:.6g} from the axis of the arc, whose radius is {found.radius:.6g} (in the toolpath's units)",
            "correct the centre, the radius or the point",
        )
    return on_it


def collect(state: ClState, moves: Moves) -> int:
    """Take the points that belong to the pending circle, as far as can be told here; returns how many were taken."""
    found = state.circle
    assert found is not None
    one = state.options.circle_points == "one"
    if one and found.points:
        return 0
    on_it = _on_circle(state, found, moves.end, "" if found.points else "the point after it")
    taken = 1 if one else int(np.argmin([*on_it, False]))
    if taken:
        found.points.append(take(moves, slice(taken)))
    return taken


def flush(state: ClState) -> None:
    """The pending circle and its points become an arc, and cuts for points that lie on it by chance."""
    found, state.circle = state.circle, None
    if found is None:
        return
    if not found.points:
        raise found.statement.error("an arc without a point after it", "put GOTO with its end after it, and no other statement between")
    assert state.point is not None
    points = join(found.points)
    line, axes = int(points.line[0]), points.axis
    feed = points.feed[:] = state.feed_per_minute(line)
    conditions = state.conditions(line, cutting=True)
    spokes = flat(np.vstack([state.point, points.end]) - found.centre, found.normal)  # from the axis of the circle to each point
    many = _points_of_arc(state, found, spokes)
    arc = _arc(state, found, spokes[: many + 1])
    if axes is not None and (np.linalg.norm(axes[:many] - axes[0], axis=1) > HELD).any():
        if many == 1 or _sagittas(found, spokes)[0] > state.chord:
            raise found.statement.error("an arc while the tool axis turns", "write it as points, each with its tool axis")
        many = 0
    if many:
        state.add(conditions, Moves.one(ARC, points.end[many - 1], feed, line, None if axes is None else axes[0], arc))
        state.heading = _tangent(arc, spokes[many])
    if many < len(points):
        state.add(conditions, take(points, slice(many, None)))


def _sagittas(found: Circle, spokes: Floats) -> Floats:
    """How far the chords (n,) between n + 1 points of the circle leave the shorter arcs over them: s = r - sqrt(r^2 - (c / 2)^2)."""
    chords = np.linalg.norm(np.diff(spokes, axis=0), axis=1)
    return np.asarray(found.radius - np.sqrt(np.maximum(0.0, found.radius**2 - chords * chords / 4)))


def _points_of_arc(state: ClState, found: Circle, spokes: Floats) -> int:
    count = len(spokes) - 1
    if state.options.circle_points == "all":
        return count
    if count == 1 or state.options.circle_points == "one":
        return 1
    close = _sagittas(found, spokes) <= state.chord
    if not close[:2].any():
        raise found.statement.error(
            f"{count} points after CIRCLE are on it: the arc may end at the first or at the last of them",
            'set circle_points = "one" (the first ends it) or "all" for this input',
        )
    return max(1, int(np.argmin([*close, False])))


def _arc(state: ClState, found: Circle, spokes: Floats) -> ArcColumns:
    """The arc from the first to the last of n + 1 points, in the sense that they show, or else that of the axis vector."""
    assert state.point is not None
    # the signed angles between the points, right-hand round the axis vector, -pi to pi
    steps = np.arctan2(np.cross(spokes[:-1], spokes[1:]) @ found.normal, (spokes[:-1] * spokes[1:]).sum(axis=1))
    arc = ArcColumns(state.point[None, :], found.centre[None, :], found.normal[None, :], np.zeros(1, dtype=np.int64))
    half_turn = np.abs(steps).max() > math.pi - HALF_TURN_RAD
    if len(steps) > 1:
        senses = set(np.sign(steps[np.abs(steps) > 1e-12]).tolist())
        if len(senses) != 1 or half_turn:
            raise found.statement.error(
                "the points of the arc go back and forth, or are half a turn apart", "write the arc with points in order"
            )
        turns = int((abs(steps.sum()) + 1e-9) // (2 * math.pi))  # a whole turn but for rounding is one
        return replace(arc, normal=arc.normal * senses.pop(), full_turns=np.array([turns]))
    if float(np.linalg.norm(spokes[1] - spokes[0])) < 1e-6:
        arc = replace(arc, full_turns=np.ones(1, dtype=np.int64))
    elif state.options.circle_turns == "shorter":
        if half_turn:
            raise found.statement.error("a half circle has no shorter way", 'set circle_turns = "right-hand", or write a point in between')
        arc = replace(arc, normal=arc.normal * math.copysign(1.0, steps[0]))
    if state.options.circle_turns is None and state.heading is not None:
        tangent = _tangent(arc, spokes[0])
        back = math.atan2(float(np.linalg.norm(np.cross(tangent, state.heading))), float(tangent @ state.heading))
        if back > math.pi - SMOOTH_RAD:
            raise found.statement.error(
                "right-hand round its axis vector the arc doubles back on the cut before it, the other way round it goes smoothly on",
                'set circle_turns = "right-hand" or "shorter" for this input',
            )
    return arc


def _tangent(arc: ArcColumns, spoke: Floats) -> Floats:
    """The unit tangent of an arc at one of its ends, its rise left out."""
    way = np.cross(arc.normal[0], spoke)
    return np.asarray(way / np.linalg.norm(way))


KINDS = {
    "DRILL": "drill",
    "FACE": "dwell-drill",
    "DEEP": "peck",
    "BRKCHP": "chip-break",
    "TAP": "tap",
    "BORE": "bore",
    "REAM": "bore",
}
_NUMBERS = {
    **dict.fromkeys(KINDS, ("depth",)),
    **dict.fromkeys(("DEPTH", "FEDTO"), ("depth",)),
    **dict.fromkeys(("CLEAR", "RAPTO"), ("clearance",)),
    **dict.fromkeys(("STEP", "PECK"), ("step",)),
    "DWELL": ("dwell",),
    "REV": (),
    **dict.fromkeys(FEED_WORDS, ("feed", "clearance")),
}
"""What the numbers after a word are."""


def cycle(state: ClState, statement: Statement) -> None:
    """CYCLE/kind,..., CYCLE/OFF, CYCLE/ON."""
    state.known_units(statement.line)
    couplets = statement.couplets
    if not couplets:
        raise statement.error("CYCLE has no arguments", f"write CYCLE/{{{', '.join(KINDS)}}} with its depth, or CYCLE/OFF")
    first = couplets[0].word
    if first in ("OFF", "ON"):
        if len(couplets) > 1 or couplets[0].numbers:
            raise statement.error(f"CYCLE/{first} takes nothing more", f"write CYCLE/{first}")
        if first == "ON" and state.last_cycle is None:
            raise statement.error("CYCLE/ON before any cycle", "write the cycle whole")
        state.cycle = state.last_cycle if first == "ON" else None
        return
    if first not in KINDS:
        raise statement.error(
            f"the cycle {first or 'without a word'} is not known; allowed are {', '.join(KINDS)}, ON, OFF",
            "write the hole with one of those, or as points",
            couplets[0].at,
        )
    state.cycle = state.last_cycle = _in_force(state, statement, couplets)


def _in_force(state: ClState, statement: Statement, couplets: tuple[Couplet, ...]) -> Cycle:
    statement.allow(_NUMBERS)
    values: dict[str, float] = {}
    at: dict[str, int] = {}
    for couplet in couplets:
        word, numbers = couplet.word, couplet.numbers
        names = _NUMBERS[word]
        if len(numbers) > len(names) or (not numbers and word not in (*KINDS, *FEED_WORDS, "REV")):
            most = ("no number", "one number", "up to two numbers")[len(names)]
            raise statement.error(f"{word} takes {most}, found {len(numbers)}", "correct it", couplet.at)
        for name, value in zip(names, numbers, strict=False):
            if name in values:
                raise statement.error(f"the {name} is given twice", "keep one of the two", couplet.at)
            values[name], at[name] = value, couplet.at
    words = [couplet.word for couplet in couplets]
    kind = words[0]
    for name in ("depth", "clearance"):
        if name not in values:
            raise statement.error(
                f"the cycle has no {name}",
                f"write for example CYCLE/{kind},DEPTH,20,PERMIN,120,CLEAR,3, or {kind},20,PERMIN,120,3",
            )
    for name, value in values.items():
        if value < 0 or (value == 0 and name not in ("dwell", "clearance")):
            raise statement.error(
                f"the {name} {value:g} has to be more than 0",
                "depth counts down from the point, clearance up: write them without a sign",
                at[name],
            )
    says: dict[str, Any] = {"cycle": KINDS[kind]}
    stepped = kind in ("DEEP", "BRKCHP")
    if stepped and "step" not in values:
        raise statement.error(f"{kind} has no STEP", "add STEP, the depth of one step")
    if "step" in values:
        if not stepped:
            raise statement.error(f"{kind} takes no STEP", "use DEEP or BRKCHP, or leave STEP out")
        says["peck"] = values["step"] * state.factor
    if "dwell" in values:
        if kind == "TAP":
            raise statement.error("TAP takes no DWELL", "leave it out")
        says["dwell"] = values["dwell"] * (state.seconds_a_turn(statement) if "REV" in words else 1.0)
    if kind in ("DRILL", "FACE"):
        says["cycle"] = "dwell-drill" if "dwell" in says else "drill"
    feed_word = next((word for word in reversed(words) if word in FEED_WORDS), "")
    feed = feed_of(state, values["feed"], feed_word) if "feed" in values else None
    return Cycle(values["depth"] * state.factor, values["clearance"] * state.factor, says, feed)


def holes(state: ClState, points: Moves) -> None:
    """A hole at each point, along its tool axis or the spindle's own."""
    found = state.cycle
    assert found is not None
    first = int(points.line[0])
    conditions = state.conditions(first, cutting=True)
    feed = found.feed if found.feed is not None else state.feed
    says = found.says | {"feed": state.feed_per_minute(first, feed)}
    if says["cycle"] == "tap" and feed is not None and feed[1] == "turn":
        says["pitch"] = feed[0]
    for row, line in enumerate(points.line.tolist()):
        axis = None if points.axis is None else points.axis[row]
        state.add(conditions, Hole(points.end[row], found.clearance, found.depth, says, line, axis))
