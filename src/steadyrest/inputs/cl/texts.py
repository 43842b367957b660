"""What do the literal statements PARTNO, PPRINT and INSERT say?"""

from __future__ import annotations

from steadyrest.inputs.cl.state import State
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.tool_names import tool_named


def partno(state: State, statement: Statement) -> None:
    """PARTNO text: the name of the part; further ones are notes."""
    if state.name:
        state.gatherer.note(statement.text, statement.line)
    state.name = state.name or statement.text


def pprint(state: State, statement: Statement) -> None:
    """PPRINT text: the name of a tool whose number it says, else for the operator."""
    named = tool_named(statement.text)
    if named is not None:
        state.tool_names.setdefault(*named)
    elif statement.text:
        state.gatherer.note(statement.text, statement.line)


def insert(state: State, statement: Statement) -> None:
    """INSERT text: refused, or a note that shows it."""
    if state.options.insert != "note":
        raise statement.error(
            "INSERT puts text into the program unchanged, past every check",
            "say it in the profile; or allow it as a note that shows its text, with --insert note",
        )
    state.gatherer.note(f"INSERT {statement.text}", statement.line)
    state.leave_out(statement, "its text is in a note and is not carried out", "INSERT")
