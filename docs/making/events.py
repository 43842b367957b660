"""Every event of a program: when it comes, which facts its template may decide by and which ready words it may print."""

from __future__ import annotations

from making.markdown import block, code, page, table, target, text
from making.stated import ROOT, bundled
from steadyrest.profile import shared_templates_folder
from steadyrest.writing.template_rules import _FILTERS as FILTERS
from steadyrest.writing.template_rules import EVENTS

WHEN = {
    "program_start": "First in every program.",
    "operation_start": "Before each operation of the toolpath, once, before its tool change.",
    "tool_change": "Where an operation needs another tool than the one before, and at the first.",
    "spindle_start": "Where the spindle starts, or changes its speed or sense.",
    "spindle_stop": "Before a tool change and at the end, if the spindle turns.",
    "coolant_on": "Where coolant starts or changes.",
    "coolant_off": "Where coolant stops: before a tool change, at the end, and where an operation wants none.",
    "retract": "Where the tool goes clear along the spindle: before the rotary turns far, at a tool change and after it, and at the end.",
    "unclamp": "Before the rotary turns, where the clamp holds it.",
    "clamp": "After the rotary has turned and before an indexed or still operation cuts.",
    "index": "Where the rotary turns to the angle of an indexed or still operation.",
    "dwell": "A pause: one that the toolpath asks for, one at the bottom of a hole written out, one for the spindle to come up to speed.",
    "stop": "A stop that the toolpath asks for.",
    "note": "Text for the operator that the toolpath asks for.",
    "cycle": "Holes of one drilling cycle that the controller speaks.",
    "turn_back": "Where one cut needs more than the rotary's travel: it is turned back whole turns with the tool retracted.",
    "program_end": "Last in every program.",
}

FACTS = {
    "program_start.name": "name of the part, from the toolpath",
    "program_start.units": "`mm` or `inch`: the units of the program",
    "program_start.toolpath": "name of the toolpath's file, without its folder; empty for one in memory",
    "program_start.tools": "a list: each tool as `T3 6 mm end mill`",
    "program_start.digest": "the line that says which toolpath and profile the program was proved against",
    "program_start.mounting": "how the rotary is mounted, in a sentence; empty where the program needs none",
    "program_start.held": "where the stock is held, and whether the job was turned end for end; empty where the toolpath says nothing",
    "program_start.turns": "which way a positive word turns the chuck, looking at its face; empty where the program needs no rotary",
    "program_start.accepted": "the findings that the user took on themselves with `--accept`; empty without any",
    "program_start.caution": "what to mind at the first run",
    "program_start.axis": "the toolpath's axis of rotation: `X`, `Y` or `Z`",
    "operation_start.number": "number of the operation, from 1",
    "operation_start.name": "its name in the toolpath; may be empty",
    "operation_start.intent": "`indexed`, `wrapped`, `simultaneous` or `still`",
    "tool_change.number": "number of the tool",
    "tool_change.name": "its name in the toolpath; may be empty",
    "tool_change.first": "true for the first tool of the program",
    "spindle_start.turns": "`clockwise` or `counterclockwise`",
    "coolant_on.coolant": "`flood`, `mist`, `air` or `through`",
    "retract.form": "`machine_zero`, `reference` or `height`, as `retract.form` of the profile",
    "stop.optional": "true: only if the operator has chosen optional stops",
    "note.text": "the text",
    "cycle.cycle": "`drill`, `dwell-drill`, `peck`, `chip-break`, `tap` or `bore`",
    "turn_back.turns": "how many whole turns, with their sign",
}

WORDS = {
    "program_start.program_name": "what stands directly after the start mark; empty unless `program.name_letters` says so",
    "program_start.program_number": "the program number, such as `O0042`; empty where the controller has none",
    "program_start.units": "the code for the units; empty where the controller has no choice",
    "program_start.distance": "the code for positions, or for steps where `words.distance` says so",
    "program_start.feed_mode": "the code for feed per minute; empty where the controller has no other mode",
    "program_start.plane": "the code for the XY plane",
    "program_start.work_offset": "the code of the work offset; may be empty",
    "tool_change.tool": "the tool word, such as `T3`",
    "tool_change.offset": "the word of its length offset, such as `H3`",
    "spindle_start.speed": "the speed word, such as `S8000`",
    "spindle_start.spindle": "the code that starts the spindle in the sense asked for",
    "spindle_stop.spindle": "the code that stops the spindle",
    "coolant_on.coolant": "the code of the coolant asked for",
    "coolant_off.coolant": "the code for all coolant off",
    "retract.machine_z": "`Z` in machine coordinates, for `machine_zero`",
    "retract.machine": "the code for one block in machine coordinates, for `machine_zero`",
    "retract.reference": "the code for the reference point, for `reference`",
    "retract.here": "a step of nothing in Z, so that the way to the reference point is straight up",
    "retract.rapid": "the code of a rapid",
    "retract.absolute": "the code for positions, after the step of nothing; empty where words are steps throughout",
    "retract.incremental": "the code for steps, for the step of nothing; empty where words are steps throughout",
    "unclamp.clamp": "the code that releases the clamp",
    "unclamp.dwell": "the pause after it; empty for none",
    "clamp.clamp": "the code that clamps",
    "clamp.dwell": "the pause after it; empty for none",
    "index.angle": "the word of the angle; the turn itself is `motion`",
    "dwell.time": "the time, in the letter and unit of `codes.dwell_letter` and `codes.dwell_unit`",
    "stop.stop": "the code of a stop, or of an optional one",
    "program_end.feed_mode": "the code for feed per minute, where inverse time is on; empty otherwise",
    "program_end.end": "the code that ends the program",
}

_MAY = """A template is a file `EVENT.j2` in the `templates/` folder of a profile. The profile's own comes first, then its parents', then
the shared one shown here. It says how an event looks and decides nothing about motion: what happens, and when, is decided before.

What it may use, and nothing else:"""

_NAMES = (
    ("`facts.NAME`", "what the event is about: to decide by (`if`, `for`), and to say through `comment(...)`; never printed as it stands"),
    ("`words.NAME`", "ready words, numbers already spelled as the profile says; a word that is empty prints nothing"),
    ("`setting.GROUP.NAME`", "any setting of the profile, such as `setting.stops.end`"),
    ("`comment(...)`", "a comment in the controller's style, cleaned to its characters; parts are joined with spaces, empty ones left out"),
    ("`message(...)`", "the same, as a message that the controller shows to the operator"),
    ("`motion`", "the blocks of motion that belong to the event (a turn, a retract); has to be printed where there are any"),
    ("`blocks`", "in `cycle` only: the blocks of the cycle; has to be printed"),
)

_RULES = f"""Allowed constructs: `if`, `for`, `set`, `include`, comparisons, `and`, `or`, `not`;
filters {", ".join(map(code, sorted(FILTERS)))}.
No arithmetic, no formatting of numbers, no letters outside ASCII, no other call: each is an error with file and line, found before
a program is begun. A name that the event does not have is an error too. Lines that come out empty are left out."""


def pages() -> dict[str, str]:
    """One page."""
    parts = [_MAY, table(["name", "is"], _NAMES), _RULES, table(["event", "when"], [(_link(name), text(_when(name))) for name in EVENTS])]
    for name, (facts, words) in EVENTS.items():
        parts += [
            target(f"event-{name}"),
            f"## {code(name)}",
            text(_when(name)),
            _names("facts", name, facts),
            _names("words", name, words),
        ]
        parts += [_shared(name), _own(name)]
    return {"events.md": page("Events and their templates", *parts)}


def undescribed() -> list[str]:
    """Events, facts and words that nothing is said about here."""
    names = [("event", name, WHEN) for name in EVENTS]
    names += [("fact", f"{name}.{fact}", FACTS) for name, (facts, _) in EVENTS.items() for fact in facts]
    names += [("word", f"{name}.{word}", WORDS) for name, (_, words) in EVENTS.items() for word in words]
    return [f"{kind} {name}" for kind, name, said in names if name not in said]


def _when(name: str) -> str:
    return WHEN.get(name, "")


def _link(name: str) -> str:
    return f"[`{name}`](#event-{name})"


def _names(kind: str, event: str, names: frozenset[str]) -> str:
    said = FACTS if kind == "facts" else WORDS
    return table([kind, "is"], [(code(f"{kind}.{name}"), said.get(f"{event}.{name}", "")) for name in sorted(names)])


def _shared(name: str) -> str:
    file = shared_templates_folder() / f"{name}.j2"
    return f"Shared template:\n\n{block(file.read_text(encoding='utf-8'))}" if file.is_file() else "There is no shared template."


def _own(name: str) -> str:
    """Templates that profiles have of their own: the bundled ones, and the worked example of a shop."""
    found = sorted({each.resolved.chain[0] for each in bundled()} | set((ROOT / "examples").glob("*/controllers/*")))
    files = [folder / "templates" / f"{name}.j2" for folder in found]
    return "\n\n".join(
        f"As {code(file.parents[1].name)} says it:\n\n{block(file.read_text(encoding='utf-8'))}" for file in files if file.is_file()
    )
