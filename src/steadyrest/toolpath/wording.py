"""How does an error of the model read in the user's words?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import Style, nearest, shown, spot_of, told
from steadyrest.toolpath.model import Toolpath
from steadyrest.toolpath.moves import MOVE_KINDS
from steadyrest.toolpath.part import printable

GIVEN_TWICE = " (given twice)"
"""What loading appends to the name of a key that an object holds twice, so that it is found here with its place."""
_STYLE = Style(table="an object in { }")


def toolpath_error(error: ValidationError, data: Any, file: str | None) -> ToolpathError:
    """The first thing that the model refused, with its place, what was found, what is allowed, and the cure."""
    return _first(error, (), lambda keys: _place(keys, data, file))


def move_error(error: ValidationError, place: Place, done: int) -> ToolpathError:
    """The same for moves of the operation at `place`, of which `done` came before."""
    return _first(error, ("operations", 0, "moves"), lambda keys: replace(place, move=done + int(keys[3]) + 1, key=_key(keys[4:])))


def _first(error: ValidationError, before: tuple[str | int, ...], place: Callable[[tuple[str | int, ...]], Place]) -> ToolpathError:
    # A misspelt key is also a missing one: the unknown name says more, a key given twice more still.
    detail = min(error.errors(include_url=False), key=_rank)
    spot = spot_of(Toolpath, (*before, *detail["loc"]))
    last = str(spot.keys[-1]) if spot.keys else ""
    if last.endswith(GIVEN_TWICE):
        wrong, cure = f"the key '{last.removesuffix(GIVEN_TWICE)}' is given twice in one object", "keep one of the two"
    elif detail["type"] == "union_tag_not_found" and "moves" in spot.keys:
        wrong, cure = _not_one_move(detail["input"])
    else:
        wrong, cure = told(detail, spot, _STYLE)
    return ToolpathError(printable(wrong), place=place(spot.keys), cure=printable(cure))


def _rank(detail: ErrorDetails) -> int:
    if detail["type"] != "extra_forbidden":
        return 2
    return 0 if str(detail["loc"][-1]).endswith(GIVEN_TWICE) else 1


def _place(keys: tuple[int | str, ...], data: Any, file: str | None) -> Place:
    operation, name, move = None, None, None
    if len(keys) >= 2 and keys[0] == "operations":
        entry = data["operations"][keys[1]]
        operation, name, keys = int(keys[1]) + 1, entry.get("name") if isinstance(entry, dict) else None, keys[2:]
        if len(keys) >= 2 and keys[0] == "moves":
            move, keys = int(keys[1]) + 1, keys[2:]
    return Place(
        file=file,
        operation=operation,
        operation_name=(printable(name) or None) if isinstance(name, str) else None,
        move=move,
        key=_key(keys),
    )


def _key(keys: tuple[int | str, ...]) -> str | None:
    return printable(", ".join(f"entry {step + 1}" if isinstance(step, int) else step for step in keys)) or None


def _not_one_move(found: Any) -> tuple[str, str]:
    allowed = f"a move has exactly one of the keys {', '.join(MOVE_KINDS)}"
    if not isinstance(found, dict):
        return f"found {shown(found)}; {allowed}", 'write an object such as {"rapid": [0, 0, 50]}'
    several = [name for name in MOVE_KINDS if name in found]
    if several:
        return f"found {', '.join(several)} in one move; {allowed}", "make it several moves"
    for name in found:
        if close := nearest(str(name), MOVE_KINDS):
            return f"unknown key '{name}'; {allowed}", _STYLE.guess.format(close[0])
    return f"found {shown(found)}; {allowed}", "say what kind of move it is"
