"""Where the motion of a program lies: as it is, laid round a cylinder, at several angles, or on the faces to which it turns the rotary.

What of a program that is cut at several angles is there for the operator or the spindle happens once and not at every angle: texts, pauses
and stops before the first motion of an operation, and stops after its last cut, become operations of their own at one angle. A stop is
made with spindle and coolant off. What stands between the cuts of an operation belongs to each face.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.errors import InputError, Place
from steadyrest.inputs.changes import TurnedAs
from steadyrest.inputs.moves import ARC, Frame, Happening, Hole, Item, Moves, Stretch, cuts, is_note, is_stop, mapped
from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.inputs.program.state import ProgramState
from steadyrest.profile import Profile, rotaries_of
from steadyrest.reading import sigma

ANGLE_DECIMALS = 9
_TURNED = {
    "X": np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
    "Y": np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
}
"""By the axis of rotation: the quarter turn of the drawing that brings the program's axis along it to the way round."""


def frame_of(options: InputOptions, axis: str, mm: float) -> Frame:
    """The frame in which a program is to be laid, in mm.

    axis     X, Y or Z: the axis of rotation
    mm       millimetres per unit of the options' lengths
    raises   InputError where the developed axis has no way round
    """
    if options.indexed is not None:
        return ("indexed", *options.indexed)
    wrap = options.wrap
    if wrap is None:
        return ("still",)
    if axis == "Z":
        raise InputError(
            "a program cannot be wrapped around an axis along the spindle: the tool cannot reach that surface",
            cure="use axis X or Y, or give angles instead",
        )
    return ("wrapped", wrap.diameter * mm, wrap.start_angle, wrap.z_from)


def placed(stretches: Sequence[Stretch], options: InputOptions, axis: str, mm: float) -> None:
    """Shift the coordinates of stretches as it is said, and turn the drawing where the other axis is developed; arguments as above."""
    if any(options.shift):
        shift = np.array(options.shift) * mm
        for stretch in stretches:
            stretch.items = [mapped(item, partial(np.add, shift)) for item in stretch.items]
    across = "Y" if axis == "X" else "X"
    if options.wrap is not None and options.wrap.developed not in (None, across):
        turn = partial(_turned, turn=_TURNED[axis])
        for stretch in stretches:
            stretch.items = [mapped(item, turn, turn) for item in stretch.items]


def _turned(points: Floats, turn: Floats) -> Floats:
    return points @ turn.T


def developed_width(stretches: Sequence[Stretch], axis: str) -> float:
    """How wide the cut path is along the developed axis, ends of cuts, arcs and holes taken; 0 without any."""
    column = 1 if axis == "X" else 0
    low, high = math.inf, -math.inf
    for item in (item for stretch in stretches for item in stretch.items):
        if isinstance(item, Happening):
            continue
        values = item.point[None, column] if isinstance(item, Hole) else item.end[:, column]
        if isinstance(item, Moves) and item.arcs is not None:
            arcs = take(item.arcs, item.motion == ARC)
            middle, radius = arcs.centre[:, column], np.hypot(*(arcs.start - arcs.centre)[:, :2].T)
            values = np.concatenate([values, middle - radius, middle + radius])
        low, high = min(low, float(values.min())), max(high, float(values.max()))
    return max(0.0, high - low)


def laid_in(stretches: Sequence[Stretch], frame: Frame) -> list[Stretch]:
    """The stretches of a program in the frame in which it is cut, stops that come right after each other as one."""
    for stretch in stretches:
        stretch.conditions = replace(stretch.conditions, frame=frame)
    found: list[Stretch] = []
    for stretch in stretches:
        for part in _parts(stretch, found) if frame[0] == "indexed" and len(frame) > 2 else [stretch]:
            _add(found, part)
    return found


def _parts(stretch: Stretch, before: Sequence[Stretch]) -> list[Stretch]:
    """What happens once before the cuts of a stretch, its cuts at every angle, and what happens once after them."""
    items, (_, first, *_, last) = stretch.items, stretch.conditions.frame
    cut = [at for at, item in enumerate(items) if cuts(item)]
    if not cut:
        goes_on = bool(before) and before[-1].conditions.tool == stretch.conditions.tool
        said: list[Item] = [item for item in items if isinstance(item, Happening)]
        return [_once(stretch, said, last if goes_on else first)] if len(said) == len(items) or any(map(is_stop, said)) else [stretch]
    begin = next(at for at, item in enumerate(items) if not isinstance(item, Happening))
    tail = items[cut[-1] + 1 :]
    after: list[Item] = [item for item in tail if isinstance(item, Happening)] if any(map(is_stop, tail)) else []
    lead, trail = _once(stretch, items[:begin], first), _once(stretch, after, last)
    trail.name = "stop"
    if len(lead.items) > 1 and isinstance(title := lead.items[0], Happening) and is_note(title):
        lead.name, lead.items = title.move["note"], lead.items[1:]
    elif all(map(is_note, lead.items)):
        lead.name = "text"
    stretch.items = [item for item in items[begin:] if not any(item is each for each in after)]
    return [part for part in (lead, stretch, trail) if part.items]


def _once(stretch: Stretch, items: list[Item], angle: float) -> Stretch:
    """Some of its items at one angle."""
    return Stretch(replace(stretch.conditions, frame=("indexed", angle)), stretch.name, items=items)


def _add(found: list[Stretch], part: Stretch) -> None:
    """The next stretch: where it is but a stop after a stop of the same tool, the two become one."""
    if not any(map(is_stop, part.items)) or any(not isinstance(item, Happening) for item in part.items):
        if found and not part.name and _names_what_follows(found):
            part.name = found[-1].name
        found.append(part)
        return
    part.conditions = replace(part.conditions, rpm=0.0, coolant="off")
    part.name = part.name or "stop"
    last = found[-1] if found else None
    if last is not None and last.conditions.tool == part.conditions.tool:
        tail = next((at + 1 for at in reversed(range(len(last.items))) if not isinstance(last.items[at], Happening)), 0)
        if any(map(is_stop, last.items[tail:])):
            part.items = last.items[tail:] + part.items
            last.items = last.items[:tail]
            if not last.items:
                part.name = last.name
                found.pop()
    stops = [item for item in part.items if isinstance(item, Happening) and is_stop(item)]
    one = next((stop for stop in stops if not stop.move["stop"]["optional"]), stops[0])  # an optional one only if all are
    part.items = [item for item in part.items if not is_stop(item)] + [one]
    found.append(part)


def _names_what_follows(found: Sequence[Stretch]) -> bool:
    """The last stretch is a stop right after a tool change: the text before it is the name of what the tool cuts."""
    stops = all(isinstance(item, Happening) for item in found[-1].items) and found[-1].name != "stop"
    return stops and (len(found) == 1 or found[-2].conditions.tool != found[-1].conditions.tool)


def with_head(stretches: Sequence[Stretch], texts: list[Happening]) -> None:
    """Put the texts at the head of a program into its first stretch: the first of them names it unless it has a name."""
    if not stretches or not texts:
        return
    first = stretches[0]
    if not first.name:
        first.name = texts.pop(0).move["note"]
    first.items = [*texts, *first.items]


def stood_at_angles(
    stretches: Sequence[Stretch], state: ProgramState, profile: Profile, letter: str | None, options: InputOptions, part: PartOptions
) -> tuple[str, TurnedAs]:
    """Give the stretches of a program that turns the rotary between its cuts the faces on which they lie.

    letter    of the rotary of the profile that it turns
    returns   the axis of rotation, and what was made of the words

    raises    ProgramError where it is not said how the rotary is mounted, or where else the program lies
    """
    if state.turned_at is None:
        raise ValueError("the program does not turn the rotary")
    if options.indexed is not None or options.wrap is not None:
        raise state.error(
            state.turned_at,
            "the program turns the rotary itself, but angles or a diameter are given for it too",
            "leave out the angles or the diameter",
        )
    if options.language is None:
        raise state.error(
            state.turned_at,
            "the program turns the rotary, but nobody has said how the rotary is mounted",
            "name the profile of its machine with --language: its mounting decides which face A90 is; or take the rotary words out and "
            "give where the program is cut: indexed at angles, or wrapped",
        )
    if state.blind_at is not None:
        raise state.error(
            state.blind_at,
            "a cut before the rotary's angle is stated, in a program that turns it",
            "state the angle, such as A0, before the first cut",
        )
    (rotary,) = rotaries_of(profile, letter=letter).values()
    if part.axis not in (None, rotary.along):
        raise state.error(
            state.turned_at,
            f"the rotary of {profile.name} turns about {rotary.along}, but the axis given for the part is {part.axis}",
            "name another profile, or leave the axis out",
        )
    sign = sigma(rotary)
    for stretch in stretches:
        angle = round(-sign * float(stretch.conditions.frame[1]) % 360.0, ANGLE_DECIMALS) % 360.0
        stretch.conditions = replace(stretch.conditions, frame=("indexed", angle + 0.0))
    return rotary.along, TurnedAs(
        Place(file=state.file, line=state.turned_at),
        f"the rotary's words are read as {profile.name} mounts it (chuck faces {rotary.chuck_faces}, positive turns the chuck "
        f"{rotary.positive_turns_chuck}): {letter}90 is the face at {-sign * 90.0 % 360.0:g} degrees",
    )
