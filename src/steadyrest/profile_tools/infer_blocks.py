"""Which codes does an example use, and what does it show of its arcs, cycles, retracts, clamps and repeated words?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from itertools import groupby, pairwise, takewhile

from steadyrest.conventions import MM_PER_INCH
from steadyrest.profile import Profile, bundled_folder, leaves, load_profile
from steadyrest.profile_tools.example import AXES, CYCLES, Claim, Example, Line, Move, at
from steadyrest.profile_tools.infer_spelling import counted, numbers_of
from steadyrest.profile_tools.settings import table_of, value_of
from steadyrest.reading import Word

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59")
ENDS = ("M2", "M30")
OTHERWISE = ("codes.work_offset", "codes.path_mode", "stops.end", "retract.machine_code", "retract.reference_code")
"""Settings that are codes, and that an example shows by more than their being there."""
PATH_MODES = ("G61", "G61.1", "G64")
"""NISTIR 6556, 3.5.14."""

BY_THEMSELVES = {"G20", "G21", "G70", "G71", *OFFSETS, *PATH_MODES, "G90", "G91", "G93", "G94"}
"""Written at the start of every program by themselves, and no part of the safe start."""

_HARMLESS = re.compile(r"^G(1[5-9]|4\d|5[04-9]|6\d|7[01]|2[01]|8\d|9[013-9])$|^M(5|9)$")
COARSEST = 0.01
"""The most that rounding may make out, of a radius."""
RELATIVE = 0.001
"""How far the two radii of an arc may differ by, of the radius, besides rounding: far below any wrong reading of its centre."""
CENTRES = {"XY": "IJ", "XZ": "IK", "YZ": "JK"}
CUTS = ("line", "arc")
ENOUGH = 3
"""So many repetitions, or leading zeros of codes below 10, and not one omission, are a habit; one omission shows that there is none."""
ORDINARY = ("M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7", "M8", "M9", "M30")


@cache
def meanings() -> dict[str, str]:
    """By code, the setting that it is: those whose meaning is the same in every published list.

    source   ISO 1056, read in a derivative, and NISTIR 6556, as the profile rs274ngc has them; G70, G71 and G73 by common practice
    """
    published = leaves(table_of(load_profile(str(bundled_folder() / "rs274ngc"))))
    codes = {code: key for key, code in published.items() if re.fullmatch(r"[GM]\d+", str(code)) and key not in OTHERWISE}
    return codes | {"G70": "units.inch", "G71": "units.mm", "G73": "cycles.chip_break"}


def infer_blocks(seen: Example, parent: Profile) -> Iterator[Claim]:
    """What is repeated; codes by their common meaning, in the example's spelling; start, tool changes, end; motion and clamp."""
    yield from _habits(seen)
    for code, key in meanings().items():
        if line := seen.first(code):
            yield at(line, key, line.spelled(code), "used in this line, in its published meaning")
    yield from _two_digits(seen, parent)
    for infer in (_start, _tools, _pauses, _arcs, _cycles, _retract, _clamp):
        yield from infer(seen)
    if end := next((line for line in reversed(seen.blocks) if line.has(*ENDS)), None):
        yield at(end, "stops.end", end.spelled(end.codes(*ENDS)[0]), "the end of the program")


def unknown_codes(seen: Example) -> dict[str, Line]:
    """Codes without a common meaning, each with the first line that has it."""
    known = {*meanings(), *OFFSETS, *ENDS, *CYCLES, "G28", "G30", "G53", "G40", "G61", "G64"}
    found: dict[str, Line] = {}
    for line in seen.blocks:
        for word in line.words:
            if word.letter in "GM" and word.code not in known:
                found.setdefault(word.text, line)
    return found


def one_digit_codes(seen: Example) -> dict[bool, list[Word]]:
    """The codes below 10 with their first word, by whether that has a leading zero."""
    first: dict[str, Word] = {}
    for line in seen.blocks:
        for word in line.words:
            if word.letter in "GM" and word.value in range(10):
                first.setdefault(word.code, word)
    return {zero: [word for word in first.values() if word.spelled.startswith("0") == zero and not word.point] for zero in (True, False)}


def _two_digits(seen: Example, parent: Profile) -> Iterator[Claim]:
    """Where every code below 10 has a leading zero, the parent's codes that the example does not show have one as well."""
    words = one_digit_codes(seen)
    if words[False] or len(words[True]) < ENOUGH:
        return
    why = f"{words[True][0].text}, {words[True][1].text} and so on: every code below 10 has two digits"
    for code, key in meanings().items():
        if len(code) == 2 and seen.first(code) is None and value_of(parent, key) == code:
            yield at(None, key, f"{code[0]}0{code[1]}", why)


def _start(seen: Example) -> Iterator[Claim]:
    """The blocks before anything acts: G and M words that only set a state, a G0 that names no place among them.

    None that is shown says nothing against the parent's safe start: a writer that sets every state is the safer one.
    """
    start = list(takewhile(_sets_a_state, seen.blocks))
    safe: list[tuple[Line, str]] = []
    for line in start:
        left = [word.text for word in line.words if word.code not in {*BY_THEMSELVES, "G0"}]
        alone = len(left) < len(line.words) and all(text in ("G17", "G18", "G19") for text in left)
        if left and not alone:
            safe.append((line, " ".join(left)))
    if safe:
        rapid = "; G0 is written with the first move" if safe[0][0].has("G0") else ""
        why = f"the blocks that set a state before anything moves{rapid}"
        yield at(safe[0][0], "program.safe_start", tuple(text for _, text in safe), why)
    if modes := [(line, code) for line in start for code in line.codes(*PATH_MODES)]:
        yield at(modes[-1][0], "codes.path_mode", modes[-1][0].spelled(modes[-1][1]), "stated before anything moves")
    steps = [line for line in seen.all("G91") if not line.has("G28", "G30")]  # a step on the way there says nothing of the rest
    positions = seen.first("G90")
    if positions is not None and not steps:
        yield at(positions, "words.distance", "absolute", "and no line is incremental")
    elif steps and positions is None:
        yield at(steps[0], "words.distance", "incremental", "and no line goes back to absolute positions")
    offsets = [(line, code) for line in seen.blocks for code in line.codes(*OFFSETS)]
    if len({code for _, code in offsets}) == 1:
        line, code = offsets[0]
        yield at(line, "codes.work_offset", line.spelled(code), "the only work offset in the program")
    elif not offsets:
        yield at(None, "codes.work_offset", "", "no line selects a work offset")


def _sets_a_state(line: Line) -> bool:
    harmless = all(word.letter in "GM" and (_HARMLESS.match(word.code) or word.code == "G0") for word in line.words)
    return harmless and not line.has(*CYCLES, "G43")


def _tools(seen: Example) -> Iterator[Claim]:
    change, offset = seen.first("M6"), seen.first("G43")
    selects = next((line for line in seen.blocks if line.get("T")), None)
    if change is not None and selects is not None:
        yield at(selects, "tool.letter", "T", "before the tool's number")
        yield from _digits("tool.digits", "T", seen.blocks)
    if offset is None:
        if change is not None and seen.first("G44") is None:
            yield at(change, "tool.length_offset", "", "tools are changed, and no line turns a length offset on")
        return
    letters = [word.letter for word in offset.words if word.letter in "HD"]
    if len(letters) == 1:
        yield at(offset, "tool.offset_letter", letters[0], "beside the code of the length offset")
        yield from _digits("tool.offset_digits", letters[0], seen.all("G43"))


def _digits(key: str, letter: str, lines: Iterable[Line]) -> Iterator[Claim]:
    """How far a tool's number is filled up with zeros; numbers that fill their digits by themselves show nothing."""
    words = [(line, word) for line in lines if (word := line.get(letter)) and word.spelled.isdigit()]
    padded = [(line, word) for line, word in words if word.spelled.startswith("0") and len(word.spelled) > 1]
    short = [line for line, word in words if len(word.spelled) == 1]
    if len({len(word.spelled) for _, word in padded}) == 1 and not short:
        line, word = padded[0]
        yield at(line, key, len(word.spelled), f"{word.text}: filled up with zeros")
    elif short and not padded:
        yield at(short[0], key, 1, "no leading zeros")


def _pauses(seen: Example) -> Iterator[Claim]:
    words = [(line, word) for line in seen.all("G4") for word in line.words if word.letter in "PXUF"]
    if len({word.letter for _, word in words}) != 1:
        return
    line, first = words[0]
    yield at(line, "codes.dwell_letter", first.letter, "beside the code of the pause")
    parts = next((line for line, word in words if word.decimals and word.value % 1), None)
    if parts is not None:
        yield at(parts, "codes.dwell_unit", "seconds", "a part of a unit can only be a part of a second")
    elif all(word.value >= 100 for _, word in words):
        why = "nobody waits for so many seconds; a pause with a known length would show it"
        yield at(line, "codes.dwell_unit", "milliseconds", why, sure=False)


def _arcs(seen: Example) -> Iterator[Claim]:
    arcs = [move for move in seen.moves if move.kind == "arc"]
    centred = [move for move in arcs if any(move.line.get(letter) for letter in "IJK")]
    by_radius = [move for move in arcs if move.line.get("R")]
    if centred and not by_radius:
        yield at(centred[0].line, "arcs.form", "centre", "I, J, K give the centre")
        least = max(word.decimals for move in seen.moves for word in move.line.words if word.letter in "XYZIJK")
        yield from _centres(centred, 3 * 10.0**-least)
        if circle := next((move for move in centred if all(map(move.stays, move.plane))), None):
            yield at(circle.line, "arcs.full_circles", True, "the end is the start: a full circle in one block")
    elif by_radius and not centred:
        yield at(by_radius[0].line, "arcs.form", "radius", "R gives the radius")
        yield at(by_radius[0].line, "arcs.full_circles", False, "a full circle given by its radius has no centre")
    across = [(move, (set("XYZ") - set(move.plane)).pop()) for move in arcs]
    if helix := next(((move, third) for move, third in across if move.line.get(third) and move.moves(third)), None):
        yield at(helix[0].line, "arcs.helical", True, f"an arc in {helix[0].plane} that moves {helix[1]} as well")


def _centres(arcs: list[Move], rounding: float) -> Iterator[Claim]:
    """Where the centre counts from: by the reading that makes start and end equally far from it, in every arc."""
    fits: dict[str, dict[int, float]] = {"incremental": {}, "absolute": {}}
    fails: dict[str, set[int]] = {"incremental": set(), "absolute": set()}
    for number, move in enumerate(arcs):
        for reading in fits:
            if (radii := radii_of(move, reading)) is None:
                continue
            off = min(rounding, COARSEST * max(radii))  # whole numbers may be counts, or may be exact
            if min(radii) > off and abs(radii[0] - radii[1]) <= RELATIVE * max(radii) + off:
                fits[reading][number] = radii[0]
            else:
                fails[reading].add(number)
    for reading, other in (("incremental", "absolute"), ("absolute", "incremental")):
        shows = [number for number in fits[reading] if number in fails[other] or (reading == "incremental" and arcs[number].incremental)]
        if shows and not fails[reading]:
            why = f"read this way, start and end of every arc have the same radius (here {fits[reading][shows[0]]:g})"
            yield at(arcs[shows[0]].line, "arcs.centre_is", reading, why)


def radii_of(move: Move, reading: str) -> tuple[float, float] | None:
    """How far start and end of an arc are from its centre, the centre read as a step or as a position; None where it does not show.

    A full circle shows nothing: start and end are the same place.
    """
    words = [move.line.get(letter) for letter in CENTRES[move.plane]]
    if reading == "absolute" and (None in words or move.incremental):
        return None
    if move.incremental:
        start, end = 0j, complex(*(word.value if (word := move.line.get(letter)) else 0.0 for letter in move.plane))
    elif all(letter in move.before for letter in move.plane):
        start, end = (complex(*(places[letter] for letter in move.plane)) for places in (move.before, move.after))
    else:
        return None
    if start == end:
        return None
    centre = complex(*(word.value if word else 0.0 for word in words)) + (start if reading == "incremental" else 0)
    return abs(start - centre), abs(end - centre)


def _cycles(seen: Example) -> Iterator[Claim]:
    stated = [move.line for move in seen.moves if move.kind == "cycle" and move.stated]
    for key, codes, others, what in (("peck", ("G83", "G73"), "GMNXYZRFSTPL", "step"), ("dwell", ("G82",), "GMNXYZRFSTLQ", "pause")):
        line = next((line for line in stated if line.has(*codes)), None)
        letters = [word.letter for word in line.words if word.letter not in others] if line is not None else []
        if line is not None and len(letters) == 1:
            yield at(line, f"cycles.{key}_letter", letters[0], f"the only word of the cycle left for the {what}")
    first = next((line for line in seen.all(*CYCLES) if line.get("R")), None)
    if first is not None:
        yield at(first, "cycles.r_letter", "R", "the level above the hole")
    for move in seen.moves:
        bottom, level = move.line.get("Z"), move.line.get("R")
        if move.kind == "cycle" and bottom and level and level.value > 0 and not move.incremental:
            why = f"R{level.spelled} is above 0, and a depth from the R level would make the tool rise to it"
            if move.before.get("Z") == level.value or bottom.value >= 0:
                yield at(move.line, "cycles.depth_from", "absolute", why)
                break


def _retract(seen: Example) -> Iterator[Claim]:
    machine = [line for line in seen.all("G53") if line.get("Z")]
    reference = [line for line in seen.all("G28", "G30") if line.get("Z")]
    if machine and not reference:
        yield at(machine[0], "retract.form", "machine_zero", "Z in machine coordinates")
        yield at(machine[0], "retract.machine_code", machine[0].spelled("G53"), "the code for machine coordinates")
        heights = {word.value for line in machine if (word := line.get("Z"))}
        if len(heights) == 1 and seen.inch is not None and not counted(numbers_of(seen).get("length", [])):
            height = heights.pop()
            yield at(machine[0], "retract.machine_z", round(height * (MM_PER_INCH if seen.inch else 1), 4), "the only Z there, in mm")
    elif reference and not machine:
        code = reference[0].spelled(reference[0].codes("G28", "G30")[0])
        yield at(reference[0], "retract.form", "reference", "Z to the reference point")
        yield at(reference[0], "retract.reference_code", code, "the code for the reference point")
    elif not machine and not seen.first("G28", "G30", "G53", "G75"):
        yield at(None, "retract.form", "height", "no line goes to machine coordinates or to the reference point")


def _clamp(seen: Example) -> Iterator[Claim]:
    """M codes before and after every turn of the rotary alone, the same ones each time, are the clamp's."""
    blocks = seen.blocks
    turning = {move.line.number: _turns_alone(move) for move in seen.moves}
    turns: list[tuple[str, int, int]] = []
    for letter, run in groupby(range(len(blocks)), key=lambda index: turning.get(blocks[index].number, "")):
        if letter:
            places = list(run)
            release, clamp = _lone_code(blocks, range(places[0] - 1, -1, -1)), _lone_code(blocks, range(places[-1] + 1, len(blocks)))
            if release is None or clamp is None:
                return
            turns.append((letter, release, clamp))
    kinds = {(letter, blocks[release].words[0].text, blocks[clamp].words[0].text) for letter, release, clamp in turns}
    if len(turns) < 2 or len(kinds) != 1:
        return
    letter, off, on = kinds.pop()
    if off == on:
        return
    before, after = blocks[turns[0][1]], blocks[turns[0][2]]
    each = f"each of the {len(turns)} turns"
    yield at(after, f"rotary.{letter}.clamp.use", "indexing", f"around {each}")
    yield at(after, f"rotary.{letter}.clamp.on", on, f"after {each}")
    yield at(before, f"rotary.{letter}.clamp.off", off, f"before {each}")
    pauses = set[float | None]()
    for follows in (blocks[index + 1 : index + 2] for turn in turns for index in turn[1:]):
        words = follows[0].words if follows and follows[0].has("G4") else ()
        pauses.add(next((word.value for word in words if word.letter in "PXUF"), None))
    if len(pauses) == 1 and (pause := pauses.pop()) is not None:
        parts = bool(pause % 1)  # a part of a unit can only be a part of a second
        yield at(after, f"rotary.{letter}.clamp.dwell", pause, "the pause in the next line, and after each of these codes", sure=parts)


def _turns_alone(move: Move) -> str:
    """The rotary's letter, where the block is a rapid that turns it and moves nothing else."""
    letters = [word.letter for word in move.line.words if word.letter in AXES]
    return letters[0] if move.kind == "rapid" and len(letters) == 1 and letters[0] in "ABC" else ""


def _lone_code(blocks: Sequence[Line], places: range) -> int | None:
    """The first of some places, pauses left aside, where that is one M word that has no meaning in every program."""
    place = next((place for place in places if not blocks[place].has("G4")), None)
    words = blocks[place].words if place is not None else ()
    return place if len(words) == 1 and words[0].letter == "M" and words[0].code not in ORDINARY else None


def _habits(seen: Example) -> Iterator[Claim]:
    """Repeated motion codes, axis words and feeds; the feed modes."""
    plain = ("rapid", *CUTS)
    neighbours = [(one, other) for one, other in pairwise(seen.moves) if other.line.number == one.line.number + 1]
    pairs = [(one, other) for one, other in neighbours if one.kind in plain and other.kind in plain]
    same = [other for one, other in pairs if one.code == other.code]
    stated = [move for move in same if move.stated and move.kind in CUTS]
    yield from _habit("motion", [move for move in same if not move.stated], stated, lambda move: move.code)
    cuts = [(one, other) for one, other in pairs if one.kind in CUTS and other.kind in CUTS]
    yield from _axes(seen, [move for _, move in cuts])
    feeds = [(one.line.get("F"), other.line.get("F"), other) for one, other in cuts if not other.inverse]
    again = [move for first, second, move in feeds if first and second and first.spelled == second.spelled]
    yield from _habit("feed", [move for _, second, move in feeds if not second], again, lambda _: "F")
    yield from _modes(seen)


def _habit(what: str, omitted: list[Move], repeated: list[Move], word: Callable[[Move], str]) -> Iterator[Claim]:
    if omitted:
        yield at(omitted[0].line, f"words.repeat_{what}", False, f"{word(omitted[0])} holds from before and is left out")
    elif len(repeated) >= ENOUGH:
        why = f"{word(repeated[0])} again although it holds, {len(repeated)} times"
        yield at(repeated[0].line, f"words.repeat_{what}", True, why)


def _axes(seen: Example, cuts: list[Move]) -> Iterator[Claim]:
    """Which axes are said again; the words of an arc's end are written anyway."""
    if any(move.incremental for move in seen.moves):
        return  # steps: a word that is left out is a step of nothing
    straight = [move for move in cuts if move.kind != "arc"]
    used = [letter for letter in AXES if any(move.line.get(letter) for move in seen.moves)]
    omitted = {letter: [move for move in straight if letter in move.before and not move.line.get(letter)] for letter in used}
    repeated = {letter: [move for move in straight if move.stays(letter) and move.line.get(letter)] for letter in used}
    habits = "".join(letter for letter in used if len(repeated[letter]) >= ENOUGH and not omitted[letter])
    # A rotary that stands still through all cuts may be left out for that reason alone.
    stated = {letter for letter in used if letter in "XYZ" or any(move.line.get(letter) for move in cuts)}
    if any(letter not in habits and (not omitted[letter] or repeated[letter] or letter not in stated) for letter in used):
        return  # of some axis the example does not show which
    if habits:
        yield at(repeated[habits[0]][0].line, "words.repeat_axes", habits, f"{habits[0]} again although it stays where it is")
    elif used:
        yield at(omitted[used[0]][0].line, "words.repeat_axes", "", f"{used[0]} stays where it is and is left out")


def _modes(seen: Example) -> Iterator[Claim]:
    """Which kind of move is said in inverse time, where the example has inverse time at all."""
    if seen.first("G93") is None:
        return
    kinds: dict[str, list[Move]] = {"linear": [], "rotary": [], "combined": []}
    for move in (move for move in seen.moves if move.kind in CUTS):
        turns, shifts = any(map(move.moves, "ABC")), any(map(move.moves, "XYZ"))
        if (turns or shifts) and all(letter in move.before for letter in AXES if move.line.get(letter)):
            kinds["combined" if turns and shifts else "rotary" if turns else "linear"].append(move)
    for kind, moves in kinds.items():
        if len({move.inverse for move in moves}) == 1:
            why = f"all {len(moves)} {'moves of linear axes' if kind == 'linear' else 'moves of ' + kind + ' axes'}"
            yield at(moves[0].line, f"feed.{kind}", "inverse" if moves[0].inverse else "per_minute", why)
