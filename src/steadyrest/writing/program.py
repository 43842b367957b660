"""The program as a stream of finished text: events through templates, motion in batches, block numbers, line lengths."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain
from pathlib import Path

import numpy as np

from steadyrest.columns import gathered, take
from steadyrest.conventions import PER_MINUTE, RAPID
from steadyrest.errors import Place, PlanError, SteadyrestError
from steadyrest.events import EVENTS
from steadyrest.motion import Event, Motion, motion
from steadyrest.notices import Notice
from steadyrest.profile import Profile
from steadyrest.writing.blocks import COARSE_PERCENT, Blocks, motion_blocks
from steadyrest.writing.event_lines import BLOCKS, MOTION, EventText, cycle_blocks, event_codes, event_line, event_text
from steadyrest.writing.numbers import Spelling
from steadyrest.writing.recording import Origin, Printed, Record, Source
from steadyrest.writing.state import ProgramState, held_at_start
from steadyrest.writing.templates import Templates
from steadyrest.writing.word_columns import Breaks, WordColumn, line_text
from steadyrest.writing.word_formats import word_format

CHUNK, MOST_ITEMS = 8192, 1024
"""Blocks, and items of the plan, written at once: the sheet of their words stays in a processor's second cache."""

ALONE = ("program_start", "program_end")
"""Events whose words depend on the feed mode in force: they are written by themselves."""


class Writing(Iterator[bytes]):
    """A program while it is written: iterate for its text, then read what there is to tell.

    inch      it is in inches, else in millimetres
    letters   the rotaries that it turns, from the part to the spindle
    """

    def __init__(self, chunks: Iterator[bytes], state: ProgramState, noticed: Iterable[Sequence[Notice]]) -> None:
        self._chunks, self._state, self._noticed = chunks, state, noticed
        self.inch, self.letters = state.form.inch, state.form.rotary_letters

    def __next__(self) -> bytes:
        return next(self._chunks)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was changed on the way, feeds rounded off by too much once an operation; complete once the text is exhausted."""
        rounded = (notice for _, notice in sorted(self._state.feed_notices.items()))
        return (*chain(*self._noticed), *self._state.comment_notices.values(), *rounded)

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
    rotary_letters: Sequence[str],
    record: Record | None = None,
    noticed: Iterable[Sequence[Notice]] = (),
) -> Writing:
    """The text of a program, in chunks of some hundred kilobytes at most, memory flat however long it is.

    items             runs of motion and events, in the order of the program
    template_folders  where templates are looked up: the profile's own folder, its parents', the shared one
    inch              the program is in inches, else millimetres
    rotary_letters    which rotaries of the profile the program turns, from the part to the spindle
    record            is told in order where all lines come from; the text is the same with and without it
    noticed           what was changed before, which is told with it; the lists may still grow while the items come
    raises            TemplateError before anything is written for a template that cannot be used, and while writing for what
                      only shows then; ProfileError for a rotary the profile does not have; PlanError for what it cannot say
    """
    form = word_format(profile, inch=inch, rotary_letters=rotary_letters)
    templates = Templates(template_folders)
    for mistake in templates.mistakes():
        raise mistake
    state = ProgramState(form, templates, held_at_start(form), record)
    batches = gathered((part for item in items for part in _parted(item)), _rows, CHUNK, min(CHUNK, MOST_ITEMS))
    return Writing((text for batch in batches for text in _written(batch, state)), state, noticed)


def _parted(item: Motion | Event) -> Iterator[Motion | Event]:
    """A long run in chunks."""
    if isinstance(item, Event) or len(item) <= CHUNK:
        yield item
    else:
        yield from (take(item, slice(low, low + CHUNK)) for low in range(0, len(item), CHUNK))


def _rows(item: Motion | Event) -> int:
    if isinstance(item, Motion):
        return len(item)
    holes = 0 if item.holes is None else len(item.holes.xy)
    return CHUNK + 1 if item.name in ALONE else sum(map(len, item.motion)) + holes


def _written(batch: list[Motion | Event], state: ProgramState) -> Iterator[bytes]:
    """The text of a batch; one by one where something of it cannot be said: the error is of the first item that cannot."""
    before = state.held, state.lines, state.block, state.number_pending
    try:
        text = _batch_text(batch, state)
    except SteadyrestError as error:
        if len(batch) == 1:
            operation = batch[0].operation
            if isinstance(error, PlanError) and error.place.operation is None and operation:
                error.place = replace(error.place, operation=operation, operation_name=state.operation_names.get(operation))
            raise
    else:
        yield text
        return
    state.held, state.lines, state.block, state.number_pending = before
    for item in batch:
        yield from _written([item], state)


def _batch_text(batch: list[Motion | Event], state: ProgramState) -> bytes:
    form, runs, texts = state.form, list[Motion](), list[EventText | None]()
    forgotten, lost, silent, rows = list[int](), list[int](), list[int](), 0
    widths = (run.rotary_deg.shape[1] for item in batch for run in ([item] if isinstance(item, Motion) else item.motion))
    rotaries = next(widths, sum(axis.column >= 3 for axis in form.axes))
    for item in batch:
        if isinstance(item, Motion):
            texts.append(None)
            runs.append(item)
            rows += len(item)
            continue
        texts.append(_text_of(item, state))
        # What else an event brings with it than those of planning, nobody knows.
        forgets = item.name not in EVENTS or EVENTS[item.name].forgets
        moves = list(item.motion)
        if item.holes is not None and len(item.holes.xy):  # the cycle goes over them by itself, and ends over the last
            silent.append(rows)
            moves = [motion(RAPID, np.append(item.holes.xy[-1], np.nan)[None, :], np.full((1, rotaries), np.nan))]
        elif forgets:
            forgotten.append(rows)
        runs += moves
        rows += sum(map(len, moves))
        forgotten += [rows] * forgets
        # In steps a cycle comes back to the R level, where the tool stood.
        is_home = item.name == "retract" and item.facts.get("form") in ("machine_zero", "reference")
        loses = is_home if item.holes is None else not form.incremental
        lost += [rows] * loses
    breaks = Breaks(*(np.array(before, dtype=np.int64) for before in (forgotten, lost, silent)))
    blocks = motion_blocks(runs, breaks, form, state.held)
    state.held = blocks.held_after
    lines = _Lines(runs, blocks, state)
    for item, said in zip(batch, texts, strict=True):
        if said is None or isinstance(item, Motion):
            lines.motion()
        else:
            lines.event(item, said)
    return lines.text()


def _text_of(event: Event, state: ProgramState) -> EventText:
    """What an event says; what else bears on the program is noted in its state."""
    program = state.form.profile.program
    if event.name == "operation_start":
        state.operation_names[event.operation] = str(event.facts.get("name", ""))
    elif event.name == "program_start":
        codes = event_codes(event, state.form, None)
        state.marks = {program.start_mark + codes["program_name"], program.end_mark, codes["program_number"]}
    said = event_text(event, state)
    if event.name == "program_start":
        state.held.mode_now = PER_MINUTE
    return said


class _Lines:
    """The lines of a batch, put together in the order of its items: the runs of its motion have become blocks all at once."""

    def __init__(self, runs: list[Motion], blocks: Blocks, state: ProgramState) -> None:
        self._runs, self._blocks, self._state = runs, blocks, state
        self._bounds = np.cumsum([0, *map(len, runs)])
        kept = blocks.kept
        self._ends = np.append(0, kept.cumsum())[self._bounds].tolist() if len(runs) > 1 else [0, int(np.count_nonzero(kept))]
        self._first_lines: list[int] = []
        self._cycles = 0
        self._parts: list[bytes | slice] = []
        self._numbers, self._numbered = np.zeros(self._ends[-1], np.int64), np.zeros(self._ends[-1], bool)
        self._origins: list[Origin] = []
        coarse = np.flatnonzero(blocks.off_percent > COARSE_PERCENT)
        of = np.searchsorted(self._bounds, coarse, "right") - 1
        for run in dict.fromkeys(of.tolist()):
            percent = blocks.off_percent[coarse[of == run]]
            state.tell_coarse(runs[run].operation, len(percent), float(percent.max()))

    def motion(self, event: Event | None = None, file: str = "") -> None:
        """The blocks of the next run, and the event that it belongs to."""
        state, at = self._state, len(self._first_lines)
        count, use = self._ends[at + 1] - self._ends[at], state.form.profile.program.block_numbers.use
        self._first_lines.append(state.lines + 1)
        if not count:
            return
        if numbered := count if use == "every_block" else int(state.number_pending):
            first = slice(self._ends[at], self._ends[at] + numbered)
            self._numbers[first], self._numbered[first] = state.next_numbers(numbered), True
            state.number_pending = False
        if state.record is not None:
            kept = np.flatnonzero(self._blocks.kept[self._bounds[at] : self._bounds[at + 1]])
            self._origins.append(Origin(state.lines + 1, event, file, blocks=(self._runs[at], kept)))
        self._parts.append(slice(self._ends[at], self._ends[at + 1]))
        state.lines += count

    def event(self, event: Event, said: EventText) -> None:
        """The lines of an event, its motion put in whole where its template says."""
        state = self._state
        if event.name == "operation_start":
            state.number_pending = state.form.profile.program.block_numbers.use == "operations"
        if state.record is not None:
            self._origins.append(Origin(state.lines + 1, event, said.file))
        for line, source, printed in said.lines:
            if line == MOTION:
                for _ in event.motion:
                    self.motion(event, said.file)
            elif line == BLOCKS:
                self._cycle(event, said.file)
            else:
                self._line(line, event, said.file, source, printed)

    def _cycle(self, event: Event, file: str) -> None:
        state = self._state
        space, found = " " if state.form.spaces else "", partial(state.tell_coarse, event.operation)
        for block in cycle_blocks(event, state.form, self._blocks.held_at[self._cycles], found):
            self._line(space.join(word.text for word in block), event, file, "cycle", block)
        self._cycles += 1
        self.motion()

    def _line(self, line: str, event: Event, file: str, source: Source, printed: Sequence[Printed]) -> None:
        self._parts.append(event_line(line, file, self._state))
        if self._state.record is not None:
            self._origins.append(Origin(self._state.lines, event, file, (source, printed)))

    def text(self) -> bytes:
        """All of them; whoever asks is told now where they come from. PlanError for a line that is too long."""
        state, text, widest = self._state, b"", 0
        form, program = state.form, state.form.profile.program
        if self._ends[-1]:
            words, spelled = self._blocks.words, Spelling(0, digits=program.block_numbers.digits)
            if self._numbered.any():
                words = [WordColumn(program.block_numbers.letter, self._numbers, self._numbered, spelled), *words]
            text, widest = line_text(words, self._ends[-1], spaces=form.spaces, ending=form.line_ending)
        whole = text and len(self._parts) == 1 and widest <= program.longest_line  # nothing to be put between, and nothing too long
        at = np.append(0, np.flatnonzero(np.frombuffer(b"" if whole else text, np.uint8) == ord("\n")) + 1)
        ends, lengths = at.tolist(), np.diff(at) - len(form.line_ending)
        if lengths.max(initial=0) > program.longest_line:
            row = int(np.argmax(lengths > program.longest_line))
            run = int(np.searchsorted(self._ends, row, "right")) - 1
            line = text[ends[row] : ends[row + 1]].decode("ascii").rstrip()
            raise PlanError(
                f"the line would have {lengths[row]} characters, but the controller takes only {program.longest_line}: {line}",
                place=Place(line=self._first_lines[run] + row - self._ends[run]),
                cure="raise program.longest_line if the controller takes longer lines, or shorten words (spaces, decimals, block numbers)",
            )
        if state.record is not None:
            for origin in self._origins:
                state.record(origin)
        return (
            text
            if whole
            else b"".join([part if isinstance(part, bytes) else text[ends[part.start] : ends[part.stop]] for part in self._parts])
        )
