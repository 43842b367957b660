"""What should somebody look at before cycle start? Failures, touches, notices, each with its line where it has one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from steadyrest.report.looking import Looked
from steadyrest.simulation import Cut, Touches

Weight = Literal["stop", "look", "note"]
MOST_OF_A_KIND = 25
"""So many of one kind are listed; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing. `weight`: `stop` must not run, `look` should be looked at, `note` is worth knowing. `line` of the program, or None."""

    weight: Weight
    sentence: str
    line: int | None


def find(looked: Looked) -> tuple[Finding, ...]:
    """All there is, the gravest first, each kind in the order of the program."""
    found: list[Finding] = []
    verdict = looked.verdict
    if verdict.failure is not None:
        found.append(
            Finding("stop", f"The program does not cut what the toolpath says: {verdict.failure.sentence}", verdict.failure.place.line)
        )
    if looked.cut is None:
        found.append(Finding("look", f"The part as cut is not shown: {looked.not_cut}", None))
    else:
        found += _of_the_cut(looked.cut, looked)
    found += [Finding("look", _capital(one.sentence), one.line) for one in verdict.findings]
    found += [Finding("look", _capital(sentence), _line_named(sentence)) for sentence in verdict.notices]
    found += _changed(looked)
    found += [
        Finding("note", f"Operation {one.number}: {one.slowed_blocks} block(s) slower than the feed, the slowest at "
                f"{one.slowest_percent:.0f} percent: a limit of the machine or of F", _line_of(looked, one.number))
        for one in verdict.operations
        if one.slowed_blocks
    ]  # fmt: skip
    order = {"stop": 0, "look": 1, "note": 2}
    return tuple(sorted(found, key=lambda one: order[one.weight]))


def _of_the_cut(cut: Cut, looked: Looked) -> list[Finding]:
    scale, units = looked.setting.scale, looked.toolpath.units
    found = _touches(cut.rapid_touches, "A rapid goes through material", "stop", looked)
    found += _touches(cut.shank_touches, "The shank touches material", "stop", looked)
    found += _touches(cut.holder_touches, "The holder touches material", "stop", looked)
    found += [
        Finding("look", "Motion near the stock from a place that the program does not say: only its end is simulated", line)
        for line in cut.unknown_lines[:MOST_OF_A_KIND]
    ]
    if cut.undercuts.cells:
        sentence = (
            f"There are voids under material, up to {cut.undercuts.deepest_mm / scale:.3g} {units} deep, that the picture of the part "
            "cannot show; they are counted in the volumes"
        )
        found.append(Finding("note", sentence, None))
    if cut.not_held_mm3 > 1e-6 * max(cut.stock_mm3, 1.0):
        found.append(Finding("note", f"{cut.not_held_mm3 / scale**3:.3g} cubic {units} were removed but are drawn as if still there", None))
    return found


def _touches(touches: Touches, what: str, weight: Weight, looked: Looked) -> list[Finding]:
    scale, units = looked.setting.scale, looked.toolpath.units
    worst: dict[int, float] = {}
    for line, depth in zip(touches.line.tolist(), touches.depth_mm.tolist(), strict=True):
        worst[line] = max(depth, worst.get(line, 0.0))
    found = [Finding(weight, f"{what}, {depth / scale:.3g} {units} deep", line) for line, depth in worst.items()]
    if len(found) > MOST_OF_A_KIND:
        rest = len(found) - MOST_OF_A_KIND
        found = [*found[:MOST_OF_A_KIND], Finding(weight, f"{what} in {rest} more lines", found[MOST_OF_A_KIND].line)]
    return found


def _changed(looked: Looked) -> list[Finding]:
    """Notices that say the same in one operation once, with how often."""
    counted: dict[tuple[int | None, str], int] = {}
    for notice in looked.changed:
        key = notice.place.operation, notice.sentence()
        counted[key] = counted.get(key, 0) + 1
    found = []
    for (operation, sentence), times in counted.items():
        where = f"Operation {operation}: " if operation else ""
        often = f" ({times} times)" if times > 1 else ""
        found.append(Finding("note", f"{where}{sentence if where else _capital(sentence)}{often}", _line_of(looked, operation)))
    return found


def _line_of(looked: Looked, operation: int | None) -> int | None:
    if operation is None or not 0 < operation <= len(looked.operation_lines):
        return None
    return looked.operation_lines[operation - 1]


def _line_named(sentence: str) -> int | None:
    named = re.search(r"\bline (\d+)", sentence)
    return int(named.group(1)) if named else None


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
