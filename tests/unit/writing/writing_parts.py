"""Small profiles, runs and programs for the tests of writing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from steadyrest.conventions import LINE, PER_MINUTE
from steadyrest.motion import Arcs, Event, Motion
from steadyrest.profile import Profile, Rotary, shared_templates_folder
from steadyrest.writing import Writing, write_program

NAN = float("nan")


def profile(rotary: dict[str, Any] | None = None, **groups: Any) -> Profile:
    """A profile with a rotary A along X; each group as a dictionary of its settings."""
    base = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise"}
    turning = {"A": Rotary.model_validate(base | (rotary or {}))}
    settings = {"feed": {"per_minute_code": "G94", "inverse_code": "G93"}} | groups
    return Profile.model_validate({"name": "trial", "speaks": "words for the tests of writing", "rotary": turning} | settings)


NO_CYCLES = dict.fromkeys(("drill", "dwell_drill", "peck", "tap", "bore"), "")


def in_steps() -> Profile:
    """A controller of incremental words, started at X0 Y0 Z0 A0."""
    return profile(
        {"unwinding": {"at_end": "zero"}},
        words={"distance": "incremental"},
        program={"start_position": [0, 0, 0, 0]},
        retract={"form": "height"},
        cycles=NO_CYCLES,
        codes={"work_offset": ""},
        tool={"length_offset": "", "cancel_offset": ""},
    )


def with_y_drive() -> Profile:
    """A three-axis controller whose Y drive turns the rotary, half a millimetre a degree."""
    return profile(
        {"replaces": "Y", "mm_per_degree": 0.5}, feed={"per_minute_counts": "all_axes"}, arcs={"planes": ["XZ"]}, cycles=NO_CYCLES
    )


def rows(
    places: Sequence[tuple[float, float, float, float]],
    motion: Sequence[int] | int = LINE,
    feed: Sequence[float] | float = 100.0,
    mode: Sequence[int] | int = PER_MINUTE,
    *,
    centre: Sequence[tuple[float, float, float]] | None = None,
    plane: int = 0,
    operation: int = 1,
) -> Motion:
    """A run through (x, y, z, w_deg) places; one motion, feed or mode stands for all rows."""
    n = len(places)
    table = np.array(places, dtype=np.float64).reshape(n, 4)
    return Motion(
        np.broadcast_to(np.asarray(motion, np.uint8), n).copy(),
        table[:, :3].copy(),
        table[:, 3:].copy(),
        np.broadcast_to(np.asarray(feed, np.float64), n).copy(),
        np.arange(1, n + 1),
        np.zeros(n),
        np.broadcast_to(np.asarray(mode, np.uint8), n).copy(),
        None if centre is None else Arcs(np.array(centre, dtype=np.float64), np.full(n, plane, np.uint8)),
        operation,
        "cut",
    )


def written(items: Sequence[Motion | Event], said: Profile, *, inch: bool = False, letters: str = "A") -> list[str]:
    """The lines of a program."""
    return text_of(writing(items, said, inch=inch, letters=letters))


def writing(items: Sequence[Motion | Event], said: Profile, *, inch: bool = False, letters: str = "A") -> Writing:
    """A program with the shared templates."""
    return write_program(items, said, [shared_templates_folder()], inch=inch, rotary_letters=tuple(letters))


def text_of(one: Writing) -> list[str]:
    """All of its lines."""
    return b"".join(one).decode("ascii").splitlines()


NOTE = Event("note", 1, facts={"text": "hold"})


def written_in(folder: Path, items: Sequence[Motion | Event], said: Profile | None = None) -> list[str]:
    """The lines of a program by the templates of a folder, and the shared ones."""
    chunks = write_program(items, said or profile(), [folder, shared_templates_folder()], inch=False, rotary_letters=["A"])
    return b"".join(chunks).decode("ascii").splitlines()


def with_template(folder: Path, name: str, text: str, items: Sequence[Motion | Event]) -> list[str]:
    """The lines of a program with one template of its own."""
    (folder / f"{name}.j2").write_text(text, encoding="utf-8")
    return written_in(folder, items)
