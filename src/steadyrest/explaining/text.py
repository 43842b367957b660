"""How does an explanation look, on a screen and as data?"""

from __future__ import annotations

import json
import textwrap
from dataclasses import asdict
from pathlib import Path
from typing import Any

from steadyrest.explaining.model import Explained, Explanation, Setting, Spot
from steadyrest.explaining.word_origins import pieces
from steadyrest.folding import width

SCHEMA = 1
WIDTH = 100
INDENT = 12


def explanation_text(explanation: Explanation) -> str:
    """Some lines explained, short lines with the word in front."""
    name, said = explanation.program.name, []
    if explanation.changed:
        said.append(f"{explanation.changed} line(s) of {name} differ from what would be written now, first line {explanation.first}")
    if explanation.missing:
        said.append(f"{explanation.missing} line(s) that would be written now are not in {name}")
    same = f"{name} is, line for line, what would be written now."
    parts = ["\n".join(textwrap.wrap(f"CAUTION: {'; '.join(said)}.", width(WIDTH))) if said else same]
    told: set[tuple[int, str]] = set()
    for line in explanation.lines:
        lines = _line(line, name)
        for notice in line.notices:
            if (line.operation, notice) not in told:
                told.add((line.operation, notice))
                lines += _said("notice", notice)
        parts.append("\n".join(lines))
    return "\n\n".join(parts)


def explanation_data(explanation: Explanation) -> dict[str, Any]:
    """The same as data. Within one `schema` keys are only ever added."""
    return {
        "schema": SCHEMA,
        "program": str(explanation.program),
        "toolpath": explanation.toolpath,
        "controller": explanation.controller,
        "changed": explanation.changed,
        "first_changed": explanation.first,
        "missing": explanation.missing,
        "lines": [{**asdict(line), "same": line.same} for line in explanation.lines],
    }


def _line(line: Explained, program: str) -> list[str]:
    out = [f"{program}:{line.number}   {line.text}"]
    if line.now is None:
        return [*out, *_said("DIFFERS", "no such line would be written now: it was put in by hand, or is from an older version")]
    if line.missing:
        out += _said("DIFFERS", f"{line.missing} line(s) that would be written now are missing just before this one")
    if not line.same:
        out += _said("DIFFERS", f"now it would be   {line.now}")
        strange = [piece for piece in pieces(line.text) if piece not in pieces(line.now)]
        if strange:
            out += _said("", f"not written by this toolpath and profile: {' '.join(strange)}")
    if line.operation:
        where = f"operation {line.operation} '{line.operation_name}' ({line.intent})"
        out += _said("from", f"{where}, move {line.move}: {line.asked}" if line.move else where)
    out += _said("why", line.why)
    out += _settings(line.why_settings)
    if line.template is not None:
        out += _said("template", _short(line.template))
    for word in line.words:
        at = f"   [{_short(word.template)}]" if word.template is not None and word.template.line else ""
        label, says = (word.word, word.says) if len(word.word) < INDENT - 2 else ("", f"{word.word}   {word.says}")
        out += _said(label, says + at)
        out += _settings(word.settings)
    return out


def _said(label: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, width(WIDTH), initial_indent=f"  {label:<{INDENT - 2}}", subsequent_indent=" " * INDENT, break_long_words=False
    )


def _settings(settings: tuple[Setting, ...]) -> list[str]:
    out = []
    for one in settings:
        value = json.dumps(one.value, ensure_ascii=False)
        value = value if len(value) <= 40 else value[:37] + "..."
        origin = one.origin if one.line is None else _short(Spot(one.origin, one.line))
        out.append(f"{' ' * INDENT}  {one.key} = {value}   {origin}")
    return out


def _short(spot: Spot) -> str:
    """A file by its folder's name and its own."""
    path = Path(spot.file)
    name = f"{path.parent.name}/{path.name}" if path.parent.name else path.name
    return f"{name}:{spot.line}" if spot.line else name
