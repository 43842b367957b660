"""What to ask at the machine, and which setting each answer leads to."""

from __future__ import annotations

import re
from dataclasses import dataclass

from steadyrest.profile import Profile
from steadyrest.profile_tools.settings import Absent, said, value_of

_SETTING = re.compile(r'(?<![\w.])[a-z_]+(\.\w+)+( = ("[^"]*"|true|false|-?\d+))?')


@dataclass(frozen=True, slots=True)
class Question:
    """What to look at or to try, in words; the answers, each with the settings that it leads to; the settings that it is about."""

    look: str
    answers: tuple[tuple[str, str], ...]
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """Questions that are answered at one place."""

    title: str
    questions: tuple[Question, ...]


def questionnaire(profile: Profile) -> tuple[Chapter, ...]:
    """The questions for one profile: those about the rotary once for each that it has."""
    rotary = [question for letter, each in profile.rotary.items() for question in _rotary(letter, each.along)]
    chapters = [Chapter("At the rotary", tuple(rotary))] if rotary else []
    return (*chapters, _FEED, _PROGRAM, _NUMBERS, _MACHINE)


def questions_text(profile: Profile) -> str:
    """The questionnaire as part of a README, with the value that holds now behind each setting."""
    lines: list[str] = []
    for chapter in questionnaire(profile):
        lines += [f"## {chapter.title}", ""]
        for number, question in enumerate(chapter.questions, 1):
            lines += [f"{number}. {question.look}", ""]
            lines += [f"   * {answer}: {_coded(setting)}" if setting else f"   * {_coded(answer)}" for answer, setting in question.answers]
            held = [(key, value_of(profile, key)) for key in question.keys]
            lines += ["", "   Now: " + ", ".join(f"`{key} = {said(value)}`" for key, value in held if not isinstance(value, Absent)), ""]
    return "\n".join(lines)


def _coded(text: str) -> str:
    """Settings, with their values, set as code."""
    return _SETTING.sub(r"`\g<0>`", text)


def _rotary(letter: str, along: str) -> tuple[Question, ...]:
    at = f"rotary.{letter}"
    return (
        Question(
            "Stand in front of the machine. Which linear axis is the rotary's axis of rotation parallel to?",
            (
                ("it lies along the table, left to right", f'{at}.along = "X"'),
                ("front to back", f'{at}.along = "Y"'),
                ("along the spindle", f'{at}.along = "Z"'),
            ),
            (f"{at}.along",),
        ),
        Question(
            "Which way does the face of the chuck look, the side where the part is held?",
            (
                (
                    "towards + of that axis; along X that is to the right, and the rotary stands at the left end",
                    f'{at}.chuck_faces = "+{along}"',
                ),
                ("towards -; along X that is to the left, and it stands at the right end", f'{at}.chuck_faces = "-{along}"'),
            ),
            (f"{at}.chuck_faces",),
        ),
        Question(
            f"No tool in the spindle, clear of everything: command a small positive turn ({letter}5) and look at the face of the chuck. "
            "`steadyrest turn-check` writes a program for it and keeps the answer.",
            (
                ("it turns like the hands of a clock", f'{at}.positive_turns_chuck = "clockwise"'),
                ("the other way", f'{at}.positive_turns_chuck = "counterclockwise"'),
            ),
            (f"{at}.positive_turns_chuck",),
        ),
        Question(
            f"Command {letter}350, then {letter}370, watching: what does it do?",
            (
                ("it goes on by 20 degrees and shows 370", f'{at}.travel.kind = "unlimited"'),
                ("it refuses, or has a stop or a cable that winds up", f'{at}.travel.kind = "limited" with {at}.travel.from and .to'),
                (
                    "it goes on and shows 10",
                    f'{at}.travel.kind = "rollover", and {at}.travel.rule by whether {letter}-10 is the short way or a sign',
                ),
            ),
            (f"{at}.travel.kind", f"{at}.travel.from", f"{at}.travel.to", f"{at}.travel.rule"),
        ),
        Question(
            "Is there a clamp that the program works? Look for the codes around a turn in a trusted program.",
            (
                ("no", f'{at}.clamp.use = "never"'),
                ("yes", f'{at}.clamp.use = "indexing", {at}.clamp.on, {at}.clamp.off, and {at}.clamp.dwell if it needs time'),
            ),
            (f"{at}.clamp.use", f"{at}.clamp.on", f"{at}.clamp.off"),
        ),
        Question(
            "Can it turn while the tool cuts, or does it only stand at fixed angles?",
            (
                ("it turns while cutting", f"{at}.turns_while_cutting = true"),
                ("it indexes only", f"{at}.turns_while_cutting = false, and {at}.steps if it stands at multiples of an angle only"),
            ),
            (f"{at}.turns_while_cutting", f"{at}.steps"),
        ),
        Question(
            "How long does a full turn take as fast as it goes?",
            ((f"360 divided by the minutes, for example 10 seconds: {at}.fastest = 2160", ""),),
            (f"{at}.fastest",),
        ),
    )


_FEED = Chapter(
    "Where F counts (above the part, no tool)",
    (
        Question(
            "In mm and feed per minute, move X by 100 and the rotary by 360 in one block at F100, with a watch.",
            (
                ("one minute", 'feed.per_minute_counts = "linear_axes": F is the speed of X, Y, Z, as if the rotary stood still'),
                (
                    "about 3 minutes 44 seconds (the root of 100 and 360 squared)",
                    'feed.per_minute_counts = "all_axes": a degree counts as a mm',
                ),
                ("it depends on how far the tool is from the axis of rotation", 'feed.per_minute_counts = "tip"'),
            ),
            ("feed.per_minute_counts",),
        ),
        Question(
            "Does the controller know inverse time (G93)? Move X by 10 under it with F2, hand on feed hold.",
            (
                ("half a minute", 'feed.inverse_code = "G93", feed.inverse_is = "per_minute"'),
                ("half a second", 'feed.inverse_is = "per_second"'),
                ("two seconds", 'feed.inverse_is = "seconds"'),
                ("it does not know the code", 'feed.inverse_code = "", and feed.rotary and feed.combined = "per_minute"'),
            ),
            ("feed.inverse_code", "feed.inverse_is", "feed.rotary", "feed.combined"),
        ),
        Question(
            "Which is the largest F that it takes? Try a larger one without motion, or read the manual.",
            (("the number", "feed.largest_mm, feed.largest_inch, feed.largest_inverse"),),
            ("feed.largest_mm", "feed.largest_inch", "feed.largest_inverse"),
        ),
    ),
)

_PROGRAM = Chapter(
    "In a program that you trust",
    (
        Question(
            "Look at its last lines. Which code ends it, and is there a mark after it?",
            (("the code, such as M2 or M30", "stops.end"), ("the mark, such as %, or none", "program.end_mark")),
            ("stops.end", "program.end_mark"),
        ),
        Question(
            "Look at its first lines. Is there a mark, a program number, a block that sets everything to a known state?",
            (
                ("the mark", "program.start_mark"),
                ("the letter and digits of the number", "program.number"),
                ("the block", "program.safe_start"),
            ),
            ("program.start_mark", "program.number.letter", "program.safe_start"),
        ),
        Question(
            "How does the tool go clear before a tool change or a turn of the rotary?",
            (
                ("G53 and Z in machine coordinates", 'retract.form = "machine_zero", retract.machine_z'),
                ("G28 or the like to the reference point", 'retract.form = "reference"'),
                ("to a height in work coordinates", 'retract.form = "height"'),
            ),
            ("retract.form", "retract.machine_z"),
        ),
        Question(
            "How is a tool changed, and where does its length come from?",
            (
                ("a code such as M6, and a code such as G43 with a letter", "tool.change, tool.length_offset, tool.offset_letter"),
                ("by hand at a stop", 'tool.change = ""'),
                ("the length comes with the tool", 'tool.length_offset = ""'),
            ),
            ("tool.change", "tool.length_offset", "tool.offset_letter"),
        ),
        Question(
            "Are blocks numbered? Is there a space between words? How do comments look?",
            (("as you see them", "program.block_numbers.use, words.spaces, program.comments.style"),),
            ("program.block_numbers.use", "words.spaces", "program.comments.style", "program.comments.upper_case"),
        ),
        Question(
            "How does it say an arc?",
            (
                ("I, J, K as steps from the start of the arc", 'arcs.form = "centre", arcs.centre_is = "incremental"'),
                ("I, J, K as positions", 'arcs.centre_is = "absolute"'),
                ("R", 'arcs.form = "radius", arcs.full_circles = false'),
                ("there are none", 'arcs.form = "none"'),
            ),
            ("arcs.form", "arcs.centre_is", "arcs.full_circles"),
        ),
    ),
)

_NUMBERS = Chapter(
    "Numbers",
    (
        Question(
            "How many decimals does the controller take? Enter one digit more in manual input and see whether it refuses or rounds.",
            (("of lengths in mm and in inches, of angles", "numbers.length.decimals, .inch_decimals, numbers.angle.decimals"),),
            ("numbers.length.decimals", "numbers.length.inch_decimals", "numbers.angle.decimals"),
        ),
        Question(
            "What does it make of X10 without a point? Be careful: where numbers are counts, this is a hundredth of a millimetre.",
            (
                ("ten units", 'numbers.length.point = "when_needed"'),
                ("ten counts of the least increment, and X10. is ten units", 'numbers.length.point = "always"'),
                ("it takes no points at all, only counts", 'numbers.length.point = "counts"'),
            ),
            ("numbers.length.point", "numbers.angle.point", "numbers.feed.point"),
        ),
        Question(
            "Are programs in mm, in inches, or in both? Which codes say so?",
            (("the codes", "units.mm, units.inch"), ("always one of them", "units.program")),
            ("units.mm", "units.inch", "units.program"),
        ),
    ),
)

_MACHINE = Chapter(
    "The machine",
    (
        Question(
            "How far does each axis go from end to end?",
            (("mm", "linear.X.travel, linear.Y.travel, linear.Z.travel"),),
            ("linear.X.travel", "linear.Y.travel", "linear.Z.travel"),
        ),
        Question(
            "How fast does the spindle turn at most, and does it need time to come up?",
            (("revolutions per minute, seconds", "spindle.largest_rpm, spindle.dwell"),),
            ("spindle.largest_rpm", "spindle.dwell"),
        ),
        Question(
            "Which file ending does the controller want, and how long may a line be?",
            (("as it is", "program.extension, program.longest_line"),),
            ("program.extension", "program.longest_line"),
        ),
    ),
)
