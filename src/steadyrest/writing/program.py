"""The program as a stream of finished text: events through templates, motion in chunks, block numbers, line lengths."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path

import numpy as np

from steadyrest.columns import take
from steadyrest.errors import Place, PlanError
from steadyrest.events import EVENTS
from steadyrest.motion import Event, Motion
from steadyrest.notices import Notice
from steadyrest.profile import Profile
from steadyrest.writing.blocks import CHUNK, gathered, motion_text
from steadyrest.writing.event_lines import check_places, comment_text, event_line
from steadyrest.writing.event_words import cycle_blocks, event_words, number_word, program_name
from steadyrest.writing.recording import Named, Printed, Recording
from steadyrest.writing.state import ProgramState, held_at_start
from steadyrest.writing.templates import Templates
from steadyrest.writing.word_formats import word_format

_MOTION, _BLOCKS = "\x02", "\x03"
"""What stands in a rendered template where its motion goes. No template can print them: they are no printable characters."""

PLAIN_LINES = "lines"
"""The event that has no template: its fact `lines`, a tuple of texts, is what it says; its rule names who says it."""


class Writing(Iterator[bytes]):
    """A program while it is written: iterate for its text, then read what there is to tell.

    notices   what was changed on the way; complete once the text is exhausted
    lines     lines written so far
    """

    def __init__(self, chunks: Iterator[bytes], state: ProgramState) -> None:
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
    record: Recording | None = None,
) -> Writing:
    """The text of a program, in chunks of some hundred kilobytes at most, memory flat however long it is.

    items             runs of motion and events, in the order of the program
    template_folders  where templates are looked up: the profile's own folder, its parents', the shared one
    inch              the program is in inches, else millimetres
    rotary_letter     which rotary of the profile the program turns; None: none
    record            hears which item each line comes from; the text is the same with and without it
    raises            TemplateError before anything is written for a template that cannot be used, and while writing for what
                      only shows then; ProfileError for a rotary the profile does not have; PlanError for what it cannot say
    """
    form = word_format(profile, inch=inch, rotary_letter=rotary_letter)
    templates = Templates(template_folders, recorded=record is not None)
    for mistake in templates.mistakes():
        raise mistake
    state = ProgramState(form, templates, held_at_start(form), rotary_letter, record)
    return Writing(_chunks(items, state), state)


def _chunks(items: Iterable[Motion | Event], state: ProgramState) -> Iterator[bytes]:
    for item in gathered(items) if state.record is None else items:
        if isinstance(item, Event):
            yield _event_text(item, state)
        else:
            yield from _run_text(item, state)


def _run_text(run: Motion, state: ProgramState) -> Iterator[bytes]:
    for low in range(0, len(run), CHUNK):
        yield _chunk_text(take(run, slice(low, low + CHUNK)) if len(run) > CHUNK else run, state)


def _chunk_text(run: Motion, state: ProgramState) -> bytes:
    """A chunk of motion, numbered as the profile says and no line too long."""
    program = state.form.profile.program
    numbering = state.next_numbers if program.block_numbers.use == "every_block" else None
    heard = None if state.record is None else partial(state.record.rows, run, state.lines + 1)
    with state.placed(run.operation):
        written = motion_text(run, state.form, state.held, numbering, partial(state.tell_coarse, run.operation), heard)
    text = written.text
    if text and state.number_pending:
        text = state.next_number_word().encode("ascii") + text
        state.number_pending = False
    number_length = 12 if program.block_numbers.use == "operations" else 0
    if written.widest + number_length > program.longest_line:
        _check_lengths(text, state)
    state.lines += written.lines
    return text


def _check_lengths(text: bytes, state: ProgramState) -> None:
    ends = np.flatnonzero(np.frombuffer(text, np.uint8) == ord("\n"))
    if not len(ends):
        return
    lengths = np.diff(ends, prepend=-1) - len(state.form.line_ending)
    longest = state.form.profile.program.longest_line
    if lengths.max() > longest:
        row = int(np.argmax(lengths > longest))
        line = text.split(b"\n")[row].decode("ascii").rstrip("\r")
        raise PlanError(
            f"the line would have {int(lengths[row])} characters, but the controller takes only {longest}: {line}",
            place=Place(line=state.lines + row + 1),
            cure="raise program.longest_line if the controller takes longer lines, or shorten words (spaces, decimals, block numbers)",
        )


def _event_text(event: Event, state: ProgramState) -> bytes:
    """An event through its template, its motion put in whole where the template says."""
    held, profile, record = state.held, state.form.profile, state.record
    if event.name == "operation_start":
        state.operation_names[event.operation] = str(event.facts.get("name", ""))
        state.number_pending = profile.program.block_numbers.use == "operations"
    cycle: list[list[Named]] = []
    with state.placed(event.operation):
        words = event_words(event, state.form, held, state.rotary_letter)
        if event.name == "program_start":
            words["program_name"] = program_name(profile.program, str(event.facts.get("name", "")))
            words["program_number"] = number_word(profile.program)
            state.marks = {profile.program.start_mark + words["program_name"], profile.program.end_mark, words["program_number"]}
        if event.name == "cycle":
            cycle = cycle_blocks(event, state.form, held, partial(state.tell_coarse, event.operation))
    has_motion = any(len(run) for run in event.motion)
    places = ({"motion": _MOTION} if has_motion else {}) | ({"blocks": _BLOCKS} if cycle else {})

    if event.name == PLAIN_LINES:
        said = event.facts["lines"]
        assert isinstance(said, tuple)
        file, lines = event.rule, [stripped for line in said if (stripped := line.strip(" \t"))]
        printed = [[Printed(line)] for line in lines]
    else:
        file = state.templates.file_of(event.name)
        comment, message = (partial(comment_text, event, state, message=message) for message in (False, True))
        lines, printed = state.templates.render(event.name, event.facts, words, profile, comment, message, places)
        check_places(lines, places, event.name, state)
    if record is not None:
        record.begins(event, file)
    # What else an event brings with it than those of planning, nobody knows.
    forgets = event.name not in EVENTS or EVENTS[event.name].forgets
    chunks: list[bytes] = []
    for at, line in enumerate(lines):
        if line == _MOTION:
            if forgets:
                held.forget()
            for run in gathered(event.motion) if record is None else event.motion:
                assert isinstance(run, Motion)
                chunks += _run_text(run, state)
        elif line == _BLOCKS:
            for block in cycle:
                chunks.append(event_line((" " if state.form.spaces else "").join(block), file, state))
                if record is not None:
                    record.line(state.lines, "cycle", [Printed(word, word.name) for word in block])
        else:
            chunks.append(event_line(line, file, state))
            if record is not None:
                record.line(state.lines, "plain" if event.name == PLAIN_LINES else "template", printed[at])
    if forgets:
        held.forget()
    if record is not None:
        record.ends()
    if event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
        held.lose("Z")
    return b"".join(chunks)
