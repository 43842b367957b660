"""How far is a program written: its lines, its block numbers, the operations it named, and what there is to tell of it?"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Ints
from steadyrest.errors import Place
from steadyrest.notices import CommentCleaned, FeedRounded, Notice
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import PLAIN, number_text
from steadyrest.writing.recording import Recording
from steadyrest.writing.templates import Templates


@dataclass(slots=True)
class State:
    """One program while it is written; the writer of its lines counts here.

    number_pending    the next block gets a number, as the first of its operation
    number_word       the program number as the controller wants it, once the program has started; program_name likewise
    comment_notices   one a text from outside and what became of it, feed_notices one an operation
    """

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
        """The operation by its number and the name it gave; nowhere in particular for 0."""
        if not operation:
            return Place()
        return Place(operation=operation, operation_name=self.operation_names.get(operation))

    def next_numbers(self, count: int) -> Ints:
        """The next block numbers, (count,) int64; after the largest they start again at the first."""
        numbers = self.dialect.profile.program.block_numbers
        in_a_round = max(0, numbers.largest - numbers.first) // numbers.step + 1
        steps = (self.block + np.arange(count, dtype=np.int64)) % in_a_round
        self.block += count
        return np.asarray(numbers.first + numbers.step * steps)

    def next_number_word(self) -> str:
        """The next block number as a word, such as N0040."""
        numbers = self.dialect.profile.program.block_numbers
        return numbers.letter + number_text(int(self.next_numbers(1)[0]), PLAIN).rjust(numbers.digits, "0")

    def tell_coarse(self, operation: int, rows: int, worst_percent: float) -> None:
        """Coarse F words of one operation are one notice."""
        before = self.feed_notices.get(operation)
        if before is not None:
            rows, worst_percent = rows + before.moves, max(worst_percent, before.worst_percent)
        self.feed_notices[operation] = FeedRounded(self.place(operation), rows, worst_percent)

    def tell_cleaned(self, operation: int, text: str, written: str) -> None:
        """A text that lost something on its way into a comment, told once however often it is written."""
        self.comment_notices.setdefault((text, written), CommentCleaned(self.place(operation), text, written))
