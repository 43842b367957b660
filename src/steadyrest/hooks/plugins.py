"""Which plug-ins for events are installed, and which of them are broken?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyrest.hooks.additions import PROJECT
from steadyrest.notices import PluginNotLoaded

if TYPE_CHECKING:
    import pluggy

GROUP = "steadyrest.events"
"""Entry points of installed packages: each names a module, or an object in one, that has hooks."""


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
    points = sorted(entry_points(group=GROUP), key=lambda each: (each.name, each.value))
    if not points:
        return Hooks()
    import pluggy

    from steadyrest.hooks.spec import Spec

    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(Spec)
    loaded: list[tuple[str, object]] = []
    broken: list[PluginNotLoaded] = []
    for point in points:
        label = _label(point)
        try:
            module = _registered(point, label, manager)
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:  # what is not ours may raise anything
            broken.append(PluginNotLoaded.of(label, error))
        else:
            loaded.append((label, module))
    plugins: list[Plugin] = []
    for label, module in loaded:
        others = [other for _, other in loaded if other is not module]
        try:
            plugins.append(_plugin(label, module, others, manager))
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:
            broken.append(PluginNotLoaded.of(label, error))
    return Hooks(tuple(plugins), tuple(broken))


def _label(point: EntryPoint) -> str:
    package = f"package {point.dist.name} {point.dist.version}" if point.dist is not None else "a package without a name"
    return f"plug-in '{point.name}' of {package}"


def _registered(point: EntryPoint, label: str, manager: pluggy.PluginManager) -> object:
    """The module of an entry point, known to the manager."""
    module: object = point.load()
    manager.register(module, name=label)
    callers = manager.get_hookcallers(module) or []
    unknown = sorted(caller.name for caller in callers if caller.spec is None)
    if unknown or not callers:
        manager.unregister(module)
        raise LookupError(f"there is no hook {', '.join(unknown)}" if unknown else f"{point.value} has no hook in it")
    return module


def _plugin(label: str, module: object, others: list[object], manager: pluggy.PluginManager) -> Plugin:
    """Its hooks, each to be called alone, so that whatever goes wrong is known to be its own."""
    has = {caller.name for caller in manager.get_hookcallers(module) or []}
    event = manager.subset_hook_caller("steadyrest_event", others) if "steadyrest_event" in has else None
    folder: Path | None = None
    if "steadyrest_templates" in has:
        for answer in manager.subset_hook_caller("steadyrest_templates", others)():
            folder = Path(answer)
            if not folder.is_dir():
                raise NotADirectoryError(f"the folder of its templates is not there: {folder}")
    return Plugin(label, event, folder)
