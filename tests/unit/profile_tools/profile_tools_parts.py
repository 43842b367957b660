"""Names that the tests of the dialect room share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from steadyrest.profile import bundled_folder, load_profile
from steadyrest.profile_tools import compare, side, tour
from steadyrest.profile_tools.comparison import Comparison
from steadyrest.profile_tools.example import Claim
from steadyrest.profile_tools.proposal import Proposal, proposal

MakeProfile = Callable[..., Path]
Repository = Callable[[str], None]


def compared(first: object, second: object, *toolpaths: str) -> Comparison:
    """Two profiles compared on these toolpaths of the tour."""
    with side(str(first)) as one, side(str(second)) as other:
        return compare(one, other, {name: tour()[name] for name in toolpaths})


def changed_rows(comparison: Comparison) -> list[tuple[str, str | None, str | None, tuple[str, ...]]]:
    """The rows that differ, each with the name of its part."""
    return [
        (part.name, row.first, row.second, row.reasons)
        for program in comparison.programs
        for part in program.parts
        for row in part.rows
        if row.reasons
    ]


def levels(results: Any, check: str) -> dict[str, str]:
    """What a check says about what."""
    return {result.what: result.level for result in results if result.check == check}


PARENT = load_profile("rs274ngc")


def shown(*lines: str, name: str = "part.nc") -> Proposal:
    return proposal(("\n".join(lines) + "\n").encode(), name, PARENT)


def claimed(found: Proposal) -> dict[str, Any]:
    return {claim.key: claim.value for claim in found.claims}


def claim_of(found: Proposal, key: str) -> Claim | None:
    return next((claim for claim in found.claims if claim.key == key), None)


SHORT_TOUR = {name: tour()[name] for name in ("indexed", "tapping")}


NAMES = sorted(folder.parent.name for folder in bundled_folder().glob("*/controller.toml"))
