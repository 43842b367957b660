"""Which hooks are there, and what are they called with?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pluggy

from steadyrest.hooks.additions import PROJECT
from steadyrest.motion import Event

if TYPE_CHECKING:
    from steadyrest.hooks.additions import Around

_spec = pluggy.HookspecMarker(PROJECT)


class Spec:
    """The hooks. A plug-in has those it needs, each with as many of the arguments as it needs."""

    @_spec
    def steadyrest_event(self, event: Event, controller: str) -> Around | None:
        """Called with each event of the plan, in the order of the program, before it is written.

        event        one of those a template is called for: name, number of the operation, facts, words; to be looked at, not changed
        controller   the profile's name
        returns      what to say before and after the event; None: nothing
        raises       Refusal: the post stops with exit code 1, and the message names the plug-in
        """

    @_spec
    def steadyrest_templates(self) -> Path | None:
        """The folder of the templates for events of the plug-in's own; a template of the same name in a profile wins."""
