"""Which words, settings, comments and plain text does a template print, and on which of its lines?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, nodes

from steadyrest.explaining.model import Spot
from steadyrest.explaining.words_of_line import pieces


@dataclass(frozen=True, slots=True)
class Printed:
    """One thing that a template can print.

    kind   "word" (its name), "setting" (its dotted key), "comment" (its first plain text) or "text" (one plain word)
    facts  the names of the facts that a comment is made of
    """

    kind: str
    name: str
    spot: Spot
    facts: tuple[str, ...] = ()


@cache
def printed_by(file: str, folders: Sequence[Path]) -> tuple[Printed, ...]:
    """All that the template of an event can print, in the order of its lines; what it includes is looked up in the folders."""
    try:
        tree = Environment(trim_blocks=True, lstrip_blocks=True).parse(Path(file).read_text(encoding="utf-8"))
    except OSError:
        return ()
    found: list[Printed] = []
    for node in _in_order(tree):
        spot = Spot(file, node.lineno)
        if isinstance(node, nodes.Call) and isinstance(node.node, nodes.Name):
            first = node.args[0] if node.args else None
            plain = first.value if isinstance(first, nodes.Const) and isinstance(first.value, str) else ""
            facts = tuple(key[6:] for part in node.args if (key := _dotted(part)).startswith("facts."))
            found.append(Printed("comment", plain, spot, facts))
        elif isinstance(node, nodes.Getattr):
            root, _, name = _dotted(node).partition(".")
            if root in ("words", "setting"):
                found.append(Printed("word" if root == "words" else "setting", name, spot))
        elif isinstance(node, nodes.TemplateData):
            line = node.lineno
            for text in node.data.split("\n"):
                found += [Printed("text", piece, Spot(file, line)) for piece in pieces(text)]
                line += 1
        elif isinstance(node, nodes.Include) and isinstance(node.template, nodes.Const):
            other = next((path for folder in folders if (path := folder / str(node.template.value)).is_file()), None)
            if other is not None and str(other) != file:
                found += printed_by(str(other), folders)
    return tuple(found)


def _in_order(node: nodes.Node) -> Iterator[nodes.Node]:
    """A tree from left to right, the longest attribute chain of each name only."""
    yield node
    if isinstance(node, nodes.Getattr):
        return
    for child in node.iter_child_nodes():
        yield from _in_order(child)


def _dotted(node: nodes.Node) -> str:
    parts: list[str] = []
    while isinstance(node, nodes.Getattr):
        parts.append(node.attr)
        node = node.node
    return ".".join([node.name, *reversed(parts)]) if isinstance(node, nodes.Name) else ""
