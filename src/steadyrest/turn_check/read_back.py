"""Does a turn check, read back as the controller would, do nothing but turn a little with the tool clear?"""

from __future__ import annotations

import numpy as np

from steadyrest.errors import Place, Refused
from steadyrest.profile import Profile
from steadyrest.reading import EventRead, MotionRead, read_program

FORBIDDEN = {
    "spindle": "it has a spindle word",
    "coolant": "it has a coolant word",
    "tool_change": "it changes a tool",
    "tool_selected": "it names a tool",
    "length_offset": "it turns a length offset on",
    "cycle": "it drills",
}
SAME_DEG = 1e-6


def check_read_back(text: bytes, profile: Profile, letter: str, start_deg: float, turn_deg: float, *, by_hand: bool) -> None:
    """Read the program back and go through it.

    raises   Refused where it moves X, Y or Z (but for the profile's retract), turns otherwise than to `start_deg`, by `turn_deg` and
             back, turns without a stop before, with the clamp on, or before the tool is clear; ProgramError where it cannot be read
    """
    stands: list[float] = []
    stopped = retracted = False
    clamped = _rotary_clamps(profile, letter)
    for item in read_program(text, profile, rotary_letter=letter):
        if isinstance(item, EventRead):
            if item.kind in FORBIDDEN and item.text not in ("stop", "off"):
                raise _refused(FORBIDDEN[item.kind], item.line)
            stopped = stopped or item.kind == "stop"
            retracted = retracted or item.kind == "retract"
            clamped = {"clamp": True, "unclamp": False}.get(item.kind, clamped)
            continue
        _check_linear(item)
        angles = item.vertex_deg[:, 0]
        for before, after, line in zip(angles[:-1], angles[1:], item.line, strict=True):
            if np.isnan(after) or abs(after - before) <= SAME_DEG:
                continue
            if not stopped:
                raise _refused("it turns the rotary without waiting for the operator", int(line))
            if clamped:
                raise _refused("it turns the rotary with the clamp on", int(line))
            if not (by_hand or retracted):
                raise _refused("it turns the rotary before the tool is clear", int(line))
            stands.append(float(after))
            stopped = False
    wanted = [start_deg, start_deg + turn_deg, start_deg]
    known = wanted[1:] if profile.program.start_position is not None else wanted
    if len(stands) != len(known) or not np.allclose(stands, known, rtol=0, atol=0.01):
        raise _refused(f"it turns the rotary to {stands} instead of {known}", None)


def _check_linear(item: MotionRead) -> None:
    """X, Y and Z stay where they are, or go where work coordinates do not reach: in the retract."""
    positions = item.vertex_mm
    with np.errstate(invalid="ignore"):
        moves = np.abs(np.diff(positions, axis=0)) > 0
    begins = np.isnan(positions[:-1]) & ~np.isnan(positions[1:])
    bad = np.flatnonzero((moves | begins).any(axis=1))
    if len(bad):
        raise _refused("it moves X, Y or Z", int(item.line[bad[0]]))


def _rotary_clamps(profile: Profile, letter: str) -> bool:
    return any(rotary.clamp.use == "indexing" for name, rotary in profile.rotary.items() if name == letter)


def _refused(wrong: str, line: int | None) -> Refused:
    return Refused(
        f"the turn check is not safe as written: {wrong}",
        place=Place(line=line),
        cure="check the profile's own templates: retract, index, stop, clamp and unclamp must do only what their names mean",
    )
