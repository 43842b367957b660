"""What a fault needs to know of a program: which blocks cut, which words they have, and how the dialect spells a number."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from program_text import Text, plain

from steadyrest.profile import LinearAxis, NumberFormat, Profile, chain_of
from steadyrest.reading import EventRead, read_program
from steadyrest.toolpath import Toolpath


@dataclass(frozen=True)
class Block:
    """A line with axis words: `motion` is rapid, line, cw, ccw or cycle, `inverse` whether F is inverse time there.

    It is "air" where a leaning tool goes at feed through the air, as fast as the axes go: another way or speed there harms nothing.
    """

    at: int
    motion: str
    inverse: bool
    words: dict[str, str]


@dataclass(frozen=True)
class Program:
    """A finished program, what it was made from, and in which dialect."""

    text: Text
    toolpath: Toolpath
    profile: Profile
    blocks: tuple[Block, ...] = field(default=())

    @classmethod
    def of(cls, text: str, toolpath: Toolpath, profile: Profile) -> Program:
        parsed = Text.of(text, profile)
        return cls(parsed, toolpath, profile, tuple(_blocks(parsed, profile)))

    @property
    def rotary(self) -> str:
        """The letter that turns the rotary; empty when there is none."""
        for letter, rotary in self.profile.rotary.items():
            if rotary.along == self.toolpath.axis:
                return rotary.replaces or str(letter)
        return ""

    @property
    def absolute(self) -> bool:
        return self.profile.words.distance == "absolute"

    @property
    def inch(self) -> bool:
        units = self.profile.units.program
        return units == "inch" or (units == "as_toolpath" and self.toolpath.units == "inch")

    def cuts(self, *letters: str, motions: tuple[str, ...] = ("line", "cw", "ccw")) -> list[Block]:
        """Blocks at feed that have words of all those letters."""
        return [block for block in self.blocks if block.motion in motions and all(letter in block.words for letter in letters)]

    def form(self, letter: str, inverse: bool = False) -> NumberFormat:
        numbers = self.profile.numbers
        if letter in numbers.by_letter:
            return numbers.by_letter[letter]  # type: ignore[index]
        if letter == "F":
            return numbers.inverse_feed if inverse else numbers.feed
        if letter == "S":
            return numbers.spindle
        if letter in self.profile.rotary:
            return numbers.angle
        if letter == self.profile.codes.dwell_letter:
            return numbers.dwell
        return numbers.length

    def decimals(self, letter: str, inverse: bool = False) -> int:
        form = self.form(letter, inverse)
        return form.inch_decimals if self.inch and form.inch_decimals is not None and letter not in self.profile.rotary else form.decimals

    def value(self, block: Block, letter: str) -> float:
        """The number that a word means."""
        number = float(block.words[letter])
        form = self.form(letter, block.inverse)
        counts = form.point == "counts" and "." not in block.words[letter]
        return number * 10.0 ** -self.decimals(letter, block.inverse) if counts else number

    def spelled(self, letter: str, value: float, inverse: bool = False) -> str:
        """A number as the dialect spells it."""
        decimals = self.decimals(letter, inverse)
        if self.form(letter, inverse).point == "counts":
            return f"{round(value * 10**decimals):d}"
        text = f"{value:.{decimals}f}"
        return text if "." in text else text + ("." if self.form(letter, inverse).point == "always" else "")

    def changed(self, block: Block, letter: str, change: Callable[[float], float]) -> Text:
        """One word's number changed."""
        return self.text.number(block.at, letter, self.spelled(letter, change(self.value(block, letter)), block.inverse))

    def changed_all(self, letters: str, change: Callable[[float], float], blocks: list[Block] | None = None) -> Text:
        """Every word of those letters changed, in every block or in those given."""
        text = self.text
        for block in self.blocks if blocks is None else blocks:
            for letter in letters:
                if letter in block.words:
                    text = text.number(block.at, letter, self.spelled(letter, change(self.value(block, letter)), block.inverse))
        return text


def _blocks(text: Text, profile: Profile) -> list[Block]:
    codes, cycles = profile.codes, profile.cycles
    motions = {codes.rapid: "rapid", codes.line: "line", codes.arc_clockwise: "cw", codes.arc_counterclockwise: "ccw"}
    for code in (cycles.drill, cycles.dwell_drill, cycles.peck, cycles.chip_break, cycles.tap, cycles.bore):
        motions[code] = "cycle"
    motions[cycles.cancel] = ""
    known = {plain(code): motion for code, motion in motions.items() if code}
    axes = set("XYZ") | set(profile.rotary)
    # A dialect with one meaning of F and no code for it is in that mode from the start.
    motion, inverse, found, feed = "", False, [], 0.0
    chain = chain_of(profile)
    in_air = (LinearAxis().fastest, LinearAxis().fastest / 25.4) if chain is not None and chain.tool else ()
    for at in range(len(text.lines)):
        here = text.codes(at)
        for code in here:
            motion = known.get(code, motion)
            if profile.feed.inverse_code and code == plain(profile.feed.inverse_code):
                inverse = True
            if profile.feed.per_minute_code and code == plain(profile.feed.per_minute_code):
                inverse = False
        words = text.words(at)
        feed = float(words.get("F", feed))
        air = in_air and motion == "line" and not inverse and any(abs(feed / fastest - 1) < 1e-4 for fastest in in_air)
        special = here & {plain(code) for code in (profile.retract.machine_code, profile.retract.reference_code) if code}
        if motion and axes & set(words) and not special:
            found.append(Block(at, "air" if air else motion, inverse, words))
    return found


def effect(text: str, profile: Profile, letter: str | None) -> list[object]:
    """Everything that a program does to the machine, without its lines and comments: equal lists do the same."""
    done: list[object] = []
    for item in read_program(text.encode("latin-1"), profile, rotary_letter=letter):
        if isinstance(item, EventRead):
            if item.kind != "comment":
                done.append((item.kind, str(item.number), item.text))
            continue
        columns = [item.motion, item.end_mm, item.rotary_deg, item.minutes, item.clear]
        if item.arcs is not None:
            columns.append(item.arcs.centre_mm)
        rows = np.round(np.column_stack([np.asarray(column, dtype=np.float64) for column in columns]), 9) + 0.0  # no minus zero
        rows[np.isnan(rows)] = np.nan  # one kind of unknown
        done += [row.tobytes() for row in rows]
    return done
