"""How far a program is written: what the controller holds by then, lines, block numbers, and what there is to tell of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import Place
from steadyrest.notices import Notice, noticed
from steadyrest.writing.numbers import Spelling, number_text, to_count
from steadyrest.writing.recording import Record
from steadyrest.writing.templates import Templates
from steadyrest.writing.word_formats import WordFormat


@dataclass(slots=True)
class Held:
    """What the controller holds between blocks, as far as the program has told it: it decides which words a block can leave out.

    counts   where each axis stands, by letter, in counts of its word's least increment; an axis not in it is not known
    said     letters of the axes that a motion block has stated since the last `forget`
    exact    (3,) float64, where X, Y, Z were asked to stand, program units, before rounding; NaN: not known
    motion, plane, mode, feed   code numbers and F count last stated; None: not stated since the last `forget`
    mode_now                    the feed mode in force, whether it has to be stated again or not
    """

    counts: dict[str, int] = field(default_factory=dict)
    said: set[str] = field(default_factory=set)
    exact: Floats = field(default_factory=lambda: np.full(3, np.nan))
    motion: int | None = None
    plane: int | None = None
    mode: int | None = None
    feed: int | None = None
    mode_now: int | None = None


def held_at_start(form: WordFormat) -> Held:
    """The state before the first block: nothing is known but the start position, where the profile has one."""
    held = Held()
    start = form.profile.program.start_position
    if start is not None:
        places = np.array([*map(form.from_mm, start[:3]), *start[3:]])
        held.exact = places[:3].copy()
        for axis in form.axes:
            held.counts[axis.letter] = to_count(float(places[axis.column]) * axis.scale, axis.spelled)
    return held


@dataclass(slots=True)
class ProgramState:
    """One program while it is written; the writer of its lines counts here.

    number_pending    the next block gets a number, as the first of its operation
    marks             lines that are no blocks: start and end of the program, its number
    comment_notices   one a text from outside and what became of it, feed_notices one an operation
    """

    form: WordFormat
    templates: Templates
    held: Held
    record: Record | None = None
    lines: int = 0
    block: int = 0
    number_pending: bool = False
    marks: set[str] = field(default_factory=set)
    operation_names: dict[int, str] = field(default_factory=dict)
    comment_notices: dict[tuple[str, str], Notice] = field(default_factory=dict)
    feed_notices: dict[int, Notice] = field(default_factory=dict)

    def place(self, operation: int) -> Place:
        """The operation by its number and the name it gave; nowhere in particular for 0."""
        return Place(operation=operation, operation_name=self.operation_names.get(operation)) if operation else Place()

    def next_numbers(self, count: int) -> Ints:
        """The next block numbers, (count,) int64; after the largest they start again at the first."""
        numbers = self.form.profile.program.block_numbers
        in_a_round = max(0, numbers.largest - numbers.first) // numbers.step + 1
        steps = np.arange(self.block, self.block + count, dtype=np.int64) % in_a_round
        self.block += count
        return np.asarray(numbers.first + numbers.step * steps)

    def next_number_word(self) -> str:
        """The next block number as a word, such as N0040, with the space behind it."""
        numbers = self.form.profile.program.block_numbers
        word = numbers.letter + number_text(int(self.next_numbers(1)[0]), Spelling(0, digits=numbers.digits))
        return word + " " * self.form.spaces

    def tell_coarse(self, operation: int, rows: int, worst_percent: float) -> None:
        """Coarse F words of one operation are one notice."""
        before = self.feed_notices.get(operation)
        if before is not None:
            rows, worst_percent = rows + before.facts["moves"], max(worst_percent, before.facts["worst_percent"])
        self.feed_notices[operation] = noticed("FeedRounded", self.place(operation), moves=rows, worst_percent=worst_percent)

    def tell_cleaned(self, operation: int, text: str, written: str) -> None:
        """A text that lost something on its way into a comment, told once however often it is written."""
        if (text, written) not in self.comment_notices:
            self.comment_notices[text, written] = noticed("CommentCleaned", self.place(operation), text=text, written=written)
