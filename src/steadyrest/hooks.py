"""Plug-ins of installed packages that see each planned event, add events around it, or refuse.

A package names a module in the entry point group `steadyrest.events`:

    [project.entry-points."steadyrest.events"]
    our-shop = "ourshop.events"

and the module says what it does, for what templates cannot:

    from steadyrest.hooks import Around, Refusal, hook, note, stop

    @hook
    def steadyrest_event(event, controller):
        if event.name == "tool_change" and event.facts["number"] == 40:
            raise Refusal("tool 40 is the probe, and is never put in by a program", cure="use another tool number")
        if event.name == "tool_change":
            return Around(after=[note("check the collet"), stop(optional=True)])

A hook cannot move the tool unproved: the proof reads the finished program, whoever wrote a line of it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from steadyrest.columns import changed
from steadyrest.errors import Place, PluginError, SteadyrestError
from steadyrest.events import EVENTS
from steadyrest.motion import Event, PlanItem, Quantity
from steadyrest.notices import Notice, noticed
from steadyrest.packages import offered, package_of
from steadyrest.profile import Profile
from steadyrest.writing import PLAIN_LINES

PROJECT = "steadyrest"
GROUP = "steadyrest.events"

ADDED = ("note", "stop", "dwell", PLAIN_LINES)
"""Events that steadyrest has a form for and a plug-in may add; all others are planning's own, or need a template of the plug-in's."""

LINE = re.compile(r"[ -~]*[!-~][ -~]*")

F = TypeVar("F", bound=Callable[..., Any])


def hook(function: F) -> F:
    """Put before a function of a plug-in that is one of the hooks of `Spec`."""
    import pluggy  # only where there is a plug-in

    return pluggy.HookimplMarker(PROJECT)(function)


@dataclass(frozen=True, slots=True)
class Around:
    """Events to be written before and after the one that was seen."""

    before: Sequence[Event] = ()
    after: Sequence[Event] = ()


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
    return Event("lines", facts={"lines": texts}, added=True)


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


class Spec:
    """The hooks. A plug-in has those it needs, each with as many of the arguments as it needs."""

    def steadyrest_event(self, event: Event, controller: str) -> Around | None:
        """Called with each event of the plan, in the order of the program, before it is written.

        event        one of those a template is called for: name, number of the operation, facts, words; to be looked at, not changed
        controller   the profile's name
        returns      what to say before and after the event; None: nothing
        raises       Refusal: the post stops with exit code 1, and the message names the plug-in
        """

    def steadyrest_templates(self) -> Path | None:
        """The folder of the templates for events of the plug-in's own; a template of the same name in a profile wins."""


@dataclass(frozen=True, slots=True)
class Plugin:
    """One plug-in that can be called.

    label       its name with its package and version, as messages say it
    event       calls its `steadyrest_event`, and gives what that returns as a list; an empty one where it has none
    templates   the folder of its own templates; None where it has none
    """

    label: str
    event: Callable[..., Any]
    templates: Path | None


@dataclass(frozen=True, slots=True)
class Hooks:
    """All plug-ins in the order in which they are called (by name), and a notice for each that could not be loaded."""

    plugins: tuple[Plugin, ...] = ()
    not_loaded: tuple[Notice, ...] = ()

    @property
    def template_folders(self) -> tuple[Path, ...]:
        """Where the templates of the plug-ins' own events are looked for."""
        return tuple(plugin.templates for plugin in self.plugins if plugin.templates is not None)


def find_hooks() -> Hooks:
    """The plug-ins of all installed packages. One that fails is left out and told: it never takes the others down."""
    plugins: dict[int, Plugin] = {}
    broken: list[Notice] = []
    for point in offered(GROUP):
        label = f"plug-in '{point.name}' of {package_of(point)}"
        try:
            module: object = point.load()
            if other := plugins.get(id(module)):
                raise ValueError(f"it is {other.label} as well")
            plugins[id(module)] = _plugin(label, point.value, module)
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:  # what is not ours may raise anything
            wrong = " ".join(f"{type(error).__name__}: {error}".split())
            broken.append(noticed("PluginNotLoaded", Place(), plugin=label, error=wrong))
    return Hooks(tuple(plugins.values()), tuple(broken))


def _plugin(label: str, value: str, module: object) -> Plugin:
    """Its hooks, each to be called alone, so that whatever goes wrong is known to be its own."""
    import pluggy

    manager = pluggy.PluginManager(PROJECT)
    for hook in (Spec.steadyrest_event, Spec.steadyrest_templates):
        pluggy.HookspecMarker(PROJECT)(hook)
    manager.add_hookspecs(Spec)
    manager.register(module, name=label)
    callers = {caller.name: caller for caller in manager.get_hookcallers(module) or []}
    unknown = sorted(name for name, caller in callers.items() if caller.spec is None)
    if unknown or not callers:
        raise LookupError(f"there is no hook {', '.join(unknown)}" if unknown else f"{value} has no hook in it")
    folder: Path | None = None
    for answer in callers["steadyrest_templates"]() if "steadyrest_templates" in callers else []:
        folder = Path(answer)
        if not folder.is_dir():
            raise NotADirectoryError(f"the folder of its templates is not there: {folder}")
    return Plugin(label, callers.get("steadyrest_event", lambda **seen: []), folder)


def hooked(items: Iterator[PlanItem], hooks: Hooks, profile: Profile, operation_names: Sequence[str] = ()) -> Iterator[PlanItem]:
    """The items of a plan, with what the plug-ins say around each event.

    operation_names   for messages, that of operation 1 first
    raises            PluginError, while the items are read, for a plug-in that refuses, fails, or says what it may not
    """
    for item in items:
        if not hooks.plugins or not isinstance(item, Event):
            yield item
            continue
        name = operation_names[item.operation - 1] if 0 < item.operation <= len(operation_names) else ""
        place = Place(operation=item.operation, operation_name=name or None, move=item.move or None) if item.operation else Place()
        before, after = list[Event](), list[Event]()
        for plugin in hooks.plugins:
            for said in _said(plugin, item, profile, place):
                before += [_checked(each, plugin, item, profile, place) for each in said.before]
                after += [_checked(each, plugin, item, profile, place) for each in said.after]
            if (before and item.name == "program_start") or (after and item.name == "program_end"):
                wrong = f"{plugin.label} adds something outside the program: {'before' if before else 'after'} {item.name}"
                raise PluginError(wrong, place=place, cure="add it after program_start, or before program_end")
        yield from before
        yield item
        yield from after


def _said(plugin: Plugin, event: Event, profile: Profile, place: Place) -> list[Around]:
    try:
        answers: list[Around] = plugin.event(event=_to_look_at(event), controller=profile.name)
    except (Refusal, SteadyrestError) as error:
        raise PluginError(f"{plugin.label} refuses: {error.wrong}", place=place, cure=error.cure) from error
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException as error:  # whatever a plug-in makes fail is its own fault
        raise _fails(plugin, event, f"{type(error).__name__}: {error}", place) from error
    for answer in answers:
        if not isinstance(answer, Around) or not isinstance(answer.before, Sequence) or not isinstance(answer.after, Sequence):
            raise _fails(plugin, event, f"steadyrest_event returned {answer!r}, and not an Around of lists, or None", place)
    return answers


def _checked(added: Event, plugin: Plugin, beside: Event, profile: Profile, place: Place) -> Event:
    """An event of a plug-in, made one of the program's: the operation's number, the plug-in's name as its rule."""
    if not isinstance(added, Event):
        raise _fails(plugin, beside, f"{added!r} is no event", place)
    if added.name in EVENTS and added.name not in ADDED:
        wrong = f"it may not add the event '{added.name}': allowed are {', '.join(ADDED)}, and events of its own"
        raise _fails(plugin, beside, wrong, place)
    if not re.fullmatch(r"[a-z][a-z0-9_]*", added.name):
        raise _fails(plugin, beside, f"{added.name!r} is no name of an event: small letters, digits and underscores", place)
    if added.motion or added.holes is not None:
        raise _fails(plugin, beside, f"its event '{added.name}' brings motion with it, and only planning moves the tool", place)
    if added.name == PLAIN_LINES:
        texts = added.facts.get("lines")
        bad = [text for text in texts if not isinstance(text, str) or not LINE.fullmatch(text)] if isinstance(texts, tuple) else [texts]
        if bad or not texts:
            raise _fails(plugin, beside, f"{(bad or [texts])[0]!r} is no line of a program: plain ASCII, one line each, not empty", place)
    if (unreal := next((name for name, word in added.words.items() if not math.isfinite(word.value)), None)) is not None:
        raise _fails(plugin, beside, f"the word '{unreal}' of its event '{added.name}' is no number", place)
    letter = profile.codes.dwell_letter
    words = {n: replace(word, letter=letter) if word.kind == "dwell" and not word.letter else word for n, word in added.words.items()}
    return replace(added, operation=beside.operation, rule=plugin.label, move=0, words=words, added=True)


def _fails(plugin: Plugin, event: Event, wrong: str, place: Place) -> PluginError:
    cure = "repair the plug-in, or take its package out; nothing was written"
    return PluginError(f"{plugin.label} fails at the event {event.name}: {wrong}", place=place, cure=cure)


def _to_look_at(event: Event) -> Event:
    def fixed(column: Any) -> Any:
        copy = column.copy()
        copy.flags.writeable = False
        return copy

    facts: Mapping[str, Any] = MappingProxyType(dict(event.facts))
    holes, motion = event.holes and changed(event.holes, fixed), tuple(changed(run, fixed) for run in event.motion)
    return replace(event, facts=facts, words=MappingProxyType(dict(event.words)), motion=motion, holes=holes)
