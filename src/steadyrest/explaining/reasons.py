"""Why is a line there: what the toolpath says at its move, the rule of motion or the event, in a sentence, with the settings it follows."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import INVERSE, LINE, PLANE_AXES, PLANES
from steadyrest.events import EVENTS
from steadyrest.explaining.line_origins import LineOrigin, Row
from steadyrest.explaining.model import Setting, Settings
from steadyrest.explaining.tool_axes import head_turned, place_in_words
from steadyrest.motion import Event, phi_of_plane
from steadyrest.toolpath import RAPID, Dwell, Hole, Holes, MoveColumns, Note, Operation, Stop, Toolpath

Why = tuple[str, str, tuple[Setting, ...]]
"""A rule's name, what it says here, and the settings it follows."""

_ONE_WAY = "no single turn is so large that its direction would be ambiguous"
_RULES: dict[str, tuple[str, tuple[str, ...]]] = {
    "approach": ("link: over the first point of the pass at the height the tool stands at, then down to it", ("safety.clearance",)),
    "turn": (
        "link: the rotary turns at rapid, with the tool clear of the swept radius",
        ("rotary.*.unwinding.between", "rotary.*.travel.kind"),
    ),
    "retract": ("link: up along the spindle before the rotary turns", ("safety.clearance",)),
    "link": ("link: a move between cuts", ("safety.clearance",)),
    "hole": ("a drilling cycle written out in single moves", ()),
    **{name: (EVENTS[name].why, EVENTS[name].why_settings) for name in ("turn_back", "reorient")},
    "end": ("the rotary and the machine are left as the profile says", ("rotary.*.unwinding.at_end", "program.start_position")),
}


def why_event(event: Event) -> tuple[str, str, tuple[str, ...]]:
    """The rule, the sentence and the keys of an event."""
    if event.added:
        return "plug-in", f"added by {event.rule}", ()
    row = EVENTS[event.name]
    if event.name == "dwell":
        of_spindle = "a pause for the spindle to come up to speed", ("spindle.dwell",)
        return "dwell", *(of_spindle if event.rule == "spindle" else (row.why, row.why_settings))
    return event.rule or event.name, row.why, row.why_settings


def why(origin: LineOrigin, operation: Operation | None, asked: str, settings: Settings, tolerance: float | None) -> Why:
    """Why a line is there. `asked` is what the toolpath says at its move; tolerance None: the default."""
    event, row = origin.event, origin.row
    if row is None:
        assert event is not None
        rule, says, keys = why_event(event)
        if event.name == "index":
            says += _which_angle(_turned_to(event), operation, settings)
        letter = str(event.facts.get("rotary", "*"))
        return rule, says, settings.of(*(key.replace("rotary.*", f"rotary.{letter}") for key in keys))
    if row.run.rule in ("rapid", "cut"):
        return _why_asked(row, operation, asked, settings, tolerance)
    says, keys = _RULES.get(row.run.rule, (row.run.rule, ()))
    if event is not None and event.name not in ("retract", "index", "turn_back", "reorient", "program_end"):
        says = f"{why_event(event)[1]}: {says}"
    if row.run.rule in ("turn", "end", "turn_back") and event is not None and event.name == "index":
        targets = _turned_to(event)
        targets = np.where(np.isnan(targets), row.before_deg, targets)
        says += _which_angle(targets, operation, settings)
        for (letter, rotary), now, target in zip(settings.rotaries.items(), row.rotary_deg, targets, strict=True):
            if abs(now - target) > 1e-6:
                backlash = f"it arrives from {rotary.unwinding.arrive_from}, against backlash"
                reason = backlash if rotary.unwinding.between == "one_side" else _ONE_WAY
                says += f"; on the way to {'' if settings.rotary is not None else letter + ' '}{target + 0.0:g}: {reason}"
    elif row.run.rule in ("approach", "hole"):
        says += _which_angle(row.stands_deg, operation, settings)
    if row.run.rule == "hole":
        says += _of_many(row)
    return row.run.rule, says, settings.of(*keys)


def _why_asked(row: Row, operation: Operation | None, asked: str, settings: Settings, tolerance: float | None) -> Why:
    """A line of a move that the toolpath has: whole, or one of the pieces it was cut into, and why it was cut."""
    rule, arc, reason = "rapid" if row.kind == RAPID else "cut", asked.startswith("arc"), ""
    says = f"the toolpath's {'arc' if arc else rule}{_which_angle(row.stands_deg, operation, settings)}{_of_many(row)}"
    intent = operation.rotary.intent if operation is not None else ""
    within = f"within {tolerance:g} of its path" if tolerance is not None else "within the tolerance of 0.01 mm"
    keys: tuple[str, ...] = ()
    if row.pieces <= 1:
        return rule, says, ()
    if row.kind == RAPID and row.pieces == 3:
        rule, reason = "lift", "a rapid that would turn the part with the tool low goes up, turns, and comes down"
        keys = ("safety.clearance",)
    elif row.kind == RAPID:
        rule, reason, keys = "rollover", _ONE_WAY, ("rotary.*.travel.rule",)
    elif row.kind > LINE:
        reason, keys = "split into arcs that the controller takes", ("arcs.full_circles", "arcs.largest_sweep")
    elif arc and intent != "wrapped" and (turned := head_turned(row.stands_deg, settings)):
        reason = f"with {' and '.join(turned)} turned it lies in no plane of the axes; straight pieces keep the tip {within}"
    elif arc and intent != "wrapped":
        reason = f"the controller does not take this arc; straight pieces keep the tip {within}"
        keys = ("arcs.form", "arcs.planes", "arcs.largest_radius", "arcs.smallest_radius", "arcs.helical")
    elif arc:
        reason = f"wrapped around the part it is no longer an arc; straight pieces keep the tip {within}"
    elif intent == "simultaneous":
        reason = f"moving evenly, the axes would take the tip off its line; pieces keep it {within}"
        if settings.rotary is None:
            reason = f"moving evenly, the axes would take tip and tool axis off their ways; pieces keep the tip {within}"
    elif intent == "wrapped" and _goes_round(row, settings):
        reason = f"no rotary by itself goes round the part as the drawing does; pieces keep the tip {within}"
    elif row.run.feed_mode[0] == INVERSE:
        reason = "F in inverse time would have too few digits for the whole move"
        keys = ("numbers.inverse_feed.decimals", "feed.inverse_is")
    else:
        reason, keys = "split where the rotary's travel requires it", ("rotary.*.travel.kind", "rotary.*.travel.rule")
    return "subdivision" if rule == "cut" else rule, f"{says}: {reason}", settings.of(*keys)


def _goes_round(row: Row, settings: Settings) -> bool:
    """Whether the tool goes round the part by all rotaries of a chain: by a head, or by more than one at once."""
    turned = np.ptp(row.run.rotary_deg, axis=0) > 1e-9
    return any(not line.carries_part for line in settings.lines) or (bool(settings.lines) and int(np.count_nonzero(turned)) > 1)


def _turned_to(event: Event) -> Floats:
    """(r,) where an event turns the rotaries to; NaN where it does not."""
    return np.array(
        [next(iter(known[::-1]), math.nan) for turned in event.motion[-1].rotary_deg.T for known in [turned[~np.isnan(turned)]]]
    )


def _of_many(row: Row) -> str:
    return f", line {row.piece} of {row.pieces} of this move" if row.pieces > 1 else ""


def _which_angle(stands_deg: Floats, operation: Operation | None, settings: Settings) -> str:
    """Which of an indexed operation's angles or planes the words (r,) of the rotaries stand for."""
    if operation is None or operation.rotary.intent != "indexed":
        return ""
    if settings.rotary is None:
        return place_in_words(stands_deg, operation.rotary, settings)
    w_deg, sign = float(stands_deg[0]), -settings.lines[0].sign
    angles, planes = operation.rotary.angles or (), operation.rotary.planes or ()
    for number, plane in enumerate(planes, 1):
        off = (w_deg - sign * phi_of_plane(plane, settings.rotary.along)[0]) % 360.0
        if min(off, 360.0 - off) < 1e-6:
            return f", in plane {number} of {len(planes)}"
    for at, angle in enumerate(angles):
        off = (w_deg + sign * angle) % 360.0
        if min(off, 360.0 - off) < 1e-6:
            return f", for the angle {angle:g} of the toolpath (number {at + 1} of {len(angles)})"
    return ""


def asked_moves(toolpath: Toolpath, wanted: Collection[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """What the toolpath says at some moves, by operation and move, each from 1; a long table is read once, as far as it is needed."""
    found: dict[tuple[int, int], str] = {}
    for at, operation in enumerate(toolpath.operations, 1):
        left = {move for number, move in wanted if number == at and move}
        stream = operation.stream() if left else ()
        for item in stream:
            if isinstance(item, MoveColumns):
                for move in [number for number in left if item.first_move <= number < item.first_move + len(item)]:
                    found[at, move] = _motion(item, move - item.first_move)
            else:
                for event in item if isinstance(item, Holes) else (item,):
                    if event.move in left:
                        found[at, event.move] = _event(event)
            left -= {move for number, move in found if number == at}
            if not left:
                break
    return found


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
