"""Every kind of error and notice, exit codes, and every message that the program can say, taken from the source itself."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter

import steadyrest
from making import terminals
from making.markdown import block, code, page, table, target, text
from steadyrest import errors, notices
from steadyrest.errors import InputError, Place, ProfileError, SteadyrestError, ToolpathError
from steadyrest.notices import KINDS, noticed

SOURCE = Path(inspect.getfile(steadyrest)).parent

_RULES = {"impossible": ProfileError, "broken_rule": ToolpathError, "_error": InputError}
"""Rules of the models raise their sentences through these."""

_SAMPLES = {
    "moves": 3,
    "holes": 3,
    "asked": 600.0,
    "lowest": 240.0,
    "worst_percent": 0.4,
    "turns": -2,
    "blocks": 48,
    "text": "nut \N{LATIN SMALL LETTER O WITH DIAERESIS}",
    "written": "nut O",
    "arcs": 12,
    "tolerance": 0.002,
    "face": 270.0,
    "width": 130.0,
    "way_round": 125.664,
    "times_round": 1.034,
    "diameter": 39.0,
    "stock": 40.0,
    "apart": 0.5,
}

EXIT_CODES = (
    ("0", "done: the program is proved and in place, or what was asked for was printed"),
    (
        "1",
        "what was given is wrong: toolpath, profile, template, program, output. The message names place and cure; nothing was written",
    ),
    ("2", "usage: an option or argument that does not exist, is missing, or has a value of the wrong kind"),
    (
        "3",
        "refused: the outcome is `stop` (not proved, or it must not run), a check found a program that does not cut what it should, or "
        "touches do not agree. The file is as it was before",
    ),
    ("130", "stopped by hand; the message names what had been put in place, mostly nothing"),
    ("143", "terminated by the system; the half-written file is removed"),
)

ERROR_KEYS = {
    "kind": "the name of its class: see below",
    "exit_code": "1 or 3",
    "wrong": "what is wrong, with what is allowed",
    "cure": "what to do; empty where it is obvious",
    "file": "the file with the mistake. Null, as all that follow, where it is not known or does not apply",
    "line": "its line, from 1",
    "column": "its column, from 1",
    "operation": "number of the toolpath's operation, from 1",
    "operation_name": "its name",
    "move": "number of the move in it, from 1",
    "key": "the key of the file, or the setting",
    "angle_deg": "the angle of an indexed operation at which it is wrong, degrees",
    "plane": "the plane of an indexed operation in which it is wrong, from 1",
    "also": "what else is wrong with the same file: a list of the same form; empty where nothing else is known",
}

_PLACES = "Angle brackets stand for what is found at the time: `<name>` is replaced by a name."


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence that the source can say: the class that carries it, the cure beside it, the module."""

    carrier: str
    sentence: str
    cure: str
    module: str


def error_classes() -> list[type[SteadyrestError]]:
    """The tree of errors, parents before children."""
    found: list[type[SteadyrestError]] = []

    def walk(parent: type[SteadyrestError]) -> None:
        found.append(parent)
        for child in sorted(parent.__subclasses__(), key=lambda each: each.__name__):
            if child.__module__ == errors.__name__:
                walk(child)

    walk(SteadyrestError)
    return found


def sample(kind: str) -> str:
    """What a notice of this kind says, with made-up values."""
    names = [name for _, name, _, _ in Formatter().parse(KINDS[kind][1]) if name]
    return noticed(kind, Place(), **{name: _SAMPLES.get(name, f"<{name}>") for name in names}).sentence()


@cache
def messages() -> tuple[Message, ...]:
    """Every message in the source whose sentence stands there, in the order of the files."""
    return tuple(message for file in sorted(SOURCE.rglob("*.py")) for message in _messages(file))


def _messages(file: Path) -> Iterator[Message]:
    names = {each.__name__ for each in error_classes()}
    module = ".".join(file.relative_to(SOURCE).with_suffix("").parts)
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name) or not node.args:
            continue
        called = node.func.id
        if called not in names | _RULES.keys():
            continue
        carrier = called if called in names else _RULES[called].__name__
        if called == "broken_rule" and module.startswith("inputs."):
            carrier = InputError.__name__
        sentence = said_in(node.args[called == "_error"])  # after its key
        cure = next((said_in(keyword.value) for keyword in node.keywords if keyword.arg == "cure"), "")
        if called in ("broken_rule", "_error") and len(node.args) > 1:
            cure = said_in(node.args[-1])
        if sentence and any(part[:1] != "<" for part in sentence.split()):
            yield Message(carrier, sentence, cure, module)


def said_in(node: ast.expr) -> str:
    """The text of an expression with what is filled in at the time between angle brackets; empty where there is none to see."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(said_in(part) if isinstance(part, ast.Constant) else _filled(part) for part in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return said_in(node.left) + said_in(node.right)
    if isinstance(node, ast.IfExp):
        return " / ".join(filter(None, [said_in(node.body), said_in(node.orelse)]))
    if isinstance(node, ast.Constant):
        return ""
    return f"<{_short(node)}>"


def _filled(part: ast.expr) -> str:
    assert isinstance(part, ast.FormattedValue)
    if isinstance(part.value, ast.IfExp):
        return said_in(part.value) or "<...>"
    return f"<{_short(part.value)}>"


def _short(node: ast.expr) -> str:
    """A name for what is filled in: the last name in the expression."""
    names = [
        each.attr if isinstance(each, ast.Attribute) else each.id for each in ast.walk(node) if isinstance(each, ast.Attribute | ast.Name)
    ]
    return names[0].strip("_").replace("_", " ") if names else "..."


def pages() -> dict[str, str]:
    """Errors and exit codes, notices, and the list of messages."""
    return {"errors.md": _errors(), "notices.md": _notices(), "messages.md": _all_messages()}


def _errors() -> str:
    parts = [
        "A message has three parts: where (file, line, operation, move or key), what is wrong and what is allowed, and the cure. "
        "Bad input never ends in a traceback, and never leaves a partly written program.",
        terminals.picture("no-stock"),
        "## Exit codes",
        table(["code", "means"], EXIT_CODES),
        "## As data",
        "A command with `--json` that ends with exit code 1 or 3 prints an object with the key `error` on stdout, besides its "
        "message on stderr. If the outcome is `stop`, the keys of [the verdict](verdict.md) come with it: those of `post` directly, "
        "those of `deliver` under `proof`, as when all went well. Where the result itself is the refusal, it is printed as "
        "[any other](json.md), without `error`: a verdict of `prove`, `report`, `picture` or `setup-sheet`, a `controller check` with "
        "findings, touches of `centre find` that do not agree. A mistake in an option (exit code 2) is printed on stderr only.",
        table(["key of `error`", "is"], [(code(key), meaning) for key, meaning in ERROR_KEYS.items()]),
        "## Kinds of errors",
    ]
    for each in error_classes():
        parents = " > ".join(parent.__name__ for parent in reversed(each.__mro__) if issubclass(parent, SteadyrestError))
        count = sum(message.carrier == each.__name__ for message in messages())
        listed = (
            f"[Its {count} messages](#messages-{each.__name__.lower()}); exit code {each.exit_code}."
            if count
            else f"Exit code {each.exit_code}."
        )
        parts += [
            target(f"error-{each.__name__.lower()}"),
            f"### {code(each.__name__)}",
            text(inspect.getdoc(each) or ""),
            code(parents),
            listed,
        ]
    return page("Errors and exit codes", *parts)


def _notices() -> str:
    parts = [
        text(inspect.getdoc(notices) or ""),
        "The screen lists them under *Changed from the toolpath*, the JSON under `changed`, each with its `kind`: the name here. "
        "The numbers in the examples are made up.",
    ]
    parts.append(terminals.picture("other-end"))
    for kind, (meaning, _) in KINDS.items():
        parts += [target(f"notice-{kind.lower()}"), f"## {code(kind)}", text(meaning), block(sample(kind))]
    return page("Notices", *parts)


def _all_messages() -> str:
    parts = [
        "Every message in the source, with its cure, by the kind of error. " + _PLACES,
        terminals.picture("wrong-setting"),
        "The findings of the proof are on [a page of their own](verdict.md).",
    ]
    for each in error_classes():
        rows = sorted({(text(m.sentence), text(m.cure), code(m.module)) for m in messages() if m.carrier == each.__name__})
        if rows:
            parts += [
                target(f"messages-{each.__name__.lower()}"),
                f"## {code(each.__name__)}",
                table(["what is wrong", "cure", "module"], rows),
            ]
    return page("Messages", *parts)
