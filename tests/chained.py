"""A machine with two rotaries in the table, C carried by A, like the reference machine where C stands; for the tests of the simulation."""

from __future__ import annotations

from typing import Any

from simulated import reference
from steadyrest.profile import Profile

TURNING: dict[str, Any] = {"positive_turns_chuck": "clockwise", "travel": {"kind": "unlimited"}}


def chained(chain: str = "part C A bed spindle", **rotaries: Any) -> Profile:
    """The reference machine with this chain; by default its A goes through the toolpath's `centre`."""
    lines = rotaries or {"C": {"along": "Z", "chuck_faces": "+Z"}, "A": {"along": "X", "chuck_faces": "+X"}}
    data = reference().model_dump(mode="json", by_alias=True)
    return Profile.model_validate(data | {"chain": chain, "rotary": {letter: TURNING | one for letter, one in lines.items()}})
