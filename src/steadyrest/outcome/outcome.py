"""Which one word is said of a program, and why? Worked out here alone, for every command and page, and said in the same words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from steadyrest.errors import Place
from steadyrest.findings import Finding
from steadyrest.notices import FeedSlowed, Notice, PluginNotLoaded, TurnedBack
from steadyrest.outcome.checks import jaws_findings, material_findings, set_up_findings
from steadyrest.proof import Setting, Verdict

if TYPE_CHECKING:
    from steadyrest.simulation import Hazards

Word = Literal["run", "look", "stop"]

SLOWED_PERCENT = 60.0
"""A cut that a limit slows to less than this part of its feed rubs more than it cuts (common practice): somebody has to look."""
_CAUSES = ("origin", "wrap")
_CONSEQUENCES = ("rapid", "shank", "holder", "jaws")
_ORDER = ("proof", "origin", "wrap", "stick-out", "jaws", "rapid", "holder", "shank", "travel", "held")
"""What is said first among findings of one weight; the others follow as they were found."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is said of a program.

    word       `run`: proved, simulated, nothing found; `look`: proved, with something that a person has to look at; `stop`: must not run
    findings   the heaviest first, a cause before what comes of it
    unmet      names that were accepted and found nothing
    """

    word: Word
    findings: tuple[Finding, ...]
    unmet: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The keys that every command prints at the top."""
        return {"outcome": self.word, "findings": [one.as_json() for one in self.findings]}


def judge(
    verdict: Verdict,
    hazards: Hazards | str | None,
    setting: Setting,
    *,
    notices: Sequence[Notice] = (),
    accept: Sequence[str] = (),
) -> Outcome:
    """The outcome of a program.

    verdict   of the proof
    hazards   of the simulation, or why there was none; None where a failed proof made it needless
    setting   of the proof: toolpath, profile, rotary, units
    notices   what was changed on the way from toolpath to program
    accept    names of findings that the user takes on themselves: what would stop is then to be looked at. Never a failed proof
    """
    found: list[Finding] = []
    if verdict.failure is not None:
        failure = verdict.failure
        wrong = f"the program does not cut what the toolpath asks for: {failure.sentence}"
        found.append(Finding("proof", "stop", wrong, line=failure.place.line, operation=failure.place.operation, move=failure.place.move))
    found += verdict.findings
    found += _of_notices(notices, verdict)
    found += set_up_findings(setting)
    found += jaws_findings(setting, verdict)
    if hazards is not None:
        found += material_findings(hazards, verdict, setting)
    accepted = [_accepted(one, accept) for one in found]
    folded = _folded(sorted(accepted, key=_rank))
    word: Word = "stop" if any(one.weight == "stop" for one in accepted) else "look" if accepted else "run"
    names = {one.name for one in found}
    return Outcome(word, tuple(folded), tuple(name for name in accept if name not in names))


def _accepted(finding: Finding, accept: Iterable[str]) -> Finding:
    if finding.weight == "stop" and finding.name != "proof" and finding.name in accept:
        return replace(finding, weight="look", accepted=True)
    return finding


def _rank(finding: Finding) -> tuple[int, int]:
    order = _ORDER.index(finding.name) if finding.name in _ORDER else len(_ORDER)
    return (0 if finding.weight == "stop" else 1), order


def _folded(findings: Sequence[Finding]) -> list[Finding]:
    """What comes of a cause in the same operation goes under it; a cause is as heavy as the heaviest of what comes of it."""
    causes = {one.operation: one for one in reversed(findings) if one.name in _CAUSES}
    under: dict[int | None, list[Finding]] = {operation: [] for operation in causes}
    kept = []
    for one in findings:
        if one.name in _CONSEQUENCES and one.operation in causes:
            under[one.operation].append(one)
        else:
            kept.append(one)
    out = []
    for one in kept:
        if one is causes.get(one.operation) and under[one.operation]:
            stops = any(each.weight == "stop" for each in under[one.operation])
            one = replace(one, weight="stop" if stops else one.weight, consequences=tuple(under[one.operation]))
        out.append(one)
    return sorted(_once(out), key=_rank)


def _once(findings: Iterable[Finding]) -> list[Finding]:
    """What is said in the same words of several operations, once, at the first of them, with how often."""
    found: dict[tuple[str, str, str], Finding] = {}
    for one in findings:
        key = one.name, one.weight, one.sentence
        first = found.get(key)
        if first is None:
            found[key] = one
        else:
            together = _once([*first.consequences, *one.consequences])
            found[key] = replace(first, count=first.count + one.count, consequences=tuple(together))
    return list(found.values())


def _of_notices(notices: Sequence[Notice], verdict: Verdict) -> list[Finding]:
    found = []
    turned = [notice for notice in notices if isinstance(notice, TurnedBack)]
    for operation in dict.fromkeys(notice.place.operation for notice in turned):
        here = [notice for notice in turned if notice.place.operation == operation]
        wrong = (
            f"the tool is lifted in the middle of a cut while the rotary turns back; check the part for a mark there ({here[0].sentence()})"
        )
        found.append(Finding("turned-back", "look", wrong, operation=operation, move=here[0].place.move, count=len(here)))
    limits = {notice.place.operation: notice.limit for notice in notices if isinstance(notice, FeedSlowed)}
    for one in verdict.operations:
        if one.slowed_blocks and one.slowest_percent < SLOWED_PERCENT:
            limit = limits.get(one.number, "a limit of the machine or of F")
            wrong = f"the tip slows to {one.slowest_percent:.0f} percent of its feed: {limit}"
            found.append(Finding("slowed", "look", wrong, operation=one.number, count=one.slowed_blocks))
    found += [Finding("plug-in", "look", notice.sentence()) for notice in notices if isinstance(notice, PluginNotLoaded)]
    return found


def outcome_line(outcome: Outcome) -> str:
    """What the word means here, in a few words."""
    stops = sum(one.weight == "stop" for one in outcome.findings)
    looks = len(outcome.findings) - stops
    if outcome.word == "run":
        return "proved, simulated, nothing found"
    if outcome.word == "look":
        return f"proved; {_things(looks)} to check before the first run"
    if any(one.name == "proof" for one in outcome.findings):
        return "not proved: do not run it"
    return f"do not run it: {_things(stops)} to correct"


def finding_text(finding: Finding, names: Mapping[int, str]) -> str:
    """A finding with its place, as every screen and page says it. `names`: of operations by their number."""
    operation = finding.operation
    place = Place(line=finding.line, operation=operation, operation_name=names.get(operation or 0) or None, move=finding.move)
    often = f", {finding.count} times" if finding.count > 1 else ""
    text = f"{finding.name}: {finding.sentence}"
    if str(place) or often:
        text += f" ({f'{place}{often}' if str(place) else often[2:]})"
    if finding.accepted:
        text += " - accepted"
    if finding.consequences:
        text += "; because of this: " + "; ".join(
            f"{one.sentence}, {one.count} times" if one.count > 1 else one.sentence for one in finding.consequences
        )
    return text


def _things(count: int) -> str:
    return "1 thing" if count == 1 else f"{count} things"
