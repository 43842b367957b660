"""Which profiles are there, and which of them are broken?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from steadyrest.errors import SteadyrestError
from steadyrest.profile.resolving import load_profile
from steadyrest.profile.search import candidates


@dataclass(frozen=True, slots=True)
class FoundProfile:
    """A profile that can be named, or what is wrong with it.

    name        the folder's name; of an entry point that leads nowhere, the entry point's
    where       "user configuration", "bundled", or "package NAME VERSION"
    folder      None where an entry point leads to no folder
    speaks      what it says of itself; empty when broken
    error       why it cannot be used; empty when it can
    hidden_by   where the profile is that the name means instead; empty when it means this one
    """

    name: str
    where: str
    folder: Path | None
    speaks: str = ""
    error: str = ""
    hidden_by: str = ""


def find_profiles() -> list[FoundProfile]:
    """All profiles of the user's folder, of steadyrest, and of installed packages, by name. A broken one is listed with its error."""
    found: list[FoundProfile] = []
    winners: dict[str, str] = {}
    for each in candidates():
        if each.folder is None:
            found.append(FoundProfile(each.name, each.where, None, error=each.error))
            continue
        winner = winners.setdefault(each.name, each.where)
        hidden = winner if winner != each.where else ""
        try:
            speaks = load_profile(each.folder).speaks
        except SteadyrestError as error:
            found.append(FoundProfile(each.name, each.where, each.folder, error=str(error), hidden_by=hidden))
        else:
            found.append(FoundProfile(each.name, each.where, each.folder, speaks=speaks, hidden_by=hidden))
    return sorted(found, key=lambda each: each.name)
