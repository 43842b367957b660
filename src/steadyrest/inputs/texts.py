"""Texts for the operator that name a tool: `T3 - 6 MM END MILL`, `TOOL 3: SPOT DRILL` (common practice)."""

from __future__ import annotations

import re

_NAMED = re.compile(
    r"(?:TOOL(?:\s*(?:NO\.?|NUMBER))?|T)\s*[=:#]?\s*0*([1-9][0-9]{0,8})(?:\s*[-:|=,]+|\s)\s*(?!(?:MM|IN|INCH)\b)([^\s|].*)", re.IGNORECASE
)
_OFFSET = re.compile(r"\s*[HD]\s*[0-9]+\s*", re.IGNORECASE)


def tool_named(text: str) -> tuple[int, str] | None:
    """The number of the tool and its name; None where the text names none, such as `TOOL 6 MM BALL`, whose 6 is a size."""
    found = _NAMED.fullmatch(text.strip())
    if found is None:
        return None
    parts = [" ".join(part.split()) for part in found[2].split("|") if not _OFFSET.fullmatch(part)]
    return int(found[1]), ", ".join(part for part in parts if part)
