"""What each code and letter means in a profile's language: the profile's own codes over those of NISTIR 6556."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from steadyrest.conventions import AXES
from steadyrest.errors import Place, ProfileError, ProgramError
from steadyrest.profile import NumberFormat, Profile, Rotary, rotaries_of, says_what_is_cut

NUMBER_LETTERS = "O:"
LONGEST_LINE = 100_000
MOST_NUMBER = 10**9

ENDS_WHAT_IS_NOT_ON = ("G13.1", "G15", "G50", "G50.1", "G67", "G69", "G91.1", "G97", "G113")
"""Codes that end what a program that is taken can never have begun: polar coordinates (G13.1, G15, G113), scaling, mirroring, macros,
turned coordinates, centres of arcs as positions, constant cutting speed (common practice)."""
CHIP_BREAK = "G73"
"""Drilling in steps with a short way back, where the program's language has no code for it (common practice)."""
WITHOUT_IT = "have the post-processor write the program without this code"


@dataclass(frozen=True, slots=True)
class Lenient:
    """A program from elsewhere: what it cuts is wanted, and it goes to no controller that a profile describes.

    Its language is that of a profile, and beyond it what programs for mills commonly hold besides (common practice, where no standard is
    named): a program number; comments of any kind; G73 as drilling that breaks the chip; the code that ends a cycle in a group of its own,
    so that the motion from before holds (ISO 6983-1, table of preparatory functions, from memory); the reference point for the axes that
    are named only; no stated plane, unit of F or level after a hole. What is taken for granted so is told as an event, and limits of a
    controller do not count. Whoever takes the program says:

    left_out        codes that mean nothing for what is cut, such as G9 or M41
    mm_per_unit     1 or 25.4: the unit of length until the program states one; None: it has to state it
    """

    left_out: tuple[str, ...] = ()
    mm_per_unit: float | None = None


def without_limits(profile: Profile) -> Profile:
    """The profile without what only the controller of the program has to know: the largest numbers, and how its number is spelled."""
    numbers = profile.program.block_numbers.model_copy(update={"largest": MOST_NUMBER})
    limits: dict[str, dict[str, object]] = {
        "program": {"longest_line": max(profile.program.longest_line, LONGEST_LINE), "block_numbers": numbers},
        "feed": {"largest_mm": math.inf, "largest_inch": math.inf, "largest_inverse": math.inf},
        "arcs": {"smallest_radius": 0.0, "largest_radius": math.inf},
        "tool": {"largest": MOST_NUMBER},
        "spindle": {"largest_rpm": math.inf},
    }
    return profile.model_copy(update={part: getattr(profile, part).model_copy(update=values) for part, values in limits.items()})


BEYOND = 1e9  # in no word of a program: the grammar says so, with its place
CENTRES = "IJK"
RADIUS = "R"

CYCLES = {name: name.replace("_", "-") for name in ("drill", "dwell_drill", "peck", "chip_break", "tap", "bore")}
"""As a profile's settings name them, and as events do."""

CLAMP = "clamp of "
"""Of each rotary, by the letter of its word: a group of its own."""
PATH_CONTROL = "path control"
CYCLE_END = "cycle end"
ENDS = "end of a mode "
"""Groups of codes in a program from elsewhere: the end of a cycle, and each code that ends what is not on."""

# Codes of NISTIR 6556 (table 4) that a profile has no setting for and that change nothing the reader follows.
WITHOUT_EFFECT = {
    "G40": "cutter compensation",
    "G61": PATH_CONTROL,
    "G61.1": PATH_CONTROL,
    "G64": PATH_CONTROL,
    "M48": "overrides",
    "M49": "overrides",
}

# Codes of NISTIR 6556 that would make what follows unknown: understood, and refused with the reason.
COMPENSATION = "cutter radius compensation moves the tool by an amount that stands in the controller"
SHIFT = "shifting the coordinates changes where everything after it is cut"
REFUSED = {
    "G41": ("cutter compensation", COMPENSATION),
    "G42": ("cutter compensation", COMPENSATION),
    "G10": ("one block", "setting offsets from the program changes where everything after it is cut"),
    "G30": ("one block", "where the second reference point is, is not known here"),
    "G38.2": ("motion", "where a probe stops is not known before it has touched"),
    **dict.fromkeys(("G92", "G92.1", "G92.2", "G92.3"), ("one block", SHIFT)),
    "M60": ("stop", "exchanging pallets changes the workpiece"),
}

# NISTIR 6556, 3.5.13: coordinate systems 1 to 9.
WORK_OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a code does, and the modal group of which only one code may stand in a block (NISTIR 6556, table 4)."""

    group: str
    does: str
    code: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Dialect:
    """A profile as the reader needs it.

    codes          by letter and ten times the number, so that G1, G01 and G1.0 are the same
    letters        every letter that may stand in a block besides those of codes
    rotaries       those that the program may turn, from the part to the spindle, by the letters of their words: each its own, or that of
                   the linear axis it replaces
    replaced       index of the replaced linear axis, or -1
    lenient        for a program from elsewhere, else None
    safe_start     the codes of the profile's safe start, as in `codes`
    """

    profile: Profile
    codes: dict[tuple[str, int], Meaning]
    code_letters: frozenset[str]
    letters: frozenset[str]
    rotaries: dict[str, Rotary]
    replaced: int
    lenient: Lenient | None = None
    safe_start: frozenset[tuple[str, int]] = frozenset()

    @property
    def block_number_digits(self) -> int:
        """How many digits a block number may have: at least the five of NISTIR 6556, 3.3.1."""
        numbers = self.profile.program.block_numbers
        return max(5, numbers.digits, len(str(numbers.largest)))

    @property
    def number_letters(self) -> str:
        """The letters with which a program's number may begin."""
        letter = self.profile.program.number.letter
        return letter if self.lenient is None else letter + NUMBER_LETTERS

    @property
    def comment_style(self) -> str:
        """How comments are written; "any" in a program from elsewhere."""
        return self.profile.program.comments.style if self.lenient is None else "any"

    def increment(self, letter: str, kind: str, inch: bool) -> float:
        """What a number without a point is divided by: a power of ten for whole counts of the least increment, 1 otherwise.

        kind   what the letter measures: a length, an angle, a feed, an inverse_feed, a dwell or a spindle speed
        """
        numbers = self.profile.numbers
        spelled: NumberFormat = numbers.by_letter[letter] if letter in numbers.by_letter else getattr(numbers, kind)
        if spelled.point != "counts":
            return 1.0
        decimals = spelled.inch_decimals if inch and spelled.inch_decimals is not None else spelled.decimals
        return float(10**decimals)


def read_dialect(profile: Profile, rotary_letter: str | None = None, lenient: Lenient | None = None) -> Dialect:
    """The tables of a profile's language; ProfileError when two settings contradict each other."""
    if lenient is not None:
        profile = without_limits(profile)
    meant = rotaries_of(profile, letter=rotary_letter)
    if len(meant) > 1 and not profile.chain:
        raise ProfileError(
            f"the profile has several rotaries, {', '.join(meant)}, and it is not given which one the program turns",
            place=Place(file=profile.name, key="rotary"),
            cure="name one",
        )
    rotaries = {rotary.word_letter(letter): rotary for letter, rotary in meant.items()}
    codes: dict[tuple[str, int], Meaning] = {}
    for meaning in _profile_codes(profile, rotaries):
        key = code_key(meaning.code)
        other = codes.setdefault(key, meaning)
        if other.does != meaning.does:
            raise ProfileError(
                f"the code {meaning.code} stands for '{other.does}' and for '{meaning.does}': the program could not be read back",
                place=Place(file=profile.name),
                cure="give each its own code, or leave the one that the controller lacks empty",
            )
    for meaning in _base_codes(profile):
        codes.setdefault(code_key(meaning.code), meaning)
    if lenient is not None:
        _for_elsewhere(codes, lenient)
    cycles, tool = profile.cycles, profile.tool
    others = (cycles.r_letter, cycles.peck_letter, cycles.dwell_letter, profile.codes.dwell_letter, tool.letter, tool.offset_letter)
    return Dialect(
        profile=profile,
        codes=codes,
        code_letters=frozenset(letter for letter, _ in codes),
        letters=frozenset({*AXES, *rotaries, *others, *(CENTRES if profile.arcs.form != "none" else ""), *"RFSL"} - {""}),
        rotaries=rotaries,
        replaced=next((AXES.index(letter) for letter in rotaries if letter in AXES), -1),
        lenient=lenient,
        safe_start=frozenset(code_key(code) for block in profile.program.safe_start for code in block.split()),
    )


def _for_elsewhere(codes: dict[tuple[str, int], Meaning], lenient: Lenient) -> None:
    """What the codes of a program from elsewhere mean besides; ProgramError where one that says what is cut is to be left out."""
    for key, meaning in codes.items():
        if meaning.does == "cancel":
            codes[key] = replace(meaning, group=CYCLE_END)
        elif meaning.group == PATH_CONTROL:
            codes[key] = replace(meaning, does="left_out")
    for code in ENDS_WHAT_IS_NOT_ON:
        codes.setdefault(code_key(code), Meaning(ENDS + code, "nothing", code))
    if all(meaning.does != "chip_break" for meaning in codes.values()):
        codes.setdefault(code_key(CHIP_BREAK), Meaning("motion", "chip_break", CHIP_BREAK))
    for said in lenient.left_out:
        key = code_key(said)
        code = code_name(key)
        does = codes[key].does if key in codes else "nothing"
        what = says_what_is_cut(code)
        if not what and does not in ("nothing", "left_out"):
            what = f"'{does}'" if does != "refused" else "offsets, coordinates or compensation"
        if what:
            raise ProgramError(f"{code} cannot be left out: it affects the cut ({what})", cure=WITHOUT_IT)
        codes[key] = Meaning("left out " + code, "left_out", code)


def code_name(key: tuple[str, int]) -> str:
    """The shortest spelling of a code: G61.1 for G061.10."""
    return f"{key[0]}{key[1] / 10:g}"


def code_key(code: str) -> tuple[str, int]:
    """The letter of a code and ten times its number."""
    return code[0], round(float(code[1:]) * 10)


def _profile_codes(profile: Profile, rotaries: Mapping[str, Rotary]) -> Iterator[Meaning]:
    """The codes that the profile has a setting for."""
    codes, tool, cycles = profile.codes, profile.tool, profile.cycles
    named = {
        "motion": (codes, ["rapid", "line"] + ["arc_clockwise", "arc_counterclockwise"] * (profile.arcs.form != "none")),
        "plane": (codes, ["plane_xy", "plane_xz", "plane_yz"]),
        "distance": (codes, ["absolute", "incremental"]),
        "units": (profile.units, ["mm", "inch"]),
        "spindle": (profile.spindle, ["clockwise", "counterclockwise"]),
        "coolant": (profile.coolant, ["flood", "mist", "air", "through", "off"]),
        "cycle return": (cycles, ["return_to_r", "return_to_old"]),
    }
    table: list[tuple[str, str, str]] = [
        *((group, name, getattr(settings, name)) for group, (settings, names) in named.items() for name in names),
        *(("motion", name, getattr(cycles, name)) for name in ("cancel", *CYCLES)),
        (PATH_CONTROL, "nothing", codes.path_mode),
        ("feed mode", "per_minute", profile.feed.per_minute_code),
        ("feed mode", "inverse", profile.feed.inverse_code),
        ("one block", "dwell", codes.dwell),
        ("one block", "machine", profile.retract.machine_code),
        ("one block", "reference", profile.retract.reference_code),
        ("tool change", "tool_change", tool.change),
        ("tool length offset", "offset", tool.length_offset),
        ("tool length offset", "no_offset", tool.cancel_offset),
        ("spindle", "spindle_stop", profile.spindle.stop),
        ("stop", "stop", profile.stops.program),
        ("stop", "optional_stop", profile.stops.optional),
        ("stop", "end", profile.stops.end),
        *((CLAMP + letter, does, code) for letter, rotary in rotaries.items() for does, code in _clamping(rotary)),
    ]
    for group, does, code in table:
        if code:
            yield Meaning(group, does, code)
    if codes.work_offset:
        yield Meaning("work offset", "work_offset " + codes.work_offset, codes.work_offset)


def _clamping(rotary: Rotary) -> tuple[tuple[str, str], tuple[str, str]]:
    return ("clamp", rotary.clamp.on), ("unclamp", rotary.clamp.off)


def _base_codes(profile: Profile) -> Iterator[Meaning]:
    """The codes of NISTIR 6556 that a profile has no setting for, then those of the profile's own safe start, taken on trust."""
    for code, group in WITHOUT_EFFECT.items():
        yield Meaning(group, "nothing", code)
    for code, (group, why) in REFUSED.items():
        yield Meaning(group, "refused", code, why=why)
    if profile.codes.work_offset in WORK_OFFSETS:
        for code in WORK_OFFSETS:
            yield Meaning("work offset", "work_offset " + code, code)
    for code in ("M2", "M30"):  # NISTIR 6556, 3.6.1: both end the program
        yield Meaning("stop", "end", code)
    for code in re.findall(r"[A-Z]\d{1,4}(?:\.\d)?(?![\d.])", " ".join(profile.program.safe_start).upper()):
        if code[0] in "GM":
            yield Meaning("safe start " + code, "nothing", code)
    for code in profile.codes.trusted:
        yield Meaning("trusted " + code, "nothing", code)
