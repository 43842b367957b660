"""Which settings of the text as a whole does an example show: endings, marks, numbers of program and blocks, comments, spaces, order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import PurePath

from steadyrest.profile_tools.example import Claim, Example, at, whole

FEW = 0.2
"""Up to this share of numbered blocks, the numbers mark operations."""

ENOUGH_LETTERS = 12
"""So many capitals in comments, and no small letter, are a habit."""


def infer_text(seen: Example) -> Iterator[Claim]:
    """Everything about the text."""
    yield from _file(seen)
    yield from _block_numbers(seen)
    yield from _comments(seen)
    yield from _spaces(seen)


def _file(seen: Example) -> Iterator[Claim]:

    plain, with_return = seen.endings
    if not plain or not with_return:
        yield whole("program.line_ending", "crlf" if with_return else "lf", f"all {plain + with_return} line endings")
    extension = PurePath(seen.name).suffix
    if re.fullmatch(r"\.[A-Za-z0-9]{1,8}", extension):
        yield whole("program.extension", extension, f"the file is called {PurePath(seen.name).name}")
    for key, line in (("program.start_mark", seen.lines[0]), ("program.end_mark", seen.lines[-1])):
        where = "first" if key.endswith("start_mark") else "last"
        if line.text.strip() == "%":
            yield at(line, key, "%", f"the {where} line")
        elif line.words or line.comments or line.program_number:
            yield at(line, key, "", f"the {where} line is not a mark")
    named = next((line for line in seen.lines if line.program_number), None)
    if named is not None and named.program_number is not None:
        yield at(named, "program.number.letter", named.program_number[0], "a line of its own before the blocks")
        yield at(named, "program.number.digits", len(named.program_number[1]), "so many digits")
    else:
        yield whole("program.number.letter", "", "no line is a program number")


def _block_numbers(seen: Example) -> Iterator[Claim]:
    blocks = seen.blocks
    numbered = [line for line in blocks if line.block_number]
    if not numbered:
        yield whole("program.block_numbers.use", "none", "no block is numbered")
        return
    first = numbered[0]
    if len(numbered) == len(blocks):
        yield at(first, "program.block_numbers.use", "every_block", f"all {len(blocks)} blocks are numbered, from this one on")
    elif len(numbered) <= FEW * len(blocks):
        yield at(first, "program.block_numbers.use", "operations", f"{len(numbered)} of {len(blocks)} blocks are numbered")
    else:
        return
    yield at(first, "program.block_numbers.first", int(first.block_number), "the first number")
    steps = [int(b.block_number) - int(a.block_number) for a, b in pairwise(numbered)]
    if steps and len(set(steps)) == 1 and steps[0] > 0:
        yield at(numbered[1], "program.block_numbers.step", steps[0], "from one number to the next")
    padded = next((line for line in numbered if line.block_number.startswith("0") and len(line.block_number) > 1), None)
    if padded is not None:
        yield at(padded, "program.block_numbers.digits", len(padded.block_number), "filled with leading zeros")
    elif len(first.block_number) == 1:
        yield at(first, "program.block_numbers.digits", 1, "no leading zeros")


def _comments(seen: Example) -> Iterator[Claim]:
    lines = [line for line in seen.lines if line.style]
    styles = {line.style for line in lines}
    if len(styles) == 1:
        yield at(lines[0], "program.comments.style", styles.pop(), f"all {len(lines)} comments")
    small = next((line for line in lines if any(c.islower() for text in line.comments for c in text)), None)
    letters = sum(c.isalpha() for line in lines for text in line.comments for c in text)
    if small is not None:
        yield at(small, "program.comments.upper_case", False, "small letters in a comment")
    elif letters >= ENOUGH_LETTERS:
        yield at(lines[0], "program.comments.upper_case", True, f"{letters} letters in comments, all of them capitals")


def _spaces(seen: Example) -> Iterator[Claim]:
    shown = [line for line in seen.blocks if line.spaced is not None]
    kinds = Counter(line.spaced for line in shown)
    if len(kinds) == 1:
        yield at(shown[0], "words.spaces", shown[0].spaced, f"so in all {len(shown)} blocks with several words")


def infer_order(seen: Example, inherited: str) -> Iterator[Claim]:
    """The order of words in blocks that move, where the inherited order is not the one that the example shows.

    Claimed is an order that keeps what the example shows, and the inherited one for all that it does not show.
    """
    before: dict[tuple[str, str], int] = {}
    moves = [move for move in seen.moves if move.kind != "clear"]
    for index, move in enumerate(moves):
        letters = [word.letter for word in move.line.words if word.letter != "M"]
        for i, one in enumerate(letters):
            for other in letters[i + 1 :]:
                if one != other:
                    before.setdefault((one, other), index)
    if any((other, one) in before for one, other in before):
        return  # no order is kept
    rank = {letter: place for place, letter in enumerate(inherited)}
    broken = [pair for pair in before if pair[0] in rank and pair[1] in rank and rank[pair[0]] > rank[pair[1]]]
    broken += [pair for pair in before if pair[1] not in rank]
    if not broken:
        return
    places = {letter: float(place) for letter, place in rank.items()}
    for letter in dict.fromkeys(other for _, other in before if other not in rank):  # right behind what it follows
        places[letter] = max((rank[one] for one, other in before if other == letter and one in rank), default=-1) + 0.5
    left = dict.fromkeys(sorted(places, key=lambda letter: places[letter]))
    order = ""
    while left:
        free = [letter for letter in left if not any(one in left and other == letter for one, other in before)]
        if not free:
            return  # a ring: no order is kept
        order += free[0]
        del left[free[0]]
    shows = moves[before[broken[0]]].line
    yield at(shows, "words.order", order, f"{broken[0][0]} before {broken[0][1]}; letters that it does not show stay in the parent's order")
