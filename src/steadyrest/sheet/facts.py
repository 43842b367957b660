"""What goes on the sheet: facts from the toolpath, the profile and the program read back. What none of them says is left open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from steadyrest.conventions import AXES
from steadyrest.findings import Weight
from steadyrest.outcome import Word, finding_text, outcome_line
from steadyrest.posting import post_to_memory, prove
from steadyrest.profile import Profile, Rotary, resolve, rotaries_of
from steadyrest.proof import Verdict, as_mounted, stands_end_for_end
from steadyrest.reading import FEED_INVERSE, RAPID, MotionRead, ProgramItem, read_program
from steadyrest.request import Request
from steadyrest.sheet.cautions import cautions, checklist
from steadyrest.sheet.mounting import MountingFacts, mounting_facts
from steadyrest.sheet.numbers import number, of_part
from steadyrest.sheet.tools import ToolFacts, tool_facts
from steadyrest.summary import Posted
from steadyrest.toolpath import RoundStock, Toolpath

_HAND = {"X+": " (right)", "X-": " (left)", "Y+": "", "Y-": "", "Z+": " (top)", "Z-": " (bottom)"}
"""Which end of the stock that is for whoever stands in front of it."""


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """Everything on the sheet; `posted` is the program that it is for. Texts are plain; the page escapes them."""

    title: str
    program: str
    units: str
    controller: str
    speaks: str
    toolpath_file: str
    toolpath_digest: str
    profile_digest: str
    posted: Posted
    outcome: Word
    judged: str
    findings: tuple[tuple[Weight, str], ...]
    stock: tuple[str, ...]
    origin: tuple[str, ...]
    mounting: MountingFacts | None
    tools: tuple[ToolFacts, ...]
    lengths: tuple[str, ...]
    offsets: tuple[tuple[str, str], ...]
    positions: tuple[tuple[str, str, str], ...]
    turning: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    checklist: tuple[str, ...]


def setup_sheet(request: Request, program: Path | None = None) -> SheetFacts:
    """The facts of the sheet. A program that must not run gets its sheet too, with STOP across it.

    program   a program that exists, judged again here; None: the toolpath is posted and judged, and nothing is kept
    raises    InputError where something that was given is wrong
    """
    text: Path | bytes
    if program is not None:
        posted, text, name = prove(program, request), program, program.name
    else:
        posted, text = post_to_memory(request)
        name = ""
    profile = resolve(request.named_controller, request.sets).profile
    letter = next(iter(rotaries_of(profile, posted.toolpath.axis)), None)
    return sheet_facts(posted, profile, read_program(text, profile, rotary_letter=letter), name)


def sheet_facts(posted: Posted, profile: Profile, items: Iterable[ProgramItem], program: str = "") -> SheetFacts:
    """The facts of one program that was judged.

    items     the same program read back (`steadyrest.reading.read_program`)
    program   the name of its file, where it has one
    """
    toolpath, verdict, outcome = posted.toolpath, posted.verdict, posted.outcome
    names = {number: one.name for number, one in enumerate(toolpath.operations, 1)}
    letter, rotary = next(iter(rotaries_of(profile, toolpath.axis).items()), (None, None))
    end_for_end = stands_end_for_end(toolpath, rotary)
    toolpath = as_mounted(toolpath, rotary)
    modes: set[int] = set()
    tools = tool_facts(_noting(items, modes), toolpath)
    return SheetFacts(
        title=toolpath.name or "no name",
        program=program,
        units=toolpath.units,
        controller=profile.name,
        speaks=profile.speaks,
        toolpath_file=Path(toolpath.file).name if toolpath.file else "",
        toolpath_digest=verdict.toolpath_digest[:16],
        profile_digest=verdict.profile_digest[:16],
        posted=posted,
        outcome=outcome.word,
        judged=outcome_line(outcome),
        findings=tuple((one.weight, finding_text(one, names)) for one in outcome.findings),
        stock=_stock(toolpath, rotary, tools),
        origin=_origin(toolpath, rotary, end_for_end),
        mounting=mounting_facts(letter, rotary, profile.spindle.stands, toolpath.units)
        if rotary is not None and letter is not None
        else None,
        tools=tools,
        lengths=tuple(f"{profile.tool.offset_letter}{tool.number}" if profile.tool.length_offset else "Z set by hand" for tool in tools),
        offsets=_offsets(toolpath, profile, letter, rotary),
        positions=_positions(toolpath, profile, verdict, letter, rotary),
        turning=_turning(toolpath, profile, verdict),
        cautions=cautions(profile, rotary, letter, verdict, {one.name for one in outcome.findings}, FEED_INVERSE in modes),
        checklist=checklist(toolpath, profile, rotary, letter),
    )


def _noting(items: Iterable[ProgramItem], modes: set[int]) -> Iterator[ProgramItem]:
    """The items, while the feed modes of what moves at feed are noted."""
    for item in items:
        if isinstance(item, MotionRead):
            modes.update(np.unique(item.feed_mode[item.motion != RAPID]).tolist())
        yield item


def _stock(toolpath: Toolpath, rotary: Rotary | None, tools: tuple[ToolFacts, ...]) -> tuple[str, ...]:
    stock, axis, units = toolpath.stock, toolpath.axis, toolpath.units
    if stock is None:
        return (f"not given; nothing that turns may reach more than {number(toolpath.swept_radius)} {units} from the axis of rotation",)
    low, high = (end + toolpath.centre[AXES.index(axis)] for end in stock.along(axis))
    first, second = (letter for letter in AXES if letter != axis)
    shape = f"round, diameter {number(stock.diameter)} {units}" if isinstance(stock, RoundStock) else "rectangular, "
    if not isinstance(stock, RoundStock):
        shape += f"{first} {number(stock.across[0])} by {second} {number(stock.across[1])}"
    lines = [f"{shape}, length {number(high - low)} {units}", f"from {axis} {number(low)} to {axis} {number(high)}"]
    if any(off := stock.offset_across(axis)):
        lines.append(f"its middle is off the axis of rotation by {first} {number(off[0])}, {second} {number(off[1])}")
    if rotary is None:
        return tuple(lines)
    plus = rotary.chuck_faces[0] == "+"
    held, free = (low, high) if plus else (high, low)
    how = (
        "assumed from the way the chuck faces, the toolpath does not state it"
        if stock.held is None
        else "the length in the jaws is not given"
    )
    if stock.held is not None and stock.held.length is not None:
        how = f"{number(stock.held.length)} {units} of it in the jaws" if stock.held.length else "bolted to a face, nothing in jaws"
    lines.append(f"held at {axis} {number(held)}{_HAND[axis + ('-' if plus else '+')]}: {how}")
    reaches = [tool.reach for tool in tools if tool.reach is not None]
    if reaches and len(reaches) == len(tools):
        needed = high - min(reach[0] for reach in reaches) if plus else max(reach[1] for reach in reaches) - low
        lines.append(
            f"stick-out from the jaws: more than {number(needed)} {units}, measured from the free end at {axis} {number(free)} "
            "(the cutters reach that far, radius included)"
        )
    return tuple(lines)


def _origin(toolpath: Toolpath, rotary: Rotary | None, end_for_end: bool) -> tuple[str, ...]:
    axis, units = toolpath.axis, toolpath.units
    across = [(letter, toolpath.centre[AXES.index(letter)]) for letter in AXES if letter != axis]
    lines = []
    if all(value == 0 for _, value in across):
        first, second = (letter for letter, _ in across)
        lines.append(f"{first} 0 and {second} 0 are on the axis of rotation: touch off to find it (steadyrest centre find)")
    else:
        where = ", ".join(f"{letter} {number(value)}" for letter, value in across)
        lines.append(f"the axis of rotation is at {where} {units} in work coordinates: touch off to find it, and set the offset to suit")
    if toolpath.stock is not None:
        low, high = (end + toolpath.centre[AXES.index(axis)] for end in toolpath.stock.along(axis))
        ends = [(high, f"the + end of the stock{_HAND[axis + '+']}"), (low, f"the - end of the stock{_HAND[axis + '-']}")]
        exact = next((said for value, said in ends if value == 0), None)
        free = ends[0] if rotary is None or rotary.chuck_faces[0] == "+" else ends[1]
        lines.append(f"{axis} 0 is {exact}" if exact else f"{free[1]} is at {axis} {number(free[0])} {units}")
    else:
        lines.append(f"{axis} 0: the toolpath does not state where it is")
    if end_for_end:
        lines.insert(
            0,
            "the job is turned end for end about Z, as the rotary is: X and Y of the toolpath change sign, and zero is where it is "
            "stated here. Touch off the other end, with the tool's radius the other way",
        )
    if rotary is not None:
        zero = (
            "any angle will do, but do not change it afterwards"
            if isinstance(toolpath.stock, RoundStock)
            else "the sides of the stock square to the table"
        )
        lines.append(f"rotary at 0: {zero}; set a part that is already machined by one of its features")
    return tuple(lines)


def _offsets(toolpath: Toolpath, profile: Profile, letter: str | None, rotary: Rotary | None) -> tuple[tuple[str, str], ...]:
    offset = profile.codes.work_offset or "zero set by hand,"
    rows = [(f"{offset}  {axis}", _meaning(axis, toolpath)) for axis in AXES]
    if rotary is not None and letter is not None:
        word = rotary.word_letter(letter)
        rows = [row for row in rows if row[0] != f"{offset}  {word}"]
        rows.append((f"{offset}  {word}", "the rotary's zero"))
    return tuple(rows)


def _meaning(axis: str, toolpath: Toolpath) -> str:
    if axis == toolpath.axis:
        return "see the origin"
    value = toolpath.centre[AXES.index(axis)]
    return "the axis of rotation" if value == 0 else f"puts the axis of rotation at {axis} {number(value)}"


def _positions(
    toolpath: Toolpath, profile: Profile, verdict: Verdict, letter: str | None, rotary: Rotary | None
) -> tuple[tuple[str, str, str], ...]:
    """As the machine's display shows them: a borrowed drive by its own word, in lengths."""
    units, borrowed = toolpath.units, rotary.replaces if rotary is not None else ""
    rows = [
        (f"{axis}, {units}", number(span[0]), number(span[1]))
        for axis, span in verdict.whole.extents.items()
        if span is not None and axis != borrowed
    ]
    if letter is not None and rotary is not None and verdict.whole.rotary_extent_deg is not None:
        ends = verdict.whole.rotary_extent_deg
        if borrowed:
            low, high = sorted(rotary.mm_per_degree * end for end in ends)
            rows.append((f"{borrowed} (turns the rotary), {units}", of_part(low, units), of_part(high, units)))
        else:
            rows.append((f"{letter}, degrees", number(ends[0]), number(ends[1])))
    if profile.retract.form == "machine_zero":
        rows.append((f"Z in machine coordinates, {units}", "", f"{of_part(profile.retract.machine_z, units)} (retract)"))
    if profile.retract.form == "reference":
        rows.append(("Z", "", "reference point (retract)"))
    return tuple(rows)


def _turning(toolpath: Toolpath, profile: Profile, verdict: Verdict) -> tuple[tuple[str, str], ...]:
    whole = verdict.whole
    rows = [
        ("the turning stock reaches this far from the axis", f"{number(toolpath.swept_radius)} {toolpath.units}"),
        ("clearance above that while the rotary turns at rapid", f"{of_part(profile.safety.clearance, toolpath.units)} {toolpath.units}"),
        ("rotary turns in all", f"{number(whole.turning_deg / 360)} turns"),
        ("of that at rapid", f"{number(whole.rapid_turning_deg / 360)} turns"),
    ]
    if whole.rotary_extent_deg is not None:
        low, high = whole.rotary_extent_deg
        rows.append(("cables and hoses wind up by", f"{number((high - low) / 360)} turns"))
    rows.append(
        (
            "time, without tool changes",
            f"{whole.cutting_minutes + whole.rapid_minutes:.1f} min, {whole.cutting_minutes:.1f} min of it cutting",
        )
    )
    return tuple(rows)
