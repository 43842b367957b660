"""What a template may say: the names it has, event by event, and the few constructs it is allowed; checked before it is compiled."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from jinja2 import nodes

from steadyrest.errors import Place, TemplateError
from steadyrest.events import EVENTS

_TOP = frozenset({"facts", "words", "setting", "comment", "message", "motion", "blocks"})
LATER = "_later"
"""What stands behind the names of facts, words and the two functions where what they give is printed and nothing else."""
FILTERS = frozenset({"length", "default", "d"})
_STATEMENTS = {"Template", "Output", "TemplateData", "If", "For", "Assign", "Include"}
_VALUES = {"Name", "Getattr", "Const", "Tuple", "List", "Compare", "Operand", "And", "Or", "Not", "CondExpr", "Test", "Filter"}
_ALLOWED = _STATEMENTS | _VALUES | {"Call", "Keyword"}
"""Kinds of nodes, as jinja calls them."""


def check_template(every: Sequence[nodes.Node], path: Path) -> None:
    """Refuse, with the line, what a template has no business doing among its nodes: computing, formatting numbers, defining, importing."""
    event = EVENTS.get(path.stem)
    assigned = {node.name for node in every if isinstance(node, nodes.Name) and node.ctx == "store"}

    def refuse(node: nodes.Node, wrong: str, cure: str, further_down: int = 0) -> TemplateError:
        return TemplateError(wrong, place=Place(file=str(path), line=node.lineno + further_down), cure=cure)

    for node in every:
        if type(node).__name__ not in _ALLOWED:
            if isinstance(node, nodes.BinExpr | nodes.UnaryExpr):
                raise refuse(node, "a template does no arithmetic", "print a ready word (words.NAME)")
            raise refuse(node, f"a template cannot use '{type(node).__name__.lower()}'", "keep to if, for, set, include and printing")
        if isinstance(node, nodes.Filter) and node.name not in FILTERS:
            raise refuse(node, f"a template does not format: no filter '{node.name}'", f"allowed are: {', '.join(sorted(FILTERS))}")
        if isinstance(node, nodes.Call) and not (isinstance(node.node, nodes.Name) and node.node.name in ("comment", "message")):
            raise refuse(node, "a template calls nothing but comment(...) and message(...)", "take the call out")
        if isinstance(node, nodes.TemplateData) and (bad := re.search(r"[^ -~\r\n\t]", node.data)) is not None:
            down = node.data.count("\n", 0, bad.start())
            raise refuse(node, f"the character {bad.group()!r} is not ASCII", "write it in plain letters", down)
        if isinstance(node, nodes.Output):
            for printed in node.nodes:
                if isinstance(printed, nodes.Const) and not isinstance(printed.value, str):
                    raise refuse(printed, "a template formats no numbers", "print a ready word (words.NAME)")
        if isinstance(node, nodes.Name) and node.ctx == "load" and node.name not in _TOP | assigned | {"loop"}:
            raise refuse(node, f"unknown name '{node.name}'", f"known are: {', '.join(sorted(_TOP))}")
        if isinstance(node, nodes.Name) and node.ctx == "store" and node.name.removesuffix(LATER) in _TOP:
            raise refuse(node, f"a template gives '{node.name}' no other meaning", "choose another name")
        if isinstance(node, nodes.Getattr) and node.attr.startswith(("_", "model_")):
            raise refuse(node, f"a template does not reach for Python's internals ('{node.attr}')", "print ready words and settings only")
        if isinstance(node, nodes.Getattr) and isinstance(node.node, nodes.Name) and event is not None:
            known = {"facts": event.facts, "words": event.words}.get(node.node.name)
            if known is not None and node.attr not in known:
                listed = ", ".join(sorted(known)) or "none"
                raise refuse(node, f"unknown name '{node.node.name}.{node.attr}'", f"this event has: {listed}")
