"""What goes wrong when a program does not cut what the toolpath says: the rule that is broken, one sentence, and how far off."""

from __future__ import annotations

from typing import Literal

MismatchKind = Literal[
    "path", "axis", "order", "missing", "extra", "feed", "dwell", "hole", "tool", "spindle", "coolant", "stop", "clamp", "turn", "rapid",
    "travel", "offset", "mode", "end",
]  # fmt: skip

RULES: dict[str, MismatchKind] = {
    "off-path": "path",
    "cut-elsewhere": "path",
    "unknown-place": "path",
    "tool-axis": "axis",
    "between-steps": "axis",
    "ends-early": "missing",
    "cuts-on": "extra",
    "feed": "feed",
    "pause-missing": "dwell",
    "pause-length": "dwell",
    "pause-added": "dwell",
    "spindle-pause": "dwell",
    "clamp-pause": "dwell",
    "hole-unfinished": "hole",
    "hole-aside": "hole",
    "hole-pause": "hole",
    "hole-rapid-down": "hole",
    "hole-rapid-out": "hole",
    "hole-up": "hole",
    "hole-feeds-up": "hole",
    "hole-deep": "hole",
    "hole-above": "hole",
    "peck-out": "hole",
    "peck-step": "hole",
    "tool": "tool",
    "tool-stop": "tool",
    "spindle-way": "spindle",
    "spindle-speed": "spindle",
    "coolant": "coolant",
    "stop-missing": "stop",
    "stop-in-cut": "stop",
    "clamp-off": "clamp",
    "clamp-on": "clamp",
    "turn-clamped": "clamp",
    "turn-low": "turn",
    "turn-in-cut": "turn",
    "backlash": "turn",
    "rapid-plunge": "rapid",
    "rapid-low": "rapid",
    "rotary-travel": "travel",
    "rotary-speed": "travel",
    "tool-selected": "tool",
    "tool-change-low": "tool",
    "spindle-stop-low": "spindle",
    "release-low": "clamp",
    "mode": "mode",
    "path-mode": "mode",
    "length-offset": "offset",
    "offset-low": "offset",
    "work-offset": "offset",
    "no-end": "end",
    "ends-on": "end",
    "after-end": "end",
    "end-low": "end",
    "home": "end",
    "no-mark": "end",
}
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
