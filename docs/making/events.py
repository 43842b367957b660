"""Every event of a program: when it comes, which facts its template may decide by and which ready words it may print."""

from __future__ import annotations

from making.markdown import block, code, page, table, target, text
from making.marked import alt, by_templates, chosen
from making.stated import ROOT, bundled
from steadyrest.events import EVENTS, EventRow
from steadyrest.profile import shared_templates_folder
from steadyrest.writing import FILTERS

_MAY = """A template is a file `EVENT.j2` in the `templates/` folder of a profile. The profile's own comes first, then its parents', then
the shared one shown here. It decides how an event looks, and nothing about motion: what happens, and when, is decided before.

What it may use, and nothing else:"""

_NAMES = (
    ("`facts.NAME`", "what the event is about: for `if` and `for`, and for texts through `comment(...)`; never printed as it is"),
    ("`words.NAME`", "ready words, with numbers in the profile's form; an empty word prints nothing"),
    ("`setting.GROUP.NAME`", "any setting of the profile, such as `setting.stops.end`"),
    ("`comment(...)`", "a comment in the controller's style, cleaned to its characters; parts are joined with spaces, empty ones left out"),
    ("`message(...)`", "the same, as a message that the controller shows to the operator"),
    ("`motion`", "the blocks of motion that belong to the event (a turn, a retract); the template has to print them where there are any"),
    ("`blocks`", "in `cycle` only: the blocks of the cycle; the template has to print them"),
)

_RULES = f"""Allowed constructs: `if`, `for`, `set`, `include`, comparisons, `and`, `or`, `not`;
filters {", ".join(map(code, sorted(FILTERS)))}.
Arithmetic, formatting of numbers, letters outside ASCII and any other call are errors with file and line, found before a program is
begun. A name that the event does not have is an error too. Empty lines are left out."""


def pages() -> dict[str, str]:
    """One page."""
    parts = [
        "What templates print is marked; the rest of a program is motion:",
        f"![{alt(chosen(by_templates))}](drawings/templates.svg)",
        _MAY,
        table(["name", "is"], _NAMES),
        _RULES,
        table(["event", "when"], [(_link(name), text(row.when)) for name, row in EVENTS.items()]),
    ]
    for name, row in EVENTS.items():
        parts += [target(f"event-{name}"), f"## {code(name)}", text(row.when), *_names(row), _shared(name), _own(name)]
    return {"events.md": page("Events and their templates", *parts)}


def undescribed() -> list[str]:
    """Events, facts and words of whose row a text is empty."""
    missing: list[str] = []
    for name, row in EVENTS.items():
        texts = {name: (row.when, row.why)} | {f"{name}.{fact}": (meaning,) for fact, meaning in row.facts.items()}
        texts |= {f"{name}.{word}": (one.meaning, one.says) for word, one in row.words.items()}
        missing += [what for what, said in texts.items() if not all(said)]
    return missing


def _link(name: str) -> str:
    return f"[`{name}`](#event-{name})"


def _names(row: EventRow) -> tuple[str, str]:
    facts = [(code(f"facts.{name}"), meaning) for name, meaning in sorted(row.facts.items())]
    words = [(code(f"words.{name}"), word.meaning) for name, word in sorted(row.words.items())]
    return table(["facts", "is"], facts), table(["words", "is"], words)


def _shared(name: str) -> str:
    file = shared_templates_folder() / f"{name}.j2"
    return f"Shared template:\n\n{block(file.read_text(encoding='utf-8'))}" if file.is_file() else "There is no shared template."


def _own(name: str) -> str:
    """Templates that profiles have of their own: the bundled ones, and the worked example of a shop."""
    found = sorted({each.resolved.chain[0] for each in bundled()} | set((ROOT / "examples").glob("*/controllers/*")))
    files = [folder / "templates" / f"{name}.j2" for folder in found]
    return "\n\n".join(
        f"The template of {code(file.parents[1].name)}:\n\n{block(file.read_text(encoding='utf-8'))}" for file in files if file.is_file()
    )
