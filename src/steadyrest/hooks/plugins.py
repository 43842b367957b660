"""Which hooks are there, which plug-ins for events are installed, and which of them are broken?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any

from steadyrest.hooks.additions import PROJECT, Around
from steadyrest.motion import Event
from steadyrest.notices import PluginNotLoaded

GROUP = "steadyrest.events"
"""Entry points of installed packages: each names a module, or an object in one, that has hooks."""


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
    event       calls its `steadyrest_event`; None where it has none
    templates   the folder of its own templates; None where it has none
    """

    label: str
    event: Callable[..., Any] | None
    templates: Path | None


@dataclass(frozen=True, slots=True)
class Hooks:
    """All plug-ins in the order in which they are called (by name), and a notice for each that could not be loaded."""

    plugins: tuple[Plugin, ...] = ()
    not_loaded: tuple[PluginNotLoaded, ...] = ()

    @property
    def template_folders(self) -> tuple[Path, ...]:
        """Where the templates of the plug-ins' own events are looked for."""
        return tuple(plugin.templates for plugin in self.plugins if plugin.templates is not None)


def find_hooks() -> Hooks:
    """The plug-ins of all installed packages. One that fails is left out and told: it never takes the others down."""
    plugins: dict[int, Plugin] = {}
    broken: list[PluginNotLoaded] = []
    for point in sorted(entry_points(group=GROUP), key=lambda each: (each.name, each.value)):
        package = f"package {point.dist.name} {point.dist.version}" if point.dist is not None else "a package without a name"
        label = f"plug-in '{point.name}' of {package}"
        try:
            module: object = point.load()
            if other := plugins.get(id(module)):
                raise ValueError(f"it is {other.label} as well")
            plugins[id(module)] = _plugin(label, point, module)
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:  # what is not ours may raise anything
            broken.append(PluginNotLoaded.of(label, error))
    return Hooks(tuple(plugins.values()), tuple(broken))


def _plugin(label: str, point: EntryPoint, module: object) -> Plugin:
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
        raise LookupError(f"there is no hook {', '.join(unknown)}" if unknown else f"{point.value} has no hook in it")
    folder: Path | None = None
    for answer in callers["steadyrest_templates"]() if "steadyrest_templates" in callers else []:
        folder = Path(answer)
        if not folder.is_dir():
            raise NotADirectoryError(f"the folder of its templates is not there: {folder}")
    return Plugin(label, callers.get("steadyrest_event"), folder)
