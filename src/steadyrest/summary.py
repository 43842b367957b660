"""What a machinist reads after posting, on one screen of 80 columns and 24 lines; and the same as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import shorten, wrap
from typing import Any

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import Place, cut, short
from steadyrest.findings import Finding
from steadyrest.folding import width
from steadyrest.notices import Notice
from steadyrest.outcome import Outcome, finding_text
from steadyrest.proof import CAUTION, Verdict
from steadyrest.toolpath import Toolpath

COLUMNS = 79
MOST_NOTICES, MOST_OPERATIONS, MOST_FINDING_LINES = 2, 3, 8
"""So much is printed; the rest is counted. All of it is in the JSON."""
NOT_SEEN = "Not checked: the mounting as stated, offsets in the machine, fixtures."


@dataclass(frozen=True, slots=True)
class Posted:
    """A program and what is known of it.

    program    its file, or what it is called
    verdict    what the proof says
    outcome    `run`, `look` or `stop`, and why
    notices    what was changed on the way from toolpath to program
    inch       the program is in inches, else in millimetres
    gauge_lengths   that were given, by the number of a tool, file units
    """

    program: Path
    toolpath: Toolpath
    controller: str
    verdict: Verdict
    outcome: Outcome
    notices: tuple[Notice, ...]
    inch: bool
    gauge_lengths: Mapping[int, float] = field(default_factory=dict)

    @property
    def said(self) -> list[tuple[Finding, str]]:
        """What was found, the heaviest first, each with its text."""
        names = {number: one.name for number, one in enumerate(self.toolpath.operations, 1)}
        return [(one, finding_text(one, names)) for one in self.outcome.findings]

    @property
    def changed(self) -> list[str]:
        """What was changed, with its place; notices that say the same at one place, once, with how often."""
        alike: dict[tuple[int | None, str], list[Place]] = {}
        for notice in self.notices:
            alike.setdefault((notice.place.operation, notice.sentence()), []).append(notice.place)
        said = []
        for (operation, sentence), (first, *more) in alike.items():
            file = first.file if first.line is not None else None  # the toolpath itself needs no naming
            where = Place(file=file, line=first.line, operation=operation, operation_name=first.operation_name)
            said.append(where.before(sentence) + (f" ({len(more) + 1} times)" if more else ""))
        return said

    @property
    def lengths_said(self) -> str:
        """The gauge lengths that were given, in a sentence; empty where none was."""
        said = ", ".join(f"T{number} {length:g}" for number, length in self.gauge_lengths.items())
        return f"Gauge lengths as given, to be checked at the tool setter: {said} {self.toolpath.units}." if said else ""

    def text(self) -> str:
        """One screen: the outcome, what to look at, the figures of the proof, what was changed. Lengths in the program's units."""
        verdict, whole, indent, columns = self.verdict, self.verdict.whole, " " * 6, width(COLUMNS)
        count, changed = len(self.toolpath.operations), self.changed
        figures = f"{whole.lines} lines, {whole.cutting_minutes:.1f} min cutting, {whole.rapid_minutes:.1f} min rapid"
        if verdict.failure is not None:  # the figures end somewhere after the difference, as far as the reading had come
            figures = "checked up to the first difference"
        outcome = f"{self.outcome.word.upper():<6}{self.program.name}: {self.outcome.line}"
        what = f"{short(self.toolpath.name) or 'no name'}, for {self.controller}, {count} operation{'s' if count != 1 else ''}, {figures}"
        lines = [
            *wrap(outcome, columns, subsequent_indent=indent),
            *wrap(what, columns, initial_indent=indent, subsequent_indent=indent),
            *finding_lines(self),
            "",
            *_figures(verdict, self.inch),
            *(["  Changed from the toolpath:"] if changed else []),
            *(f"  - {shorten(sentence, columns - 4, placeholder=' ..')}" for sentence in changed[:MOST_NOTICES]),
            *([f"  - and {left} more: see --json"] if (left := len(changed) - MOST_NOTICES) > 0 else []),
            *wrap(self.lengths_said, columns, initial_indent="  ", subsequent_indent="  "),
            *wrap(f"{NOT_SEEN} {CAUTION}", columns),
        ]
        return cut("\n".join(lines))

    def as_json(self) -> dict[str, Any]:
        """The outcome and the verdict's own data, with the program, the controller and every notice. Keys are only ever added."""
        return {
            **self.outcome.as_json(),
            "program": str(self.program),
            "name": self.toolpath.name,
            "controller": self.controller,
            "gauge_lengths": [{"tool": number, "length": length} for number, length in self.gauge_lengths.items()],
            **self.verdict.to_json(),
            "changed": [
                {
                    "kind": notice.kind,
                    "operation": notice.place.operation,
                    "operation_name": notice.place.operation_name,
                    "move": notice.place.move,
                    "sentence": notice.sentence(),
                }
                for notice in self.notices
            ],
        }


def finding_lines(judged: Posted) -> list[str]:
    """What was found, the heaviest first, as much of it as fits on a screen; and what was accepted and is not there."""
    findings, failure = judged.said, judged.verdict.failure
    lines: list[str] = []
    for at, (one, said) in enumerate(findings):
        text = wrap(said, width(COLUMNS) - 7)
        if lines and len(lines) + len(text) > MOST_FINDING_LINES:
            left = len(findings) - at
            lines.append(f"  and {left} more to check: see --json or the report")
            break
        lines += [f"{one.weight:>5}  {text[0]}", *(f"       {line}" for line in text[1:])]
        if one.name == "proof" and failure is not None:
            if failure.distance is not None:
                lines.append(f"       off by {failure.distance:.4f} {judged.verdict.units}")
            lines += [f"       {line}" for line in wrap(f"likely: {failure.cause}", width(COLUMNS) - 7)] if failure.cause else []
    return [*lines, *(f"  --accept {name}: nothing of that name was found" for name in judged.outcome.unmet)]


def _figures(verdict: Verdict, inch: bool) -> list[str]:
    whole, unit, digits = verdict.whole, *(("inch", 4) if inch else ("mm", 3))
    scale = (1.0 if verdict.units == "mm" else MM_PER_INCH) / (MM_PER_INCH if inch else 1.0)
    lines = [f"  {'operation':<21}{'off path':>9}{'allowed':>9}{'axis deg':>9}{'cut min':>9}{'rapid':>8}{'blocks':>9}  {unit}"]
    if narrow := width(COLUMNS) < COLUMNS:  # then no table
        lines = []
    shown = verdict.operations[: MOST_OPERATIONS if len(verdict.operations) > MOST_OPERATIONS + 1 else None]
    for one in shown:
        name = shorten(f"{one.number} {one.name or one.intent}", 20, placeholder="..")
        off, limit = max(one.tip_off_path, one.path_off_tip) * scale, one.limit * scale
        figures = f"{one.axis_off_deg:>9.4f}{one.cutting_minutes:>9.2f}{one.rapid_minutes:>8.2f}{one.blocks:>9}"
        if narrow:
            said = f"off path {off:.4f}, allowed {limit:.4f} {unit}, axis {one.axis_off_deg:.4f} degrees; "
            said += f"{one.cutting_minutes:.2f} min cut, {one.rapid_minutes:.2f} rapid, {one.blocks} blocks"
            lines += [f"  {name}", *wrap(said, width(COLUMNS), initial_indent="    ", subsequent_indent="    ")]
        else:
            lines.append(f"  {name:<21}{off:>9.4f}{limit:>9.4f}{figures}")
    if left := len(verdict.operations) - len(shown):
        lines.append(f"  and {left} more operations")
    spans = [f"{axis} {span[0] * scale:.{digits}f} to {span[1] * scale:.{digits}f}" for axis, span in whole.extents.items() if span]
    extents = [f"{', '.join(spans)} {unit}" if spans else "no position known"]
    if whole.rotary_extent_deg is not None:
        low, high = whole.rotary_extent_deg
        fastest = whole.fastest_rotary_deg_per_min
        turns = f"up to {fastest:.0f} degrees/min while cutting" if fastest else "does not turn while cutting"
        extents.append(f"rotary {low:.3f} to {high:.3f} degrees, turns {whole.turning_deg:.0f} degrees in all, {turns}")
    if whole.end_for_end:
        extents.append("job turned end for end about Z: X and Y of the toolpath change sign")
    return [*lines, *(line for each in extents for line in wrap(each, width(COLUMNS), initial_indent="  ", subsequent_indent="  "))]
