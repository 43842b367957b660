"""What an event says: its words ready, its comments harmless, the blocks of its cycle, and how each line is finished."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache, partial
from typing import NamedTuple

import numpy as np

from steadyrest.conventions import AXES, INVERSE, PER_MINUTE, XY
from steadyrest.errors import Place, PlanError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.motion import Event, Quantity
from steadyrest.profile import Profile, Program
from steadyrest.writing.blocks import COARSE_PERCENT, feed_counts
from steadyrest.writing.numbers import PLAIN, Spelling, number_text, to_count, word_text
from steadyrest.writing.recording import Printed, Source
from steadyrest.writing.state import Held, ProgramState
from steadyrest.writing.templates import FactName, Outside, Remark, text_of
from steadyrest.writing.word_formats import WordFormat

MOTION, BLOCKS = "\x02", "\x03"
"""What stands in a rendered template where its motion goes. No template can print them: they are no printable characters."""

PLAIN_LINES = "lines"
"""The event that has no template: its fact `lines`, a tuple of texts, is what it says; its rule names who says it."""

_OPENS_MESSAGE = re.compile(r"m\s*s\s*g\s*,", re.IGNORECASE)
"""What makes a comment a message to the operator, NISTIR 6556 section 3.3.4: `MSG,` in any case, spaces between or not."""


class EventText(NamedTuple):
    """What an event says: its lines, each with where it comes from and its pieces, and the file of its template, or who else says them.

    The line MOTION stands for the event's motion, BLOCKS for the blocks of its cycle.
    """

    lines: list[tuple[str, Source, Sequence[Printed]]]
    file: str


def event_text(event: Event, state: ProgramState) -> EventText:
    """An event through its template, numbers and comments filled in."""
    if event.name == PLAIN_LINES:
        said = event.facts["lines"]
        assert isinstance(said, tuple)
        return EventText([(line, "plain", [Printed(line)]) for text in said if (line := text.strip(" \t"))], event.rule)
    places = ({"motion": MOTION} if any(map(len, event.motion)) else {}) | ({"blocks": BLOCKS} if event.name == "cycle" else {})

    def spelled(name: str) -> str:
        return spoken(event.words[name], state.form)

    codes, remark = partial(event_codes, event, state.form, state.held.mode_now), partial(comment_text, event, state)
    form = state.templates.form(event, spelled, codes, remark, state.form.profile, places)
    lines: list[tuple[str, Source, Sequence[Printed]]] = []
    for pieces, fixed in form.lines:
        text, printed = fixed, pieces
        if text is None:
            opened = [(piece, form.open.get(piece.text)) for piece in pieces]
            printed = [
                piece if what is None else piece._replace(text=spelled(what) if isinstance(what, str) else remark(what))
                for piece, what in opened
            ]
            text = text_of(printed)
        if text:
            lines.append((text, "template", printed))
    if places:
        _check_places([text for text, _, _ in lines], places, event.name, state)
    return EventText(lines, state.templates.file_of(event.name))


def _check_places(lines: Sequence[str], places: dict[str, str], name: str, state: ProgramState) -> None:
    """TemplateError unless each mark of `places` (by the name that prints it) is one of the lines that the template `name` printed."""
    place, text = Place(file=state.templates.file_of(name)), "\n".join(lines)
    for what, mark in places.items():
        count, said = text.count(mark), f"{{{{ {what} }}}}"
        wrong, cure = "", "print it on a line of its own"
        if count == 0:
            wrong, cure = f"left out {said}", f"{cure}, whatever the case"
        elif count > 1:
            wrong, cure = f"prints {said} twice", "print it once"
        elif mark not in lines:
            wrong = f"has {said} beside other text"
        if wrong:
            raise TemplateError(f"the template {name}.j2 {wrong}", place=place, cure=cure)


def event_line(line: str, file: str, state: ProgramState) -> bytes:
    """One line of an event, numbered where it is a block; `file` is the template, or who else says the line.

    raises    TemplateError for a line that the controller does not take: not plain ASCII, or too long
    """
    program = state.form.profile.program
    if not state.form.spaces:
        line = _without_spaces(line)
    is_block = line not in state.marks and line[0] not in "(;"
    if is_block and (program.block_numbers.use == "every_block" or state.number_pending):
        state.number_pending = False
        skip = "/" if line.startswith("/") else ""
        line = skip + state.next_number_word() + line[len(skip) :]
    if not (line.isascii() and line.isprintable()):
        bad = next(c for c in line if not " " <= c <= "~")
        raise TemplateError(
            f"the line {line!r} holds {bad!r}, and a program is plain ASCII", place=Place(file=file), cure="write it in plain letters"
        )
    if len(line) > program.longest_line:
        raise TemplateError(
            f"the line has {len(line)} characters, and the controller takes {program.longest_line}: {line}",
            place=Place(file=file),
            cure="break it in two",
        )
    state.lines += 1
    return (line + state.form.line_ending).encode("ascii")


def _without_spaces(line: str) -> str:
    """A line without the spaces between its words; those in comments stay."""
    pieces = re.split(r"(\([^)]*\)|;.*)", line)
    return "".join(piece if i % 2 else piece.replace(" ", "") for i, piece in enumerate(pieces))


def comment_text(event: Event, state: ProgramState, remark: Remark) -> str:
    """Some parts as one comment, each cleaned; what was lost of a text from outside is told once.

    raises    TemplateError for a part that is neither a text nor a whole number
    """
    program = state.form.profile.program
    if program.comments.style == "none":
        return ""
    cleaned: list[str] = []
    for part in remark.parts:
        is_fact = isinstance(part, FactName)
        value = event.facts[part] if isinstance(part, FactName) else part
        if isinstance(value, bool) or not isinstance(value, str | int):
            raise TemplateError(
                f"comment(...) takes text and whole numbers, not a {type(value).__name__}",
                place=Place(file=state.templates.file_of(event.name)),
                cure="decide with if, or take it out",
            )
        text = number_text(int(value), PLAIN) if isinstance(value, int) else value
        kept, changed = clean(text, program.comments.characters, program.comments.upper_case)
        if changed and isinstance(value, str) and (is_fact or isinstance(part, Outside)):
            state.tell_cleaned(event.operation, text, kept)
        cleaned.append(kept)
    joined = " ".join(text for text in cleaned if text)
    harmless = defused(joined)
    if harmless != joined:
        state.tell_cleaned(event.operation, joined, harmless)
    if not harmless:
        return ""
    parentheses = program.comments.style == "parentheses"
    whole = f"MSG, {harmless}" if remark.message and parentheses else harmless
    kept = whole[: program.comments.longest].rstrip()  # so many fit into a line: the profile says no more than that
    return f"({kept})" if parentheses else f";{kept}"


@lru_cache(maxsize=4096)
def clean(text: str, characters: str, upper_case: bool) -> tuple[str, bool]:
    """Text in the characters that a controller takes in a comment, on one line, without any mark that could end it; and whether anything
    but spaces at its ends was lost.

    Accents are dropped where the bare letter is allowed, a letter allowed only in its other case takes that one, every other
    character becomes a space, and runs of spaces become one. Parentheses never survive, whatever the profile allows.
    """
    allowed = frozenset(c for c in characters if " " <= c <= "~") - set("()")
    wanted = text.upper() if upper_case else text
    if not wanted.isascii():
        wanted = "".join(c for c in unicodedata.normalize("NFKD", wanted) if not unicodedata.combining(c))
    if not allowed.issuperset(wanted):
        wanted = "".join(next((same for same in (c, c.upper(), c.lower()) if same in allowed), " ") for c in wanted)
    kept = " ".join(wanted.split())
    return kept, kept.casefold() != re.sub(" +", " ", text).strip(" ").casefold()


def defused(text: str) -> str:
    """A cleaned text that no controller takes for a message to the operator: the comma after an opening MSG is left out."""
    while _OPENS_MESSAGE.match(text):
        text = text.replace(",", "", 1)
    return text


def event_codes(event: Event, form: WordFormat, mode: int | None) -> dict[str, str]:
    """The words of an event that are codes, by their names. PlanError where a code is missing."""
    profile, given, words = form.profile, facts_of(event, form, mode), dict[str, str]()
    for name, word in EVENTS[event.name].words.items() if event.name in EVENTS else ():
        if not word.code or any(given.get(fact) not in values for fact, values in word.only.items()):
            continue
        key = setting_key(word.code, given, form)
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


def setting_key(key: str, given: Mapping[str, str], form: WordFormat) -> str:
    """A key of an event's row filled in, as the profile has it; `rotary.*` is the rotary that the event names, or the first."""
    return key.format_map(given).replace("-", "_").replace("*", given.get("rotary") or next(iter(form.rotary_letters), ""))


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


def cycle_blocks(event: Event, form: WordFormat, held: Held, found: Callable[[int, float], None]) -> list[list[Printed]]:
    """The words of the blocks of a cycle's holes, named as in the row of the event; `held` is what the controller holds before them.
    `found` takes the holes and the percentage of a coarse F.

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
    fixed = [Printed(spoken(event.words[word], form), word) for word in EVENTS["cycle"].block if word in event.words and word != "feed"]
    if "feed" in event.words:
        counts, off_percent = feed_counts(np.array([event.words["feed"].value]), PER_MINUTE, form)
        fixed.append(Printed(event.words["feed"].letter + number_text(int(counts[0]), form.feed[PER_MINUTE]), "feed"))
        if off_percent[0] > COARSE_PERCENT:
            found(len(event.holes.xy), float(off_percent[0]))
    codes = []
    if form.has_inverse and held.mode != PER_MINUTE:
        codes.append(Printed(form.profile.feed.per_minute_code, "feed_mode"))
    if held.plane != XY:
        codes.append(Printed(form.plane_codes[XY], "plane"))
    cycle = Printed(code, "cycle")
    codes += [Printed(cycles.return_to_r, "return_to_r"), cycle]
    again = [cycle] if form.profile.words.repeat_motion else []
    blocks: list[list[Printed]] = []
    before = {letter: held.counts[letter] for letter in spelled} if form.incremental else {}
    for hole in event.holes.xy:
        places = {letter: to_count(float(hole[AXES.index(letter)]), number) for letter, number in spelled.items()}
        moved = [letter for letter in places if before.get(letter) != places[letter] or letter in form.repeat_axes]
        # A cycle's block names at least one axis (NISTIR 6556 section 3.5.16), also for the same hole once more.
        steps = {letter: places[letter] - before[letter] for letter in places} if form.incremental else places
        said = [Printed(letter + number_text(steps[letter], spelled[letter]), letter) for letter in moved or places]
        words = again + said if blocks else [word for word in codes if word.text] + said + fixed
        blocks.append(sorted(words, key=lambda word: form.rank(word.text[0])))
        before = places
    if cycles.cancel:
        blocks.append([Printed(cycles.cancel, "cancel")])
    return blocks
