"""What was seen into a shop's own controller.toml: what would change, and which way the part turns then."""

from __future__ import annotations

from dataclasses import replace

from steadyrest.profile import Profile, axis_in_words, chain_of, folder_of, has_one_in_table, resolve
from steadyrest.profile_tools import Change
from steadyrest.profile_tools import planned_change as planned
from steadyrest.reading import sigma
from steadyrest.turn_check.program import the_rotary
from steadyrest.turn_check.question import Mounting, carried, chain_seen


def settings_seen(profile: Profile, letter: str, said: Mounting, went_along: bool | None = None) -> dict[str, str]:
    """The settings of a profile that what was seen gives, by dotted key; `went_along` and errors as of `planned_change`."""
    found: dict[str, str] = {
        f"rotary.{letter}.chuck_faces": said.chuck_faces,
        f"rotary.{letter}.positive_turns_chuck": said.positive_turns_chuck,
    }
    return found if went_along is None else {**found, "chain": chain_seen(profile, letter, went_along=went_along)}


def planned_change(
    controller: str,
    letter: str,
    said: Mounting,
    *,
    seen: str = "turn check",
    child: str | None = None,
    went_along: bool | None = None,
) -> Change:
    """What storing the two facts for a controller would change; nothing is written.

    controller   name of a profile, or path of its folder
    seen         where the facts come from: the comment behind each line that is written
    child        name of the child profile, where one has to be made; None: `shop-NAME`
    went_along   whether the rotary that this one carries in the chain went along when it turned; None: nobody looked, or it carries none
    raises       InputError for `went_along` of a rotary that carries no other; ProfileError for a profile that cannot be read, a chain that
                 cannot be, or an existing child that has another parent
    """
    profile = resolve(folder_of(controller)).profile
    _, rotary = the_rotary(profile, letter)
    values = settings_seen(profile, letter, said, went_along)
    sources = dict.fromkeys(values, seen)
    way = "right-hand" if sigma(said.chuck_faces, said.positive_turns_chuck) == 1 else "left-hand"
    turns = f"so a positive {letter} turns the part {way} about +{rotary.along}"
    if not has_one_in_table(profile):
        chain = chain_of(profile)
        moved = "spindle" if chain is not None and letter in chain.tool else "part"
        turns = f"so a positive {letter} turns the {moved} {way} about the + end of {axis_in_words(rotary)}"
    if went_along is not None:
        sources["chain"] = f"{seen}; {carried(profile, letter)} {'went' if went_along else 'did not go'} along with {letter}"
    return replace(planned(controller, values, sources, child=child), also=turns)
