"""CYCLE, and the holes that the points after it make.

Two spellings (ISO 4343, from memory): couplets throughout, CYCLE/DRILL,DEPTH,20,PERMIN,120,CLEAR,3; or the numbers by place,
CYCLE/DRILL,depth,PERMIN,feed,clearance. Depth is measured down from the point, clearance up from it, along the tool axis.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.inputs.cl.auxiliary import FEED_WORDS, feed_of
from steadyrest.inputs.cl.state import ClState, Cycle
from steadyrest.inputs.cl.statement import Couplet, Statement
from steadyrest.inputs.stretches import Hole

KINDS = {
    "DRILL": "drill",
    "FACE": "dwell-drill",
    "DEEP": "peck",
    "BRKCHP": "chip-break",
    "TAP": "tap",
    "BORE": "bore",
    "REAM": "bore",
}
_NUMBERS = {
    **dict.fromkeys(KINDS, ("depth",)),
    **dict.fromkeys(("DEPTH", "FEDTO"), ("depth",)),
    **dict.fromkeys(("CLEAR", "RAPTO"), ("clearance",)),
    **dict.fromkeys(("STEP", "PECK"), ("step",)),
    "DWELL": ("dwell",),
    "REV": (),
    **dict.fromkeys(FEED_WORDS, ("feed", "clearance")),
}
"""What the numbers after a word are."""


def cycle(state: ClState, statement: Statement) -> None:
    """CYCLE/kind,..., CYCLE/OFF, CYCLE/ON."""
    state.known_units(statement.line)
    couplets = statement.couplets()
    if not couplets:
        raise statement.error("CYCLE has no arguments", f"write CYCLE/{{{', '.join(KINDS)}}} with its depth, or CYCLE/OFF")
    first = couplets[0].word
    if first in ("OFF", "ON"):
        if len(couplets) > 1 or couplets[0].numbers:
            raise statement.error(f"CYCLE/{first} takes nothing more", f"write CYCLE/{first}")
        if first == "ON" and state.last_cycle is None:
            raise statement.error("CYCLE/ON before any cycle", "write the cycle whole")
        state.cycle = state.last_cycle if first == "ON" else None
        return
    if first not in KINDS:
        raise statement.error(
            f"the cycle {first or 'without a word'} is not known; allowed are {', '.join(KINDS)}, ON, OFF",
            "write the hole with one of those, or as points",
            couplets[0].at,
        )
    state.cycle = state.last_cycle = _in_force(state, statement, couplets)


def _in_force(state: ClState, statement: Statement, couplets: tuple[Couplet, ...]) -> Cycle:
    values: dict[str, float] = {}
    at: dict[str, int] = {}
    feed_word, dwell_turns = "", False
    for couplet in couplets:
        word, numbers = couplet.word, couplet.numbers
        if word not in _NUMBERS or (word in KINDS and couplet is not couplets[0]):
            allowed = ", ".join(_NUMBERS)
            raise statement.error(f"CYCLE does not know {word} here; allowed are {allowed}", "correct it", couplet.at)
        names = _NUMBERS[word]
        if word == "REV":
            dwell_turns = True
            continue
        if len(numbers) > len(names) or (not numbers and word not in (*KINDS, *FEED_WORDS)):
            most = "one number" if len(names) == 1 else "up to two numbers"
            raise statement.error(f"{word} takes {most}, found {len(numbers)}", "correct it", couplet.at)
        if word in FEED_WORDS:
            feed_word = word
        for name, value in zip(names, numbers, strict=False):
            if name in values:
                raise statement.error(f"the {name} is given twice", "keep one of the two", couplet.at)
            values[name], at[name] = value, couplet.at
    kind = couplets[0].word
    for name in ("depth", "clearance"):
        if name not in values:
            raise statement.error(
                f"the cycle has no {name}",
                f"write for example CYCLE/{kind},DEPTH,20,PERMIN,120,CLEAR,3, or {kind},20,PERMIN,120,3",
            )
    for name, value in values.items():
        if value < 0 or (value == 0 and name not in ("dwell", "clearance")):
            raise statement.error(
                f"the {name} {value:g} has to be more than 0",
                "depth counts down from the point, clearance up: write them without a sign",
                at[name],
            )
    says: dict[str, Any] = {"cycle": KINDS[kind]}
    if "step" in values:
        if kind not in ("DEEP", "BRKCHP"):
            raise statement.error(f"{kind} takes no STEP", "use DEEP or BRKCHP, or leave STEP out")
        says["peck"] = values["step"] * state.factor
    elif kind in ("DEEP", "BRKCHP"):
        raise statement.error(f"{kind} has no STEP", "add STEP, the depth of one step")
    if "dwell" in values:
        if kind == "TAP":
            raise statement.error("TAP takes no DWELL", "leave it out")
        says["dwell"] = values["dwell"] * state.seconds_a_turn(statement) if dwell_turns else values["dwell"]
    if kind in ("DRILL", "FACE"):
        says["cycle"] = "dwell-drill" if "dwell" in says else "drill"
    feed = feed_of(state, values["feed"], feed_word) if "feed" in values else None
    return Cycle(values["depth"] * state.factor, values["clearance"] * state.factor, says, feed)


def holes(state: ClState, xyz: Floats, axis: Floats | None, lines: Ints) -> None:
    """A hole at each point (n, 3), along its tool axis (n, 3) or the spindle's own."""
    found = state.cycle
    assert found is not None
    conditions = state.conditions(int(lines[0]), cutting=True)
    says = dict(found.says)
    feed = found.feed if found.feed is not None else state.feed
    says["feed"] = state.feed_per_minute(int(lines[0]), feed)
    if says["cycle"] == "tap" and feed is not None and feed[1] == "turn":
        says["pitch"] = feed[0]
    for row, line in enumerate(lines.tolist()):
        state.add(conditions, Hole(xyz[row], found.clearance, found.depth, says, line, None if axis is None else axis[row]))
    up = np.array([0.0, 0.0, 1.0]) if axis is None else axis[-1]
    state.stand(xyz[-1] + found.clearance * up)
