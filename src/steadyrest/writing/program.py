"""The program as a stream of finished text: events through templates, motion in chunks, block numbers, line lengths."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np

from steadyrest.errors import Place, PlanError, TemplateError
from steadyrest.motion.model import AxisRun, Event, Ints
from steadyrest.notices import CommentCleaned, FeedRounded, Notice
from steadyrest.profile.model import Profile
from steadyrest.writing.blocks import CHUNK, motion_text
from steadyrest.writing.comments import clean, defused, fit, marked
from steadyrest.writing.cycles import cycle_lines
from steadyrest.writing.dialect import Dialect, dialect
from steadyrest.writing.events import FORGETTING, event_words, number_word, program_name
from steadyrest.writing.modal import Modal, at_start
from steadyrest.writing.numbers import PLAIN, number_text
from steadyrest.writing.recording import Recording
from steadyrest.writing.runs import gathered, rows_of
from steadyrest.writing.template_rules import EVENTS
from steadyrest.writing.templates import Outside, Templates

_MOTION, _BLOCKS = "\x02", "\x03"
"""What stands in a rendered template where its motion goes. No template can print them: they are no printable characters."""

PLAIN_LINES = "lines"
"""The event that has no template: its fact `lines`, a tuple of texts, is what it says; its rule names who says it."""


class Writing(Iterator[bytes]):
    """A program while it is written: iterate for its text, then read what there is to tell.

    notices   what was changed on the way; complete once the text is exhausted
    lines     lines written so far
    """

    def __init__(self, chunks: Iterator[bytes], state: _State) -> None:
        self._chunks = chunks
        self._state = state

    def __next__(self) -> bytes:
        return next(self._chunks)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """Feeds rounded off by too much, one notice an operation, and comments cleaned."""
        return tuple(self._state.comment_notices.values()) + tuple(self._state.feed_notices.values())

    @property
    def lines(self) -> int:
        """Lines written so far."""
        return self._state.lines


def write_program(
    items: Iterable[AxisRun | Event],
    profile: Profile,
    template_folders: Sequence[Path],
    *,
    inch: bool,
    rotary_letter: str | None,
    program_number: int | None = None,
    record: Recording | None = None,
) -> Writing:
    """The text of a program, in chunks of some hundred kilobytes at most, memory flat however long it is.

    items             runs of motion and events, in the order of the program
    template_folders  where templates are looked up: the profile's own folder, its parents', the shared one
    inch              the program is in inches, else millimetres
    rotary_letter     which rotary of the profile the program turns; None: none
    program_number    the number under which the controller keeps it; None: the profile's default
    record            hears which item each line comes from; the text is the same with and without it
    raises            TemplateError before anything is written for a template that cannot be used, and while writing for what
                      only shows then; ProfileError for a rotary the profile does not have; PlanError for what it cannot say
    """
    said = dialect(profile, inch=inch, rotary_letter=rotary_letter)
    templates = Templates(template_folders)
    templates.check_all()
    state = _State(said, templates, at_start(said), rotary_letter, program_number, record)
    return Writing(_chunks(items, state), state)


@dataclass(slots=True)
class _State:
    dialect: Dialect
    templates: Templates
    modal: Modal
    rotary_letter: str | None
    program_number: int | None
    record: Recording | None = None
    lines: int = 0
    block: int = 0
    number_pending: bool = False
    number_word: str = ""
    program_name: str = ""
    operation_names: dict[int, str] = field(default_factory=dict)
    comment_notices: dict[tuple[str, str], Notice] = field(default_factory=dict)
    feed_notices: dict[int, FeedRounded] = field(default_factory=dict)

    def place(self, operation: int) -> Place:
        if not operation:
            return Place()
        return Place(operation=operation, operation_name=self.operation_names.get(operation))


def _chunks(items: Iterable[AxisRun | Event], state: _State) -> Iterator[bytes]:
    for item in gathered(items) if state.record is None else items:
        if isinstance(item, Event):
            yield _event_text(item, state)
        else:
            for low in range(0, len(item), CHUNK):
                yield _run_text(rows_of(item, low, low + CHUNK), state)


def _run_text(run: AxisRun, state: _State) -> bytes:
    """A chunk of motion, numbered as the profile says and no line too long."""
    numbers = state.dialect.profile.program.block_numbers
    numbering = (lambda count: _next_numbers(state, count)) if numbers.use == "every_block" else None
    kept = None if state.record is None else partial(state.record.rows, run, state.lines + 1)
    try:
        written = motion_text(run, state.dialect, state.modal, numbering, partial(_tell_coarse, state, run.operation), kept)
    except PlanError as error:
        if error.place.operation is None:
            error.place = replace(error.place, operation=run.operation or None, operation_name=state.operation_names.get(run.operation))
        raise
    text = written.text
    if text and state.number_pending:
        text = (_number_word(state) + (" " if state.dialect.spaces else "")).encode("ascii") + text
        state.number_pending = False
    number_length = 12 if numbers.use == "operations" else 0
    if written.widest + number_length > state.dialect.profile.program.longest_line:
        _check_lengths(text, state)
    state.lines += written.lines
    return text


def _tell_coarse(state: _State, operation: int, rows: int, worst_percent: float) -> None:
    """Coarse F words of one operation are one notice."""
    before = state.feed_notices.get(operation)
    if before is not None:
        rows, worst_percent = rows + before.moves, max(worst_percent, before.worst_percent)
    state.feed_notices[operation] = FeedRounded(state.place(operation), rows, worst_percent)


def _check_lengths(text: bytes, state: _State) -> None:
    ends = np.flatnonzero(np.frombuffer(text, np.uint8) == ord("\n"))
    if not len(ends):
        return
    lengths = np.diff(ends, prepend=-1) - len(state.dialect.line_ending)
    longest = state.dialect.profile.program.longest_line
    if lengths.max() > longest:
        row = int(np.argmax(lengths > longest))
        line = text.split(b"\n")[row].decode("ascii").rstrip("\r")
        raise PlanError(
            f"the line would have {int(lengths[row])} characters, and the controller takes {longest}: {line}",
            place=Place(line=state.lines + row + 1),
            cure="raise program.longest_line if the controller takes it, or shorten words (spaces, decimals, block numbers)",
        )


def _next_numbers(state: _State, count: int) -> Ints:
    """The next block numbers; after the largest they start again at the first."""
    numbers = state.dialect.profile.program.block_numbers
    in_a_round = max(0, numbers.largest - numbers.first) // numbers.step + 1
    steps = (state.block + np.arange(count, dtype=np.int64)) % in_a_round
    state.block += count
    return np.asarray(numbers.first + numbers.step * steps)


def _number_word(state: _State) -> str:
    numbers = state.dialect.profile.program.block_numbers
    return numbers.letter + number_text(int(_next_numbers(state, 1)[0]), PLAIN).rjust(numbers.digits, "0")


def _event_text(event: Event, state: _State) -> bytes:
    """An event through its template, its motion put in whole where the template says."""
    modal, profile = state.modal, state.dialect.profile
    if event.name == "operation_start":
        state.operation_names[event.operation] = str(event.facts.get("name", ""))
        state.number_pending = profile.program.block_numbers.use == "operations"
    try:
        words = event_words(event, state.dialect, modal, state.rotary_letter)
        if event.name == "program_start":
            words["program_name"] = state.program_name = program_name(profile.program, str(event.facts.get("name", "")))
            words["program_number"] = state.number_word = number_word(profile.program, state.program_number)
        cycle = cycle_lines(event, state.dialect, modal, partial(_tell_coarse, state, event.operation)) if event.name == "cycle" else []
    except PlanError as error:
        if error.place.operation is None:
            error.place = replace(error.place, operation=event.operation or None, operation_name=state.operation_names.get(event.operation))
        raise
    has_motion = any(len(run) for run in event.motion)
    places = ({"motion": _MOTION} if has_motion else {}) | ({"blocks": _BLOCKS} if cycle else {})

    def comment(*parts: object) -> str:
        return _comment(parts, event, state, message=False)

    def message(*parts: object) -> str:
        return _comment(parts, event, state, message=True)

    record = state.record
    if event.name == PLAIN_LINES:
        file, lines = event.rule, _plain_lines(event)
    else:
        file = state.templates.file_of(event.name)
        lines = state.templates.render(event.name, event.facts, words, profile, comment, message, places)
        _check_places(lines, places, event.name, state)
    if record is not None:
        record.begins(event, words, file)
    # What else an event brings with it than those of planning, nobody knows.
    forgets = event.name in FORGETTING or event.name not in EVENTS
    chunks: list[bytes] = []
    for line in lines:
        if line == _MOTION:
            if forgets:
                modal.forget()
            for run in gathered(event.motion) if record is None else event.motion:
                assert isinstance(run, AxisRun)
                chunks += [_run_text(rows_of(run, low, low + CHUNK), state) for low in range(0, len(run), CHUNK)]
        elif line == _BLOCKS:
            for block in cycle:
                chunks.append(_line(block, file, state))
                if record is not None:
                    record.line(state.lines, "cycle")
        else:
            chunks.append(_line(line, file, state))
            if record is not None:
                record.line(state.lines, "plain" if event.name == PLAIN_LINES else "template")
    if forgets:
        modal.forget()
    if record is not None:
        record.ends()
    if event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
        modal.lose("Z")
    return b"".join(chunks)


def _check_places(lines: Sequence[str], places: dict[str, str], name: str, state: _State) -> None:
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


def _plain_lines(event: Event) -> list[str]:
    """The lines that an event of the name `lines` brings with it, without a template."""
    said = event.facts.get("lines", ())
    return [stripped for line in (said if isinstance(said, tuple) else ()) if (stripped := line.strip(" \t"))]


def _line(line: str, file: str, state: _State) -> bytes:
    """One line of an event, numbered where it is a block; `file` is the template, or who else says the line."""
    program = state.dialect.profile.program
    if not state.dialect.spaces:
        line = _without_spaces(line)
    marks = (program.start_mark + state.program_name, program.end_mark, state.number_word)
    is_block = line not in marks and line[0] not in "(;"
    if is_block and (program.block_numbers.use == "every_block" or state.number_pending):
        state.number_pending = False
        skip = "/" if line.startswith("/") else ""
        line = skip + _number_word(state) + (" " if state.dialect.spaces else "") + line[len(skip) :]
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


def _comment(parts: Sequence[object], event: Event, state: _State, *, message: bool) -> str:
    """Some parts as one comment, each cleaned; what was lost of a text from outside is told once."""
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
            _tell_cleaned(text, one.text, event, state)
        cleaned.append(one.text)
    joined = " ".join(text for text in cleaned if text)
    harmless = defused(joined)
    if harmless != joined:
        _tell_cleaned(joined, harmless, event, state)
    return marked(fit(harmless, program, message=message), program)


def _tell_cleaned(text: str, written: str, event: Event, state: _State) -> None:
    state.comment_notices.setdefault((text, written), CommentCleaned(state.place(event.operation), text, written))
