"""Rapids, shanks and holders in material, as findings: one for each kind and operation, the deepest place first."""

from __future__ import annotations

from bisect import bisect_left

import numpy as np

from steadyrest.findings import Finding
from steadyrest.proof import Verdict, length_text
from steadyrest.simulation import Hazards, Touches

_WHAT = {"rapid": "a rapid goes", "shank": "the shank goes", "holder": "the holder goes"}


def material_findings(hazards: Hazards, verdict: Verdict, *, inch: bool) -> tuple[Finding, ...]:
    """What was found while cutting.

    hazards   of the simulation
    verdict   for the lines of the operations
    inch      lengths are said in inches, as in the program
    """
    ends = [one.last_line for one in verdict.operations]
    found = []
    for name, touches in hazards.touches.items():
        number = np.array([min(bisect_left(ends, int(line)), max(len(ends) - 1, 0)) for line in touches.line], dtype=np.int64)
        for operation in np.unique(number):
            found.append(_finding(name, touches, number == operation, verdict.operations[operation].number if ends else None, inch))
    if hazards.unknown_lines:
        lines = hazards.unknown_lines
        wrong = "the tool moves near the stock from a place that the program does not say: only the end of the move was simulated"
        found.append(Finding("unknown-place", "look", wrong, line=lines[0], count=len(lines)))
    if hazards.not_simulated:
        found.append(Finding("not-simulated", "look", f"not simulated: {hazards.not_simulated}"))
    return tuple(found)


def _finding(name: str, touches: Touches, which: np.ndarray[tuple[int], np.dtype[np.bool_]], operation: int | None, inch: bool) -> Finding:
    depth, lines = touches.depth_mm[which], touches.line[which]
    deepest = int(np.argmax(depth))
    # How deep is known no better than the points or lines lie apart at which it was looked.
    wrong = f"{_WHAT[name]} into material, some {length_text(float(f'{depth[deepest]:.2g}'), inch=inch)} deep"
    return Finding(name, "stop", wrong, line=int(lines[deepest]), operation=operation, count=len(lines))
