"""The ready words of events: numbers spelled, codes chosen. A template only puts them in place."""

from __future__ import annotations

import re

from steadyrest.errors import PlanError
from steadyrest.motion.model import PER_MINUTE, Event, Quantity
from steadyrest.profile.format import Program
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import PLAIN, number_text, word_text

FORGETTING = frozenset({"program_start", "tool_change", "retract", "stop", "cycle", "index", "clamp", "unclamp", "turn_back"})
"""Events after which every modal word is stated again: what the controller holds may have been changed, by the event or by a hand."""


def event_words(event: Event, dialect: Dialect, modal: Modal, rotary_letter: str | None) -> dict[str, str]:
    """The words of an event by their names. PlanError where the controller has no code for what is asked."""
    profile = dialect.profile
    words = {name: spoken(quantity, dialect) for name, quantity in event.words.items()}
    match event.name:
        case "program_start":
            words |= _start_words(event, dialect)
            modal.mode_now = PER_MINUTE
        case "spindle_start":
            turns = _text(event, "turns")
            words["spindle"] = _code(getattr(profile.spindle, turns, ""), f"a spindle that turns {turns}", "spindle")
        case "spindle_stop":
            words["spindle"] = _code(profile.spindle.stop, "stopping the spindle", "spindle.stop")
        case "coolant_on":
            coolant = _text(event, "coolant")
            words["coolant"] = _code(getattr(profile.coolant, coolant, ""), f"coolant '{coolant}'", "coolant")
        case "coolant_off":
            words["coolant"] = _code(profile.coolant.off, "coolant off", "coolant.off")
        case "clamp" | "unclamp":
            clamp = next((r.clamp for letter, r in profile.rotary.items() if letter == rotary_letter), None)
            code = "" if clamp is None else clamp.on if event.name == "clamp" else clamp.off
            words["clamp"] = _code(code, "clamping the rotary", f"rotary.{rotary_letter}.clamp")
        case "stop":
            optional = bool(event.facts.get("optional", False))
            code = profile.stops.optional if optional else profile.stops.program
            words["stop"] = _code(code, "an optional stop" if optional else "a program stop", "stops")
        case "retract":
            words |= _retract_words(event, dialect)
        case "dwell":
            _code(profile.codes.dwell, "a pause", "codes.dwell")
        case "program_end":
            words["end"] = _code(profile.stops.end, "the end of the program", "stops.end")
            words["feed_mode"] = profile.feed.per_minute_code if modal.mode_now not in (None, PER_MINUTE) else ""
    if "dwell" in words:
        _code(profile.codes.dwell, "a pause", "codes.dwell")
    return words


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


def _start_words(event: Event, dialect: Dialect) -> dict[str, str]:
    profile = dialect.profile
    unit = "inch" if dialect.inch else "mm"
    # A controller that always counts in one unit needs no code for it.
    units = profile.units.inch if dialect.inch else profile.units.mm
    if profile.units.program != unit:
        _code(units, f"a program in {unit}", f"units.{unit}")
    return {
        "units": units,
        "distance": profile.codes.incremental if dialect.incremental else profile.codes.absolute,
        "feed_mode": profile.feed.per_minute_code,
        "plane": profile.codes.plane_xy,
        "work_offset": profile.codes.work_offset,
    }


def _retract_words(event: Event, dialect: Dialect) -> dict[str, str]:
    """Codes for going clear along the spindle. The reference point is gone to by a step of nothing, so that the way there is straight."""
    profile = dialect.profile
    codes, form = profile.codes, _text(event, "form")
    if form == "height":
        return {}
    words = {"rapid": _code(codes.rapid, "a rapid", "codes.rapid")}
    if form == "machine_zero":
        return words | {"machine": _code(profile.retract.machine_code, "machine coordinates", "retract.machine_code")}
    words["reference"] = _code(profile.retract.reference_code, "the reference point", "retract.reference_code")
    words["here"] = spoken(Quantity("Z", 0.0, "length"), dialect)
    if not dialect.incremental:
        words["incremental"] = _code(codes.incremental, "a step of nothing on the way to the reference point", "codes.incremental")
        words["absolute"] = _code(codes.absolute, "going back to positions after it", "codes.absolute")
    return words


def _code(code: str, what: str, key: str) -> str:
    if not code:
        raise PlanError(f"the controller has no code for {what}", cure=f"set {key} in the profile, or do without in the toolpath")
    return code


def _text(event: Event, name: str) -> str:
    value = event.facts.get(name, "")
    return value if isinstance(value, str) else ""
