"""Why is a line there: the rule of motion, or the event, in a sentence, with the settings that it follows."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadyrest.events import EVENTS
from steadyrest.explaining.model import Setting
from steadyrest.explaining.recorder import Heard, Row
from steadyrest.explaining.settings import Settings
from steadyrest.explaining.toolpath_words import is_arc
from steadyrest.motion import INVERSE, LINE, RAPID, Event
from steadyrest.toolpath import Operation


@dataclass(frozen=True, slots=True)
class Why:
    """A rule's name, what it says here, and the settings it follows."""

    rule: str
    says: str
    settings: tuple[Setting, ...] = ()


_RULES: dict[str, tuple[str, tuple[str, ...]]] = {
    "approach": ("link: over the first point of the pass at the height the tool stands at, then down to it", ("safety.clearance",)),
    "turn": (
        "link: the rotary turns at rapid, with the tool clear of the swept radius",
        ("rotary.*.unwinding.between", "rotary.*.travel.kind"),
    ),
    "retract": ("link: up along the spindle before the rotary turns", ("safety.clearance",)),
    "link": ("link: a move between cuts", ("safety.clearance",)),
    "hole": ("a drilling cycle written out in single moves", ()),
    "turn_back": (EVENTS["turn_back"].why, EVENTS["turn_back"].why_settings),
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


def why(heard: Heard, operation: Operation | None, asked: str, settings: Settings, tolerance: float | None) -> Why:
    """Why a line is there. `asked` is what the toolpath says at its move; tolerance None: the default."""
    event, row = heard.event, heard.row
    if row is None:
        assert event is not None
        rule, says, keys = why_event(event)
        if event.name == "index":
            says += _which_angle(float(event.words["angle"].value), operation, settings)
        return Why(rule, says, settings.of(*keys))
    if row.run.rule in ("rapid", "cut"):
        return _why_asked(row, operation, asked, settings, tolerance)
    says, keys = _RULES.get(row.run.rule, (row.run.rule, ()))
    if event is not None and event.name not in ("retract", "index", "turn_back", "program_end"):
        says = f"{why_event(event)[1]}: {says}"
    if row.run.rule in ("turn", "end", "turn_back") and event is not None and "angle" in event.words:
        target = float(event.words["angle"].value)
        says += _which_angle(target, operation, settings)
        if abs(row.w_deg - target) > 1e-6:
            says += f"; on the way to {target + 0.0:g}: {_on_the_way(settings)}"
    elif row.run.rule in ("approach", "hole"):
        says += _which_angle(_w_of(row), operation, settings)
    if row.run.rule == "hole":
        says += _of_many(row)
    return Why(row.run.rule, says, settings.of(*keys))


def _why_asked(row: Row, operation: Operation | None, asked: str, settings: Settings, tolerance: float | None) -> Why:
    """A line of a move that the toolpath has: whole, or one of the pieces it was cut into, and why it was cut."""
    kind = "rapid" if row.kind == RAPID else "cut"
    says = f"the toolpath's {'arc' if is_arc(asked) else kind}{_which_angle(_w_of(row), operation, settings)}{_of_many(row)}"
    if row.pieces <= 1:
        return Why(kind, says)
    intent = operation.rotary.intent if operation is not None else ""
    if row.kind == RAPID:
        if row.pieces == 3:
            return Why(
                "lift",
                f"{says}: a rapid that would turn the part with the tool low goes up, turns, and comes down",
                settings.of("safety.clearance"),
            )
        return Why(
            "rollover", f"{says}: no single turn is so large that its direction would be ambiguous", settings.of("rotary.*.travel.rule")
        )
    within = f"within {tolerance:g} of its path" if tolerance is not None else "within the tolerance of 0.01 mm"
    if row.kind > LINE:
        return Why(
            "subdivision", f"{says}: split into arcs that the controller takes", settings.of("arcs.full_circles", "arcs.largest_sweep")
        )
    if is_arc(asked) and intent != "wrapped":
        spoken = ("arcs.form", "arcs.planes", "arcs.largest_radius", "arcs.smallest_radius", "arcs.helical")
        return Why(
            "subdivision", f"{says}: the controller does not take this arc; straight pieces keep the tip {within}", settings.of(*spoken)
        )
    if is_arc(asked):
        return Why("subdivision", f"{says}: wrapped around the part it is no longer an arc; straight pieces keep the tip {within}")
    if intent == "simultaneous":
        return Why("subdivision", f"{says}: moving evenly, the axes would take the tip off its line; pieces keep it {within}")
    if row.run.feed_mode[0] == INVERSE:
        return Why(
            "subdivision",
            f"{says}: F in inverse time would have too few digits for the whole move",
            settings.of("numbers.inverse_feed.decimals", "feed.inverse_is"),
        )
    keys = ("rotary.*.travel.kind", "rotary.*.travel.rule")
    return Why("subdivision", f"{says}: split where the rotary's travel requires it", settings.of(*keys))


def _w_of(row: Row) -> float:
    """Where the rotary stands in a row."""
    return row.before_w if math.isnan(row.w_deg) else row.w_deg


def _of_many(row: Row) -> str:
    return f", line {row.piece} of {row.pieces} of this move" if row.pieces > 1 else ""


def _which_angle(w_deg: float, operation: Operation | None, settings: Settings) -> str:
    """Which of an indexed operation's angles W stands for."""
    if operation is None or operation.rotary.intent != "indexed" or settings.rotary is None:
        return ""
    for at, angle in enumerate(operation.rotary.angles):
        off = (w_deg + settings.sign * angle) % 360.0
        if min(off, 360.0 - off) < 1e-6:
            return f", for the angle {angle:g} of the toolpath (number {at + 1} of {len(operation.rotary.angles)})"
    return ""


def _on_the_way(settings: Settings) -> str:
    rotary = settings.rotary
    if rotary is not None and rotary.unwinding.between == "one_side":
        return f"it arrives from {rotary.unwinding.arrive_from}, against backlash"
    return "no single turn is so large that its direction would be ambiguous"
