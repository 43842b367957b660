"""Lines and words of a finished program left out, doubled, moved and put in: what is still proved cuts the very same.

What it cuts is told by an interpreter of its own, a screen long, that knows no more of the language of `rs274ngc` than its programs use.
"""

from __future__ import annotations

import re
from functools import cache
from math import inf, isclose
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import SteadyrestError
from steadyrest.posting import posted_text
from steadyrest.profile import load_profile
from steadyrest.proof import prove
from steadyrest.toolpath import load_toolpath

TOUR = Path(__file__).parents[1] / "golden" / "tour"
NAMES = ("indexed", "off_centre_inch", "still", "along_z", "tapping")
"""Short ones, each with something that the others have not."""
PROFILES = {"along_z": "upright-c"}
_WORD = re.compile(r"([A-Z])([+-]?[0-9.]+)")
SWITCHED = ("M5", "M3", "M9", "M8", "M0", "G4 P1", "T1 M6", "G43 H9", "G49", "G55", "G54", "M30", "M2", "%", "S100", "F100")
SAID = ("G91", "G90", "G18", "G17", "G20", "G21", "G64", "G80", "G92 Z0", "G41")
MOVED = ("G53 G0 Z0", "G53 G1 Z0 F100", "G1 Z0 F100", "G0 Z0", "G0 X0 Y0", "G2 I2 X0 Y0")
STRANGE = SWITCHED + SAID + MOVED
"""Lines to put in."""


@cache
def sound(name: str) -> tuple[str, ...]:
    """The lines of a finished program."""
    text = posted_text(TOUR / f"{name}.toolpath.json", PROFILES.get(name, "rs274ngc"))
    return tuple(line for line in text.splitlines() if line)


Cut = tuple[object, ...]


def cuts(lines: tuple[str, ...], rotary: str) -> list[Cut]:
    """Everything that is cut, in order: way, time and what is switched; straight stretches as long as their direction and speed hold."""
    place, motion, unit, feeds = dict.fromkeys("XYZ" + rotary, 0.0), 80, 1.0, 94
    tool, length, spindle, rpm, coolant, work, absolute, level = 0.0, 0.0, 5.0, 0.0, 9.0, 0.0, True, {"R": 0.0, "Z": 0.0, "Q": inf}
    found: list[Cut] = []
    feed = picked = 0.0
    for line in lines:
        bare = re.sub(r"\([^)]*\)", "", line)
        codes = [(letter, float(number)) for letter, number in _WORD.findall(bare)]
        words = {letter: number for letter, number in codes if letter not in "GM"}
        once = 0.0
        for letter, number in codes:
            if letter == "G":
                motion = int(number) if number in (0, 1, 2, 3, 80, 81, 82, 83, 84, 85) else motion
                unit = {20.0: 25.4, 21.0: 1.0}.get(number, unit)
                feeds = int(number) if number in (93, 94) else feeds
                absolute = {90.0: True, 91.0: False}.get(number, absolute)
                length = {43.0: words.get("H", 0.0), 49.0: 0.0}.get(number, length)
                work = number if 54 <= number < 60 else work
                once = number if number in (4, 28, 53) else once
        feed, rpm, picked = words.get("F", feed), words.get("S", rpm), words.get("T", picked)
        for letter, number in codes:
            if letter == "M":
                tool, spindle = (picked, 5.0) if number == 6 else (tool, number if number in (3, 4, 5) else spindle)
                coolant = number if number in (7, 8, 9) else coolant
                if number in (2, 30):
                    return found
        axes = {letter: words[letter] * (1.0 if letter == rotary else unit) for letter in place if letter in words}
        if once == 4 or not axes:
            continue
        if once:  # clear, in machine coordinates or to the reference point
            if motion == 1 and once == 53:
                found.append(("machine", tuple(axes.items())))
            place |= dict.fromkeys(axes, inf)
            continue
        begin = dict(place)
        if motion >= 81:
            level |= {letter: words[letter] * unit for letter in "RZQ" if letter in words}
            place |= {letter: value for letter, value in axes.items() if letter != "Z"} | {"Z": level["R"]}
            found.append(
                (motion, *place.values(), level["Z"], level["Q"] if motion == 83 else 0.0, feed * unit, tool, length, spindle, rpm, work)
            )
            continue
        for letter, value in axes.items():
            place[letter] = value if absolute else place[letter] + value
        if (motion in (1, 2, 3) and place != begin) or motion in (2, 3):
            if motion == 1 and all(begin[letter] == place[letter] for letter in place if letter != "Z") and place["Z"] < begin["Z"]:
                begin["Z"] = place["Z"]  # straight down: from how high makes no difference to what is cut
            arms = tuple(words.get(letter, 0.0) * unit for letter in "IJK") if motion != 1 else ()
            speed = feed if feeds == 93 else feed * unit
            found.append((motion, *begin.values(), *place.values(), *arms, speed, feeds, tool, length, spindle, rpm, coolant, work))
    return found


def alike(one: list[Cut], other: list[Cut]) -> bool:
    """The same but for less than the tolerance."""
    return len(one) == len(other) and all(_near(a, b) for a, b in zip(one, other, strict=True))


def _near(one: Cut, other: Cut) -> bool:
    return len(one) == len(other) and all(a == b or _close(a, b) for a, b in zip(one, other, strict=True))


def _close(one: object, other: object) -> bool:
    return isinstance(one, float) and isinstance(other, float) and isclose(one, other, abs_tol=0.011)


@st.composite
def broken(draw: st.DrawFn) -> tuple[str, tuple[str, ...]]:
    """A program with a line or a word changed, once or twice."""
    name = draw(st.sampled_from(NAMES))
    lines = list(sound(name))
    for _ in range(draw(st.integers(1, 2))):
        at = draw(st.integers(0, len(lines) - 1))
        what = draw(st.sampled_from(("left out", "doubled", "further on", "swapped", "put in", "word left out", "word from elsewhere")))
        if what == "left out":
            del lines[at]
        elif what == "doubled":
            lines.insert(at, lines[at])
        elif what == "further on":
            lines.insert(draw(st.integers(0, len(lines))), lines[at])
        elif what == "swapped" and at + 1 < len(lines):
            lines[at], lines[at + 1] = lines[at + 1], lines[at]
        elif what == "put in":
            lines.insert(at, draw(st.sampled_from(STRANGE)))
        elif lines[at] and "(" not in lines[at]:
            words = lines[at].split()
            if what == "word left out":
                del words[draw(st.integers(0, len(words) - 1))]
            else:
                others = [word for line in lines if "(" not in line for word in line.split()]
                words[draw(st.integers(0, len(words) - 1))] = draw(st.sampled_from(others))
            lines[at] = " ".join(words)
    return name, tuple(lines)


@settings(max_examples=settings.default.max_examples * 3)
@given(broken())
def test_what_is_still_proved_cuts_the_very_same(drawn: tuple[str, tuple[str, ...]]) -> None:
    name, lines = drawn
    profile = load_profile(PROFILES.get(name, "rs274ngc"))
    try:
        verdict = prove("\n".join([*lines, ""]).encode(), load_toolpath(TOUR / f"{name}.toolpath.json"), profile)
    except SteadyrestError:
        return
    if not verdict.proved or any(one.name == "lowered" for one in verdict.findings):
        return
    rotary = next(iter(profile.rotary))
    assert alike(cuts(sound(name), rotary), cuts(lines, rotary)), "\n".join(lines)


def test_the_interpreter_sees_what_a_program_cuts() -> None:
    for name in NAMES:
        lines, rotary = sound(name), "C" if name == "along_z" else "A"
        whole = cuts(lines, rotary)
        assert len(whole) > 1
        for line in ("M5", "G55", "G43 H9", "S100"):
            at = next(at for at, text in enumerate(lines) if re.search(r"\bG(1|81|82|83|84|85)\b", text))
            assert not alike(whole, cuts((*lines[:at], line, *lines[at:]), rotary)), (name, line)
