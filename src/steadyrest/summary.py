"""What a machinist reads after posting, on one screen; and the same as data."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyrest.errors import cut, short
from steadyrest.notices import Notice
from steadyrest.proof import Verdict
from steadyrest.toolpath import Toolpath

MOST_NOTICES = 8
"""So many notices are printed; the rest is counted. All of them are in the JSON."""


def summary(program: Path, toolpath: Toolpath, controller: str, verdict: Verdict, notices: tuple[Notice, ...]) -> str:
    """One screen: what it is, the verdict with its figures, what was changed on the way, what the proof does not see."""
    lines = [f"{program}  ({short(toolpath.name) or 'no name'}, for {controller}, {len(toolpath.operations)} operation(s))", verdict.text()]
    if notices:
        lines += ["", "  changed on the way:"]
        lines += [f"  - {_said(notice)}" for notice in _gathered(notices)[:MOST_NOTICES]]
        left = len(_gathered(notices)) - MOST_NOTICES
        if left > 0:
            lines.append(f"  - and {left} more; --json has them all")
    return cut("\n".join(lines))


def summary_data(program: Path, toolpath: Toolpath, controller: str, verdict: Verdict, notices: tuple[Notice, ...]) -> dict[str, Any]:
    """The verdict's own data, with the program, the controller and every notice. Keys are only ever added."""
    return {
        "program": str(program),
        "name": toolpath.name,
        "controller": controller,
        **verdict.to_json(),
        "changed": [
            {
                "kind": type(notice).__name__,
                "operation": notice.place.operation,
                "operation_name": notice.place.operation_name,
                "move": notice.place.move,
                "sentence": notice.sentence(),
            }
            for notice in notices
        ],
    }


def _gathered(notices: tuple[Notice, ...]) -> list[tuple[Notice, int]]:
    """Notices that say the same in one operation, once, with how often."""
    found: dict[tuple[int | None, str], tuple[Notice, int]] = {}
    for notice in notices:
        key = notice.place.operation, notice.sentence()
        first, count = found.get(key, (notice, 0))
        found[key] = first, count + 1
    return list(found.values())


def _said(notice: tuple[Notice, int]) -> str:
    first, count = notice
    where = f"operation {first.place.operation}: " if first.place.operation else ""
    times = f" ({count} times)" if count > 1 else ""
    return f"{where}{first.sentence()}{times}"
