"""Which feeds and spindle speeds has somebody lowered by hand? No harm to the part, but somebody has to know."""

from __future__ import annotations

from dataclasses import dataclass, replace

from steadyrest.findings import Finding

LEAST_KEPT = 0.6
"""Of what is asked for. What is lower still is no trimming at the machine any more: the proof refuses it."""

_MOST = 12
"""Findings in one operation; what goes beyond is counted with the last of them."""


@dataclass(frozen=True, slots=True)
class _One:
    line: int
    what: str
    lowest: float
    count: int


class Lowered:
    """What was lowered, gathered by operation and by what was asked for there."""

    def __init__(self) -> None:
        self._found: dict[int, dict[str, _One]] = {}

    def note(self, operation: int, line: int, said: str, asked: str, kept: float, count: int = 1) -> None:
        """`said` and `asked` are words, such as `F35` and `45 inch/min`; `kept` is the lowest share of what was asked, 0 to 1."""
        here = self._found.setdefault(operation, {})
        key = asked if asked in here or len(here) < _MOST else next(reversed(here))
        first = here.get(key)
        if first is None:
            here[key] = _One(line, f"{said}; the toolpath asks for {asked}", kept, count)
        elif first.line != line:
            here[key] = replace(first, lowest=min(first.lowest, kept), count=first.count + count)

    def findings(self) -> list[Finding]:
        """One for each figure asked for: the line where it is first lowered, and how many blocks run slower."""
        return [
            Finding("lowered", "look", f"{one.what} (lowered to {100 * one.lowest:.3g} percent)", one.line, operation, count=one.count)
            for operation, here in self._found.items()
            for one in here.values()
        ]
