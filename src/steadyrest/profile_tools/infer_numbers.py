"""How does an example spell its numbers?

A number with three decimals shows that there are at least three. That there are no more is taken for shown only where many numbers
that look arbitrary have exactly so many, or where trailing zeros fill them up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from steadyrest.profile_tools.example import Claim, Example, Line, at
from steadyrest.reading import Word

ENOUGH_NUMBERS = 6
ENOUGH_LAST_DIGITS = 4
"""Numbers chosen by a person end in 5 more often than in anything else; computed ones end in any digit."""

FEW_WHOLE = 3
LARGEST_LENGTH = 5000
"""No coordinate of a small mill is larger, in mm or in inches: whole numbers beyond it are counts."""

Found = list[tuple[Line, Word]]


@dataclass(frozen=True, slots=True)
class Decimals:
    """What is shown of the decimals of one kind of number: at least so many, and whether no more."""

    kind: str
    least: int
    settled: bool


def infer_numbers(seen: Example) -> Iterator[Claim]:
    """Decimals, point, zeros and signs, for lengths, angles, feeds, pauses and spindle speeds."""
    kinds = numbers_of(seen)
    for kind, found in kinds.items():
        if kind in ("centre", "radius"):
            continue
        yield from _format(f"numbers.{kind}", found, seen.inch)
    settled = next((each for each in infer_decimals(seen) if each.kind == "length" and each.settled), None)
    for kind in ("centre", "radius"):
        found = kinds.get(kind, [])
        if settled is None or not found or max(word.decimals for _, word in found) <= settled.least:
            continue
        for letter in sorted({word.letter for _, word in found}):
            yield from _own_format(letter, [each for each in found if each[1].letter == letter], kinds["length"], seen.inch)


def infer_decimals(seen: Example) -> list[Decimals]:
    """How far the decimals of each kind are shown."""
    result = []
    for kind, found in numbers_of(seen).items():
        least = max((word.decimals for _, word in found), default=0)
        result.append(Decimals(kind, least, _filled(found) or _arbitrary(found, least)))
    return result


def numbers_of(seen: Example) -> dict[str, Found]:
    """The words of each kind, with their lines."""
    kinds: dict[str, Found] = {}
    for move in seen.moves:
        for word in move.line.words:
            kind = _kind(word.letter, move.kind, move.inverse)
            if kind:
                kinds.setdefault(kind, []).append((move.line, word))
    moving = {move.line.number for move in seen.moves}
    for line in seen.blocks:
        if line.number in moving:
            continue
        for word in line.words:
            if word.letter == "S":
                kinds.setdefault("spindle", []).append((line, word))
            elif line.has("G4") and word.letter in "PXUF":
                kinds.setdefault("dwell", []).append((line, word))
    return kinds


def counted(found: Found) -> bool:
    """Whether lengths can only be whole counts of a least increment: no point anywhere, and numbers beyond any machine."""
    values = {word.value for _, word in found}
    return len(values) >= FEW_WHOLE and not any(word.point for _, word in found) and max(map(abs, values)) >= LARGEST_LENGTH


def _kind(letter: str, motion: str, inverse: bool) -> str:
    if letter in "XYZ":
        return "length"
    if letter in "ABC":
        return "angle"
    if letter in "IJK" and motion == "arc":
        return "centre"
    if letter == "R" and motion == "arc":
        return "radius"
    if letter == "F":
        return "inverse_feed" if inverse else "feed"
    return "spindle" if letter == "S" else ""


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
    yield from _signs(prefix, found)
    least = max(word.decimals for _, word in found)
    if not least:
        return
    lengths = prefix.endswith((".length", ".feed")) or ".by_letter." in prefix
    if lengths and inch is None:
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
        large = max(whole, key=lambda each: abs(each[1].value))
        why = (
            f"no length has a point, and {large[1].text} is farther than any small machine goes; how many counts make a unit does not show"
        )
        yield at(large[0], f"{prefix}.point", "counts", why, sure=False)
    if parts and (bare or whole or len({word.decimals for _, word in parts}) > 1):
        shorter = bare or whole or sorted(parts, key=lambda each: each[1].decimals)
        yield at(shorter[0][0], f"{prefix}.trailing_zeros", False, f"{shorter[0][1].text} is not filled up with zeros")


def _signs(prefix: str, found: Found) -> Iterator[Claim]:
    small = [(line, word) for line, word in found if word.decimals and abs(word.value) < 1 and word.value]
    kinds = {word.spelled.lstrip("+-").startswith(".") for _, word in small}
    if len(kinds) == 1:
        without = kinds.pop()
        yield at(small[0][0], f"{prefix}.leading_zero", not without, f"{small[0][1].text}")
    positive = [(line, word) for line, word in found if word.value > 0]
    signs = {word.spelled.startswith("+") for _, word in positive}
    if len(signs) == 1 and len(positive) >= FEW_WHOLE:
        yield at(positive[0][0], f"{prefix}.plus", signs.pop(), f"{positive[0][1].text}, and so all {len(positive)} positive numbers")


def _filled(found: Sequence[tuple[Line, Word]]) -> bool:
    """All numbers have the same decimals, and some end with a zero."""
    decimals = {word.decimals for _, word in found}
    zeros = {word.value for _, word in found if word.decimals and word.spelled.endswith("0")}
    return len(decimals) == 1 and 0 not in decimals and len(zeros) >= FEW_WHOLE


def _arbitrary(found: Sequence[tuple[Line, Word]], decimals: int) -> bool:
    """Enough different numbers with so many decimals, ending in enough different digits."""
    words = {abs(word.value): word for _, word in found if word.decimals == decimals and decimals}
    return len(words) >= ENOUGH_NUMBERS and len({word.spelled[-1] for word in words.values()}) >= ENOUGH_LAST_DIGITS
