"""The ready words of events and of drilling cycles: numbers spelled, codes chosen. A template only puts them in place."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import numpy as np

from steadyrest.conventions import AXES
from steadyrest.errors import PlanError
from steadyrest.events import EVENTS
from steadyrest.motion import INVERSE, PER_MINUTE, XY, Event, Quantity
from steadyrest.profile import Profile, Program
from steadyrest.writing.feeds import COARSE_PERCENT, feed_counts
from steadyrest.writing.numbers import Spelling, number_text, to_count, word_text
from steadyrest.writing.recording import Named
from steadyrest.writing.state import Held
from steadyrest.writing.word_formats import WordFormat


def event_codes(event: Event, form: WordFormat, mode: int | None, rotary_letter: str | None) -> dict[str, str]:
    """The words of an event that are codes, by their names. PlanError where a code is missing."""
    profile, given, words = form.profile, facts_of(event, form, mode), dict[str, str]()
    for name, word in EVENTS[event.name].words.items() if event.name in EVENTS else ():
        if not word.code or any(given.get(fact) not in values for fact, values in word.only.items()):
            continue
        key = setting_key(word.code, given, rotary_letter)
        words[name] = _setting(profile, key)
        # A controller that always counts in one unit needs no code for it.
        if word.needs and key != f"units.{profile.units.program}":
            _check_code(words[name], word.needs.format_map(given), key)
    if given.get("form") == "reference":  # gone to by a step of nothing, so that the way there is straight
        words["here"] = spoken(Quantity("Z", 0.0, "length"), form)
    if event.name == "program_start":
        words |= {"program_name": program_name(profile.program, given["name"]), "program_number": number_word(profile.program)}
    return words


def facts_of(event: Event, form: WordFormat, mode: int | None = None) -> dict[str, str]:
    """What the texts and keys in the row of an event are filled in with: its facts, and how the program stands."""
    kind = "optional" if event.facts.get("optional") else "program"
    return {name: str(value) for name, value in event.facts.items()} | {
        "unit": "inch" if form.inch else "mm",
        "distance": form.profile.words.distance,
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


def number_word(program: Program) -> str:
    """The program number as the controller wants it, such as O0042; empty where it has none."""
    number = program.number
    return number.letter + number_text(number.default, Spelling(0, digits=number.digits)) if number.letter else ""


def spoken(quantity: Quantity, form: WordFormat) -> str:
    """A quantity as a word; a pause in the unit that the controller takes, PlanError where it has no code for one."""
    if quantity.kind == "dwell":
        _check_code(form.profile.codes.dwell, "a pause", "codes.dwell")
        if form.profile.codes.dwell_unit == "milliseconds":
            quantity = Quantity(quantity.letter, quantity.value * 1000, "dwell")
    return word_text(quantity, form.profile.numbers, inch=form.inch)


def _check_code(code: str, what: str, key: str) -> None:
    if not code:
        raise PlanError(f"the controller has no code for {what}", cure=f"set {key} in the profile, or leave it out of the toolpath")


def cycle_blocks(event: Event, form: WordFormat, held: Held, found: Callable[[int, float], None]) -> list[list[Named]]:
    """The words of the blocks of a cycle's holes, named as in the row of the event; `held` is brought up to date, Z not known after it
    unless in steps. `found` takes the holes and the percentage of a coarse F.

    In steps the tool stands over the first hole at its R level already: X and Y are steps from hole to hole, R and Z as planned
    (NISTIR 6556 section 3.5.16).

    raises PlanError for a cycle that the controller does not speak
    """
    cycles = form.profile.cycles
    name = str(event.facts.get("cycle", ""))
    code = getattr(cycles, name.replace("-", "_"), "")
    if not code:
        raise PlanError(
            f"the controller has no cycle for '{name}'", cure=f"set cycles.{name.replace('-', '_')}, or write it out in single moves"
        )
    if event.holes is None or not len(event.holes.xy):
        raise PlanError(f"the cycle '{name}' has no holes", cure="give it holes")
    # An axis whose drive turns the rotary is never named: planning has seen to it that it stands where the hole wants it.
    spelled = {axis.letter: axis.spelled for axis in form.axes if axis.column in (0, 1)}
    fixed = [Named(spoken(event.words[word], form), word) for word in EVENTS["cycle"].block if word in event.words and word != "feed"]
    if "feed" in event.words:
        counts, off_percent = feed_counts(np.array([event.words["feed"].value]), PER_MINUTE, form)
        fixed.append(Named(event.words["feed"].letter + number_text(int(counts[0]), form.feed[PER_MINUTE]), "feed"))
        if off_percent[0] > COARSE_PERCENT:
            found(len(event.holes.xy), float(off_percent[0]))
    codes = []
    if form.has_inverse and held.mode != PER_MINUTE:
        codes.append(Named(form.profile.feed.per_minute_code, "feed_mode"))
    if held.plane != XY:
        codes.append(Named(form.plane_codes[XY], "plane"))
    cycle = Named(code, "cycle")
    codes += [Named(cycles.return_to_r, "return_to_r"), cycle]
    again = [cycle] if form.profile.words.repeat_motion else []
    blocks: list[list[Named]] = []
    before = {letter: held.counts[letter] for letter in spelled} if form.incremental else {}
    for hole in event.holes.xy:
        places = {letter: to_count(float(hole[AXES.index(letter)]), number) for letter, number in spelled.items()}
        moved = [letter for letter in places if before.get(letter) != places[letter] or letter in form.repeat_axes]
        # A cycle's block names at least one axis (NISTIR 6556 section 3.5.16), also for the same hole once more.
        steps = {letter: places[letter] - before[letter] for letter in places} if form.incremental else places
        said = [Named(letter + number_text(steps[letter], spelled[letter]), letter) for letter in moved or places]
        words = again + said if blocks else [word for word in codes if word] + said + fixed
        blocks.append(sorted(words, key=lambda word: form.rank(word[0])))
        before = places
    if cycles.cancel:
        blocks.append([Named(cycles.cancel, "cancel")])
    held.counts |= before
    held.exact[:2] = event.holes.xy[-1]
    if not form.incremental:  # in steps it comes back to the R level, where it stood
        held.lose("Z")
    if form.has_inverse:
        held.mode_now = PER_MINUTE
    return blocks
