"""The program as a stream of finished text: events through templates, motion in chunks, block numbers, line lengths."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from steadyrest.errors import Place, PlanError
from steadyrest.events import EVENTS
from steadyrest.motion import Event, Motion
from steadyrest.notices import Notice
from steadyrest.profile.model import Profile
from steadyrest.writing.blocks import CHUNK, motion_text
from steadyrest.writing.cycles import cycle_blocks
from steadyrest.writing.dialect import dialect
from steadyrest.writing.event_lines import check_places, comment_text, event_line, plain_lines
from steadyrest.writing.events import event_words, number_word, program_name
from steadyrest.writing.modal import at_start
from steadyrest.writing.recording import Printed, Recording
from steadyrest.writing.runs import gathered, rows_of
from steadyrest.writing.state import State
from steadyrest.writing.templates import Templates

_MOTION, _BLOCKS = "\x02", "\x03"
"""What stands in a rendered template where its motion goes. No template can print them: they are no printable characters."""

PLAIN_LINES = "lines"
"""The event that has no template: its fact `lines`, a tuple of texts, is what it says; its rule names who says it."""


class Writing(Iterator[bytes]):
    """A program while it is written: iterate for its text, then read what there is to tell.

    notices   what was changed on the way; complete once the text is exhausted
    lines     lines written so far
    """

    def __init__(self, chunks: Iterator[bytes], state: State) -> None:
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
    items: Iterable[Motion | Event],
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
    templates = Templates(template_folders, recorded=record is not None)
    templates.check_all()
    state = State(said, templates, at_start(said), rotary_letter, program_number, record)
    return Writing(_chunks(items, state), state)


def _chunks(items: Iterable[Motion | Event], state: State) -> Iterator[bytes]:
    for item in gathered(items) if state.record is None else items:
        if isinstance(item, Event):
            yield _event_text(item, state)
        else:
            for low in range(0, len(item), CHUNK):
                yield _run_text(rows_of(item, low, low + CHUNK), state)


def _run_text(run: Motion, state: State) -> bytes:
    """A chunk of motion, numbered as the profile says and no line too long."""
    numbers = state.dialect.profile.program.block_numbers
    numbering = state.next_numbers if numbers.use == "every_block" else None
    kept = None if state.record is None else partial(state.record.rows, run, state.lines + 1)
    try:
        written = motion_text(run, state.dialect, state.modal, numbering, partial(state.tell_coarse, run.operation), kept)
    except PlanError as error:
        if error.place.operation is None:
            error.place = replace(error.place, operation=run.operation or None, operation_name=state.operation_names.get(run.operation))
        raise
    text = written.text
    if text and state.number_pending:
        text = (state.next_number_word() + (" " if state.dialect.spaces else "")).encode("ascii") + text
        state.number_pending = False
    number_length = 12 if numbers.use == "operations" else 0
    if written.widest + number_length > state.dialect.profile.program.longest_line:
        _check_lengths(text, state)
    state.lines += written.lines
    return text


def _check_lengths(text: bytes, state: State) -> None:
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


def _event_text(event: Event, state: State) -> bytes:
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
        cycle = cycle_blocks(event, state.dialect, modal, partial(state.tell_coarse, event.operation)) if event.name == "cycle" else []
    except PlanError as error:
        if error.place.operation is None:
            error.place = replace(error.place, operation=event.operation or None, operation_name=state.operation_names.get(event.operation))
        raise
    has_motion = any(len(run) for run in event.motion)
    places = ({"motion": _MOTION} if has_motion else {}) | ({"blocks": _BLOCKS} if cycle else {})

    def comment(*parts: object) -> str:
        return comment_text(parts, event, state, message=False)

    def message(*parts: object) -> str:
        return comment_text(parts, event, state, message=True)

    record = state.record
    if event.name == PLAIN_LINES:
        file, lines = event.rule, plain_lines(event)
        printed = [[Printed(line)] for line in lines]
    else:
        file = state.templates.file_of(event.name)
        lines, printed = state.templates.render(event.name, event.facts, words, profile, comment, message, places)
        check_places(lines, places, event.name, state)
    if record is not None:
        record.begins(event, words, file)
    # What else an event brings with it than those of planning, nobody knows.
    forgets = event.name not in EVENTS or EVENTS[event.name].forgets
    chunks: list[bytes] = []
    for at, line in enumerate(lines):
        if line == _MOTION:
            if forgets:
                modal.forget()
            for run in gathered(event.motion) if record is None else event.motion:
                assert isinstance(run, Motion)
                chunks += [_run_text(rows_of(run, low, low + CHUNK), state) for low in range(0, len(run), CHUNK)]
        elif line == _BLOCKS:
            for block in cycle:
                chunks.append(event_line((" " if state.dialect.spaces else "").join(block), file, state))
                if record is not None:
                    record.line(state.lines, "cycle", [Printed(word, word.name) for word in block])
        else:
            chunks.append(event_line(line, file, state))
            if record is not None:
                record.line(state.lines, "plain" if event.name == PLAIN_LINES else "template", printed[at])
    if forgets:
        modal.forget()
    if record is not None:
        record.ends()
    if event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
        modal.lose("Z")
    return b"".join(chunks)
