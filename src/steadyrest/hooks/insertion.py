"""How do events pass by the plug-ins on their way from the plan to the writer?"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from steadyrest.columns import changed
from steadyrest.errors import Place, PluginError, SteadyrestError
from steadyrest.events import EVENTS
from steadyrest.hooks.plugins import Around, Hooks, Plugin, Refusal, check_lines
from steadyrest.motion import Event, PlanItem
from steadyrest.profile import Profile
from steadyrest.writing import PLAIN_LINES

ADDED = ("note", "stop", "dwell", PLAIN_LINES)
"""Events that steadyrest has a form for and a plug-in may add; all others are planning's own, or need a template of the plug-in's."""


def hooked(items: Iterator[PlanItem], hooks: Hooks, profile: Profile, operation_names: Sequence[str] = ()) -> Iterator[PlanItem]:
    """The items of a plan, with what the plug-ins say around each event; without plug-ins the same iterator.

    operation_names   for messages, that of operation 1 first
    raises            PluginError, while the items are read, for a plug-in that refuses, fails, or says what it may not
    """
    calling = [plugin for plugin in hooks.plugins if plugin.event is not None]
    return _passing(items, calling, profile, operation_names) if calling else items


def _passing(items: Iterator[PlanItem], plugins: list[Plugin], profile: Profile, names: Sequence[str]) -> Iterator[PlanItem]:
    for item in items:
        if not isinstance(item, Event):
            yield item
            continue
        name = names[item.operation - 1] if 0 < item.operation <= len(names) else ""
        place = Place(operation=item.operation, operation_name=name or None, move=item.move or None) if item.operation else Place()
        before, after = list[Event](), list[Event]()
        for plugin in plugins:
            said = _said(plugin, item, profile, place)
            before += [_checked(each, plugin, item, profile, place) for each in said.before]
            after += [_checked(each, plugin, item, profile, place) for each in said.after]
            if (before and item.name == "program_start") or (after and item.name == "program_end"):
                raise PluginError(
                    f"{plugin.label} adds something outside the program: {'before' if before else 'after'} {item.name}",
                    place=place,
                    cure="add it after program_start, or before program_end",
                )
        yield from before
        yield item
        yield from after


def _said(plugin: Plugin, event: Event, profile: Profile, place: Place) -> Around:
    assert plugin.event is not None
    try:
        answers = plugin.event(event=_to_look_at(event), controller=profile.name)
    except (Refusal, SteadyrestError) as error:
        raise PluginError(f"{plugin.label} refuses: {error.wrong}", place=place, cure=error.cure) from error
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException as error:  # whatever a plug-in makes fail is its own fault
        raise _fails(plugin, event, f"{type(error).__name__}: {error}", place) from error
    around = Around()
    for answer in answers if isinstance(answers, list) else [answers]:
        if not isinstance(answer, Around) or not isinstance(answer.before, Sequence) or not isinstance(answer.after, Sequence):
            raise _fails(plugin, event, f"steadyrest_event returned {answer!r}, and not an Around of lists, or None", place)
        around = Around([*around.before, *answer.before], [*around.after, *answer.after])
    return around


def _checked(added: Event, plugin: Plugin, beside: Event, profile: Profile, place: Place) -> Event:
    """An event of a plug-in, made one of the program's: the operation's number, the plug-in's name as its rule."""
    if not isinstance(added, Event):
        raise _fails(plugin, beside, f"{added!r} is no event", place)
    allowed = ", ".join(ADDED)
    if added.name in EVENTS and added.name not in ADDED:
        raise _fails(plugin, beside, f"it may not add the event '{added.name}': allowed are {allowed}, and events of its own", place)
    if not re.fullmatch(r"[a-z][a-z0-9_]*", added.name):
        raise _fails(plugin, beside, f"{added.name!r} is no name of an event: small letters, digits and underscores", place)
    if added.motion or added.holes is not None:
        raise _fails(plugin, beside, f"its event '{added.name}' brings motion with it, and only planning moves the tool", place)
    if added.name == PLAIN_LINES:
        try:
            check_lines(added.facts.get("lines"))
        except ValueError as error:
            raise _fails(plugin, beside, str(error), place) from error
    wrong = [name for name, word in added.words.items() if not math.isfinite(word.value)]
    if wrong:
        raise _fails(plugin, beside, f"the word '{wrong[0]}' of its event '{added.name}' is no number", place)
    letter = profile.codes.dwell_letter
    words = {n: replace(word, letter=letter) if word.kind == "dwell" and not word.letter else word for n, word in added.words.items()}
    return replace(added, operation=beside.operation, rule=plugin.label, move=0, words=words, added=True)


def _fails(plugin: Plugin, event: Event, wrong: str, place: Place) -> PluginError:
    return PluginError(
        f"{plugin.label} fails at the event {event.name}: {wrong}",
        place=place,
        cure="repair the plug-in, or take its package out; nothing was written",
    )


def _to_look_at(event: Event) -> Event:
    """The same event in a form that cannot be written to."""
    facts: Mapping[str, Any] = MappingProxyType(dict(event.facts))
    holes = event.holes and changed(event.holes, _fixed)
    motion = tuple(changed(run, _fixed) for run in event.motion)
    return replace(event, facts=facts, words=MappingProxyType(dict(event.words)), motion=motion, holes=holes)


def _fixed(column: Any) -> Any:
    copy = column.copy()
    copy.flags.writeable = False
    return copy
