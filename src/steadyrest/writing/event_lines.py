"""What the lines of an event may hold, and how each is finished: comments made harmless, blocks numbered, none too long."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from steadyrest.errors import Place, TemplateError
from steadyrest.motion import Event
from steadyrest.profile import Program
from steadyrest.writing.event_words import event_codes, spoken
from steadyrest.writing.numbers import PLAIN, number_text
from steadyrest.writing.recording import Named, Printed, Source
from steadyrest.writing.state import ProgramState
from steadyrest.writing.templates import FactName, Outside, Remark

MOTION, BLOCKS = "\x02", "\x03"
"""What stands in a rendered template where its motion goes. No template can print them: they are no printable characters."""

PLAIN_LINES = "lines"
"""The event that has no template: its fact `lines`, a tuple of texts, is what it says; its rule names who says it."""

_OPENS_MESSAGE = re.compile(r"m\s*s\s*g\s*,", re.IGNORECASE)
"""What makes a comment a message to the operator, NISTIR 6556 section 3.3.4: `MSG,` in any case, spaces between or not."""


class EventText(NamedTuple):
    """What an event says: its lines, each with where it comes from and its pieces, and the file of its template, or who else says them.

    The line MOTION stands for the event's motion. The pieces of a line are filled in only where they are heard.
    """

    lines: list[tuple[str, Source, Sequence[Printed]]]
    file: str


def event_text(event: Event, blocks: Sequence[Sequence[Named]], state: ProgramState) -> EventText:
    """An event through its template, numbers and comments filled in, and the blocks of its cycle."""
    if event.name == PLAIN_LINES:
        said = event.facts["lines"]
        assert isinstance(said, tuple)
        return EventText([(line, "plain", [Printed(line)]) for text in said if (line := text.strip(" \t"))], event.rule)
    places = ({"motion": MOTION} if any(map(len, event.motion)) else {}) | ({"blocks": BLOCKS} if blocks else {})

    def spelled(name: str) -> str:
        return spoken(event.words[name], state.form)

    def remark(one: Remark) -> str:
        return comment_text(event, one, state)

    def codes() -> dict[str, str]:
        return event_codes(event, state.form, state.held.mode_now, state.rotary_letter)

    form = state.templates.form(event.name, event.facts, event.words, spelled, codes, remark, state.form.profile, places)
    lines: list[tuple[str, Source, Sequence[Printed]]] = []
    for pieces, fixed in form.lines:
        text, printed = fixed, pieces
        if text is None:
            now = {mark: spelled(what) if isinstance(what, str) else remark(what) for mark, what in form.left_open(pieces)}
            text = "".join([now.get(piece.text, piece.text) for piece in pieces]).strip(" \t\r")
            if state.record is not None:
                printed = [replace(piece, text=now.get(piece.text, piece.text)) for piece in pieces]
        if text:
            lines.append((text, "template", printed))
    if places:
        _check_places([text for text, _, _ in lines], places, event.name, state)
    if blocks:
        at = next(at for at, (text, _, _) in enumerate(lines) if text == BLOCKS)
        space = " " if state.form.spaces else ""
        lines[at : at + 1] = [(space.join(block), "cycle", [Printed(word, word.name) for word in block]) for block in blocks]
    return EventText(lines, state.templates.file_of(event.name))


def _check_places(lines: Sequence[str], places: dict[str, str], name: str, state: ProgramState) -> None:
    """TemplateError unless each mark of `places` (by the name that prints it) is one of the lines that the template `name` printed."""
    for what, mark in places.items():
        text = "\n".join(lines)
        place = Place(file=state.templates.file_of(name))
        if text.count(mark) == 0:
            raise TemplateError(
                f"the template {name}.j2 left out {{{{ {what} }}}}", place=place, cure="print it on a line of its own, whatever the case"
            )
        if text.count(mark) > 1:
            raise TemplateError(f"the template {name}.j2 prints {{{{ {what} }}}} twice", place=place, cure="print it once")
        if mark not in lines:
            raise TemplateError(
                f"the template {name}.j2 has {{{{ {what} }}}} beside other text", place=place, cure="print it on a line of its own"
            )


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


def comment_text(event: Event, remark: Remark, state: ProgramState) -> str:
    """Some parts as one comment, each cleaned; what was lost of a text from outside is told once.

    raises    TemplateError for a part that is neither a text nor a whole number
    """
    program = state.form.profile.program
    if program.comments.style == "none":
        return ""
    cleaned: list[str] = []
    for part in remark.parts:
        is_fact = isinstance(part, FactName)
        value = event.facts[part] if isinstance(part, FactName) else part.raw if isinstance(part, Outside) else part
        if isinstance(value, bool) or not isinstance(value, str | int):
            raise TemplateError(
                f"comment(...) takes text and whole numbers, not a {type(value).__name__}",
                place=Place(file=state.templates.file_of(event.name)),
                cure="decide with if, or take it out",
            )
        text = number_text(int(value), PLAIN) if isinstance(value, int) else value
        kept, changed = clean(text, program)
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


def clean(text: str, program: Program) -> tuple[str, bool]:
    """Text in the characters that a controller takes in a comment, on one line, without any mark that could end it; and whether anything
    but spaces at its ends was lost.

    Accents are dropped where the bare letter is allowed, a letter allowed only in its other case takes that one, every other
    character becomes a space, and runs of spaces become one. Parentheses never survive, whatever the profile allows.
    """
    return _cleaned(text, program.comments.characters, program.comments.upper_case)


@lru_cache
def _allowed(characters: str) -> frozenset[str]:
    return frozenset(c for c in characters if " " <= c <= "~") - set("()")


@lru_cache(maxsize=4096)
def _cleaned(text: str, characters: str, upper_case: bool) -> tuple[str, bool]:
    allowed = _allowed(characters)
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
