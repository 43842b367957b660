"""Where do the words, comments and marks of an event's line come from: its template, its ready words, the settings behind them?"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from steadyrest.explaining.listening import Heard
from steadyrest.explaining.model import Setting, Spot, WordOrigin
from steadyrest.explaining.motion_words import numbered
from steadyrest.explaining.settings import Settings
from steadyrest.explaining.templates import Printed, printed_by
from steadyrest.explaining.words_of_line import is_comment, pieces
from steadyrest.motion.model import Event

_WORDS: dict[tuple[str, str], tuple[str, tuple[str, ...]]] = {
    ("program_start", "program_number"): (
        "the number under which the controller keeps the program",
        ("program.number.letter", "program.number.default", "program.number.digits"),
    ),
    ("program_start", "units"): ("the units of the program", ("units.{unit}", "units.program")),
    ("program_start", "distance"): ("what axis words say: positions or steps", ("codes.{distance}", "words.distance")),
    ("program_start", "feed_mode"): ("feed per minute", ("feed.per_minute_code",)),
    ("program_start", "plane"): ("arcs and cycles in XY", ("codes.plane_xy",)),
    ("program_start", "work_offset"): ("the work offset", ("codes.work_offset",)),
    ("tool_change", "tool"): ("the toolpath's tool number", ("tool.letter", "tool.digits")),
    ("tool_change", "offset"): ("the length offset has the tool's number", ("tool.offset_letter", "tool.offset_digits")),
    ("spindle_start", "speed"): ("the operation's spindle speed", ("numbers.spindle.decimals",)),
    ("spindle_start", "spindle"): ("the spindle {turns}", ("spindle.{turns}",)),
    ("spindle_stop", "spindle"): ("the spindle stops", ("spindle.stop",)),
    ("coolant_on", "coolant"): ("coolant: {coolant}", ("coolant.{coolant}",)),
    ("coolant_off", "coolant"): ("all coolant off", ("coolant.off",)),
    ("retract", "machine"): ("one block in machine coordinates", ("retract.machine_code", "retract.form")),
    ("retract", "machine_z"): ("Z in machine coordinates, clear of everything", ("retract.machine_z",)),
    ("retract", "reference"): ("to the reference point", ("retract.reference_code", "retract.form")),
    ("retract", "here"): ("a step of nothing, so that the way is straight", ("retract.form",)),
    ("retract", "rapid"): ("at rapid", ("codes.rapid",)),
    ("retract", "incremental"): ("steps, for this block", ("codes.incremental",)),
    ("retract", "absolute"): ("positions again", ("codes.absolute",)),
    ("clamp", "clamp"): ("the clamp on", ("rotary.*.clamp.on",)),
    ("clamp", "dwell"): ("time for the clamp to hold", ("rotary.*.clamp.dwell", "codes.dwell_letter", "codes.dwell_unit")),
    ("unclamp", "clamp"): ("the clamp off", ("rotary.*.clamp.off",)),
    ("unclamp", "dwell"): ("time for the clamp to let go", ("rotary.*.clamp.dwell", "codes.dwell_letter", "codes.dwell_unit")),
    ("dwell", "time"): ("how long", ("codes.dwell_letter", "codes.dwell_unit")),
    ("stop", "stop"): ("the program stops", ("stops.{stop}",)),
    ("program_end", "feed_mode"): ("back to feed per minute", ("feed.per_minute_code",)),
    ("program_end", "end"): ("the program ends", ("stops.end",)),
}  # fmt: skip
"""What the ready words of an event say, and the settings they come from."""

ALIKE = 0.3
"""A comment that shares so many of its words with the facts of a call, or more, was made by it: long ones are cut, others cleaned."""

_CYCLE = (
    ("z", "the bottom of the hole", ("cycles.depth_from",)),
    ("r", "the level from which the tool feeds, and to which it returns", ("cycles.r_letter", "cycles.depth_from")),
    ("peck", "the step of a peck", ("cycles.peck_letter",)),
    ("dwell", "the pause at the bottom", ("cycles.dwell_letter", "codes.dwell_unit")),
    ("tap", "the lead of the thread", ()),
    ("feed", "the feed of the tip", ("numbers.feed.decimals",)),
)


def event_words_of(said: list[str], heard: Heard, settings: Settings, folders: Sequence[Path]) -> tuple[WordOrigin, ...]:
    """The words of a line of an event, from left to right."""
    event = heard.event
    assert event is not None
    if heard.source == "plain":
        return tuple(WordOrigin(piece, f"said as it stands by {event.rule}") for piece in said)
    if heard.source == "cycle":
        return tuple(_cycle_word(piece, at == 0, event, settings) for at, piece in enumerate(said))
    printed = printed_by(heard.template, tuple(folders))
    return tuple(_word(piece, at == 0, said, heard, printed, settings) for at, piece in enumerate(said))


def _word(piece: str, first: bool, said: list[str], heard: Heard, printed: Sequence[Printed], settings: Settings) -> WordOrigin:
    event = heard.event
    assert event is not None
    number = numbered(piece, first, settings)
    if number is not None:
        return number
    if is_comment(piece):
        return _comment(piece, event, printed, heard.template, settings)
    nearest: list[tuple[int, WordOrigin]] = []
    for one in printed:
        origin = _printed(piece, one, heard, settings)
        if origin is not None:
            nearest.append((_company(one, said, heard, printed, settings), origin))
    if nearest:
        return max(nearest, key=lambda each: each[0])[1]
    return WordOrigin(piece, "printed by the template", (), Spot(heard.template))


def _printed(piece: str, one: Printed, heard: Heard, settings: Settings) -> WordOrigin | None:
    """The origin of a piece, if this is what the template printed it by."""
    event = heard.event
    assert event is not None
    if one.kind == "word" and piece in pieces(heard.event_words.get(one.name, "")):
        says, keys = _WORDS.get((event.name, one.name), (f"the word '{one.name}' of this event", ()))
        facts = _facts(event, settings)
        return WordOrigin(piece, says.format_map(facts), settings.of(*(key.format_map(facts) for key in keys)), one.spot)
    if one.kind == "setting":
        for setting in settings.of(one.name):
            if piece in _said_by(setting):
                return WordOrigin(piece, "as the profile states it", (setting,), one.spot)
    if one.kind == "text" and piece == one.name:
        return WordOrigin(piece, "stands in the template", (), one.spot)
    return None


def _company(one: Printed, said: list[str], heard: Heard, printed: Sequence[Printed], settings: Settings) -> int:
    """How many pieces of the line are printed on the same line of the template: the same word may stand on several."""
    beside = [other for other in printed if other.spot == one.spot]
    return sum(any(_printed(piece, other, heard, settings) is not None for other in beside) for piece in said)


def _said_by(setting: Setting) -> list[str]:
    """The pieces that printing a setting, or an entry of it, gives."""
    value: Any = setting.value
    texts = value if isinstance(value, (tuple, list)) else [value]
    return [piece for text in texts if isinstance(text, str) for piece in [*pieces(text), text]]


def _comment(piece: str, event: Event, printed: Sequence[Printed], template: str, settings: Settings) -> WordOrigin:
    """The call of `comment` or `message` whose plain text, or else whose facts, are found in the comment."""
    text = piece.strip("(); ").casefold()
    keys = settings.of("program.comments.style", "program.comments.characters")
    calls = [one for one in printed if one.kind == "comment"]
    said = set(re.findall(r"\w+", text))
    best: tuple[float, Printed | None] = (0.0, None)
    for one in calls:
        words = set(re.findall(r"\w+", " ".join([one.name, *(_fact_text(event.facts.get(fact)) for fact in one.facts)]).casefold()))
        alike = len(words & said) / max(1, len(words | said))
        if alike > max(best[0], ALIKE):
            best = alike, one
    call = best[1] if best[1] is not None else next((one for one in calls if not one.name and not one.facts), None)
    if call is None:
        return WordOrigin(piece, "a comment for the operator", keys, Spot(template))
    of = f", from {', '.join(call.facts)}" if call.facts else ""
    return WordOrigin(piece, f"a comment for the operator{of}", keys, call.spot)


def _fact_text(value: object) -> str:
    return " ".join(map(str, value)) if isinstance(value, tuple) else str(value)


def _facts(event: Event, settings: Settings) -> dict[str, str]:
    """What the keys of `_WORDS` are filled in with."""
    optional = bool(event.facts.get("optional", False))
    return {
        "unit": "inch" if settings.dialect.inch else "mm",
        "distance": settings.profile.words.distance,
        "turns": str(event.facts.get("turns", "")),
        "coolant": str(event.facts.get("coolant", "")),
        "stop": "optional" if optional else "program",
    }


def _cycle_word(piece: str, first: bool, event: Event, settings: Settings) -> WordOrigin:
    """A word of a drilling cycle's block."""
    number = numbered(piece, first, settings)
    if number is not None:
        return number
    cycles = settings.profile.cycles
    name = str(event.facts.get("cycle", "")).replace("-", "_")
    if piece == getattr(cycles, name, None):
        return WordOrigin(piece, f"the drilling cycle '{event.facts.get('cycle')}'", settings.of(f"cycles.{name}"))
    if piece == cycles.cancel:
        return WordOrigin(piece, "no cycle any more", settings.of("cycles.cancel"))
    if piece == cycles.return_to_r:
        return WordOrigin(piece, "up to the R level after each hole", settings.of("cycles.return_to_r"))
    if piece == settings.profile.feed.per_minute_code:
        return WordOrigin(piece, "feed per minute: no cycle is spoken in inverse time", settings.of("feed.per_minute_code"))
    if piece == settings.profile.codes.plane_xy:
        return WordOrigin(piece, "cycles in XY", settings.of("codes.plane_xy"))
    if piece[0] in "XY":
        return WordOrigin(piece, f"the place of the hole along {piece[0]}", settings.number("length", piece[0]))
    for word, says, keys in _CYCLE:
        quantity = event.words.get(word)
        if quantity is not None and quantity.letter == piece[0]:
            kind = quantity.kind
            return WordOrigin(piece, f"{says}: {quantity.value:.6g}", settings.of(*keys) + settings.number(kind, piece[0]))
    return WordOrigin(piece, "a word of the cycle")
