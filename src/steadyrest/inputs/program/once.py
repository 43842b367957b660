"""What of a program that is cut at several angles is there for the operator or the spindle, and happens once and not at every angle?

Texts, pauses and stops before the first motion of an operation, and stops after its last cut, become operations of their own at one angle.
A stop is made with spindle and coolant off. What stands between the cuts of an operation belongs to each face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from steadyrest.inputs.items import Frame, Happening, Item, Moves, Stretch, is_note
from steadyrest.toolpath import RAPID


def laid_in(stretches: Sequence[Stretch], frame: Frame) -> list[Stretch]:
    """The stretches of a program in the frame in which it is cut, stops that come right after each other as one."""
    for stretch in stretches:
        stretch.settings = replace(stretch.settings, frame=frame)
    found: list[Stretch] = []
    for stretch in stretches:
        for part in _parts(stretch, found) if frame[0] == "indexed" and len(frame) > 2 else [stretch]:
            _add(found, part)
    return found


def _parts(stretch: Stretch, before: Sequence[Stretch]) -> list[Stretch]:
    """What happens once before the cuts of a stretch, its cuts at every angle, and what happens once after them."""
    items, first, last = stretch.items, stretch.settings.frame[1], stretch.settings.frame[-1]
    cuts = [at for at, item in enumerate(items) if _cuts(item)]
    if not cuts:
        goes_on = bool(before) and before[-1].settings.tool == stretch.settings.tool
        said: list[Item] = [item for item in items if isinstance(item, Happening)]
        return [_once(stretch, said, last if goes_on else first)] if len(said) == len(items) or any(map(_is_stop, said)) else [stretch]
    begin = next(at for at, item in enumerate(items) if not isinstance(item, Happening))
    tail = items[cuts[-1] + 1 :]
    after: list[Item] = [item for item in tail if isinstance(item, Happening)] if any(map(_is_stop, tail)) else []
    body = [item for item in items[begin:] if not any(item is each for each in after)]
    lead = _once(stretch, items[:begin], first)
    if len(lead.items) > 1 and isinstance(title := lead.items[0], Happening) and is_note(title):
        lead.name, lead.items = title.move["note"], lead.items[1:]
    elif all(map(is_note, lead.items)):
        lead.name = "text"
    stretch.items = body
    trail = _once(stretch, after, last)
    trail.name = "stop"
    return [part for part in (lead, stretch, trail) if part.items]


def _once(stretch: Stretch, items: list[Item], angle: float) -> Stretch:
    """Some of its items at one angle."""
    return Stretch(replace(stretch.settings, frame=("indexed", angle)), stretch.name, None, items)


def _add(found: list[Stretch], part: Stretch) -> None:
    """The next stretch: where it is but a stop after a stop of the same tool, the two become one."""
    if not any(map(_is_stop, part.items)) or any(not isinstance(item, Happening) for item in part.items):
        if found and not part.name and _names_what_follows(found):
            part.name = found[-1].name
        found.append(part)
        return
    part.settings = replace(part.settings, rpm=0.0, coolant="off")
    part.name = part.name or "stop"
    last = found[-1] if found else None
    if last is not None and last.settings.tool == part.settings.tool:
        motions = [at for at, item in enumerate(last.items) if not isinstance(item, Happening)]
        tail = motions[-1] + 1 if motions else 0
        if any(map(_is_stop, last.items[tail:])):
            part.items = last.items[tail:] + part.items
            last.items = last.items[:tail]
            if not last.items:
                part.name = last.name
                found.pop()
    part.items = _with_one_stop(part.items)
    found.append(part)


def _names_what_follows(found: Sequence[Stretch]) -> bool:
    """The last stretch is a stop right after a tool change: the text before it is the name of what the tool cuts."""
    stops = all(isinstance(item, Happening) for item in found[-1].items) and found[-1].name != "stop"
    return stops and (len(found) == 1 or found[-2].settings.tool != found[-1].settings.tool)


def _with_one_stop(items: Sequence[Item]) -> list[Item]:
    """The texts, and the stops as one: an optional one only if all are."""
    stops = [item for item in items if isinstance(item, Happening) and _is_stop(item)]
    one = next((stop for stop in stops if not stop.move["stop"]["optional"]), stops[0])
    return [item for item in items if not _is_stop(item)] + [one]


def _is_stop(item: Item) -> bool:
    return isinstance(item, Happening) and "stop" in item.move


def _cuts(item: Item) -> bool:
    return bool((item.motion != RAPID).any()) if isinstance(item, Moves) else not isinstance(item, Happening)


def with_head(stretches: list[Stretch], texts: list[Happening]) -> None:
    """Put the texts at the head of a program into its first stretch: the first of them names it unless it has a name."""
    if not stretches or not texts:
        return
    first = stretches[0]
    if not first.name:
        first.name = texts.pop(0).move["note"]
    first.items = [*texts, *first.items]
