"""The hooks room: plug-ins of installed packages that see each planned event, add events around it, or refuse.

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

from steadyrest.hooks.plugins import Around, Hooks, Refusal, dwell, find_hooks, hook, hooked, lines, note, stop, templated

__all__ = [
    "Around",
    "Hooks",
    "Refusal",
    "dwell",
    "find_hooks",
    "hook",
    "hooked",
    "lines",
    "note",
    "stop",
    "templated",
]
