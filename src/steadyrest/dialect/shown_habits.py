"""Which words does an example repeat though they hold, and in which mode does it say its feeds?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from steadyrest.dialect.claims import Claim, Seen, at
from steadyrest.dialect.example_motion import AXES, Move

ENOUGH = 3
"""So many repetitions, and not one omission, are a habit; one omission is enough to show that there is none."""


def shown_habits(seen: Seen) -> Iterator[Claim]:
    """Repeated motion codes, axis words and feeds; the feed modes."""
    pairs = [(one, other) for one, other in pairwise(seen.moves) if other.follows and _plain(one) and _plain(other)]
    yield from _motion(pairs)
    yield from _axes(seen, [(one, other) for one, other in pairs if _cuts(one) and _cuts(other)])
    yield from _feed([(one, other) for one, other in pairs if _cuts(one) and _cuts(other) and not other.inverse])
    yield from _modes(seen)


def _motion(pairs: list[tuple[Move, Move]]) -> Iterator[Claim]:
    same = [(one, other) for one, other in pairs if one.code == other.code]
    omitted = next((other for _, other in same if not other.stated), None)
    repeated = [other for _, other in same if other.stated and other.kind in ("line", "arc")]
    if omitted is not None:
        yield at(omitted.line, "words.repeat_motion", False, f"{omitted.code} holds from before and is left out")
    elif len(repeated) >= ENOUGH:
        yield at(repeated[0].line, "words.repeat_motion", True, f"{repeated[0].code} again although it holds, {len(repeated)} times")


def _axes(seen: Seen, pairs: list[tuple[Move, Move]]) -> Iterator[Claim]:
    if any(move.incremental for move in seen.moves):
        return  # steps: a word that is left out is a step of nothing
    used = [letter for letter in AXES if any(move.line.get(letter) for move in seen.moves)]
    repeated: dict[str, list[Move]] = {letter: [] for letter in used}
    omitted: dict[str, list[Move]] = {letter: [] for letter in used}
    for _, move in pairs:
        if move.kind == "arc":
            continue  # the words of an arc's end are written anyway
        for letter in used:
            if letter not in move.before:
                continue
            if not move.line.get(letter):
                omitted[letter].append(move)
            elif move.before[letter] == move.after[letter]:
                repeated[letter].append(move)
    habits = "".join(letter for letter in used if len(repeated[letter]) >= ENOUGH and not omitted[letter])
    # A rotary that stands still through all cuts may be left out for that reason alone.
    stated = {letter for letter in used if letter in "XYZ" or any(move.line.get(letter) for _, move in pairs)}
    settled = [letter for letter in used if letter in habits or (omitted[letter] and not repeated[letter] and letter in stated)]
    if settled != used:
        return  # of some axis the example does not show which
    if habits:
        shows = repeated[habits[0]][0]
        yield at(shows.line, "words.repeat_axes", habits, f"{habits[0]} again although it stays where it is")
    elif used:
        yield at(omitted[used[0]][0].line, "words.repeat_axes", "", f"{used[0]} stays where it is and is left out")


def _feed(pairs: list[tuple[Move, Move]]) -> Iterator[Claim]:
    omitted = next((other for _, other in pairs if not other.line.get("F")), None)
    repeated = [other for one, other in pairs if _f(one) is not None and _f(one) == _f(other)]
    if omitted is not None:
        yield at(omitted.line, "words.repeat_feed", False, "F holds from before and is left out")
    elif len(repeated) >= ENOUGH:
        yield at(repeated[0].line, "words.repeat_feed", True, f"F again although it holds, {len(repeated)} times")


def _modes(seen: Seen) -> Iterator[Claim]:
    """Which kind of move is said in inverse time, where the example has inverse time at all."""
    if seen.first("G93") is None:
        return
    kinds: dict[str, list[Move]] = {"linear": [], "rotary": [], "combined": []}
    for move in seen.moves:
        if not _cuts(move):
            continue
        turns = any(_moved(move, letter) for letter in "ABC")
        shifts = any(_moved(move, letter) for letter in "XYZ")
        known = all(letter in move.before for letter in AXES if move.line.get(letter))
        if known and (turns or shifts):
            kinds["combined" if turns and shifts else "rotary" if turns else "linear"].append(move)
    for kind, moves in kinds.items():
        modes = {move.inverse for move in moves}
        if len(modes) == 1:
            inverse = modes.pop()
            why = f"all {len(moves)} {'moves of linear axes' if kind == 'linear' else 'moves of ' + kind + ' axes'}"
            yield at(moves[0].line, f"feed.{kind}", "inverse" if inverse else "per_minute", why)


def _plain(move: Move) -> bool:
    return move.kind in ("rapid", "line", "arc")


def _cuts(move: Move) -> bool:
    return move.kind in ("line", "arc")


def _f(move: Move) -> str | None:
    word = move.line.get("F")
    return None if word is None else word.spelled


def _moved(move: Move, letter: str) -> bool:
    return letter in move.before and move.before[letter] != move.after[letter]
