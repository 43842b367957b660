"""The JSON of the commands that print no verdict alone, key by key, with real ones; whether anything is undescribed or made up."""

from __future__ import annotations

import json
import typing
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import click

from making import terminals, verdict
from making.commands import every
from making.markdown import block, code, page, table, target
from making.printed_keys import PRINTED, Printed
from making.printed_samples import samples
from steadyrest.cli import main
from steadyrest.profile_tools.checks import Level
from steadyrest.profile_tools.trial import Outcome

OF_VERDICT = ("post", "prove")
"""Documented on the verdict's own page."""

WORDS = {
    ("controller check", "results.level"): Level,
    ("controller compare", "programs.first.outcome"): Outcome,
}
"""Texts that are one of a few words: a script compares with them."""

ANY = "any"
ABSENT = "absent"
KINDS = {bool: "true or false", int: "whole number", float: "number", str: "text", type(None): "null", dict: "object"}


def pages() -> dict[str, str]:
    """One page."""
    parts = [
        "`--json` prints the result on stdout as one JSON object (RFC 8259); the screen for a person stays on stderr.",
        f"The forms are stable in the same sense as [the verdict](verdict.md), which {_listed(OF_VERDICT)} print: keys are only ever added "
        "and never change their meaning, so a script should pass over keys that it does not know.",
        "An error is data too: a command that ends with exit code 1 or 3 without a result prints [`error`](errors.md#as-data) instead. "
        "A result that is a refusal comes with one of these codes as well, and without `error`: see each command below.",
        "Keys of the entries of a list are given under the list's name. A key is null only where its kind has *or null*, or where a number "
        "is not finite, which JSON cannot hold; it is always there unless it is marked *not always there*.",
    ]
    for command, printed in PRINTED.items():
        heading = " and ".join(code(name) for name in (command, *printed.also))
        rows = [(code(key), _said(kinds), meaning) for key, (kinds, meaning) in printed.keys.items()]
        parts += [
            target("json-" + command.replace(" ", "-")),
            f"## {heading}",
            printed.says,
            table(["key", "is", "meaning"], rows),
            "For example, with long lists cut short:" if not printed.verdicts else "For example, with little of the verdict:",
            block(json.dumps(_short(samples()[command][0], printed), indent=2), "json"),
        ]
    return {"json.md": page("What commands print as JSON", parts[0], terminals.picture("json"), *parts[1:])}


def undescribed() -> list[str]:
    """What real results and what is said here do not have in common: keys, kinds of values, words to compare with, commands."""
    wrong = [f"command {name}" for name in sorted(_commands() ^ {*OF_VERDICT, *(name for names in _named() for name in names)})]
    for command, printed in PRINTED.items():
        wrong += [f"{command}: {each}" for each in differences(samples()[command], printed)]
    for (command, key), words in WORDS.items():
        meaning = PRINTED[command].keys[key][1]
        wrong += [f"{command}: {key} does not say `{word}`" for word in typing.get_args(words) if f"`{word}`" not in meaning]
    return wrong


def differences(results: Sequence[Any], printed: Printed) -> Iterator[str]:
    """Keys and kinds of values that results have and a description has not, or the other way round."""
    found = kinds_in(results, printed)
    for key in [*printed.keys, *(key for key in found if key not in printed.keys)]:
        said = set(printed.keys[key][0].split(" | ")) if key in printed.keys else set()
        seen = found.get(key, set())
        if ANY in said and seen:
            said, seen = said - {ANY}, seen & {ABSENT}
        yield from (f"{key} is {kind}, and nothing says so" for kind in sorted(seen - said))
        yield from (f"{key} is said to be {kind}, and never is" for kind in sorted(said - seen))


def kinds_in(results: Sequence[Any], printed: Printed) -> dict[str, set[str]]:
    """The kinds of values at every key, "absent" among them where an object lacks it; keys of the verdict are left out."""
    found: dict[str, set[str]] = {}
    objects: dict[str, list[Mapping[str, Any]]] = {}

    def walk(value: Any, at: str) -> None:
        if at in printed.keys and printed.keys[at][0].split(" | ")[0] == ANY:
            found.setdefault(at, set()).add(ANY)
        elif isinstance(value, Mapping):
            found.setdefault(at, set()).add("object")
            objects.setdefault(at, []).append(value)
            for key, inner in value.items():
                name = "AXIS" if f"{at}.AXIS" in printed.keys else key
                if not (at in printed.verdicts and key in verdict.KEYS):
                    walk(inner, f"{at}.{name}" if at else name)
        elif isinstance(value, list):
            for each in value:
                kind = KINDS.get(type(each), "object")
                found.setdefault(at, set()).add(f"list of {kind}s")
                if isinstance(each, Mapping):
                    walk(each, at)
                    found[at].discard("object")
        else:
            found.setdefault(at, set()).add(KINDS[type(value)])

    for result in results:
        walk(result, "")
    for key, kinds in found.items():
        parent, _, last = key.rpartition(".")
        if key and last != "AXIS" and any(last not in each for each in objects.get(parent, [])):
            kinds.add(ABSENT)
    found.pop("", None)
    return found


def _commands() -> set[str]:
    """The commands that have the option."""
    return {
        " ".join(path[1:])
        for path, command in every(main, ("steadyrest",))
        if any("--json" in option.opts for option in command.params if isinstance(option, click.Option))
    }


def _named() -> list[tuple[str, ...]]:
    return [(command, *printed.also) for command, printed in PRINTED.items()]


def _listed(names: Sequence[str]) -> str:
    return ", ".join(code(name) for name in names[:-1]) + f" and {code(names[-1])}"


def _said(kinds: str) -> str:
    """Kinds as a sentence says them."""
    each = kinds.split(" | ")
    there = " or ".join(kind for kind in each if kind != ABSENT).replace(ANY, "any value")
    return f"{there}; not always there" if ABSENT in each else there


def _short(value: Any, printed: Printed, at: str = "") -> Any:
    """With few entries of each list, numbers short enough to read, and of a verdict whether it is proved."""
    if isinstance(value, Mapping):
        of_verdict = at in printed.verdicts
        keys = [key for key in value if not of_verdict or key in ("schema", "proved", "units") or key not in verdict.KEYS]
        return {key: _short(value[key], printed, f"{at}.{key}" if at else key) for key in keys}
    if isinstance(value, list):
        return [_short(each, printed, at) for each in value[: printed.shown]]
    return float(f"{value:.6g}") if isinstance(value, float) else value
