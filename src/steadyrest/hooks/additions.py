"""What may a plug-in say about an event?"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from steadyrest.motion import Event, Quantity

PROJECT = "steadyrest"

F = TypeVar("F", bound=Callable[..., Any])


def hook(function: F) -> F:
    """Put before a function of a plug-in that is one of the hooks of `Spec` in `steadyrest.hooks.plugins`."""
    import pluggy  # only where there is a plug-in

    return pluggy.HookimplMarker(PROJECT)(function)


@dataclass(frozen=True, slots=True)
class Around:
    """Events to be written before and after the one that was seen."""

    before: Sequence[Event] = field(default=())
    after: Sequence[Event] = field(default=())


class Refusal(Exception):
    """Raised by a hook that will not have the program: what is wrong, and the cure, each a plain sentence."""

    def __init__(self, wrong: str, *, cure: str = "") -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.cure = cure


def note(text: str) -> Event:
    """A comment for the operator, in the profile's style and characters."""
    return Event("note", facts={"text": text})


def stop(*, optional: bool = False) -> Event:
    """A program stop; an optional one stops only where the operator has chosen so."""
    return Event("stop", facts={"optional": optional})


def dwell(seconds: float) -> Event:
    """A pause, 0 seconds or more. The proof refuses one in places where it takes pauses for the toolpath's own."""
    if not 0 <= seconds < math.inf:
        raise ValueError(f"a pause takes no {seconds} seconds")
    return Event("dwell", words={"time": Quantity("", seconds, "dwell")})


def lines(*texts: str) -> Event:
    """Lines exactly as they are to stand in the program, in plain ASCII; numbered where blocks are numbered.

    The proof reads them as it reads all others: a code that the profile does not know is refused, and so is whatever moves the tool
    off the toolpath. All modal words are said again after them.
    """
    check_lines(texts)
    return Event("lines", facts={"lines": texts}, added=True)


def check_lines(texts: object) -> None:
    """ValueError for anything that is no tuple of lines."""
    if not isinstance(texts, tuple) or not texts:
        raise ValueError(f"{texts!r} is no tuple of lines")
    for text in texts:
        if not isinstance(text, str) or not text.strip() or re.search(r"[^ -~]", text):
            raise ValueError(f"{text!r} is no line of a program: plain ASCII, one line each, not empty")


def templated(
    name: str,
    facts: Mapping[str, str | int | bool | tuple[str, ...]] | None = None,
    words: Mapping[str, Quantity] | None = None,
) -> Event:
    """An event of the plug-in's own, written by its template NAME.j2 from the folder that `steadyrest_templates` gives.

    facts   what the template decides by and puts in comments; text in it can never become code
    words   numbers that become words, spelled as the profile spells them
    """
    return Event(name, facts=facts or {}, words=words or {}, added=True)
