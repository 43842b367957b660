"""The objects of a toolpath's JSON: read, each key once, and what the models refuse of them, in words."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import nearest, shown, spot_of, told
from steadyrest.toolpath.parts import printable

Keys = tuple[int | str, ...]
Pieces = Callable[[], Iterator[tuple[int, bytes]]]
"""Goes through a file: the offset and the bytes of each piece of a table or list of moves."""
Spot = Callable[[int, int], Place]
"""Line and column in a file of an offset and so many bytes further."""

MOVE_KEYS = ("rapid", "cut", "arc", "dwell", "hole", "stop", "note")
"""A move has exactly one of them, which tells what it is."""
GIVEN_TWICE = " (given twice)"
"""What reading appends to the name of a key that an object holds twice, so that the model refuses it with its place."""


def read_json(
    raw: bytes, place: Callable[[int], Place], within: str = "", cure: str = "correct the file at this place, or write it again"
) -> Any:
    """The objects of JSON; ToolpathError where it is none, at the `place` of a byte; `within` what it stands."""
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = b"   " + raw[3:]  # a byte order mark may be ignored (RFC 8259, 8.1); as blanks, so that places hold
    try:
        text = raw.decode("utf-8")
        if text.strip():
            return json.loads(text, object_pairs_hook=_object)
        at, wrong, cure = 0, "the file is empty", 'a toolpath begins with {"steadyrest_toolpath": 1'
    except UnicodeDecodeError as error:
        at, wrong, cure = error.start, "the file is not UTF-8", "save it as UTF-8"
    except json.JSONDecodeError as error:
        at, wrong = len(error.doc[: error.pos].encode()), f"broken JSON{within}: {error.msg[0].lower()}{error.msg[1:]}"
    except RecursionError:
        at, wrong, cure = -1, "lists or objects too deep", "a toolpath is not deeper than its schema"
    except ValueError:
        at, wrong, cure = -1, "a whole number with thousands of digits", "write finite numbers"
    here = place(at) if at >= 0 else replace(place(0), line=None, column=None)
    raise ToolpathError(wrong, place=here, cure=cure)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        found |= {key + GIVEN_TWICE: None for key, times in Counter(key for key, _ in pairs).items() if times > 1}
    return found


def refusal(error: ValidationError, model: Any, place: Callable[[Keys], Place]) -> ToolpathError:
    """The first thing that a model refused: what was found, what is allowed, and the cure, at the `place` of its keys."""
    # A misspelt key is also a missing one: the unknown name says more, a key given twice more still.
    detail = min(error.errors(include_url=False), key=_rank)
    spot = spot_of(model, detail["loc"])
    last = str(spot.keys[-1]) if spot.keys else ""
    if last.endswith(GIVEN_TWICE):
        wrong, cure = f"the key '{last.removesuffix(GIVEN_TWICE)}' is given twice in one object", "keep one of the two"
    elif detail["type"] == "union_tag_not_found" and "move" in detail["ctx"]["discriminator"]:
        wrong, cure = _not_one_move(detail["input"])
    else:
        wrong, cure = told(detail, spot, "an object in { }")
    return ToolpathError(printable(wrong), place=place(spot.keys), cure=printable(cure))


def _rank(detail: ErrorDetails) -> int:
    if detail["type"] != "extra_forbidden":
        return 2
    return 0 if str(detail["loc"][-1]).endswith(GIVEN_TWICE) else 1


def _not_one_move(found: Any) -> tuple[str, str]:
    allowed = f"a move has exactly one of the keys {', '.join(MOVE_KEYS)}"
    if not isinstance(found, dict):
        return f"found {shown(found)}; {allowed}", 'write an object such as {"rapid": [0, 0, 50]}'
    several = [name for name in MOVE_KEYS if name in found]
    if several:
        return f"found {', '.join(several)} in one move; {allowed}", "make it several moves"
    for name in found:
        if close := nearest(str(name), MOVE_KEYS):
            return f"unknown key '{name}'; {allowed}", f"did you mean '{close[0]}'?"
    return f"found {shown(found)}; {allowed}", "use the key for the kind of move it is"


def key_of(keys: Keys) -> str | None:
    """Keys as a place says them, entries of lists counted from 1; None for no key."""
    return printable(", ".join(f"entry {step + 1}" if isinstance(step, int) else step for step in keys)) or None


def place_of_move(operation: Place, before: int, keys: Keys) -> Place:
    """Where keys of a list of moves are, `before` of which came before."""
    return replace(operation, move=before + int(keys[0]) + 1, key=key_of(keys[1:]))
