"""The ready words of events: numbers spelled, codes chosen. A template only puts them in place."""

from __future__ import annotations

import re
from collections.abc import Mapping

from steadyrest.errors import PlanError
from steadyrest.events import EVENTS
from steadyrest.motion import INVERSE, PER_MINUTE, Event, Quantity
from steadyrest.profile.format import Program
from steadyrest.profile.model import Profile
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import PLAIN, number_text, word_text


def event_words(event: Event, dialect: Dialect, modal: Modal, rotary_letter: str | None) -> dict[str, str]:
    """The words of an event by their names. PlanError where the controller has no code for what is asked."""
    profile = dialect.profile
    words = {name: spoken(quantity, dialect) for name, quantity in event.words.items()}
    if any(quantity.kind == "dwell" for quantity in event.words.values()):
        _code(profile.codes.dwell, "a pause", "codes.dwell")
    given = facts_of(event, dialect, modal.mode_now)
    for name, word in EVENTS[event.name].words.items() if event.name in EVENTS else ():
        if not word.code or any(given.get(fact) not in values for fact, values in word.only.items()):
            continue
        key = setting_key(word.code, given, rotary_letter)
        words[name] = _setting(profile, key)
        # A controller that always counts in one unit needs no code for it.
        if word.needs and key != f"units.{profile.units.program}":
            _code(words[name], word.needs.format_map(given), key)
    if event.name == "program_start":
        modal.mode_now = PER_MINUTE
    if given.get("form") == "reference":  # gone to by a step of nothing, so that the way there is straight
        words["here"] = spoken(Quantity("Z", 0.0, "length"), dialect)
    return words


def facts_of(event: Event, dialect: Dialect, mode: int | None = None) -> dict[str, str]:
    """What the texts and keys in the row of an event are filled in with: its facts, and how the program stands."""
    kind = "optional" if event.facts.get("optional") else "program"
    return {name: str(value) for name, value in event.facts.items()} | {
        "unit": "inch" if dialect.inch else "mm",
        "distance": dialect.profile.words.distance,
        "mode": "inverse" if mode == INVERSE else "per_minute",
        "stop": kind,
        "stop_name": "an optional stop" if kind == "optional" else "a program stop",
    }


def setting_key(key: str, given: Mapping[str, str], rotary_letter: str | None) -> str:
    """A key of an event's row filled in, as the profile has it; `rotary.*` is the rotary that the program turns."""
    return key.format_map(given).replace("-", "_").replace("*", str(rotary_letter))


def _setting(profile: Profile, key: str) -> str:
    """A code of the profile by its dotted key; empty where it has none."""
    value: object = profile
    for name in key.split("."):
        value = value.get(name) if isinstance(value, Mapping) else getattr(value, name, None)
    return value if isinstance(value, str) else ""


def program_name(program: Program, name: str) -> str:
    """What stands after the start mark: the toolpath's name in capitals, digits and hyphens, as long as the profile says.

    source    ISO 6983-1, 3.6: an identification may follow the program start directly, before the first end of block
    """
    if not program.name_letters:
        return ""
    said = re.sub(r"[^A-Z0-9]+", "-", name.upper()).strip("-")
    return said[: program.name_letters].strip("-")


def number_word(program: Program, number: int | None) -> str:
    """The program number as the controller wants it, such as O0042; empty where it has none.

    raises PlanError for a number with too many digits
    """
    if not program.number.letter:
        return ""
    digits = number_text(program.number.default if number is None else number, PLAIN)
    if len(digits) > program.number.digits or digits.startswith("-"):
        raise PlanError(
            f"the program number {digits} does not fit into {program.number.digits} digits", cure="choose a smaller one, not negative"
        )
    return program.number.letter + digits.rjust(program.number.digits, "0")


def spoken(quantity: Quantity, dialect: Dialect) -> str:
    """A quantity as a word; a pause in the unit that the controller takes."""
    if quantity.kind == "dwell" and dialect.profile.codes.dwell_unit == "milliseconds":
        quantity = Quantity(quantity.letter, quantity.value * 1000, "dwell")
    return word_text(quantity, dialect.profile.numbers, inch=dialect.inch)


def _code(code: str, what: str, key: str) -> str:
    if not code:
        raise PlanError(f"the controller has no code for {what}", cure=f"set {key} in the profile, or do without in the toolpath")
    return code
