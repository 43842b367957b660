"""What the tests of reading share: profiles by name, programs without their frame, what was read as plain columns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile, load_profile
from steadyrest.reading import EventRead, MotionRead, read_program

HEAD = "%\nG17 G21 G90 G94\n"
TAIL = "\nM2\n%\n"


@dataclass(frozen=True)
class Reading:
    """Events, and all rows in columns."""

    events: list[EventRead]
    runs: list[MotionRead]

    def column(self, name: str) -> np.ndarray:
        return np.concatenate([getattr(run, name) for run in self.runs])

    @property
    def ends(self) -> list[tuple[float, ...]]:
        """X, Y, Z and the rotaries after each row; without a rotary 0 stands for it."""
        words = self.column("rotary_deg")
        rotary = words if words.shape[1] else np.zeros((len(words), 1))
        return [tuple(row) for row in np.column_stack((self.column("end_mm"), rotary)).tolist()]

    @property
    def angles(self) -> list[float]:
        return list(self.column("rotary_deg")[:, 0].tolist())

    @property
    def minutes(self) -> list[float]:
        return list(self.column("minutes").tolist())

    def of(self, kind: str) -> list[EventRead]:
        return [event for event in self.events if event.kind == kind]

    @property
    def kinds(self) -> list[str]:
        """Kinds of all events but the program's start and end."""
        return [event.kind for event in self.events if event.kind not in ("program_start", "program_end", "mode")]


def read(text: str | bytes, profile: Profile | str = "rs274ngc", *sets: str, **words: Any) -> Reading:
    """Read a whole program."""
    said = profile if isinstance(profile, Profile) else load_profile(profile, list(sets))
    items = list(read_program(text.encode() if isinstance(text, str) else text, said, **words))
    return Reading([i for i in items if isinstance(i, EventRead)], [i for i in items if isinstance(i, MotionRead)])


def blocks(text: str, profile: Profile | str = "rs274ngc", *sets: str) -> Reading:
    """Read blocks between the usual head and tail: mm, positions, XY, per minute."""
    return read(HEAD + text + TAIL, profile, *sets)


def refusal(text: str, profile: Profile | str = "rs274ngc", *sets: str, whole: bool = False) -> ProgramError:
    """The refusal of blocks, or of a whole program; lines of blocks count from 3."""
    with pytest.raises(ProgramError) as refused:
        _ = read(text, profile, *sets) if whole else blocks(text, profile, *sets)
    return refused.value


def told(text: str, profile: str = "rs274ngc", *sets: str) -> list[tuple[str, float | None, str]]:
    """All events but those of every program: kind, number if there is one, text."""
    end = "" if profile == "rs274ngc" else "M30\n%"
    got = blocks(text, profile, *sets) if not end else read(f"%\nG17 G21 G90 G94\n{text}\n{end}", profile, *sets)
    events = [event for event in got.events if event.kind not in ("program_start", "program_end", "mode")]
    return [(event.kind, None if math.isnan(event.number) else event.number, event.text) for event in events]


def same(expected: list[tuple[float, ...]], actual: list[tuple[float, ...]]) -> None:
    """Equal numbers, an unknown one equal to an unknown one."""
    np.testing.assert_allclose(np.array(actual), np.array(expected), rtol=0, atol=1e-12)
