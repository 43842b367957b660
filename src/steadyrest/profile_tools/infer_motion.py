"""What does an example show of its arcs, cycles, retracts and clamps, and which words does it repeat though they hold?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import hypot

from steadyrest.profile_tools.claims import Claim, Seen, at, spelled, whole
from steadyrest.profile_tools.example_lines import Line
from steadyrest.profile_tools.example_motion import AXES, CENTRES, CYCLES, Move
from steadyrest.profile_tools.infer_numbers import counted, numbers_of

MM_PER_INCH = 25.4

COARSEST = 0.01
"""The most that rounding may make out, of a radius."""

RELATIVE = 0.001
"""How far the two radii of an arc may differ by, of the radius, besides rounding: far below any wrong reading of its centre."""


def infer_motion(seen: Seen) -> Iterator[Claim]:
    """Arcs, cycles, the way clear, the clamp."""
    yield from _arcs(seen)
    yield from _cycles(seen)
    yield from _retract(seen)
    yield from _clamp(seen)


def _arcs(seen: Seen) -> Iterator[Claim]:
    arcs = [move for move in seen.moves if move.kind == "arc"]
    centred = [move for move in arcs if any(move.line.get(letter) for letter in "IJK")]
    by_radius = [move for move in arcs if move.line.get("R")]
    if centred and not by_radius:
        yield at(centred[0].line, "arcs.form", "centre", "I, J, K give the centre")
        least = max(word.decimals for move in seen.moves for word in move.line.words if word.letter in "XYZIJK")
        yield from _centres(centred, 3 * 10.0**-least)
    elif by_radius and not centred:
        yield at(by_radius[0].line, "arcs.form", "radius", "R gives the radius")
        yield at(by_radius[0].line, "arcs.full_circles", False, "a full circle given by its radius has no centre")
    for move in centred if not by_radius else ():
        if all(_same(move, letter) for letter in move.plane):
            yield at(move.line, "arcs.full_circles", True, "the end is the start: a full circle in one block")
            break
    for move in arcs:
        third = next(letter for letter in "XYZ" if letter not in move.plane)
        if move.line.get(third) and third in move.before and not _same(move, third):
            yield at(move.line, "arcs.helical", True, f"an arc in {move.plane} that moves {third} as well")
            break


def _centres(arcs: list[Move], rounding: float) -> Iterator[Claim]:
    """Where the centre counts from: by the reading that makes start and end equally far from it, in every arc."""
    fits: dict[str, list[Move]] = {"incremental": [], "absolute": []}
    fails: dict[str, list[Move]] = {"incremental": [], "absolute": []}
    for move in arcs:
        for reading in fits:
            radii = radii_of(move, reading)
            if radii is not None:
                (fits if _equal(radii, rounding) else fails)[reading].append(move)
    for reading, other in (("incremental", "absolute"), ("absolute", "incremental")):
        shows = next((move for move in fits[reading] if move in fails[other] or (reading == "incremental" and move.incremental)), None)
        if shows is not None and not fails[reading]:
            radii = radii_of(shows, reading)
            assert radii is not None
            why = f"read so, start and end of every arc are equally far from its centre (here {radii[0]:g})"
            yield at(shows.line, "arcs.centre_is", reading, why)


def radii_of(move: Move, reading: str) -> tuple[float, float] | None:
    """How far start and end of an arc are from its centre, the centre read as a step or as a position; None where it does not show.

    A full circle shows nothing: start and end are the same place.
    """
    words = [move.line.get(letter) for letter in CENTRES[move.plane]]
    if reading == "absolute" and (None in words or move.incremental):
        return None
    if move.incremental:
        start = [0.0, 0.0]
        end = [word.value if (word := move.line.get(letter)) else 0.0 for letter in move.plane]
    elif all(letter in move.before for letter in move.plane):
        start, end = [move.before[letter] for letter in move.plane], [move.after[letter] for letter in move.plane]
    else:
        return None
    if start == end:
        return None
    centre = [word.value if word else 0.0 for word in words]
    if reading == "incremental":
        centre = [start[0] + centre[0], start[1] + centre[1]]
    return hypot(start[0] - centre[0], start[1] - centre[1]), hypot(end[0] - centre[0], end[1] - centre[1])


def _equal(radii: tuple[float, float], rounding: float) -> bool:
    rounding = min(rounding, COARSEST * max(radii))  # whole numbers may be counts, or may be exact
    return min(radii) > rounding and abs(radii[0] - radii[1]) <= RELATIVE * max(radii) + rounding


def _same(move: Move, letter: str) -> bool:
    return letter in move.before and move.before[letter] == move.after[letter]


def _cycles(seen: Seen) -> Iterator[Claim]:
    peck = next((move.line for move in seen.moves if move.kind == "cycle" and move.stated and move.line.has("G83", "G73")), None)
    if peck is not None:
        letters = [word.letter for word in peck.words if word.letter not in "GMNXYZRFSTPL"]
        if len(letters) == 1:
            yield at(peck, "cycles.peck_letter", letters[0], "the only word of the cycle left for the step")
    pause = next((move.line for move in seen.moves if move.kind == "cycle" and move.stated and move.line.has("G82")), None)
    if pause is not None:
        letters = [word.letter for word in pause.words if word.letter not in "GMNXYZRFSTLQ"]
        if len(letters) == 1:
            yield at(pause, "cycles.dwell_letter", letters[0], "the only word of the cycle left for the pause")
    first = next((line for line in seen.all(*CYCLES) if line.get("R")), None)
    if first is not None:
        yield at(first, "cycles.r_letter", "R", "the level above the hole")
    for move in seen.moves:
        bottom, level = move.line.get("Z"), move.line.get("R")
        if move.kind == "cycle" and bottom and level and level.value > 0 and not move.incremental:
            why = f"R{level.spelled} lies above 0, and a depth from the R level would have the tool rise to it"
            if move.before.get("Z") == level.value or bottom.value >= 0:
                yield at(move.line, "cycles.depth_from", "absolute", why)
                break


def _retract(seen: Seen) -> Iterator[Claim]:
    machine = [line for line in seen.all("G53") if line.get("Z")]
    reference = [line for line in seen.all("G28", "G30") if line.get("Z")]
    if machine and not reference:
        yield at(machine[0], "retract.form", "machine_zero", "Z in machine coordinates")
        yield at(machine[0], "retract.machine_code", spelled(machine[0], "G53"), "the code for machine coordinates")
        heights = {word.value for line in machine if (word := line.get("Z"))}
        if len(heights) == 1 and seen.inch is not None and not counted(numbers_of(seen).get("length", [])):
            height = heights.pop()
            yield at(machine[0], "retract.machine_z", round(height * (MM_PER_INCH if seen.inch else 1), 4), "the only Z there, in mm")
    elif reference and not machine:
        code = next(code for code in reference[0].codes() if code in ("G28", "G30"))
        yield at(reference[0], "retract.form", "reference", "Z to the reference point")
        yield at(reference[0], "retract.reference_code", spelled(reference[0], code), "the code for the reference point")
    elif not machine and not seen.first("G28", "G30", "G53", "G75"):
        yield whole("retract.form", "height", "no line goes to machine coordinates or to the reference point")


def _clamp(seen: Seen) -> Iterator[Claim]:
    """M codes before and after every turn of the rotary alone, the same ones each time, are the clamp's."""
    blocks = list(seen.example.blocks)
    moves = {move.line.number: move for move in seen.moves}
    turns: list[tuple[str, str, str, Line, Line]] = []
    index = 0
    while index < len(blocks):
        letter = _turns_alone(moves.get(blocks[index].number))
        if not letter:
            index += 1
            continue
        end = index
        while end + 1 < len(blocks) and _turns_alone(moves.get(blocks[end + 1].number)) == letter:
            end += 1
        before, after = _beside(blocks, index, -1), _beside(blocks, end, 1)
        if before is None or after is None:
            return
        turns.append((letter, before.words[0].text, after.words[0].text, before, after))
        index = end + 1
    kinds = {turn[:3] for turn in turns}
    if len(turns) < 2 or len(kinds) != 1:
        return
    letter, off, on, before, after = turns[0]
    if off == on:
        return
    why = f"around each of the {len(turns)} turns"
    yield at(after, f"rotary.{letter}.clamp.use", "indexing", why)
    yield at(after, f"rotary.{letter}.clamp.on", on, f"after {why.removeprefix('around ')}")
    yield at(before, f"rotary.{letter}.clamp.off", off, f"before {why.removeprefix('around ')}")
    pauses = {_pause_after(blocks, line) for turn in turns for line in turn[3:]}
    if len(pauses) == 1 and (pause := pauses.pop()) is not None:
        parts = bool(pause % 1)  # a part of a unit can only be a part of a second
        yield at(after, f"rotary.{letter}.clamp.dwell", pause, "the pause in the next line, and after each of these codes", sure=parts)


def _turns_alone(move: Move | None) -> str:
    """The rotary's letter, where the block is a rapid that turns it and moves nothing else."""
    if move is None or move.kind != "rapid":
        return ""
    letters = [word.letter for word in move.line.words if word.letter in "XYZABC"]
    return letters[0] if len(letters) == 1 and letters[0] in "ABC" else ""


def _pause_after(blocks: list[Line], line: Line) -> float | None:
    """The time of the pause in the block after this one."""
    following = next((block for block in blocks if block.number > line.number), None)
    if following is None or not following.has("G4"):
        return None
    return next((word.value for word in following.words if word.letter in "PXUF"), None)


def _beside(blocks: list[Line], index: int, step: int) -> Line | None:
    """The block of one M word before or after a turn, pauses left aside."""
    index += step
    while 0 <= index < len(blocks) and blocks[index].has("G4"):
        index += step
    if not 0 <= index < len(blocks):
        return None
    words = blocks[index].words
    ordinary = ("M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7", "M8", "M9", "M30")
    return blocks[index] if len(words) == 1 and words[0].letter == "M" and words[0].code not in ordinary else None


ENOUGH = 3
"""So many repetitions, and not one omission, are a habit; one omission is enough to show that there is none."""


def infer_habits(seen: Seen) -> Iterator[Claim]:
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
