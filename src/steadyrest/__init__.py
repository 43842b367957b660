"""steadyrest: a neutral toolpath becomes a proved program for a mill with a rotary, in a shop's own dialect.

What other programs may rely on, and all that they need; see the page "From Python" of the documentation:

    from pathlib import Path
    import steadyrest

    request = steadyrest.Request(Path("part.toolpath.json"), "rs274ngc", output=Path("part.nc"))
    posted = steadyrest.post(request)         # written, proved, judged and put in place; Refused where it must not run
    print(posted.outcome.word, posted.text())

A part may be a file, the bytes of a toolpath, or a `Toolpath` in memory. Long work tells its `progress`, which may raise `Cancelled`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadyrest.errors import Cancelled, InputError, Refused, SteadyrestError
    from steadyrest.findings import Finding
    from steadyrest.inputs import Input, PartOptions, take
    from steadyrest.notices import Notice
    from steadyrest.outcome import Outcome
    from steadyrest.posting import post, post_to_memory, posted_text, prove
    from steadyrest.profile import FoundProfile, Profile, ResolvedProfile, resolve
    from steadyrest.profile import find_profiles as profiles
    from steadyrest.progress import STAGES, Progress
    from steadyrest.proof import Verdict
    from steadyrest.reporting import report
    from steadyrest.request import Request, load
    from steadyrest.summary import Posted
    from steadyrest.toolpath import Toolpath

_ROOMS = {
    "errors": ("Cancelled", "InputError", "Refused", "SteadyrestError"),
    "findings": ("Finding",),
    "inputs": ("Input", "PartOptions", "take"),
    "notices": ("Notice",),
    "outcome": ("Outcome",),
    "posting": ("post", "post_to_memory", "posted_text", "prove"),
    "profile": ("FoundProfile", "Profile", "ResolvedProfile", "profiles", "resolve"),
    "progress": ("STAGES", "Progress"),
    "proof": ("Verdict",),
    "reporting": ("report",),
    "request": ("Request", "load"),
    "summary": ("Posted",),
    "toolpath": ("Toolpath",),
}
"""Where each name comes from. A room is entered when something of it is asked for: importing this package costs nothing."""


def __getattr__(name: str) -> Any:
    for room, names in _ROOMS.items():
        if name in names:
            return getattr(import_module(f"steadyrest.{room}"), "find_profiles" if name == "profiles" else name)
    raise AttributeError(f"module 'steadyrest' has no attribute '{name}'")


__all__ = [
    "STAGES", "Cancelled", "Finding", "FoundProfile", "Input", "InputError", "Notice", "Outcome", "PartOptions", "Posted", "Profile",
    "Progress", "Refused", "Request", "ResolvedProfile", "SteadyrestError", "Toolpath", "Verdict", "load", "post", "post_to_memory",
    "posted_text", "profiles", "prove", "report", "resolve", "take",
]  # fmt: skip
