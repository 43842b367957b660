"""One word for a program, `run`, `look` or `stop`, and why: worked out here alone, for every command and page, in the same words.

Proof, simulation, set-up (cutters in the jaws, stock too short, wraps that do not fit, cuts without a clamp) and what was changed on the
way are put together here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from steadyrest.columns import distinct, run_around
from steadyrest.conventions import AXES
from steadyrest.errors import Place
from steadyrest.findings import Finding
from steadyrest.notices import Notice
from steadyrest.proof import OperationFigures, Setting, Verdict
from steadyrest.toolpath import RoundStock, Wrapped

if TYPE_CHECKING:
    from steadyrest.simulation import Hazards

Word = Literal["run", "look", "stop"]

SLOWED_PERCENT = 60.0
"""A cut that a limit slows to less than this part of its feed rubs more than it cuts (common practice): somebody has to look."""
NEXT_LINES = 2
"""Lines that touch go on without a break where one that does not move stands between two of them at most."""
WRAP_OFF = 0.25
"""A wrapped cylinder that differs from round stock by more than this part of its diameter is worth a look (common practice: a groove
is wrapped on the skin, or on a diameter turned down a little before)."""
_END = {"X-": "left end", "X+": "right end", "Y-": "- end", "Y+": "+ end", "Z-": "lower end", "Z+": "upper end"}
_WHAT = {"rapid": "a rapid goes", "shank": "the shank goes", "holder": "the holder goes"}
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

    @property
    def line(self) -> str:
        """What the word means here, in a few words."""
        stops = sum(one.weight == "stop" for one in self.findings)
        if self.word == "run":
            return "proved, simulated, nothing found"
        count = stops if self.word == "stop" else len(self.findings) - stops
        things = "1 thing" if count == 1 else f"{count} things"
        if self.word == "look":
            return f"proved; {things} to check before the first run"
        if any(one.name == "proof" for one in self.findings):
            return "not proved: do not run it"
        return f"do not run it: {things} to correct"

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
    found = [*verdict.findings, *_of_notices(notices, verdict), *set_up_findings(setting), *jaws_findings(setting, verdict)]
    if hazards is not None:
        found += material_findings(hazards, verdict, setting)
    found = [replace(one, weight="look", accepted=True) if one.weight == "stop" and one.name in accept else one for one in found]
    if verdict.failure is not None:  # which nobody can accept
        place, wrong = verdict.failure.place, f"the program does not cut what the toolpath asks for: {verdict.failure.sentence}"
        found.append(Finding("proof", "stop", wrong, line=place.line, operation=place.operation, move=place.move))
    word: Word = "stop" if any(one.weight == "stop" for one in found) else "look" if found else "run"
    names = {one.name for one in found}
    return Outcome(word, tuple(_folded(sorted(found, key=_rank))), tuple(name for name in accept if name not in names))


def _rank(finding: Finding) -> tuple[int, int]:
    order = _ORDER.index(finding.name) if finding.name in _ORDER else len(_ORDER)
    return (0 if finding.weight == "stop" else 1), order


def _folded(findings: Sequence[Finding]) -> list[Finding]:
    """What comes of a cause in the same operation goes under it; a cause is as heavy as the heaviest of what comes of it."""
    causes = {one.operation: one for one in reversed(findings) if one.name in _CAUSES}
    under: dict[int | None, list[Finding]] = {operation: [] for operation in causes}
    kept: list[Finding] = []
    for one in findings:
        (under[one.operation] if one.name in _CONSEQUENCES and one.operation in causes else kept).append(one)
    for at, one in enumerate(kept):
        if one is causes.get(one.operation) and (below := under[one.operation]):
            weight = "stop" if any(each.weight == "stop" for each in below) else one.weight
            kept[at] = replace(one, weight=weight, consequences=tuple(below))
    return sorted(_once(kept), key=_rank)


def _once(findings: Iterable[Finding]) -> list[Finding]:
    """What is said in the same words of several operations, once, at the first of them, with how often."""
    found: dict[tuple[str, str, str], Finding] = {}
    for one in findings:
        key = one.name, one.weight, one.sentence
        if first := found.get(key):
            together = _once([*first.consequences, *one.consequences])
            one = replace(first, count=first.count + one.count, consequences=tuple(together))
        found[key] = one
    return list(found.values())


def _of_notices(notices: Sequence[Notice], verdict: Verdict) -> list[Finding]:
    found = []
    turned = [notice for notice in notices if notice.kind in ("TurnedBack", "Reoriented")]
    for operation in dict.fromkeys(notice.place.operation for notice in turned):
        here = [notice for notice in turned if notice.place.operation == operation]
        turns = "the rotary turns back" if here[0].kind == "TurnedBack" else "the rotaries turn"
        wrong = f"the tool is lifted in the middle of a cut while {turns}; "
        wrong += f"check the part for a mark there ({here[0].sentence()})"
        found.append(Finding("turned-back", "look", wrong, operation=operation, move=here[0].place.move, count=len(here)))
    limits = {notice.place.operation: notice.facts["limit"] for notice in notices if notice.kind == "FeedSlowed"}
    for one in verdict.operations:
        if one.slowed_blocks and one.slowest_percent < SLOWED_PERCENT:
            limit = limits.get(one.number, "a limit of the machine or of F")
            wrong = f"the tip slows to {one.slowest_percent:.0f} percent of its feed: {limit}"
            first, last = one.slowest_lines or (None, None)
            along = one.slowest_lines if first != last else None
            found.append(Finding("slowed", "look", wrong, line=first, operation=one.number, count=one.slowed_blocks, lines=along))
    found += [Finding("plug-in", "look", notice.sentence()) for notice in notices if notice.kind == "PluginNotLoaded"]
    return found


def material_findings(hazards: Hazards | str, verdict: Verdict, setting: Setting) -> list[Finding]:
    """Rapids, shanks and holders in material: the deepest place of each kind and operation. A text: why nothing was simulated."""
    if isinstance(hazards, str):
        return [Finding("not-simulated", "look", f"not simulated: {hazards}")]
    ends = [one.last_line for one in verdict.operations]
    found = []
    for name, touches in hazards.touches.items():
        of_line = np.minimum(np.searchsorted(ends, touches.line), max(len(ends) - 1, 0))
        for at in distinct(of_line):
            depth, lines = touches.depth_mm[of_line == at], touches.line[of_line == at]
            deepest = int(np.argmax(depth))
            # How deep is known no better than the points or lines lie apart at which it was looked.
            wrong = f"{_WHAT[name]} into material, about {setting.length(float(f'{depth[deepest]:.2g}'))} deep"
            operation = verdict.operations[at].number if ends else None
            line = int(lines[deepest])
            first, last = run_around(lines, line, NEXT_LINES)
            along = (first, last) if last > first else None
            found.append(Finding(name, "stop", wrong, line=line, operation=operation, count=len(lines), lines=along))
    if hazards.unknown_lines:
        lines = hazards.unknown_lines
        wrong = "the tool moves near the stock from a position that the program does not state: only the end of the move was simulated"
        found.append(Finding("unknown-place", "look", wrong, line=lines[0], count=len(lines)))
    if hazards.not_simulated:
        found += material_findings(hazards.not_simulated, verdict, setting)
    return found


def set_up_findings(setting: Setting) -> list[Finding]:
    """A wrapped cylinder that is not the stock's, indexed cuts without a clamp."""
    found, toolpath, rotary, stock = [], setting.toolpath, setting.rotary, setting.toolpath.stock
    for number, operation in enumerate(toolpath.operations, 1):
        wrap = operation.rotary
        if isinstance(wrap, Wrapped) and isinstance(stock, RoundStock) and abs(wrap.diameter - stock.diameter) > WRAP_OFF * stock.diameter:
            likely = ": the radius seems to be given instead" if abs(2 * wrap.diameter - stock.diameter) < 0.01 * stock.diameter else ""
            around, skin = (setting.length(diameter * setting.scale) for diameter in (wrap.diameter, stock.diameter))
            wrong = f"wrapped around a diameter of {around}, but the stock's diameter is {skin}{likely}"
            found.append(Finding("wrap", "look", wrong, operation=number))
    indexed = [number for number, one in enumerate(toolpath.operations, 1) if one.rotary.intent == "indexed"]
    if rotary is not None and rotary.clamp.use == "never" and indexed:
        wrong = f"{setting.profile.name} has no clamp code for the rotary: only its drive holds the part in indexed cuts"
        found.append(Finding("clamp", "look", wrong, operation=indexed[0], count=len(indexed)))
    return found


def jaws_findings(setting: Setting, verdict: Verdict) -> list[Finding]:
    """What the proof's figures say of the held end; nothing without stock or rotary.

    jaws        a place of the cutter, at feed or at rapid below the clear height, within the length that is held; past the held end where
                no length is said
    stick-out   the cutters reach farther from the free end than the stock is long
    held        the toolpath does not say which end is held: it is the one that the chuck's direction implies
    """
    stock, rotary, axis = setting.mounted.stock, setting.rotary, setting.toolpath.axis
    if rotary is None or stock is None:
        return []
    low, high = (end + setting.mounted.centre[AXES.index(axis)] for end in stock.along(axis))
    sign, held_end, free_end = (-1, low, high) if rotary.chuck_faces.startswith("+") else (1, high, low)
    held_length = stock.held.length or 0.0 if stock.held is not None else 0.0

    def length(value: float) -> str:
        return setting.length(value * setting.scale)

    def at(place: float) -> str:
        return f"{axis} {length(place).split()[0]}"

    # How far the cutter of each operation goes into the jaws, less than 0 outside them; its place nearest to the held end, radius included.
    reached: list[tuple[float, OperationFigures, float, int]] = []
    for one in verdict.operations:
        if one.reach is not None and one.reach_lines is not None:
            aside = setting.toolpath.tool(one.tool).diameter / 2 if axis != "Z" else 0.0
            place = one.reach[max(sign, 0)] + sign * aside
            reached.append((sign * (place - held_end) + held_length, one, place, one.reach_lines[max(sign, 0)]))
    found = []
    if reached:
        _, one, place, line = max(reached, key=lambda each: each[0])
        needed, whole = abs(place - free_end), abs(held_end - free_end)
        if needed > whole + one.rounding + 1e-6:
            wrong = (
                f"the cutters reach {length(needed)} from the free end of the stock, at {at(free_end)}, but the stock is only "
                f"{length(whole)} long; use longer stock, or state which end is held: 'held' in the toolpath's stock"
            )
            found.append(Finding("stick-out", "stop", wrong, line=line, operation=one.number))
    for deep, one, place, line in reached:
        if deep > one.rounding + 1e-6:
            wrong = f"the cutter reaches {at(place)}, radius included: {length(deep)} "
            if held_length:
                face = at(held_end - sign * held_length).split()[1]
                wrong += f"into the jaws, which hold the stock from {at(held_end)} to {face}; clamp less of it, "
            else:
                wrong += f"past the held end, {at(held_end)}; "
            found.append(Finding("jaws", "stop", f"{wrong}use longer stock, or cut less far", line=line, operation=one.number))
    if stock.held is None:
        end = _END[axis + ("-" if sign < 0 else "+")]
        wrong = "the toolpath does not state which end of the stock is held: "
        wrong += f"the chuck faces {rotary.chuck_faces}, so the {end} at {at(held_end)} is assumed"
        if reached:
            deep = max(each[0] for each in reached)
            wrong += f", and the cutter goes {length(deep)} past it" if deep > 0 else f", and the cutter stays {length(-deep)} from it"
        found.append(Finding("held", "look", f"{wrong}; state it as 'held' in the toolpath's stock"))
    return found


def finding_text(finding: Finding, names: Mapping[int, str]) -> str:
    """A finding with its place, as every screen and page says it. `names`: of operations by their number."""
    operation = finding.operation
    place = Place(line=finding.line, operation=operation, operation_name=names.get(operation or 0) or None, move=finding.move)
    often = f"{finding.count} times" if finding.count > 1 else ""
    text = f"{finding.name}: {finding.sentence}"
    if where := ", ".join(filter(None, [str(place), often])):
        text += f" ({where})"
    if finding.accepted:
        text += " - accepted"
    if finding.consequences:
        below = (f"{one.sentence}, {one.count} times" if one.count > 1 else one.sentence for one in finding.consequences)
        text += f"; because of this: {'; '.join(below)}"
    return text
