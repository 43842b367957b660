"""The events of a program: all that happens in it besides plain motion, one row each, and everything that is to be known of it.

Planning makes them, a template of the same name says how each looks, and from its row come the names that the template may use, the codes
of its ready words, what the controller forgets, what `explain` says and the page of events in the documentation. An event that has no row
is a mistake of ours, found where it is made; only a plug-in brings events of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class EventWord:
    """A word that is ready for a template, or that stands in a block of a cycle. {NAME} in its texts is a fact of the event, or one of
    `unit` (mm, inch), `distance` (absolute, incremental), `mode` (of feeds: per_minute, inverse), `stop` (program, optional), `stop_name`.

    meaning    what it is, for whoever writes a template; empty for a word of a block
    says       what it says, for whoever asks `explain`; `rotary.*` in keys is the rotary that the program turns
    code       key of the setting that is the word; empty for a number, which planning hands over or the writer counts
    settings   keys of what else it comes from, the nearest first
    needs      what cannot be said without the code; empty: the word may be empty
    only       facts with their values: the word is empty where one of them has another
    """

    meaning: str
    says: str
    code: str = ""
    settings: tuple[str, ...] = ()
    needs: str = ""
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class EventRow:
    """One event.

    when       where in a program it comes
    why        why it is there, for whoever asks `explain`, and the keys of the settings that decide it, `why_settings`
    facts      what its template may decide by and say in comments
    words      what its template may print
    block      words in blocks of its own, which the template prints as a whole
    forgets    all modal words are said again after it: what the controller holds may have been changed, by the event or by a hand
    former     what it was called once: a template of that name would be passed over in silence
    """

    when: str
    why: str
    why_settings: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, EventWord] = field(default_factory=dict)
    block: Mapping[str, EventWord] = field(default_factory=dict)
    forgets: bool = False
    former: str = ""


_PAUSE = ("codes.dwell_letter", "codes.dwell_unit")
_CLAMP = "rotary.*.clamp"
_CLAMPED = {"rotary": "the rotary that the clamp is of, by its letter in the profile"}
_STEP = {"form": ("reference",), "distance": ("absolute",)}

EVENTS: Mapping[str, EventRow] = {
    "program_start": EventRow(
        when="First in every program.",
        why="the program begins: marks, comments for the operator, the safe start block",
        facts={
            "name": "name of the part, from the toolpath",
            "units": "`mm` or `inch`: the units of the program",
            "toolpath": "name of the toolpath's file, without its folder; empty for one in memory",
            "tools": "a list: each tool as `T3 6 mm end mill`",
            "digest": "the line that says which toolpath and profile the program was proved against",
            "mounting": "how the rotary is mounted, in a sentence; empty where the program needs none",
            "rotaries": "a list, with a chain of two rotaries or a head: which carries what, and which way each turns; else empty",
            "assumed": "a list, as `rotaries`: the lines of the machine, and gauge lengths, that the numbers of the program hold",
            "held": "where the stock is held, and whether the job was turned end for end; empty where the toolpath says nothing",
            "turns": "which way a positive word turns the chuck, looking at its face; empty where the program needs no rotary",
            "accepted": "the findings that the user took on themselves with `--accept`; empty without any",
            "caution": "what to mind at the first run",
            "axis": "the toolpath's axis of rotation: `X`, `Y` or `Z`",
        },
        words={
            "program_name": EventWord(
                "what stands directly after the start mark; empty unless `program.name_letters` says so",
                "the part's name, behind the start mark",
                settings=("program.name_letters",),
            ),
            "program_number": EventWord(
                "the program number, such as `O0042`; empty where the controller has none",
                "the number under which the controller keeps the program",
                settings=("program.number.letter", "program.number.default", "program.number.digits"),
            ),
            "units": EventWord(
                "the code for the units; empty where the controller has no choice",
                "the units of the program",
                "units.{unit}",
                ("units.program",),
                "a program in {unit}",
            ),
            "distance": EventWord(
                "the code for positions, or for steps where `words.distance` says so",
                "what axis words say: positions or steps",
                "codes.{distance}",
                ("words.distance",),
            ),
            "feed_mode": EventWord(
                "the code for feed per minute; empty where the controller has no other mode", "feed per minute", "feed.per_minute_code"
            ),
            "plane": EventWord("the code for the XY plane", "arcs and cycles in XY", "codes.plane_xy"),
            "work_offset": EventWord("the code of the work offset; may be empty", "the work offset", "codes.work_offset"),
        },
        forgets=True,
    ),
    "operation_start": EventRow(
        when="Before each operation of the toolpath, once, before its tool change.",
        why="an operation of the toolpath begins",
        facts={
            "number": "number of the operation, from 1",
            "name": "its name in the toolpath; may be empty",
            "intent": "`indexed`, `wrapped`, `simultaneous` or `still`",
        },
    ),
    "tool_change": EventRow(
        when="Where an operation needs another tool than the one before, and at the first.",
        why="this operation's tool is not the one from before",
        why_settings=("tool.change",),
        facts={
            "number": "number of the tool",
            "name": "its name in the toolpath; may be empty",
            "first": "true for the first tool of the program",
        },
        words={
            "tool": EventWord("the tool word, such as `T3`", "the toolpath's tool number", settings=("tool.letter", "tool.digits")),
            "offset": EventWord(
                "the word of its length offset, such as `H3`",
                "the length offset has the tool's number",
                settings=("tool.offset_letter", "tool.offset_digits"),
            ),
        },
        forgets=True,
    ),
    "spindle_start": EventRow(
        when="Where the spindle starts, or changes its speed or sense.",
        why="this operation's spindle speed or sense is not the one from before",
        facts={"turns": "`clockwise` or `counterclockwise`"},
        words={
            "speed": EventWord("the speed word, such as `S8000`", "the operation's spindle speed", settings=("numbers.spindle.decimals",)),
            "spindle": EventWord(
                "the code that starts the spindle in the sense asked for",
                "the spindle {turns}",
                "spindle.{turns}",
                needs="a spindle that turns {turns}",
            ),
        },
    ),
    "spindle_stop": EventRow(
        when="Before a tool change and at the end, if the spindle turns.",
        why="the spindle is stopped before a tool change, before it turns the other way, and at the end",
        words={"spindle": EventWord("the code that stops the spindle", "the spindle stops", "spindle.stop", needs="stopping the spindle")},
    ),
    "coolant_on": EventRow(
        when="Where coolant starts or changes.",
        why="this operation asks for coolant",
        facts={"coolant": "`flood`, `mist`, `air` or `through`"},
        words={
            "coolant": EventWord(
                "the code of the coolant asked for", "coolant: {coolant}", "coolant.{coolant}", needs="coolant '{coolant}'"
            )
        },
    ),
    "coolant_off": EventRow(
        when="Where coolant stops: before a tool change, at the end, and where an operation wants none.",
        why="coolant is turned off before a tool change, before another kind of it, and at the end",
        words={"coolant": EventWord("the code for all coolant off", "all coolant off", "coolant.off", needs="coolant off")},
    ),
    "retract": EventRow(
        when="Where the tool goes clear along the spindle: before the rotary turns far, at a tool change and after it, and at the end.",
        why="the tool goes clear along the spindle before the rotary turns, a tool changes, or the program ends",
        why_settings=("retract.form",),
        facts={"form": "`machine_zero`, `reference` or `height`, as `retract.form` of the profile"},
        words={
            "machine_z": EventWord(
                "`Z` in machine coordinates, for `machine_zero`",
                "Z in machine coordinates, clear of everything",
                settings=("retract.machine_z",),
            ),
            "machine": EventWord(
                "the code for one block in machine coordinates, for `machine_zero`",
                "one block in machine coordinates",
                "retract.machine_code",
                ("retract.form",),
                "machine coordinates",
                {"form": ("machine_zero",)},
            ),
            "reference": EventWord(
                "the code for the reference point, for `reference`",
                "to the reference point",
                "retract.reference_code",
                ("retract.form",),
                "the reference point",
                {"form": ("reference",)},
            ),
            "here": EventWord(
                "a step of nothing in Z, so that the way to the reference point is straight up",
                "a step of nothing, so that the way is straight",
                settings=("retract.form",),
            ),
            "rapid": EventWord(
                "the code of a rapid", "at rapid", "codes.rapid", needs="a rapid", only={"form": ("machine_zero", "reference")}
            ),
            "absolute": EventWord(
                "the code for positions, after the step of nothing; empty where words are steps throughout",
                "positions again",
                "codes.absolute",
                needs="going back to positions after it",
                only=_STEP,
            ),
            "incremental": EventWord(
                "the code for steps, for the step of nothing; empty where words are steps throughout",
                "steps, for this block",
                "codes.incremental",
                needs="a step of nothing on the way to the reference point",
                only=_STEP,
            ),
        },
        forgets=True,
    ),
    "unclamp": EventRow(
        when="Before the rotary turns, where the clamp holds it.",
        why="the clamp is released: the rotary never turns while it is on",
        why_settings=(f"{_CLAMP}.use",),
        facts=_CLAMPED,
        words={
            "clamp": EventWord("the code that releases the clamp", "the clamp off", f"{_CLAMP}.off", needs="clamping the rotary"),
            "dwell": EventWord("the pause after it; empty for none", "time for the clamp to let go", settings=(f"{_CLAMP}.dwell", *_PAUSE)),
        },
        forgets=True,
    ),
    "clamp": EventRow(
        when="After the rotary has turned and before an indexed or still operation cuts.",
        why="the rotary is clamped: an indexed cut is never made with the clamp off",
        why_settings=(f"{_CLAMP}.use",),
        facts=_CLAMPED,
        words={
            "clamp": EventWord("the code that clamps", "the clamp on", f"{_CLAMP}.on", needs="clamping the rotary"),
            "dwell": EventWord("the pause after it; empty for none", "time for the clamp to hold", settings=(f"{_CLAMP}.dwell", *_PAUSE)),
        },
        forgets=True,
    ),
    "index": EventRow(
        when="Where the rotary turns to the angle of an indexed or still operation.",
        why="the rotary turns, with the tool clear",
        why_settings=("rotary.*.unwinding.between", "rotary.*.travel.kind"),
        words={
            "angle": EventWord("the number of the angle; the turn itself is `motion`", "the angle that the rotary turns to"),
            "second_angle": EventWord(
                "of two rotaries the angle of the one nearer to the spindle, `angle` being that of the one nearer to the part; else empty",
                "the angle that the rotary nearer to the spindle turns to",
            ),
        },
        forgets=True,
    ),
    "dwell": EventRow(
        when="A pause: one that the toolpath asks for, one at the bottom of a hole written out, one for the spindle to come up to speed.",
        why="the toolpath pauses here",
        why_settings=("codes.dwell",),
        words={
            "time": EventWord(
                "the time, in the letter and unit of `codes.dwell_letter` and `codes.dwell_unit`", "how long", settings=_PAUSE
            )
        },
    ),
    "stop": EventRow(
        when="A stop that the toolpath asks for.",
        why="the toolpath stops here",
        facts={"optional": "true: only if the operator has chosen optional stops"},
        words={"stop": EventWord("the code of a stop, or of an optional one", "the program stops", "stops.{stop}", needs="{stop_name}")},
        forgets=True,
    ),
    "note": EventRow(
        when="Text for the operator that the toolpath asks for.",
        why="a note of the toolpath for the operator",
        facts={"text": "the text"},
    ),
    "cycle": EventRow(
        when="Holes of one drilling cycle that the controller speaks.",
        why="holes that are alike go into one drilling cycle",
        why_settings=("cycles.return_to_r", "cycles.depth_from"),
        facts={"cycle": "`drill`, `dwell-drill`, `peck`, `chip-break`, `tap` or `bore`"},
        block={
            "z": EventWord("", "the bottom of the hole", settings=("cycles.depth_from",)),
            "r": EventWord(
                "", "the level from which the tool feeds, and to which it returns", settings=("cycles.r_letter", "cycles.depth_from")
            ),
            "peck": EventWord("", "the step of a peck", settings=("cycles.peck_letter",)),
            "dwell": EventWord("", "the pause at the bottom", settings=("cycles.dwell_letter", "codes.dwell_unit")),
            "feed": EventWord("", "the feed of the tip", settings=("numbers.feed.decimals",)),
            "X": EventWord("", "the place of the hole along X"),
            "Y": EventWord("", "the place of the hole along Y"),
            "cycle": EventWord("", "the drilling cycle '{cycle}'", "cycles.{cycle}"),
            "return_to_r": EventWord("", "up to the R level after each hole", "cycles.return_to_r"),
            "cancel": EventWord("", "no cycle any more", "cycles.cancel"),
            "feed_mode": EventWord("", "feed per minute: no cycle is spoken in inverse time", "feed.per_minute_code"),
            "plane": EventWord("", "cycles in XY", "codes.plane_xy"),
        },
        forgets=True,
    ),
    "turn_back": EventRow(
        when="Where one cut needs more than the rotary's travel: it is turned back whole turns with the tool retracted.",
        why="the rotary's travel ends inside a cut: up, back whole turns, down again",
        why_settings=("rotary.*.travel.from", "rotary.*.travel.to", "rotary.*.travel.when_exceeded"),
        facts={"turns": "how many whole turns, with their sign"},
        forgets=True,
        former="rewind",
    ),
    "reorient": EventRow(
        when="Where one cut fits in no travel of two rotaries: they are turned with the tool withdrawn, also into the other solution.",
        why="the travel of a rotary ends inside a cut: out along the tool axis, turn, back along it to where the cut was left",
        why_settings=("rotary.*.travel.from", "rotary.*.travel.to", "rotary.*.prefer", "reorient.inside_a_cut"),
        facts={"angles": "the angles to which the rotaries turn, as `C 90, A -30`"},
        forgets=True,
    ),
    "program_end": EventRow(
        when="Last in every program.",
        why="the program ends",
        why_settings=("stops.end",),
        words={
            "feed_mode": EventWord(
                "the code for feed per minute, where inverse time is on; empty otherwise",
                "back to feed per minute",
                "feed.per_minute_code",
                only={"mode": ("inverse",)},
            ),
            "end": EventWord("the code that ends the program", "the program ends", "stops.end", needs="the end of the program"),
        },
    ),
}


def check_event(name: str, facts: Mapping[str, object], words: Mapping[str, object]) -> None:
    """ValueError for an event that has no row here, or with a fact or word that its row does not have: a mistake of ours."""
    row = EVENTS.get(name)
    if row is None:
        raise ValueError(f"no event is called '{name}': give it a row in steadyrest.events")
    unknown = sorted((facts.keys() - row.facts.keys()) | (words.keys() - row.words.keys() - row.block.keys()))
    if unknown:
        raise ValueError(f"the event '{name}' has no {', '.join(unknown)}: say in its row in steadyrest.events what it is")
