"""Which settings of different groups cannot stand together, and which codes say what is cut, whatever else a profile says of them?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING

from steadyrest.profile.base import impossible
from steadyrest.profile.chain import chain_of, check_chain

CHANGES_WHAT_IS_CUT = {
    "turned, mirrored, scaled, shifted or polar coordinates": ("G7.1 G12.1 G16 G43.* G51 G51.* G52 G53.* G54.* G68 G68.* G107 G112"),
    "curves, threads, pockets and cycles": (
        "G2.* G3.* G5 G6 G6.* G12 G13 G33 G34 G35 G70 G71 G72 G74 G75 G76 G81 G82 G83 G84 G84.* G85 G86 G87 G88 G89"
    ),
    "programs and macros that are called": "G65 G66 G66.* M98 M99 M198",
    "what F means, and which way arcs' centres are counted": "G90.* G95 G96",
}
"""Codes, by what they say (common practice: they mean this at many controllers); G54.* is G54 with any decimal."""

_SWITCHES_WHAT_CUTS = {
    "offsets, coordinates or compensation": (
        "G10 G18 G19 G28 G30 G38.2 G41 G42 G43 G44 G53 G54 G55 G56 G57 G58 G59 G59.1 G59.2 G59.3 G92 G92.1 G92.2 G92.3 M60"
    ),
    "motion, tool, spindle, stop or end": "G0 G1 G2 G3 M0 M1 M2 M3 M4 M6 M13 M14 M30",
}
"""The same by NISTIR 6556, and M13 and M14 by ISO 1056: where a profile has a code of its own for one of them, that one is meant."""


def says_what_is_cut(code: str) -> str:
    """What a code like G68.2 says of the cut; empty where it says nothing of the kind."""
    names = {code, code.split(".")[0] + ".*"} if "." in code else {code}
    return next((what for what, named in CHANGES_WHAT_IS_CUT.items() if names & set(named.split())), "")


def acts(code: str) -> str:
    """What a code does that may neither be taken on trust nor stand in a safe start; empty where it does nothing of the kind."""
    return says_what_is_cut(code) or next((what for what, named in _SWITCHES_WHAT_CUTS.items() if code in named.split()), "")


if TYPE_CHECKING:
    from steadyrest.profile.model import Profile

_CODED_GROUPS = ("units", "codes", "tool", "spindle", "coolant", "stops", "retract", "cycles", "feed")
Coded = list[tuple[str, str]]
_CODE = re.compile(r"[A-Z]\d")  # no other kind of text in these groups looks like a code
PATH_MODES = ("G61", "G61.1", "G64")
"""NISTIR 6556, 3.5.14: exact path, exact stop, continuous."""
_WORDS_OF_MOTION = frozenset("GMXYZFS")


def check_combinations(profile: Profile) -> None:
    """Raise the error of the first combination of settings that no controller can have, or that would leave a program unsafe."""
    codes = list(coded(profile))
    _check_needed_codes(profile, {key for key, _ in codes})
    _check_distinct(codes, "code")
    _check_letters(profile, codes)
    _check_order(profile, codes)
    _check_safe_start(profile, codes)
    check_chain(profile)
    _check_rotaries(profile)
    _check_incremental(profile)


@cache
def plain_code(code: str) -> str:
    """G01 and G1.0 are both G1."""
    return f"{code[0]}{float(code[1:]):g}"


def coded(profile: Profile) -> Iterator[tuple[str, str]]:
    """Every code that is not empty, with its dotted key."""
    for group in _CODED_GROUPS:
        for name, value in getattr(profile, group):
            if isinstance(value, str) and _CODE.match(value):
                yield f"{group}.{name}", value
    for letter, rotary in profile.rotary.items():
        for name in ("on", "off"):
            if getattr(rotary.clamp, name):
                yield f"rotary.{letter}.clamp.{name}", getattr(rotary.clamp, name)


def _check_needed_codes(profile: Profile, stated: set[str]) -> None:
    spindle, coolant, feed, arcs, retract = profile.spindle, profile.coolant, profile.feed, profile.arcs, profile.retract.form
    unit, units_coded = profile.units.program, profile.units.mm or profile.units.inch
    clamps = {letter: rotary.clamp for letter, rotary in profile.rotary.items()}
    clamped = [f"rotary.{letter}.clamp.{name}" for letter, clamp in clamps.items() if clamp.use == "indexing" for name in ("on", "off")]
    inverse = " and ".join(kind for kind in ("linear", "rotary", "combined") if getattr(feed, kind) == "inverse")
    flows = coolant.flood or coolant.mist or coolant.air or coolant.through
    planes = arcs.planes if arcs.form != "none" and arcs.planes != ("XY",) else ()
    needed = [
        (True, "codes.rapid codes.line", "programs need it", ""),
        (arcs.form != "none", "codes.arc_clockwise codes.arc_counterclockwise", "the controller has arcs", " or leave them out in [arcs]"),
        (planes, " ".join(f"codes.plane_{plane.lower()}" for plane in planes), "arcs need it", " or leave the plane out in [arcs]"),
        (unit != "as_toolpath" and units_coded, f"units.{unit}", "there is one for the other unit", " or leave both empty"),
        (spindle.clockwise or spindle.counterclockwise, "spindle.stop", "there is one to start the spindle", ', for example "M5"'),
        (flows, "coolant.off", "there is one for coolant on", ', for example "M9"'),
        (profile.cycles.spoken, "cycles.cancel", "the controller has cycles, which have to end", ', for example "G80"'),
        (feed.inverse_code, "feed.per_minute_code", "feeds have to come back from inverse time", ', for example "G94"'),
        (inverse, "feed.inverse_code", f"inverse time is chosen for {inverse} moves", ' or choose "per_minute" for them'),
        (retract == "machine_zero", "retract.machine_code", "retracts go to the machine's zero", ' or form = "height"'),
        (retract == "reference", "retract.reference_code", "retracts go to the reference point", ' or form = "height"'),
        (clamped, " ".join(clamped), "the clamp is used for indexing", ' or use = "never"'),
        (not profile.tool.change, "stops.program", "tools are changed by hand at a program stop", ""),
        (True, "stops.end", "every program needs an end", ""),
        (spindle.dwell, "codes.dwell", "the spindle asks for a pause", " or take the pause out"),
        (any(clamp.dwell for clamp in clamps.values()), "codes.dwell", "the clamp asks for a pause", " or take the pause out"),
    ]
    for wanted, keys, because, otherwise in needed:
        if wanted and (lacking := [key for key in keys.split() if key not in stated]):
            raise impossible(f"there is no code, but {because}", key=lacking[0], cure=f"give the controller's code{otherwise}")


def _check_distinct(named: Iterable[tuple[str, str]], what: str) -> None:
    seen: dict[str, str] = {}
    for key, said in named:
        other = seen.setdefault(plain_code(said) if what == "code" else said, key)
        clamps = key.startswith("rotary.") and other.startswith("rotary.") and key.rsplit(".", 1)[-1] == other.rsplit(".", 1)[-1]
        if other != key and not clamps:
            wrong = f"{said} is already the {what} of {other}: one {what} cannot mean both"
            raise impossible(wrong, key=key, cure="leave one of them empty, or correct it" if what == "code" else "use another letter")


def _letters(profile: Profile) -> dict[str, str]:
    numbers = profile.program.block_numbers
    letters = {"program.block_numbers.letter": numbers.letter} if numbers.use != "none" else {}
    letters |= {"codes.dwell_letter": profile.codes.dwell_letter, "tool.letter": profile.tool.letter}
    if profile.tool.length_offset:
        letters["tool.offset_letter"] = profile.tool.offset_letter
    if profile.cycles.spoken:
        letters |= {f"cycles.{name}": getattr(profile.cycles, name) for name in ("r_letter", "peck_letter", "dwell_letter")}
    return letters


def _check_letters(profile: Profile, codes: Coded) -> None:
    tool, cycles = profile.tool, profile.cycles
    _check_distinct((("tool.letter", tool.letter), ("tool.offset_letter", tool.offset_letter)), "letter")
    _check_distinct(((f"cycles.{name}", getattr(cycles, name)) for name in ("r_letter", "peck_letter", "dwell_letter")), "letter")
    taken = _WORDS_OF_MOTION | set(profile.rotary)
    for key, letter in _letters(profile).items():
        if letter == "L":
            raise impossible("the letter L is the number of repeats", key=key, cure="use another letter")
        if letter in taken:
            raise impossible(f"the letter {letter} already has a meaning in this controller's blocks", key=key, cure="use another letter")
        if key == "program.block_numbers.letter":
            taken |= {letter}
    for key, code in codes:
        if code[0] in (taken | set("IJK")) - {"G", "M"}:
            cure = "begin it with G or M, or with a letter that has no other use"
            raise impossible(f"{code} begins with the letter of an axis or a motion word", key=key, cure=cure)


def _check_order(profile: Profile, codes: Coded) -> None:
    axes = set("XYZ") | {letter for letter, rotary in profile.rotary.items() if not rotary.replaces}
    needed = axes | _WORDS_OF_MOTION | {code[0] for _, code in codes}
    needed |= {letter for key, letter in _letters(profile).items() if key != "codes.dwell_letter" or profile.codes.dwell}
    needed |= {"centre": set("IJK"), "radius": {"R"}, "none": set()}[profile.arcs.form]
    numbers = profile.program.block_numbers
    if numbers.use != "none" and not profile.words.order.startswith(numbers.letter):
        raise impossible(f"the block number {numbers.letter} has to come first in a block", key="words.order")
    if lacking := sorted(needed - set(profile.words.order)):
        raise impossible(f"the order of words leaves out {', '.join(lacking)}", key="words.order", cure="name every letter once")
    if strange := sorted(set(profile.words.repeat_axes) - axes):
        cure = f"use letters of {''.join(sorted(axes))}"
        raise impossible(f"{strange[0]} is not an axis of this controller", key="words.repeat_axes", cure=cure)


def _check_safe_start(profile: Profile, codes: Coded) -> None:
    harmless = {"units", "feed", "coolant.off"}
    harmless |= {f"codes.{name}" for name in ("plane_xy", "absolute", "incremental", "work_offset", "path_mode")}
    harmless |= {"tool.cancel_offset", "spindle.stop", "cycles.cancel", "cycles.return_to_r", "cycles.return_to_old"}
    known = {plain_code(code): key for key, code in codes}
    path_mode = plain_code(profile.codes.path_mode) if profile.codes.path_mode else ""
    for word in (word for block in profile.program.safe_start for word in block.split()):
        key = known.get(plain_code(word), "")
        if key in harmless or key.split(".")[0] in harmless:
            continue
        if what := key or acts(plain_code(word)):
            raise impossible(f"{word} acts on the machine ({what}), so it is not allowed in a safe start block", key="program.safe_start")
        if path_mode and plain_code(word) in PATH_MODES:
            raise impossible(
                f"{word} is another path mode than {profile.codes.path_mode}, which every program states",
                key="program.safe_start",
                cure=f'codes.path_mode = "{word}", which is written by itself',
            )
    for code in profile.codes.trusted:
        if meant := known.get(plain_code(code)):
            raise impossible(f"{code} is the code of {meant}, so it cannot be a trusted code as well", key="codes.trusted")
        if what := acts(plain_code(code)):
            raise impossible(f"{code} changes what is cut ({what}), so it cannot be a trusted code", key="codes.trusted")


def _check_rotaries(profile: Profile) -> None:
    along: dict[str, str] = {}
    for letter, rotary in profile.rotary.items():
        other = along.setdefault(rotary.along, letter) if not profile.chain else letter
        if other != letter:
            raise impossible(
                f"two rotaries, {other} and {letter}, along {rotary.along}",
                key=f"rotary.{letter}.along",
                cure=f'leave one out: drop = ["rotary.{other}"] in a profile with a parent',
            )
        if rotary.replaces and profile.feed.per_minute_counts != "all_axes":
            raise impossible(
                f"to the controller the drive of {rotary.replaces} is a linear axis, so F counts its words like those of X, Y, Z",
                key="feed.per_minute_counts",
                cure='per_minute_counts = "all_axes"',
            )
        planes = [plane for plane in profile.arcs.planes if rotary.replaces and rotary.replaces in plane]
        if planes and profile.arcs.form != "none":
            raise impossible(
                f"an arc in {planes[0]} would turn the part, because the drive of {rotary.replaces} turns the rotary",
                key="arcs.planes",
                cure=f'leave out the planes with {rotary.replaces}, or form = "none"',
            )
        if rotary.replaces and profile.cycles.spoken:
            raise impossible(
                f"the block of a cycle has X and Y words, and {rotary.replaces} would turn the part",
                key="cycles",
                cure="leave the codes of all cycles empty, so that they are written out in single moves",
            )


def _check_incremental(profile: Profile) -> None:
    incremental = profile.words.distance == "incremental"
    start = profile.program.start_position
    if not incremental:
        if start is not None:
            raise impossible(
                "a start position is for incremental words only; absolute words do not need it",
                key="program.start_position",
                cure='take it out, or [words] distance = "incremental"',
            )
        return
    if start is None:
        raise impossible(
            "incremental words need a start position",
            key="program.start_position",
            cure="give X, Y, Z in mm and the rotary in degrees, where the operator puts the machine before the start",
        )
    chain = chain_of(profile)
    if len(start) != 3 + max(1, len(chain.letters) if chain is not None else 1):
        raise impossible(
            f"the start position has {len(start) - 3} angles, and the program turns {profile.chain or 'one rotary'}",
            key="program.start_position",
            cure="give X, Y, Z in mm and an angle in degrees for each rotary, counted from the part to the spindle",
        )
    if profile.retract.form != "height":
        raise impossible(
            f'a retract to "{profile.retract.form}" ends at a position unknown to the program: incremental words cannot go on there',
            key="retract.form",
            cure='form = "height"',
        )
    if profile.cycles.spoken and profile.cycles.depth_from == "absolute":
        raise impossible(
            "incremental words cannot give the depth of a cycle as a position", key="cycles.depth_from", cure='depth_from = "r_level"'
        )
    for letter, rotary in profile.rotary.items():
        if rotary.travel.kind == "rollover":
            raise impossible(
                "incremental words do not roll over at 360 degrees", key=f"rotary.{letter}.travel.kind", cure='"unlimited" or "limited"'
            )
        if rotary.unwinding.at_end == "stay":
            raise impossible(
                "with incremental words the next run starts where this one ends, so the rotary has to come back",
                key=f"rotary.{letter}.unwinding.at_end",
                cure='"zero" or "nearest_turn"',
            )
