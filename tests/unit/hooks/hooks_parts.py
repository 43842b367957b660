"""Parts of the tour, and what a plug-in adds to them; for the tests of hooks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from steadyrest.posting import posted_text

TOUR = Path(__file__).parents[2] / "golden" / "tour"
STILL = TOUR / "still.toolpath.json"
IMPORTS = "from steadyrest.hooks import Around, Refusal, dwell, hook, lines, note, stop, templated\n"
Install = Callable[..., Path]


def added(toolpath: Path, before: str, controller: str = "rs274ngc") -> list[str]:
    """The lines that a program has more than the one from before the plug-in."""
    old = before.splitlines()
    new = posted_text(toolpath, controller).splitlines()
    left = iter(old)
    expected = next(left, None)
    more = []
    for line in new:
        if line == expected:
            expected = next(left, None)
        else:
            more.append(line)
    assert expected is None
    return more
