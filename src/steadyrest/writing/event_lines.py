"""What the lines of an event may hold, and how each is finished: comments made harmless, blocks numbered, none too long."""

from __future__ import annotations

import re
from collections.abc import Sequence

from steadyrest.errors import Place, TemplateError
from steadyrest.motion import Event
from steadyrest.writing.comments import clean, defused, fit, marked
from steadyrest.writing.numbers import PLAIN, number_text
from steadyrest.writing.state import State
from steadyrest.writing.templates import Outside


def check_places(lines: Sequence[str], places: dict[str, str], name: str, state: State) -> None:
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


def plain_lines(event: Event) -> list[str]:
    """The lines that an event of the name `lines` brings with it, without a template, each with its spaces stripped."""
    said = event.facts.get("lines", ())
    return [stripped for line in (said if isinstance(said, tuple) else ()) if (stripped := line.strip(" \t"))]


def event_line(line: str, file: str, state: State) -> bytes:
    """One line of an event, numbered where it is a block; `file` is the template, or who else says the line.

    raises    TemplateError for a line that the controller does not take: not plain ASCII, or too long
    """
    program = state.dialect.profile.program
    if not state.dialect.spaces:
        line = _without_spaces(line)
    marks = (program.start_mark + state.program_name, program.end_mark, state.number_word)
    is_block = line not in marks and line[0] not in "(;"
    if is_block and (program.block_numbers.use == "every_block" or state.number_pending):
        state.number_pending = False
        skip = "/" if line.startswith("/") else ""
        line = skip + state.next_number_word() + (" " if state.dialect.spaces else "") + line[len(skip) :]
    place = Place(file=file)
    bad = next((c for c in line if not " " <= c <= "~"), None)
    if bad is not None:
        raise TemplateError(f"the line {line!r} holds {bad!r}, and a program is plain ASCII", place=place, cure="write it in plain letters")
    if len(line) > program.longest_line:
        raise TemplateError(
            f"the line has {len(line)} characters, and the controller takes {program.longest_line}: {line}",
            place=place,
            cure="break it in two",
        )
    state.lines += 1
    return (line + state.dialect.line_ending).encode("ascii")


def _without_spaces(line: str) -> str:
    """A line without the spaces between its words; those in comments stay."""
    pieces = re.split(r"(\([^)]*\)|;.*)", line)
    return "".join(piece if i % 2 else piece.replace(" ", "") for i, piece in enumerate(pieces))


def comment_text(parts: Sequence[object], event: Event, state: State, *, message: bool) -> str:
    """Some parts as one comment, each cleaned; what was lost of a text from outside is told once.

    raises    TemplateError for a part that is neither a text nor a whole number
    """
    program = state.dialect.profile.program
    if program.comments.style == "none":
        return ""
    cleaned: list[str] = []
    for part in parts:
        if isinstance(part, bool) or not isinstance(part, str | Outside | int):
            raise TemplateError(
                f"comment(...) takes text and whole numbers, not a {type(part).__name__}",
                place=Place(file=state.templates.file_of(event.name)),
                cure="decide with if, or take it out",
            )
        text = part.raw if isinstance(part, Outside) else number_text(int(part), PLAIN) if isinstance(part, int) else part
        one = clean(text, program)
        if one.changed and isinstance(part, Outside):
            state.tell_cleaned(event.operation, text, one.text)
        cleaned.append(one.text)
    joined = " ".join(text for text in cleaned if text)
    harmless = defused(joined)
    if harmless != joined:
        state.tell_cleaned(event.operation, joined, harmless)
    return marked(fit(harmless, program, message=message), program)
