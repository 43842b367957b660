"""How does an error of the model read in the user's words?"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath import model, moves, rotary, stock, tools
from steadyrest.toolpath.part import LEAST, Part, printable

GIVEN_TWICE = " (given twice)"
"""What loading appends to the name of a key that an object holds twice, so that it is found here with its place."""

_NUMBER_TYPES = ("float_type", "float_parsing", "finite_number")
_WHOLE_TYPES = ("int_type", "int_from_float", "int_parsing", "int_parsing_size")
_LIST_TYPES = ("tuple_type", "list_type")
_OBJECT_TYPES = ("model_type", "dict_type", "model_attributes_type", "dataclass_type")
_SIGNS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def nearest(name: str, allowed: Collection[str]) -> str:
    """The cure for a misspelt name: the nearest allowed one; empty if none is near."""
    from difflib import get_close_matches

    close = get_close_matches(name, allowed, n=1)
    return f"did you mean '{close[0]}'?" if close else ""


def shown(value: Any) -> str:
    """A value as it stands in the file, shortened."""
    try:
        text = json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError):
        text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def toolpath_error(error: ValidationError, data: Any, file: str | None) -> ToolpathError:
    """The first thing that the model refused, with its place, what was found, what is allowed, and the cure."""
    # A misspelt key is also a missing one: the unknown name says more, a key given twice more still.
    detail = min(error.errors(include_url=False), key=_rank)
    loc = detail["loc"]
    place, part = _place(loc, data, file)
    wrong, cure = _wording(detail, place.key or "", part)
    return ToolpathError(printable(wrong), place=place, cure=printable(cure))


def _rank(detail: ErrorDetails) -> int:
    if detail["type"] != "extra_forbidden":
        return 2
    return 0 if str(detail["loc"][-1]).endswith(GIVEN_TWICE) else 1


def _place(loc: tuple[int | str, ...], data: Any, file: str | None) -> tuple[Place, type[Part] | None]:
    """The place of an error, and the part of the model whose key it is."""
    place = Place(file=file)
    rest: Sequence[int | str] = loc
    part: type[Part] | None = model.Toolpath
    if len(loc) >= 2 and loc[0] == "operations" and isinstance(loc[1], int):
        place = replace(place, operation=loc[1] + 1)
        part = model.Operation
        operation = data["operations"][loc[1]] if isinstance(data, dict) else None
        if isinstance(operation, dict) and isinstance(operation.get("name"), str):
            place = replace(place, operation_name=printable(operation["name"]) or None)
        rest = loc[2:]
        if len(rest) >= 2 and rest[0] == "moves" and isinstance(rest[1], int):
            place = replace(place, move=rest[1] + 1)
            tag, rest = str(rest[2]) if len(rest) > 2 else "", rest[3:]
            part = moves.MOVE_KINDS.get(tag)
            if tag == "stop" and len(rest) > 1:
                part = moves.StopSettings
        elif len(rest) >= 2 and rest[0] == "rotary":
            part, rest = _variant(rotary.Rotary, "intent", rest[1]), [rest[0], *rest[2:]]
        elif len(rest) >= 2 and rest[0] == "spindle":
            part = model.Spindle
    elif len(loc) >= 2 and loc[0] == "stock":
        part, rest = _variant(stock.Stock, "shape", loc[1]), [loc[0], *loc[2:]]
        if "held" in loc[2:-1]:
            part = stock.Held
    elif len(loc) >= 3 and loc[0] == "tools":
        part, rest = _variant(tools.Tool, "shape", loc[2]), [*loc[:2], *loc[3:]]
    key = ", ".join(f"entry {step + 1}" if isinstance(step, int) else step for step in rest)
    return replace(place, key=printable(key) or None), part


def _variant(union: Any, tag: str, value: int | str) -> type[Part] | None:
    for kind in get_args(get_args(union)[0]):
        if value in get_args(kind.model_fields[tag].annotation):
            found: type[Part] = kind
            return found
    return None


def _keys(part: type[Part]) -> list[str]:
    return [field.alias or name for name, field in part.model_fields.items()]


def _wording(detail: ErrorDetails, key: str, part: type[Part] | None) -> tuple[str, str]:
    """What is wrong (with what is allowed), and the cure."""
    kind, found, context = detail["type"], detail["input"], detail.get("ctx", {})
    last = detail["loc"][-1] if detail["loc"] else ""
    if kind == "rule":
        return context["wrong"], context["cure"]
    if kind == "extra_forbidden":
        if str(last).endswith(GIVEN_TWICE):
            name = str(last).removesuffix(GIVEN_TWICE)
            return f"the key '{name}' is given twice in one object", "keep one of the two"
        allowed = _keys(part) if part is not None else []
        among = f"; allowed are {', '.join(allowed)}" if allowed else ""
        return f"unknown key '{last}'{among}", nearest(str(last), allowed) or "take it out"
    if kind == "missing":
        if isinstance(last, int):
            return f"a number is missing: found {shown_input(found)}", "give all the numbers"
        return f"'{last}' is missing", f"add '{last}'{_described(part, str(last))}"
    if kind == "union_tag_invalid":
        tag = str(context["discriminator"]).strip("'")
        allowed = [name.strip(" '") for name in str(context["expected_tags"]).split(",")]
        value = str(context["tag"])
        return f"{tag} '{value}' is not known; allowed are {', '.join(allowed)}", nearest(value, allowed) or "name one of those"
    if kind == "union_tag_not_found":
        if "moves" in detail["loc"]:
            return _not_one_move(found)
        tag = str(context["discriminator"]).strip("'")
        return f"'{tag}' is missing", f"add '{tag}'"
    if kind == "literal_error":
        allowed = [name.strip("'") for name in str(context["expected"]).replace(" or ", ", ").split(", ")]
        return f"found {shown(found)}; allowed are {', '.join(allowed)}", nearest(str(found), allowed) or "write one of those"
    if kind in _SIGNS:
        words, bound = _SIGNS[kind]
        if context[bound] == LEAST:
            words = "more than 0, at least"
        return f"found {shown(found)}; it has to be {words} {context[bound]:g}", "correct the number"
    if kind in _NUMBER_TYPES:
        return f"found {shown(found)}; allowed is a finite number", "write a number, without quotes"
    if kind in _WHOLE_TYPES:
        return f"found {shown(found)}; allowed is a whole number", "write a whole number, without quotes"
    if kind == "string_type":
        return f"found {shown(found)}; allowed is a text in quotes", "write it in quotes"
    if kind == "string_unicode":
        return "the text holds half of a surrogate pair, which is no character", "correct the \\u escape"
    if kind in ("bool_type", "bool_parsing"):
        return f"found {shown(found)}; allowed are true, false", "write true or false, without quotes"
    if kind == "too_short":
        least = context["min_length"]
        return f"found {context['actual_length']} entries; it takes at least {least}", "add what is missing"
    if kind == "too_long":
        most = context["max_length"]
        return f"found {shown_input(found)}; it takes at most {most} entries", "take out what is too much"
    if kind in _LIST_TYPES:
        return f"found {shown_input(found)}; allowed is a list in [ ]", "write a list"
    if kind in _OBJECT_TYPES:
        return f"found {shown_input(found)}; allowed is an object in {{ }}", f"write an object{_described(part, str(last))}"
    return f"found {shown_input(found)}, which is not allowed here", "compare with the schema of the toolpath"


def shown_input(value: Any) -> str:
    """A value as it stands in the file; a parsed part by its kind."""
    return type(value).__name__ if isinstance(value, Part) else shown(value)


def _described(part: type[Part] | None, key: str) -> str:
    for name, field in part.model_fields.items() if part is not None else ():
        if (field.alias or name) == key and field.description:
            return f": {field.description}"
    return ""


def _not_one_move(found: Any) -> tuple[str, str]:
    allowed = f"a move has exactly one of the keys {', '.join(moves.MOVE_KINDS)}"
    if not isinstance(found, dict):
        return f"found {shown_input(found)}; {allowed}", 'write an object such as {"rapid": [0, 0, 50]}'
    several = [name for name in moves.MOVE_KINDS if name in found]
    if several:
        return f"found {', '.join(several)} in one move; {allowed}", "make it several moves"
    for name in found:
        if close := nearest(str(name), list(moves.MOVE_KINDS)):
            return f"unknown key '{name}'; {allowed}", close
    return f"found {shown(found)}; {allowed}", "say what kind of move it is"
