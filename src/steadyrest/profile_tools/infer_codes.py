"""Which codes does an example use, and how does it spell them?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import takewhile

from steadyrest.profile import Profile, bundled_folder, leaves, load_profile
from steadyrest.profile_tools.example import CYCLES, Claim, Example, Line, at
from steadyrest.profile_tools.settings import table_of, value_of
from steadyrest.reading import Word

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59")
ENDS = ("M2", "M30")
OTHERWISE = ("codes.work_offset", "codes.path_mode", "stops.end", "retract.machine_code", "retract.reference_code")
"""Settings that are codes, and that an example shows by more than their being there."""
ENOUGH_CODES = 3
"""So many codes below 10 with a leading zero, and none without, are a habit."""

PATH_MODES = ("G61", "G61.1", "G64")
"""NISTIR 6556, 3.5.14."""

BY_THEMSELVES = {"G20", "G21", "G70", "G71", *OFFSETS, *PATH_MODES, "G90", "G91", "G93", "G94"}
"""Written at the start of every program by themselves, and no part of the safe start."""

_HARMLESS = re.compile(r"^G(1[5-9]|4\d|5[04-9]|6\d|7[01]|2[01]|8\d|9[013-9])$|^M(5|9)$")


@cache
def meanings() -> dict[str, str]:
    """By code, the setting that it is: those whose meaning is the same in every published list.

    source   ISO 1056, read in a derivative, and NISTIR 6556, as the profile rs274ngc has them; G70, G71 and G73 by common practice
    """
    published = leaves(table_of(load_profile(str(bundled_folder() / "rs274ngc"))))
    codes = {code: key for key, code in published.items() if re.fullmatch(r"[GM]\d+", str(code)) and key not in OTHERWISE}
    return codes | {"G70": "units.inch", "G71": "units.mm", "G73": "cycles.chip_break"}


def infer_codes(seen: Example, parent: Profile) -> Iterator[Claim]:
    """Codes by their common meaning, in the example's spelling; then what the start, the tool changes and the end show."""
    for code, key in meanings().items():
        if line := seen.first(code):
            yield at(line, key, line.spelled(code), "used in this line, in its published meaning")
    yield from _two_digits(seen, parent)
    yield from _start(seen)
    yield from _tools(seen)
    yield from _pauses(seen)
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
    if words[False] or len(words[True]) < ENOUGH_CODES:
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
