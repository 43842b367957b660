"""What does an existing program show of its dialect, and what can it not show?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import PurePath
from typing import Any

from steadyrest.errors import ProfileError
from steadyrest.profile import Profile
from steadyrest.profile_tools.example import Claim, Example, read_example
from steadyrest.profile_tools.infer_blocks import infer_blocks, one_digit_codes, unknown_codes
from steadyrest.profile_tools.infer_spelling import infer_decimals, infer_numbers, infer_order, infer_text, numbers_of
from steadyrest.profile_tools.settings import Absent, value_of, with_values

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

    def as_json(self) -> dict[str, Any]:
        """The same as data."""
        claims = [asdict(claim) | {"line": claim.line or None} for claim in self.claims]
        return {"example": self.example, "claims": claims, "unknown": list(self.unknown)}


def proposal(data: bytes, name: str, parent: Profile) -> Proposal:
    """The settings that a trusted program shows; `parent` decides where it shows nothing. ProgramError where the file is no program."""
    seen = read_example(data, name)
    claims = (*infer_text(seen), *infer_numbers(seen), *infer_order(seen, parent.words.order), *infer_blocks(seen, parent))
    return Proposal(PurePath(name).name, claims, (*_not_shown(seen, {claim.key: claim.value for claim in claims}), *NEVER_SHOWN))


NOT_CLAIMED = {
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
"""What an example leaves open that claims nothing of a setting."""


def _not_shown(seen: Example, claimed: Mapping[str, Any]) -> Iterator[str]:
    for kind, (least, settled) in infer_decimals(seen).items():
        if not settled and kind not in ("spindle", "centre", "radius"):
            what = f"at least {least} are shown" if least else "none are shown"
            yield f"how many decimals the numbers of kind {kind} have: {what}"
    if seen.inch is None:
        yield "whether its lengths are mm or inches: no code says it, or both do"
    yield from (words for key, words in NOT_CLAIMED.items() if key not in claimed)
    if "arcs.form" in claimed and "arcs.centre_is" not in claimed and seen.first("G2", "G3"):
        yield "whether I, J, K count from the start of the arc: no arc in it shows the difference, or the arcs give R"
    if claimed.get("numbers.length.point") == "always" and "angle" not in numbers_of(seen):
        yield "whether an angle needs a decimal point as its lengths do: there is no angle in it; A90 may mean 90 counts"
    codes = one_digit_codes(seen)
    if codes[True] and codes[False]:
        yield f"whether codes below 10 have two digits: both {codes[True][0].text} and {codes[False][0].text} are used"
    letters = sorted({word.letter for line in seen.blocks for word in line.words if word.letter in "ABC"})
    if letters:
        yield f"which axis {' and '.join(letters)} {'turns' if len(letters) == 1 else 'turn'} about, although the example uses it"
    if len(letters) > 1:
        yield f"which of {' and '.join(letters)} carries what: describe each in a table, and state `chain` if both are mounted at once"
    used = {value for value in claimed.values() if isinstance(value, str)}
    for text, line in unknown_codes(seen).items():
        if text not in used:
            yield f"what {text} means (line {line.number}: {line.text.strip()})"
    strange = [line for line in seen.lines if line.strange and line.strange != "%"]
    for line in strange[:MOST_STRANGE]:
        yield f"what line {line.number} does, which could not be read: {line.text.strip()}"
    if len(strange) > MOST_STRANGE:
        yield f"what {len(strange) - MOST_STRANGE} more lines do, which could not be read"


def sorted_claims(
    claims: Sequence[Claim], parent: Profile, given: Mapping[str, Any], fails: Callable[[Profile], str]
) -> tuple[list[Claim], list[tuple[Claim, str]], list[Claim]]:
    """The claims of an example by what is done with them.

    given     settings stated by whoever asks: they win
    fails     why a profile cannot write its first program; empty when it can
    returns   different from the parent, sure, and possible together, to be stated; different, with the reason why they wait for an answer;
              what the parent says anyway
    """
    same, asked, left = list[Claim](), list[tuple[Claim, str]](), list[Claim]()
    for claim in claims:
        rotary = ".".join(claim.key.split(".")[:2])
        if claim.key in given:
            continue
        inherited = value_of(parent, claim.key)
        if inherited is None:  # decimals in inch programs are those of mm programs where unset
            inherited = value_of(parent, claim.key.replace("inch_decimals", "decimals"))
        if inherited == claim.value:
            same.append(claim)
        elif not claim.sure:
            asked.append((claim, "only likely"))
        elif rotary.startswith("rotary.") and isinstance(value_of(parent, rotary), Absent):
            asked.append((claim, f"the parent has no {rotary}; state how it is mounted first"))
        else:
            left.append(claim)

    def error(together: Sequence[Claim]) -> str:
        try:
            profile = with_values(parent, {**{claim.key: claim.value for claim in together}, **given})
        except ProfileError as wrong:
            return wrong.wrong
        return fails(profile)

    if not left or not error(left):
        return left, asked, same
    # As many as can stand together and give a program, added one by one and again, since one may need another.
    stated: list[Claim] = []
    while fitting := next((claim for claim in left if not error([*stated, claim])), None):
        stated.append(fitting)
        left.remove(fitting)
    asked += [(claim, f"not with the other settings: {error([*stated, claim])}") for claim in left]
    return stated, asked, same
