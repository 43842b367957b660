"""Which rotary of a profile is meant?"""

from __future__ import annotations

from steadyrest.errors import Place, ProfileError
from steadyrest.profile import Profile, Rotary


def the_rotary(profile: Profile, letter: str | None) -> tuple[str, Rotary]:
    """The rotary of that letter, or the only one. ProfileError when there is none, or more than one and no letter."""
    has = {str(name): rotary for name, rotary in profile.rotary.items()}
    named = ", ".join(f"{name} along {rotary.along}" for name, rotary in has.items())
    if letter is not None:
        if letter not in has:
            raise ProfileError(f"{profile.name} has no rotary {letter}", place=Place(key="rotary"), cure=f"it has {named or 'none'}")
        return letter, has[letter]
    if not has:
        raise ProfileError(f"{profile.name} has no rotary", place=Place(key="rotary"), cure="choose a controller with a table [rotary.A]")
    if len(has) > 1:
        raise ProfileError(
            f"{profile.name} has {len(has)} rotaries: {named}", place=Place(key="rotary"), cure="say which one is meant: --rotary LETTER"
        )
    return next(iter(has.items()))
