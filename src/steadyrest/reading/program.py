"""Reads a program from its first line to its last, as the controller would: marks, number, blocks, end."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache, partial
from itertools import chain
from pathlib import Path
from typing import BinaryIO, NoReturn

import numpy as np

from steadyrest.errors import Place, ProgramError
from steadyrest.profile import Profile
from steadyrest.reading.block_words import Block, plain_block
from steadyrest.reading.collector import Collector
from steadyrest.reading.dialect import CYCLES, Dialect, Lenient, read_dialect
from steadyrest.reading.execution import carry_out, only_switches
from steadyrest.reading.motion_read import ProgramItem
from steadyrest.reading.plain_lines import decoded, find_plain_lines
from steadyrest.reading.runs import Run
from steadyrest.reading.state import initial_state

PROGRAM_NUMBER_MOST_DIGITS = 8
SHORTEST_RUN = 4  # lines; fewer are carried out faster one by one
MOST_KEPT = 1_000  # lines that are kept by their text
KEPT_BYTES = 16 << 20  # larger than any column of a piece, and below the 32 MB up to which the size is learned


def read_program(
    source: bytes | Path | BinaryIO | Iterable[bytes],
    profile: Profile,
    *,
    rotary_letter: str | None = None,
    lenient: Lenient | None = None,
) -> Iterator[ProgramItem]:
    """A finished program's motion and events, in the order in which the controller carries them out.

    source         the program: its bytes, a file, or pieces of any size; a program of any length needs the memory of some pieces
    profile        the language it is in
    rotary_letter  which of the rotaries that may be mounted is meant, where there are several; of a chain of two all are
    lenient        the program comes from elsewhere, and only what it cuts is wanted: more is understood, see `Lenient`
    returns        MotionRead (some tens of thousands of rows at most) and EventRead, one after the other
    raises         ProgramError with line and column where the program is not in the language or where what it does cannot be known,
                   as far as the items before it have been taken; ProfileError when the profile contradicts itself
    source         NISTIR 6556 for the language, the profile for its dialect
    """
    # A C library that maps every large block by itself gives it back when it is freed, and the system clears it again for the next piece of
    # the program: half the time of reading. The GNU C library maps no more blocks of a size once one such was freed (The GNU C Library
    # Reference Manual, Malloc Tunable Parameters, M_MMAP_THRESHOLD: dynamic); elsewhere this changes nothing. The block is never touched.
    np.empty(KEPT_BYTES, dtype=np.uint8)
    dialect = read_dialect(profile, rotary_letter, lenient)
    return _items(source, _Program(dialect, str(source) if isinstance(source, Path) else None))


def _items(source: bytes | Path | BinaryIO | Iterable[bytes], program: _Program) -> Iterator[ProgramItem]:
    ready, longest = program.out.ready, program.dialect.profile.program.longest_line
    for piece in whole_lines(source, longest):
        for _ in program.take_piece(piece):
            while ready:
                yield ready.popleft()
    program.finish()
    yield from ready


def read_block(text: str, line: int, *, comment_style: str, parameters: dict[int, float], file: str | None = None) -> Block:
    """The words of one line, numbers evaluated; parameter settings take effect after the whole line is read (NISTIR 6556, 3.3.3).

    text           the line without its ending
    comment_style  "parentheses", "semicolon" or "none"; "any" is both, with any characters, and with parentheses inside parentheses
    parameters     values of the program's parameters, changed by the settings of this line
    raises         ProgramError with line and column
    """
    plain = plain_block(text, line, comment_style)
    if plain is not None:
        return plain
    from steadyrest.reading.grammar import read_by_grammar  # the grammar is built only for what is not plain

    return read_by_grammar(text, line, comment_style=comment_style, parameters=parameters, file=file)


class _Program:
    """Where in the program the reading stands."""

    def __init__(self, dialect: Dialect, file: str | None) -> None:
        self.dialect = dialect
        self.file = file
        self.state = initial_state(dialect)
        self.out = Collector(dialect)
        self.line = 0
        self.begun = False
        self.start_mark = False
        self.end_mark = False
        self.words = False
        self.switch = lru_cache(MOST_KEPT)(self._switch)  # such lines repeat

    def take_piece(self, piece: bytes) -> Iterator[None]:
        """Read and carry out whole lines: plain ones many at once, the others one by one; pauses wherever something may be handed out."""
        found = find_plain_lines(piece, self.dialect)
        at, count, ends = 0, len(found.plain), found.ends.tolist()
        for other in [*np.flatnonzero(~found.plain).tolist(), count]:  # the next line that is not plain
            switch = self.switch(piece[ends[other - 1] + 1 if other else 0 : ends[other]]) if other < count else None
            if switch is not None:
                found.leave_out(other, switch)
                continue
            while at < min(other + 1, count):
                taken = 0
                if other - at >= SHORTEST_RUN and self.words and not self.state.ended:
                    run = Run(self.dialect, found, at, other, self.state)
                    carry_out = run.carry_out_holes if self.state.motion in CYCLES else run.carry_out
                    taken = carry_out(self.line + 1, self.out)
                    self.line += taken
                if not taken:
                    self.take_line(piece[ends[at - 1] + 1 if at else 0 : ends[at]])
                at += taken or 1
                yield

    def _switch(self, raw: bytes) -> Block | None:
        """The block, without its comment, of a line that only switches something; None for any other."""
        text = self._text(raw)
        block = plain_block(text, 0, self.dialect.comment_style) if len(text) <= self.dialect.profile.program.longest_line else None
        known = block is not None and block.words and only_switches(block, self.dialect)
        return replace(block, comments=()) if block is not None and known else None

    def _text(self, raw: bytes) -> str:
        return decoded(raw).removeprefix("\ufeff") if self.dialect.lenient is not None else raw.decode("latin-1")

    def take_line(self, raw: bytes) -> None:
        self.line += 1
        if self.end_mark and self.dialect.lenient is not None:  # NISTIR 6556, 3.1: text after the second mark is not read
            return
        text = self._text(raw)
        longest = self.dialect.profile.program.longest_line
        if len(text) > longest:
            wrong = f"a line of {len(text)} characters; this controller takes {longest} at most"
            self.fail(wrong, "split the line", column=longest + 1)
        bare = text.strip(" \t")
        if not bare:
            return
        if self.end_mark:
            wrong = f"text after the mark {self.dialect.profile.program.end_mark} at the end: {bare[:40]!r}"
            self.fail(wrong, "take it out: nothing may follow the mark")
        if self._is_mark(bare):
            return
        self._begin("")
        style = self.dialect.comment_style
        block = read_block(text, self.line, comment_style=style, parameters=self.state.parameters, file=self.file)
        if self.state.ended and (block.words or block.settings):
            self.fail("text after the end of the program: the controller never reads it", "put the end code last, or take the rest out")
        if not self.words and block.words and block.words[0].letter in self.dialect.number_letters:
            self._program_number(block)
            return
        self.words = self.words or bool(block.words)
        carry_out(block, self.state, self.dialect, self.out, self.file)

    def finish(self) -> None:
        """Check the end of the program and hand out what is left."""
        program = self.dialect.profile.program
        if not self.begun:
            raise ProgramError("the program is empty", place=Place(file=self.file), cure="give a program")
        if not self.state.ended:
            self._no_end()
        if self.dialect.lenient is None and program.end_mark and (self.start_mark or not program.start_mark) and not self.end_mark:
            self.fail(f"the mark {program.end_mark} at the end is missing", f"put {program.end_mark} on a line of its own after everything")
        self.out.close_run()

    def fail(self, wrong: str, cure: str, *, column: int = 1) -> NoReturn:
        """Refuse the program at the line in hand."""
        raise ProgramError(wrong, place=Place(file=self.file, line=self.line, column=column), cure=cure)

    def _begin(self, text: str) -> None:
        if not self.begun:
            self.begun = True
            self.out.event(self.line, "program_start", text=text)

    def _is_mark(self, bare: str) -> bool:
        """The line of its own before everything and that after everything (NISTIR 6556, 3.1: both or none).

        Directly after the mark at the start stands the program's identification where the profile has one; in a program from elsewhere
        any name may (ISO 6983-1, 3.6).
        """
        program, elsewhere = self.dialect.profile.program, self.dialect.lenient is not None
        name = bare.removeprefix(program.start_mark)
        named = len(name) <= program.name_letters and re.fullmatch(r"[A-Z0-9-]*", name) is not None
        if not self.begun and (bare.startswith("%") if elsewhere else program.start_mark and bare.startswith(program.start_mark) and named):
            self.start_mark = True
            self._begin(bare)
        elif self.begun and (bare.startswith("%") if elsewhere else bare == program.end_mark):
            if program.start_mark and not self.start_mark and not elsewhere:
                cure = f"put {program.start_mark} before everything, or take {bare} out"
                self.fail(f"{bare} at the end, but no {program.start_mark} at the start", cure)
            if not self.state.ended:
                self._no_end()
            self.end_mark = True
        elif bare.startswith("%"):
            cure = "take the line out; marks go before and after everything, alone on their lines"
            self.fail(f"{bare[:12]!r} is no mark of this controller here", cure)
        else:
            return False
        return True

    def _no_end(self) -> NoReturn:
        end = self.dialect.profile.stops.end or "M2"
        self.fail(f"the program does not end: {end} is missing", f"put {end} at the end")

    def _program_number(self, block: Block) -> None:
        """The number under which the controller keeps the program, alone in its block."""
        number = self.dialect.profile.program.number
        word = block.words[0]
        if not word.spelled.isdigit() or len(word.spelled) > max(number.digits, PROGRAM_NUMBER_MOST_DIGITS):
            self.fail(f"{word.text} is not a program number", "give a whole number without sign", column=word.column)
        if len(block.words) > 1:
            second = block.words[1]
            self.fail(f"{second.text} in the block of the program number", "put it into the next line", column=second.column)
        self.words = True
        self.out.event(self.line, "program_start", float(word.value), number.letter)
        for comment in block.comments:
            self.out.event(self.line, "comment", text=comment)


PIECE_BYTES = 1 << 19


def whole_lines(source: bytes | Path | BinaryIO | Iterable[bytes], longest_line: int) -> Iterator[bytes]:
    """Pieces of the program that end with a line feed, line endings CR LF and CR made LF; the last line gets one if it has none.
    A line without an end in sight, longer than the longest allowed, is handed out as far as it was read, and nothing after it.

    raises   ProgramError when the file cannot be read
    """
    kept = b""
    for piece in _pieces(source):
        piece = kept + piece if kept else piece
        held = b""
        if piece.endswith(b"\r"):  # its line feed may come with the next piece
            piece, held = piece[:-1], b"\r"
        if b"\r" in piece:
            piece = piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        end = piece.rfind(b"\n") + 1
        if end:
            yield piece[:end]
        kept = piece[end:] + held
        if len(kept) > longest_line + 2:
            break
    if kept:
        yield kept.rstrip(b"\r") + b"\n"


@contextmanager
def opened_program(program: Path) -> Iterator[BinaryIO]:
    """A program's file, open; ProgramError where it is none or cannot be read. A pipe would be waited for, a device has no end."""
    try:
        if program.exists() and not program.is_file():
            raise ProgramError("this is a folder or a device, not a file", place=Place(file=str(program)), cure="name a file")
        with program.open("rb") as opened:
            yield opened
    except (OSError, ValueError) as trouble:
        wrong = f"the program cannot be read: {getattr(trouble, 'strerror', None) or trouble}"
        raise ProgramError(wrong, place=Place(file=str(program)), cure="check the name and the permissions of the file") from None


def lines_in(program: bytes | Path) -> int:
    """How many lines a program has, without being read as one. ProgramError where its file cannot be read."""
    last, count = b"\n", 0
    for piece in _pieces(program):
        last, count = piece[-1:], count + piece.count(b"\n")
    return count + (last != b"\n")


def _pieces(source: bytes | Path | BinaryIO | Iterable[bytes]) -> Iterator[bytes]:
    """The bytes of the source as they come, in pieces of moderate size."""
    if isinstance(source, Path):
        with opened_program(source) as opened:
            yield from iter(partial(opened.read, PIECE_BYTES), b"")
    elif isinstance(source, bytes):
        yield from (source[start : start + PIECE_BYTES] for start in range(0, len(source), PIECE_BYTES))
    elif hasattr(source, "read"):
        yield from iter(partial(source.read, PIECE_BYTES), b"")
    else:
        yield from chain.from_iterable(map(_pieces, source))
