"""What does CYCLE say, and which holes do the points after it make?

Two spellings (ISO 4343, from memory): couplets throughout, CYCLE/DRILL,DEPTH,20,PERMIN,120,CLEAR,3; or the numbers by place,
CYCLE/DRILL,depth,PERMIN,feed,clearance. Depth is measured down from the point, clearance up from it, along the tool axis.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.inputs.cl.state import CycleInForce, State
from steadyrest.inputs.cl.statement import Couplet, Statement
from steadyrest.inputs.cl.tools import FEED_WORDS, feed_of
from steadyrest.inputs.items import Hole

Floats = NDArray[np.float64]

KINDS = {
    "DRILL": "drill",
    "FACE": "dwell-drill",
    "DEEP": "peck",
    "BRKCHP": "chip-break",
    "TAP": "tap",
    "BORE": "bore",
    "REAM": "bore",
}
_DEPTH = ("DEPTH", "FEDTO")
_CLEAR = ("CLEAR", "RAPTO")
_STEP = ("STEP", "PECK")
_ALLOWED = (*KINDS, *_DEPTH, *_CLEAR, *_STEP, "DWELL", "REV", *FEED_WORDS)


def cycle(state: State, statement: Statement) -> None:
    """CYCLE/kind,..., CYCLE/OFF, CYCLE/ON."""
    state.known_units(statement.line)
    couplets = statement.couplets()
    if not couplets:
        raise statement.error("CYCLE says nothing", f"write CYCLE/{{{', '.join(KINDS)}}} with its depth, or CYCLE/OFF")
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


def _in_force(state: State, statement: Statement, couplets: tuple[Couplet, ...]) -> CycleInForce:
    values: dict[str, tuple[float, Couplet]] = {}

    def put(name: str, value: float, couplet: Couplet) -> None:
        if name in values:
            raise statement.error(f"the {name} is given twice", "keep one of the two", couplet.at)
        values[name] = (value, couplet)

    feed_word, dwell_turns = "", False
    for at, couplet in enumerate(couplets):
        word, numbers = couplet.word, couplet.numbers
        if word not in _ALLOWED or (word in KINDS and at > 0):
            raise statement.error(f"CYCLE does not know {word} here; allowed are {', '.join(_ALLOWED)}", "correct it", couplet.at)
        if word == "REV":
            dwell_turns = True
            continue
        most = 2 if word in FEED_WORDS else 1
        if len(numbers) > most or (not numbers and word not in (*KINDS, *FEED_WORDS)):
            raise statement.error(
                f"{word} takes {'up to two numbers' if most == 2 else 'one number'}, found {len(numbers)}", "correct it", couplet.at
            )
        if word in KINDS or word in _DEPTH:
            for value in numbers:
                put("depth", value, couplet)
        elif word in _CLEAR:
            put("clearance", numbers[0], couplet)
        elif word in _STEP:
            put("step", numbers[0], couplet)
        elif word == "DWELL":
            put("dwell", numbers[0], couplet)
        else:
            feed_word = word
            for name, value in zip(("feed", "clearance"), numbers, strict=False):
                put(name, value, couplet)
    for name in ("depth", "clearance"):
        if name not in values:
            raise statement.error(
                f"the cycle has no {name}",
                f"write for example CYCLE/{couplets[0].word},DEPTH,20,PERMIN,120,CLEAR,3, or {couplets[0].word},20,PERMIN,120,3",
            )
    for name, (value, couplet) in values.items():
        if value < 0 or (value == 0 and name not in ("dwell", "clearance")):
            raise statement.error(
                f"the {name} {value:g} has to be more than 0",
                "depth counts down from the point, clearance up: write them without a sign",
                couplet.at,
            )
    return _checked(state, statement, couplets[0].word, {name: value for name, (value, _) in values.items()}, feed_word, dwell_turns)


def _checked(state: State, statement: Statement, word: str, values: dict[str, float], feed_word: str, dwell_turns: bool) -> CycleInForce:
    says: dict[str, Any] = {"cycle": KINDS[word]}
    if "step" in values:
        if word not in ("DEEP", "BRKCHP"):
            raise statement.error(f"{word} takes no STEP", "use DEEP or BRKCHP, or leave STEP out")
        says["peck"] = values["step"] * state.factor
    elif word in ("DEEP", "BRKCHP"):
        raise statement.error(f"{word} has no STEP", "add STEP, the depth of one step")
    if "dwell" in values:
        if word == "TAP":
            raise statement.error("TAP takes no DWELL", "leave it out")
        if dwell_turns and not state.rpm:
            raise statement.error("a dwell in revolutions while the spindle stands", "put SPINDL before it, or give seconds")
        says["dwell"] = values["dwell"] * 60 / (state.rpm or 0.0) if dwell_turns else values["dwell"]
    if word in ("DRILL", "FACE"):
        says["cycle"] = "dwell-drill" if "dwell" in says else "drill"
    feed = feed_of(state, values["feed"], feed_word) if "feed" in values else None
    return CycleInForce(values["depth"] * state.factor, values["clearance"] * state.factor, says, feed, statement)


def holes(state: State, xyz: Floats, axis: Floats | None, lines: NDArray[np.int64]) -> None:
    """A hole at each point (n, 3), along its tool axis (n, 3) or the spindle's own."""
    found = state.cycle
    assert found is not None
    settings = state.settings(int(lines[0]), cutting=True)
    says = dict(found.says)
    feed = found.feed if found.feed is not None else state.feed
    says["feed"] = state.feed_per_minute(int(lines[0]), feed)
    if says["cycle"] == "tap" and feed is not None and feed[1] == "turn":
        says["pitch"] = feed[0]
    for row, line in enumerate(lines.tolist()):
        state.gatherer.add(settings, Hole(xyz[row], found.clearance, found.depth, says, line, None if axis is None else axis[row]))
    up = np.array([0.0, 0.0, 1.0]) if axis is None else axis[-1]
    state.stand(xyz[-1] + found.clearance * up)
