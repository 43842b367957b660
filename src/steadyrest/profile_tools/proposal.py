"""What does an existing program show of its dialect, and what can it not show?"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import ProfileError
from steadyrest.profile import Profile
from steadyrest.profile_tools.example import Claim, Example, read_example
from steadyrest.profile_tools.infer_codes import infer_codes, one_digit_codes, unknown_codes
from steadyrest.profile_tools.infer_motion import infer_habits, infer_motion
from steadyrest.profile_tools.infer_numbers import infer_decimals, infer_numbers, numbers_of
from steadyrest.profile_tools.infer_text import infer_order, infer_text
from steadyrest.profile_tools.settings import Absent, value_of, with_values
from steadyrest.reading import opened_program

NEVER_SHOWN = (
    "how the rotary is mounted: along which axis, which way its chuck faces, which way a positive command turns it",
    "what F means while the rotary turns: the speed of the linear axes, of all axes with a degree as a length unit, or of the tool tip",
    "the travel of the axes and of the rotary, and whether the rotary's angles go on past 360 or roll over",
    "the highest speeds of the axes, the rotary and the spindle, and the largest F",
    "which codes, planes, cycles and characters the controller has besides those in the example",
    "the longest line that the controller takes",
    "how tool changes, starts and retracts are laid out in lines: compare them with the program of the first part, and give the profile a "
    "template of its own where they differ",
)

MOST_STRANGE = 5


@dataclass(frozen=True, slots=True)
class Proposal:
    """What an example shows.

    example   its file's name
    claims    settings, each with the line that shows it; those that are not sure are to be asked first
    unknown   what it does not show, in sentences
    """

    example: str
    claims: tuple[Claim, ...]
    unknown: tuple[str, ...]

    def claim(self, key: str) -> Claim | None:
        """The claim about a setting."""
        return next((claim for claim in self.claims if claim.key == key), None)

    def as_json(self) -> dict[str, Any]:
        """The same as data."""
        claims = [asdict(claim) | {"line": claim.line or None} for claim in self.claims]
        return {"example": self.example, "claims": claims, "unknown": list(self.unknown)}


def propose(program: Path, parent: Profile) -> Proposal:
    """Read a trusted program and propose the settings that it shows. `parent` decides where the example shows nothing.

    Raises ProgramError where the file is no program.
    """
    with opened_program(program) as opened:
        data = opened.read()
    return proposal(data, str(program), parent)


def proposal(data: bytes, name: str, parent: Profile) -> Proposal:
    """The same for a program in memory. Raises ProgramError."""
    seen = read_example(data, name)
    claims = (*infer_text(seen), *infer_numbers(seen), *infer_order(seen, parent.words.order), *infer_habits(seen))
    claims += (*infer_codes(seen, parent), *infer_motion(seen))
    return Proposal(Path(name).name, claims, (*_not_shown(seen, claims), *NEVER_SHOWN))


def _not_shown(seen: Example, claims: tuple[Claim, ...]) -> list[str]:
    """What this example in particular leaves open."""
    found: list[str] = []
    claimed = {claim.key for claim in claims}
    used = {claim.value for claim in claims if isinstance(claim.value, str)}
    for each in infer_decimals(seen):
        if not each.settled and each.kind not in ("spindle", "centre", "radius"):
            what = f"at least {each.least} are shown" if each.least else "none are shown"
            found.append(f"how many decimals the numbers of kind {each.kind} have: {what}")
    if seen.inch is None:
        found.append("whether its lengths are mm or inches: no code says it, or both do")
    missing = {
        "program.line_ending": "the line ending: LF and CR LF are mixed",
        "program.comments.style": "the style of comments: there are none, or of several kinds",
        "program.block_numbers.use": "which blocks are numbered: some are, and not the first of each operation only",
        "words.spaces": "whether there are spaces between words: both are used, or no block has two words",
        "words.distance": "whether words are positions or steps: there is no G90 or G91, or both are used",
        "arcs.form": "how arcs are given, by centre or by radius: there are none, or both are used",
        "program.safe_start": "which block is the safe start: there is none before something moves, so the parent's is kept",
        "codes.dwell": "how a pause is written: there is none",
        "tool.change": "how a tool is changed: there is no M6",
        "stops.end": "how a program ends: there is no M2 or M30",
        "feed.inverse_code": "whether the controller has inverse time: the example does not use it",
        "retract.form": "how the tool retracts: both machine coordinates and the reference point are used",
    }
    found += [words for key, words in missing.items() if key not in claimed]
    if "arcs.form" in claimed and "arcs.centre_is" not in claimed and seen.first("G2", "G3"):
        found.append("whether I, J, K count from the start of the arc: no arc in it shows the difference, or the arcs give R")
    pointed = any(claim.key == "numbers.length.point" and claim.value == "always" for claim in claims)
    if pointed and "angle" not in numbers_of(seen):
        found.append("whether an angle needs a decimal point as its lengths do: there is no angle in it; A90 may mean 90 counts")
    padded, bare = one_digit_codes(seen)[True], one_digit_codes(seen)[False]
    if padded and bare:
        found.append(f"whether codes below 10 have two digits: both {padded[0].text} and {bare[0].text} are used")
    letters = sorted({word.letter for line in seen.blocks for word in line.words if word.letter in "ABC"})
    if letters:
        found.append(f"which axis {' and '.join(letters)} {'turns' if len(letters) == 1 else 'turn'} about, although the example uses it")
    for text, line in unknown_codes(seen).items():
        if text not in used:
            found.append(f"what {text} means (line {line.number}: {line.text.strip()})")
    strange = [line for line in seen.lines if line.strange and line.strange != "%"]
    for line in strange[:MOST_STRANGE]:
        found.append(f"what line {line.number} does, which could not be read: {line.text.strip()}")
    if len(strange) > MOST_STRANGE:
        found.append(f"what {len(strange) - MOST_STRANGE} more lines do, which could not be read")
    return found


@dataclass(frozen=True, slots=True)
class Sorted:
    """Claims by what is done with them.

    stated   different from the parent, sure, and possible together: they go into the file
    asked    different from the parent, with the reason why they wait for an answer: they go into the file as a comment
    same     what the parent says anyway
    """

    stated: tuple[Claim, ...]
    asked: tuple[tuple[Claim, str], ...]
    same: tuple[Claim, ...]


def sorted_claims(claims: Sequence[Claim], parent: Profile, given: Mapping[str, Any], fails: Callable[[Profile], str]) -> Sorted:
    """Sort the claims of an example.

    given   settings stated by whoever asks: they win
    fails   why a profile cannot write its first program; empty when it can
    """
    left = [claim for claim in claims if claim.key not in given]
    same = [claim for claim in left if _inherited(parent, claim.key) == claim.value]
    left = [claim for claim in left if claim not in same]
    asked = [(claim, "only likely") for claim in left if not claim.sure]
    left = [claim for claim in left if claim.sure]
    lacking = [claim for claim in left if claim.key.startswith("rotary.") and isinstance(value_of(parent, _rotary(claim.key)), Absent)]
    asked += [(claim, f"the parent has no {_rotary(claim.key)}; state how it is mounted first") for claim in lacking]
    left = [claim for claim in left if claim not in lacking]
    stated, refused = _possible(left, parent, given, fails)
    return Sorted(tuple(stated), (*asked, *refused), tuple(same))


def _possible(
    claims: list[Claim], parent: Profile, given: Mapping[str, Any], fails: Callable[[Profile], str]
) -> tuple[list[Claim], list[tuple[Claim, str]]]:
    """As many claims as can stand together and give a program, added one by one and again, since one may need another."""

    def error(together: Sequence[Claim]) -> str:
        try:
            profile = with_values(parent, {**{claim.key: claim.value for claim in together}, **given})
        except ProfileError as wrong:
            return wrong.wrong
        return fails(profile)

    if not claims or not error(claims):
        return claims, []
    stated: list[Claim] = []
    left = list(claims)
    while fitting := next((claim for claim in left if not error([*stated, claim])), None):
        stated.append(fitting)
        left.remove(fitting)
    return stated, [(claim, f"not with the other settings: {error([*stated, claim])}") for claim in left]


def _inherited(parent: Profile, key: str) -> Any:
    """What holds without a statement; decimals in inch programs are those of mm programs where unset."""
    value = value_of(parent, key)
    if value is None and key.endswith("inch_decimals"):
        return value_of(parent, key.replace("inch_decimals", "decimals"))
    return value


def _rotary(key: str) -> str:
    return ".".join(key.split(".")[:2])
