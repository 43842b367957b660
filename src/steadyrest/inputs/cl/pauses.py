"""What do DELAY, DWELL, STOP and OPSTOP say?"""

from __future__ import annotations

from steadyrest.inputs.cl.state import State
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.items import Happening


def delay(state: State, statement: Statement) -> None:
    """DELAY/seconds, or DELAY/n,REV; DWELL is the same."""
    couplets = statement.couplets()
    form = [(couplet.word, len(couplet.numbers)) for couplet in couplets]
    if form == [("", 1)]:
        seconds = couplets[0].numbers[0]
    elif form == [("", 1), ("REV", 0)] or form == [("REV", 1)]:
        if not state.rpm:
            raise statement.error("a dwell in revolutions while the spindle stands", "put SPINDL before it, or give seconds")
        seconds = couplets[0].numbers[0] * 60 / state.rpm
    else:
        raise statement.error(
            f"{statement.word} takes seconds, or a number of revolutions and REV", f"write {statement.word}/0.5 or {statement.word}/3,REV"
        )
    if seconds < 0:
        raise statement.error(f"a dwell of {seconds:g} seconds", "give at least 0")
    _happens(state, statement, {"dwell": seconds})


def stop(state: State, statement: Statement) -> None:
    """STOP, OPSTOP."""
    _happens(state, statement, {"stop": {"optional": statement.word == "OPSTOP"}})


def _happens(state: State, statement: Statement, move: dict[str, object]) -> None:
    happening = Happening(move, statement.line)
    state.carry_over(statement.line, cutting=False)
    if (state.tool is None and state.options.tool is None) or (state.frame()[0] == "part" and state.point is None):
        state.gatherer.hold(happening)
    else:
        state.gatherer.add(state.settings(statement.line, cutting=False), happening)
