"""Which lines of a program belong together under one heading: its head, each operation and tool change, its end?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from steadyrest.explaining.explanation import Written

SectionKind = Literal["head", "operation", "tool change", "end"]
_KINDS: dict[str, SectionKind] = {
    "program_start": "head",
    "operation_start": "operation",
    "tool_change": "tool change",
    "program_end": "end",
}


@dataclass(frozen=True, slots=True)
class Section:
    """Some lines of a program that belong together. A tool change is a part of its operation.

    first, last   its lines, from 1, both included; `last` is `first - 1` where the program says nothing there
    operation     its number, from 1; 0: it belongs to none
    name          of the operation, as the toolpath has it; may be empty
    tool          number of the tool of the operation, or of the one that is put in; None for head and end
    tool_name     its name in the toolpath; may be empty
    intent        of the operation: `indexed`, `wrapped`, `simultaneous`, `still` or another of the toolpath's; empty for head and end
    angles        of an indexed operation, degrees; planes: in how many planes it is cut
    """

    kind: SectionKind
    first: int
    last: int
    operation: int = 0
    name: str = ""
    tool: int | None = None
    tool_name: str = ""
    intent: str = ""
    angles: tuple[float, ...] = ()
    planes: int = 0


def sections(written: Written) -> tuple[Section, ...]:
    """The sections of a program in the order of its lines; an operation reaches to the next one, or to the end of the program."""
    names = {tool.number: tool.name for tool in written.toolpath.tools}
    begins = [(first, event, kind) for first, event in written.origins.events if (kind := _KINDS.get(event.name)) is not None]
    found: list[Section] = []
    past = written.origins.count + 1
    for first, event, kind in reversed(begins):
        if kind == "tool change":
            end = written.origins.past(first, event)
        else:
            end, past = past, first
        if not event.operation:
            found.append(Section(kind, first, end - 1))
            continue
        operation = written.toolpath.operations[event.operation - 1]
        rotary, tool = operation.rotary, operation.tool
        angles = tuple(rotary.angles or ()) if rotary.intent == "indexed" else ()
        planes = len(rotary.planes or ()) if rotary.intent == "indexed" else 0
        found.append(
            Section(kind, first, end - 1, event.operation, operation.name, tool, names.get(tool, ""), rotary.intent, angles, planes)
        )
    return tuple(reversed(found))
