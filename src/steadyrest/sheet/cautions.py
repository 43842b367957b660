"""What has to be minded before the first run, and in which order is it gone through?"""

from __future__ import annotations

from collections.abc import Set

from steadyrest.profile import Profile, Rotary
from steadyrest.proof import NOT_SEEN, Verdict
from steadyrest.sheet.numbers import number, of_part
from steadyrest.toolpath import Toolpath


def cautions(
    profile: Profile, rotary: Rotary | None, letter: str | None, verdict: Verdict, found: Set[str], inverse: bool
) -> tuple[str, ...]:
    """Common practice of the trade, but for what the proof does not see, which the proof itself says.

    found     names of what was found and stands on the sheet already
    inverse   the program feeds in inverse time somewhere
    """
    word = rotary.word_letter(letter) if rotary is not None and letter is not None else ""
    lines = [
        "The proof shows that this program agrees with its toolpath, and nothing else. It does not see: " + "; ".join(NOT_SEEN) + ".",
        "Measure all tool lengths, and check every offset that was typed in.",
        "No gloves and no loose clothing near anything that turns; locked out before anybody reaches in.",
        "The machine's own manual, the rules of the shop and the law of the place come first.",
    ]
    if rotary is not None:
        lines.insert(1, f"Check {word}'s direction, its zero and the centre of rotation at this machine, today (steadyrest turn-check).")
        span = verdict.whole.rotary_extent_deg
        turns = (span[1] - span[0]) / 360 if span is not None else 0.0
        if turns > 1:
            lines.append(f"The rotary goes {number(turns)} turns to one side: see that cables, hoses and the tail support let it.")
        if rotary.clamp.use == "never" and "clamp" not in found:
            lines.append(
                "Nothing clamps the rotary: compare what its drive holds with cutting force times radius; no heavy climb cut against it."
            )
    if inverse:
        kind = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "the seconds of the block"}[
            profile.feed.inverse_is
        ]
        lines.append(f"F under {profile.feed.inverse_code} is {kind}: check that this controller means the same.")
    return tuple(lines)


def checklist(toolpath: Toolpath, profile: Profile, rotary: Rotary | None, letter: str | None) -> tuple[str, ...]:
    """The first run (common practice)."""
    start = profile.program.start_position
    word = rotary.word_letter(letter) if rotary is not None and letter is not None else "rotary"
    lines = ["The drawing and the machine agree: which end, which way the chuck looks"] if rotary is not None else []
    if rotary is not None:
        lines += [
            f"Turn check done: a small positive {word} goes the way of the arrow",
            "Spindle stopped: centre of rotation touched and entered",
        ]
    lines += [
        "Stock sticks out far enough, runs true, is held fast; jaws, screws and tail support clear the swept radius",
        "Tools in their places, lengths entered; holders clear the part at the lowest positions",
        "Work offset raised by more than the deepest cut; the whole program run above the part, the swing watched",
        "Work offset back; single block, rapid and feed turned down, hand on feed hold, distance to go read at each approach",
        "Guards closed, nobody near, never unattended on the first part",
    ]
    if start is not None:
        where = ", ".join(f"{axis} {of_part(value, toolpath.units)}" for axis, value in zip("XYZ", start[:3], strict=True))
        lines.insert(
            len(lines) - 2,
            f"Machine stands at the start position before the start: {where} {toolpath.units}, {word} at {number(start[3])} degrees",
        )
    if not profile.tool.change and len({operation.tool for operation in toolpath.operations}) > 1:
        lines.insert(len(lines) - 2, "Tools are changed by hand at the stops: the right one each time, and its length set anew")
    return tuple(lines)
