"""What a profile says about motion blocks, looked up once: which words there are, how their numbers are spelled, in which order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.motion import Kind
from steadyrest.profile import Profile, Rotary, rotaries_of
from steadyrest.writing.numbers import Spelling, spelling

CENTRE_LETTERS = "IJK"
"""Words of an arc's centre along X, Y, Z (NISTIR 6556 section 3.5.3)."""

Turning = Literal["unwound", "shortest", "sign"]


@dataclass(frozen=True, slots=True)
class AxisWord:
    """One axis word: its letter, where its values come from, and how they are spelled.

    column   0, 1, 2: a column of `xyz`; 3 and more: a column of `rotary_deg`
    scale    what a value is multiplied with before it is counted: 1, or length per degree where a linear drive turns the rotary
    turning  how a rotary position is said: counted on, or within one turn with the shortest way or the sign as the direction
    turn     one turn of the rotary in counts, where positions stay within one turn; else 0
    """

    letter: str
    column: int
    spelled: Spelling
    scale: float = 1.0
    turning: Turning = "unwound"
    turn: int = 0


@dataclass(frozen=True, slots=True)
class WordFormat:
    """A profile made ready for writing motion in the units of one program: its axis words, and of each mode of F how it is spelled.

    rotary_letters   the rotaries that the program turns, by their letters in the profile, from the part to the spindle
    """

    profile: Profile
    inch: bool
    rotary_letters: tuple[str, ...]
    axes: tuple[AxisWord, ...]
    feed: tuple[Spelling, Spelling]
    motion_codes: tuple[str, str, str, str]
    plane_codes: tuple[str, str, str]
    mode_codes: tuple[str, str]
    incremental: bool
    spaces: bool
    repeat_axes: frozenset[str]

    @property
    def has_inverse(self) -> bool:
        """The controller knows inverse time, so that the feed mode is something to be said."""
        return bool(self.profile.feed.inverse_code)

    @property
    def line_ending(self) -> str:
        """What ends a line."""
        return "\r\n" if self.profile.program.line_ending == "crlf" else "\n"

    def largest_feed(self, mode: int) -> float:
        """The largest F of a feed mode."""
        feed = self.profile.feed
        return (feed.largest_inch if self.inch else feed.largest_mm) if mode == 0 else feed.largest_inverse

    def rank(self, letter: str) -> int:
        """Where a letter stands in a block; letters that the profile's order leaves out come last."""
        place = self.profile.words.order.find(letter)
        return place if place >= 0 else len(self.profile.words.order) + ord(letter)

    def from_mm(self, length_mm: float) -> float:
        """A length of the profile in the units of the program."""
        return length_mm / MM_PER_INCH if self.inch else length_mm

    def spelling(self, kind: Kind, letter: str) -> Spelling:
        """How the numbers of one kind behind one letter are spelled."""
        return spelling(self.profile.numbers, kind, letter, inch=self.inch)


def word_format(profile: Profile, *, inch: bool, rotary_letters: Sequence[str]) -> WordFormat:
    """Look a profile up for one program; the rotaries in the order of their columns. ProfileError where it has no rotary of a letter."""
    rotaries = {letter: rotaries_of(profile, letter=letter)[letter] for letter in rotary_letters}  # type: ignore[index]
    codes, feed, numbers = profile.codes, profile.feed, profile.numbers
    axes = [
        AxisWord(letter, i, spelling(numbers, "length", letter, inch=inch))
        for i, letter in enumerate(AXES)
        if all(letter != rotary.replaces for rotary in rotaries.values())
    ]
    axes += [_rotary_word(profile, letter, rotary, column, inch=inch) for column, (letter, rotary) in enumerate(rotaries.items(), 3)]
    return WordFormat(
        profile=profile,
        inch=inch,
        rotary_letters=tuple(rotary_letters),
        axes=tuple(axes),
        feed=(spelling(numbers, "feed", "F", inch=inch), spelling(numbers, "inverse_feed", "F", inch=inch)),
        motion_codes=(codes.rapid, codes.line, codes.arc_clockwise, codes.arc_counterclockwise),
        plane_codes=(codes.plane_xy, codes.plane_xz, codes.plane_yz),
        mode_codes=(feed.per_minute_code, feed.inverse_code),
        incremental=profile.words.distance == "incremental",
        spaces=profile.words.spaces,
        repeat_axes=frozenset(profile.words.repeat_axes),
    )


def _rotary_word(profile: Profile, letter: str, rotary: Rotary, column: int, *, inch: bool) -> AxisWord:
    """The word of a rotary: of its own, or of the linear axis whose drive turns it."""
    if rotary.replaces:
        per_degree = rotary.mm_per_degree / MM_PER_INCH if inch else rotary.mm_per_degree
        return AxisWord(rotary.replaces, column, spelling(profile.numbers, "length", rotary.replaces, inch=inch), scale=per_degree)
    spelled = spelling(profile.numbers, "angle", letter, inch=inch)
    if not rotary.rolls_over or profile.words.distance == "incremental":
        return AxisWord(letter, column, spelled)
    return AxisWord(letter, column, spelled, 1.0, rotary.travel.rule, 360 * spelled.scale)
