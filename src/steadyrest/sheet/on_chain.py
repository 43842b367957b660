"""Two rotaries, or a head that turns, as one program assumes them: what carries what, where the axes run, how far each one goes."""

from __future__ import annotations

from collections.abc import Iterable

from steadyrest.conventions import AXES
from steadyrest.notices import Notice
from steadyrest.profile import chain_in_words
from steadyrest.proof import Setting, Verdict
from steadyrest.sheet.tools import number


def chain_lines(setting: Setting, verdict: Verdict, notices: Iterable[Notice]) -> tuple[str, ...]:
    """What has to be compared with the machine before the first run, a sentence each; lengths in the toolpath's units. Nothing for one
    rotary in the table, or none.
    """
    if not setting.lines:
        return ()
    units, found = setting.toolpath.units, list(chain_in_words(setting.profile))
    for (letter, rotary), line in zip(setting.rotaries.items(), setting.lines, strict=True):
        place = " ".join(f"{axis} {number(value / setting.scale)}" for axis, value in zip(AXES, line.point.tolist(), strict=True))
        where = f"its axis goes through {place} {units} in work coordinates"
        if not line.carries_part:
            where = f"its axis goes through {place} {units} from the gauge point, +Z up into the head"
        turns = f"{letter}+ turns what it carries {rotary.positive_turns_chuck}, seen from {rotary.chuck_faces}"
        found.append(f"{turns}; {where}")
        clamp = rotary.clamp
        held = f"{letter} is clamped for indexed cuts: {clamp.on} on, {clamp.off} off"
        found.append(held if clamp.use == "indexing" else f"the program does not clamp {letter}: only its drive holds it")
    for letter, rotary in setting.rotaries.items():
        span, turned = verdict.whole.rotary_extents_deg.get(letter), verdict.whole.turning_of_deg.get(letter, 0.0)
        if span is None:
            continue
        travel = rotary.travel
        allowed = f" of {number(travel.lowest)} to {number(travel.highest)}" if travel.kind == "limited" else ""
        found.append(f"{letter} goes from {number(span[0])} to {number(span[1])} degrees{allowed}, and turns {number(turned)} in all")
    if withdrawn := sum(notice.kind == "Reoriented" for notice in notices):
        found.append(f"inside cuts the tool is withdrawn along its axis and the rotaries turn, {withdrawn} times: watch each of them")
    return tuple(found)


def reference_lines(setting: Setting) -> tuple[str, ...]:
    """Where the chain's reference point, from which the lines of the table count, is in work coordinates."""
    toolpath = setting.mounted
    place = ", ".join(f"{axis} {number(value)}" for axis, value in zip(AXES, toolpath.centre, strict=True))
    return (
        f"the reference point, from which the axes in the table are measured, is at {place} {toolpath.units} in work coordinates: touch it "
        "off, and set the offset to suit",
        "all rotaries at 0 as in the profile; do not change their zeros afterwards",
        "the part stands where the toolpath says: what stands elsewhere is cut wrong in every plane but the first",
    )
