"""How does an example spell its text and its numbers: marks, endings, block numbers, comments, spaces, order; decimals, points, signs?

A number with three decimals shows that there are at least three. That there are no more is taken for shown only where many numbers
that look arbitrary have exactly so many, or where trailing zeros fill them up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import PurePath

from steadyrest.profile_tools.example import Claim, Example, Line, at
from steadyrest.reading import Word

FEW = 0.2
"""Up to this share of numbered blocks, the numbers mark operations."""
ENOUGH_LETTERS = 12
"""So many capitals in comments, and no small letter, are a habit."""
ENOUGH_NUMBERS = 6
ENOUGH_LAST_DIGITS = 4
"""Numbers chosen by a person end in 5 more often than in anything else; computed ones end in any digit."""
FEW_WHOLE = 3
LARGEST_LENGTH = 5000
"""No coordinate of a small mill is larger, in mm or in inches: whole numbers beyond it are counts."""

Found = list[tuple[Line, Word]]


def infer_text(seen: Example) -> Iterator[Claim]:
    """Line endings, the file's name, marks, numbers of program and blocks, comments, spaces."""
    plain, with_return = seen.endings
    if not plain or not with_return:
        yield at(None, "program.line_ending", "crlf" if with_return else "lf", f"all {plain + with_return} line endings")
    extension = PurePath(seen.name).suffix
    if re.fullmatch(r"\.[A-Za-z0-9]{1,8}", extension):
        yield at(None, "program.extension", extension, f"the file is called {PurePath(seen.name).name}")
    for key, where, line in (("program.start_mark", "first", seen.lines[0]), ("program.end_mark", "last", seen.lines[-1])):
        if line.text.strip() == "%":
            yield at(line, key, "%", f"the {where} line")
        elif line.words or line.comments or line.program_number:
            yield at(line, key, "", f"the {where} line is not a mark")
    named = next(((line, line.program_number) for line in seen.lines if line.program_number), None)
    if named is not None:
        line, (letter, digits) = named
        yield at(line, "program.number.letter", letter, "a line of its own before the blocks")
        yield at(line, "program.number.digits", len(digits), "so many digits")
    else:
        yield at(None, "program.number.letter", "", "no line is a program number")
    yield from _block_numbers(seen)
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
    shown = [line for line in seen.blocks if line.spaced is not None]
    if len({line.spaced for line in shown}) == 1:
        yield at(shown[0], "words.spaces", shown[0].spaced, f"so in all {len(shown)} blocks with several words")


def _block_numbers(seen: Example) -> Iterator[Claim]:
    key, blocks = "program.block_numbers", seen.blocks
    numbered = [line for line in blocks if line.block_number]
    if not numbered:
        yield at(None, f"{key}.use", "none", "no block is numbered")
        return
    first = numbered[0]
    if len(numbered) == len(blocks):
        yield at(first, f"{key}.use", "every_block", f"all {len(blocks)} blocks are numbered, from this one on")
    elif len(numbered) <= FEW * len(blocks):
        yield at(first, f"{key}.use", "operations", f"{len(numbered)} of {len(blocks)} blocks are numbered")
    else:
        return
    yield at(first, f"{key}.first", int(first.block_number), "the first number")
    steps = {int(b.block_number) - int(a.block_number) for a, b in pairwise(numbered)}
    if len(steps) == 1 and (step := steps.pop()) > 0:
        yield at(numbered[1], f"{key}.step", step, "from one number to the next")
    padded = next((line for line in numbered if line.block_number.startswith("0") and len(line.block_number) > 1), None)
    if padded is not None:
        yield at(padded, f"{key}.digits", len(padded.block_number), "filled with leading zeros")
    elif len(first.block_number) == 1:
        yield at(first, f"{key}.digits", 1, "no leading zeros")


def infer_order(seen: Example, inherited: str) -> Iterator[Claim]:
    """The order of words in blocks that move, where the inherited order is not the one that the example shows.

    Claimed is an order that keeps what the example shows, and the inherited one for all that it does not show.
    """
    before: dict[tuple[str, str], Line] = {}
    for line in (move.line for move in seen.moves if move.kind != "clear"):
        for pair in combinations([word.letter for word in line.words if word.letter != "M"], 2):
            if pair[0] != pair[1]:
                before.setdefault(pair, line)
    rank = {letter: place for place, letter in enumerate(inherited)}
    broken = [pair for pair in before if pair[0] in rank and pair[1] in rank and rank[pair[0]] > rank[pair[1]]]
    broken += [pair for pair in before if pair[1] not in rank]
    if not broken:
        return
    places = {letter: float(place) for letter, place in rank.items()}
    for letter in dict.fromkeys(other for _, other in before if other not in rank):  # right behind what it follows
        places[letter] = max((rank[one] for one, other in before if other == letter and one in rank), default=-1) + 0.5
    left, order = sorted(places, key=lambda letter: places[letter]), ""
    while left:
        free = next((letter for letter in left if not any(one in left and other == letter for one, other in before)), None)
        if free is None:
            return  # a ring: no order is kept
        order += free
        left.remove(free)
    why = f"{broken[0][0]} before {broken[0][1]}; letters that it does not show stay in the parent's order"
    yield at(before[broken[0]], "words.order", order, why)


def infer_numbers(seen: Example) -> Iterator[Claim]:
    """Decimals, point, zeros and signs, for lengths, angles, feeds, pauses and spindle speeds."""
    kinds = numbers_of(seen)
    for kind, found in kinds.items():
        if kind not in ("centre", "radius"):
            yield from _format(f"numbers.{kind}", found, seen.inch)
    least, settled = infer_decimals(seen).get("length", (0, False))
    for kind in ("centre", "radius"):
        found = kinds.get(kind, [])
        if settled and found and max(word.decimals for _, word in found) > least:
            for letter in sorted({word.letter for _, word in found}):
                yield from _own_format(letter, [each for each in found if each[1].letter == letter], kinds["length"], seen.inch)


def infer_decimals(seen: Example) -> dict[str, tuple[int, bool]]:
    """What is shown of the decimals of each kind of number: at least so many, and whether no more."""
    kinds = [(kind, found, max(word.decimals for _, word in found)) for kind, found in numbers_of(seen).items()]
    return {kind: (least, _filled(found) or _arbitrary(found, least)) for kind, found, least in kinds}


def numbers_of(seen: Example) -> dict[str, Found]:
    """The words of each kind, with their lines."""
    kinds: dict[str, Found] = {}
    moving = {move.line.number: move for move in seen.moves}
    of_every_block = {"X": "length", "Y": "length", "Z": "length", "A": "angle", "B": "angle", "C": "angle", "S": "spindle"}
    of_an_arc = {"I": "centre", "J": "centre", "K": "centre", "R": "radius"}
    of_a_pause = {"S": "spindle", **dict.fromkeys("PXUF", "dwell")}
    moves_first = sorted(seen.blocks, key=lambda line: line.number not in moving)
    for line in moves_first:
        if move := moving.get(line.number):
            names = of_every_block | (of_an_arc if move.kind == "arc" else {}) | {"F": "inverse_feed" if move.inverse else "feed"}
        else:
            names = of_a_pause if line.has("G4") else {"S": "spindle"}
        for word in line.words:
            if kind := names.get(word.letter):
                kinds.setdefault(kind, []).append((line, word))
    return kinds


def counted(found: Found) -> bool:
    """Whether lengths can only be whole counts of a least increment: no point anywhere, and numbers beyond any machine."""
    values = {word.value for _, word in found}
    return len(values) >= FEW_WHOLE and not any(word.point for _, word in found) and max(map(abs, values)) >= LARGEST_LENGTH


def _own_format(letter: str, found: Found, lengths: Found, inch: bool | None) -> Iterator[Claim]:
    """A format of its own for a letter: whole or not at all, since it inherits nothing from that of lengths."""
    prefix = f"numbers.by_letter.{letter}"
    own = {claim.key.removeprefix(prefix): claim for claim in _format(prefix, found, inch)}
    if not any(key.endswith("decimals") for key in own):
        return
    for claim in _format("numbers.length", lengths, inch):
        part = claim.key.removeprefix("numbers.length")
        if not part.endswith("decimals"):
            own.setdefault(part, replace(claim, key=prefix + part))
    yield from own.values()


def _format(prefix: str, found: Found, inch: bool | None) -> Iterator[Claim]:
    yield from _point(prefix, found)
    small = [(line, word) for line, word in found if word.decimals and abs(word.value) < 1 and word.value]
    kinds = {word.spelled.lstrip("+-").startswith(".") for _, word in small}
    if len(kinds) == 1:
        yield at(small[0][0], f"{prefix}.leading_zero", not kinds.pop(), small[0][1].text)
    positive = [(line, word) for line, word in found if word.value > 0]
    signs = {word.spelled.startswith("+") for _, word in positive}
    if len(signs) == 1 and len(positive) >= FEW_WHOLE:
        yield at(positive[0][0], f"{prefix}.plus", signs.pop(), f"{positive[0][1].text}, and so all {len(positive)} positive numbers")
    least = max(word.decimals for _, word in found)
    lengths = prefix.endswith((".length", ".feed")) or ".by_letter." in prefix
    if not least or (lengths and inch is None):
        return
    key = f"{prefix}.inch_decimals" if lengths and inch else f"{prefix}.decimals"
    shows = next(line for line, word in found if word.decimals == least)
    if _filled(found):
        yield at(shows, key, least, "every number has so many, zeros at the end included")
    elif _arbitrary(found, least):
        yield at(shows, key, least, "many numbers that look computed have so many decimals, and none has more")


def _point(prefix: str, found: Found) -> Iterator[Claim]:
    whole = [(line, word) for line, word in found if not word.point]
    bare = [(line, word) for line, word in found if word.point and not word.decimals]
    parts = [(line, word) for line, word in found if word.decimals]
    if _filled(found):
        yield at(parts[0][0], f"{prefix}.trailing_zeros", True, "zeros at the end are written")
        return
    if whole and parts and not bare:
        yield at(whole[0][0], f"{prefix}.point", "when_needed", f"{whole[0][1].text} has no point, {parts[0][1].text} has one")
    elif bare and not whole:
        yield at(bare[0][0], f"{prefix}.point", "always", f"{bare[0][1].text} ends with a point, and no number is without one")
    elif prefix == "numbers.length" and counted(found):
        line, word = max(whole, key=lambda each: abs(each[1].value))
        why = f"no length has a point, and {word.text} is farther than any small machine goes; how many counts make a unit does not show"
        yield at(line, f"{prefix}.point", "counts", why, sure=False)
    if parts and (bare or whole or len({word.decimals for _, word in parts}) > 1):
        line, word = (bare or whole or sorted(parts, key=lambda each: each[1].decimals))[0]
        yield at(line, f"{prefix}.trailing_zeros", False, f"{word.text} is not filled up with zeros")


def _filled(found: Found) -> bool:
    """All numbers have the same decimals, and some end with a zero."""
    decimals = {word.decimals for _, word in found}
    zeros = {word.value for _, word in found if word.decimals and word.spelled.endswith("0")}
    return len(decimals) == 1 and 0 not in decimals and len(zeros) >= FEW_WHOLE


def _arbitrary(found: Found, decimals: int) -> bool:
    """Enough different numbers with so many decimals, ending in enough different digits."""
    words = {abs(word.value): word for _, word in found if word.decimals == decimals and decimals}
    return len(words) >= ENOUGH_NUMBERS and len({word.spelled[-1] for word in words.values()}) >= ENOUGH_LAST_DIGITS
