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
        "The proof shows only that this program agrees with its toolpath. It does not check: " + "; ".join(NOT_SEEN) + ".",
        "Measure all tool lengths, and check every offset that was typed in.",
        "No gloves and no loose clothing near anything that turns; lock out the machine before anybody reaches in.",
        "The machine's manual, the shop's rules and local law come first.",
    ]
    if rotary is not None:
        lines.insert(1, f"Check {word}'s direction, its zero and the centre of rotation at this machine, today (steadyrest turn-check).")
        span = verdict.whole.rotary_extent_deg
        turns = (span[1] - span[0]) / 360 if span is not None else 0.0
        if turns > 1:
            lines.append(f"The rotary goes {number(turns)} turns to one side: check that cables, hoses and the tailstock allow it.")
        if rotary.clamp.use == "never" and "clamp" not in found:
            lines.append(
                "Nothing clamps the rotary: compare the holding torque of its drive with cutting force times radius; no heavy climb cuts."
            )
    if inverse:
        kind = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "the seconds of the block"}[
            profile.feed.inverse_is
        ]
        lines.append(f"F under {profile.feed.inverse_code} is {kind}: check that this controller takes it so.")
    return tuple(lines)


def checklist(toolpath: Toolpath, profile: Profile, rotary: Rotary | None, letter: str | None) -> tuple[str, ...]:
    """The first run (common practice)."""
    start = profile.program.start_position
    word = rotary.word_letter(letter) if rotary is not None and letter is not None else "rotary"
    lines = ["Drawing and machine agree: which end, which way the chuck faces"] if rotary is not None else []
    if rotary is not None:
        lines += [
            f"Turn check done: a small positive {word} move turns the way of the arrow",
            "Spindle stopped: centre of rotation touched off and entered",
        ]
    lines += [
        "Stock sticks out far enough, runs true, is clamped tight; tool clears jaws, screws and tailstock",
        "Tools loaded, lengths entered; holders clear the part at the lowest positions",
        "Work offset raised by more than the deepest cut; whole program run above the part; watch the stock and the cables swing",
        "Work offset back; single block, rapid and feed turned down, hand on feed hold; read distance to go at each approach",
        "Guards closed, nobody near, never unattended on the first part",
    ]
    if start is not None:
        where = ", ".join(f"{axis} {of_part(value, toolpath.units)}" for axis, value in zip("XYZ", start[:3], strict=True))
        lines.insert(
            len(lines) - 2,
            f"Machine at the start position before cycle start: {where} {toolpath.units}, {word} at {number(start[3])} degrees",
        )
    if not profile.tool.change and len({operation.tool for operation in toolpath.operations}) > 1:
        lines.insert(len(lines) - 2, "Tools are changed by hand at the stops: the right tool each time, and its length set again")
    return tuple(lines)
