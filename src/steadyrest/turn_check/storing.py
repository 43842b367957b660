"""The two facts that were seen into a shop's own controller.toml: what would change, and which way the part turns then."""

from __future__ import annotations

from dataclasses import replace

from steadyrest.profile import folder_of, resolve, rotaries_of
from steadyrest.profile_tools import Change
from steadyrest.profile_tools import planned_change as planned
from steadyrest.reading import sigma
from steadyrest.turn_check.question import Mounting


def planned_change(controller: str, letter: str, said: Mounting, *, seen: str = "turn check", child: str | None = None) -> Change:
    """What storing the two facts for a controller would change; nothing is written.

    controller   name of a profile, or path of its folder
    seen         where the facts come from: the comment behind each line that is written
    child        name of the child profile, where one has to be made; None: `shop-NAME`
    raises       ProfileError for a profile that cannot be read, or an existing child that has another parent
    """
    rotary = rotaries_of(resolve(folder_of(controller)).profile, letter=letter)[letter]  # type: ignore[index]
    facts = {"chuck_faces": said.chuck_faces, "positive_turns_chuck": said.positive_turns_chuck}
    values = {f"rotary.{letter}.{key}": value for key, value in facts.items()}
    turns = f"so a positive {letter} turns the part {'right-hand' if sigma(**facts) == 1 else 'left-hand'} about +{rotary.along}"
    return replace(planned(controller, values, dict.fromkeys(values, seen), child=child), also=turns)
