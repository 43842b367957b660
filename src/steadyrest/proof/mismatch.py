"""What goes wrong when a program does not cut what the toolpath says: the rule that is broken, one sentence, and how far off."""

from __future__ import annotations

from typing import Literal

MismatchKind = Literal[
    "path", "axis", "order", "missing", "extra", "feed", "dwell", "hole", "tool", "spindle", "coolant", "stop", "clamp", "turn", "rapid",
    "travel", "offset", "mode", "end",
]  # fmt: skip

_RULES: dict[MismatchKind, str] = {
    "path": "off-path cut-elsewhere unknown-place",
    "axis": "tool-axis between-steps",
    "missing": "ends-early",
    "extra": "cuts-on",
    "feed": "feed",
    "dwell": "pause-missing pause-length pause-added spindle-pause clamp-pause",
    "hole": "hole-unfinished hole-aside hole-pause hole-rapid-down hole-rapid-out hole-up hole-feeds-up hole-deep hole-above "
    "peck-out peck-step",
    "tool": "tool tool-stop tool-selected tool-change-low",
    "spindle": "spindle-way spindle-speed spindle-stop-low",
    "coolant": "coolant",
    "stop": "stop-missing stop-in-cut",
    "clamp": "clamp-off clamp-on turn-clamped release-low",
    "turn": "turn-low turn-in-cut backlash",
    "rapid": "rapid-plunge rapid-low",
    "travel": "rotary-travel rotary-speed",
    "mode": "mode path-mode",
    "offset": "length-offset offset-low work-offset",
    "end": "no-end ends-on after-end end-low home no-mark",
}
RULES = {name: kind for kind, names in _RULES.items() for name in names.split()}
"""Name of every rule for whose breach a program is refused, to the kind of difference that it is."""


class Mismatch(Exception):
    """The first thing that differs, by the name of the rule that it breaks.

    `distance_mm` is NaN where no distance says it; `line` 0 where the program has ended.
    """

    def __init__(self, rule: str, sentence: str, *, line: int, distance_mm: float = float("nan"), move: int | None = None) -> None:
        super().__init__(sentence)
        self.rule = rule
        self.kind = RULES[rule]
        self.sentence = sentence
        self.line = line
        self.distance_mm = distance_mm
        self.move = move
        self.edited = False  # whether line and sentence are those of the word that makes the difference
