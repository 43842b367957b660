"""What `make fuzz` has found stays found: every kept case ends in a result or in an error in the user's words."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

FUZZ = Path(__file__).parents[1] / "fuzz"
sys.path.insert(0, str(FUZZ))

from damage import damaged  # noqa: E402
from judging import KINDS, judged  # noqa: E402

CASES = sorted(file for file in (FUZZ / "found").iterdir() if file.name.partition("-")[0] in KINDS)


@pytest.mark.parametrize("file", CASES, ids=lambda file: file.name)
def test_a_found_case_is_taken_or_refused(file: Path) -> None:
    assert judged(file.name.partition("-")[0], file.read_bytes()) in ("taken", "refused")


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_whole_is_taken_and_what_is_damaged_is_judged(kind: str) -> None:
    assert "taken" == judged(kind, KINDS[kind][1])
    chance = random.Random(7)
    assert {judged(kind, damaged(KINDS[kind][1], chance)) for _ in range(6)} <= {"taken", "refused"}
