"""What goes wrong when a program does not cut what the toolpath says: one sentence, and how far off."""

from __future__ import annotations

from typing import Literal

MismatchKind = Literal[
    "path", "axis", "order", "missing", "extra", "feed", "dwell", "hole", "tool", "spindle", "coolant", "stop", "clamp", "turn", "rapid",
    "travel", "offset", "end",
]  # fmt: skip


class Mismatch(Exception):
    """The first thing that differs. `distance_mm` is NaN where no distance says it; `line` 0 where the program has ended."""

    def __init__(self, kind: MismatchKind, sentence: str, *, line: int, distance_mm: float = float("nan"), move: int | None = None) -> None:
        super().__init__(sentence)
        self.kind = kind
        self.sentence = sentence
        self.line = line
        self.distance_mm = distance_mm
        self.move = move
