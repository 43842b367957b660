"""Where do the words, comments and marks of an event's line come from: its template, its ready words, the settings behind them?"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from steadyrest.events import EVENTS
from steadyrest.explaining.listening import Heard
from steadyrest.explaining.model import Setting, Spot, WordOrigin
from steadyrest.explaining.motion_words import numbered
from steadyrest.explaining.settings import Settings
from steadyrest.explaining.templates import Printed, printed_by
from steadyrest.explaining.words_of_line import is_comment, pieces
from steadyrest.motion.model import Event
from steadyrest.writing.events import facts_of

ALIKE = 0.3
"""A comment that shares so many of its words with the facts of a call, or more, was made by it: long ones are cut, others cleaned."""


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
        word = None if event.added and event.name not in EVENTS else EVENTS[event.name].words[one.name]
        if word is None:
            return WordOrigin(piece, f"the word '{one.name}' of this event", (), one.spot)
        facts = facts_of(event, settings.dialect)
        keys = [word.code, *word.settings] if word.code else word.settings
        return WordOrigin(piece, word.says.format_map(facts), settings.of(*(key.format_map(facts) for key in keys)), one.spot)
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
    for name, word in EVENTS["cycle"].block.items():
        quantity = event.words.get(name)
        if quantity is not None and quantity.letter == piece[0]:
            number_settings = settings.of(*word.settings) + settings.number(quantity.kind, piece[0])
            return WordOrigin(piece, f"{word.says}: {quantity.value:.6g}", number_settings)
    return WordOrigin(piece, "a word of the cycle")
