"""What goes on the sheet: facts from the toolpath, the profile and the program read back. What none of them says is left open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import isfinite

import numpy as np

from steadyrest.profile import Profile, Rotary
from steadyrest.proof import Verdict
from steadyrest.reading import EventRead, MotionRead, ProgramItem
from steadyrest.sheet.drawing import Drawing, mounting_drawings
from steadyrest.toolpath import BullnoseTool, ChamferTool, DrillTool, RoundStock, Tool, Toolpath

MM_PER_INCH = 25.4
RAPID = 0


@dataclass(frozen=True, slots=True)
class ToolFacts:
    """One tool as the program uses it; lengths in the toolpath's units, None where nothing says it.

    lowest        the lowest Z of its tip while it cuts; reach: how far along the axis of rotation it cuts, its radius included
    """

    number: int
    name: str
    shape: str
    flutes: int | None
    cutting_length: float | None
    length: float | None
    does: tuple[str, ...]
    lowest: float | None
    reach: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class MountingFacts:
    """The rotary as the program takes it to stand."""

    letter: str
    along: str
    sentences: tuple[str, ...]
    drawings: tuple[Drawing, ...]


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """Everything on the sheet. Texts are plain; the page escapes them."""

    title: str
    program: str
    units: str
    controller: str
    speaks: str
    toolpath_digest: str
    profile_digest: str
    proved: str
    stock: tuple[str, ...]
    origin: tuple[str, ...]
    mounting: MountingFacts | None
    tools: tuple[ToolFacts, ...]
    offsets: tuple[tuple[str, str], ...]
    positions: tuple[tuple[str, str, str], ...]
    turning: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    checklist: tuple[str, ...]


def sheet_facts(toolpath: Toolpath, profile: Profile, verdict: Verdict, items: Iterable[ProgramItem], program: str = "") -> SheetFacts:
    """The facts of one program that was proved.

    items     the same program read back (`steadyrest.reading.read_program`)
    program   the name of its file, where it has one
    """
    letter, rotary = rotary_of(toolpath, profile)
    used = _used(items, toolpath)
    tools = tuple(_tool(tool, toolpath, used.get(tool.number)) for tool in toolpath.tools if _does(toolpath, tool.number))
    return SheetFacts(
        title=toolpath.name or "no name",
        program=program,
        units=toolpath.units,
        controller=profile.name,
        speaks=profile.speaks,
        toolpath_digest=verdict.toolpath_digest[:16],
        profile_digest=verdict.profile_digest[:16],
        proved=verdict.text().splitlines()[0],
        stock=_stock(toolpath, rotary, tools),
        origin=_origin(toolpath, rotary),
        mounting=_mounting(letter, rotary) if rotary is not None and letter is not None else None,
        tools=tools,
        offsets=_offsets(toolpath, profile, letter, tools),
        positions=_positions(toolpath, profile, verdict, letter),
        turning=_turning(toolpath, profile, verdict),
        cautions=_cautions(profile, rotary, letter, verdict),
        checklist=_checklist(toolpath, profile, rotary, letter),
    )


def rotary_of(toolpath: Toolpath, profile: Profile) -> tuple[str | None, Rotary | None]:
    """The rotary that turns about the toolpath's axis; None where the profile has none."""
    return next(((str(name), each) for name, each in profile.rotary.items() if each.along == toolpath.axis), (None, None))


def number(value: float) -> str:
    """A length or an angle as it is read on paper: three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _does(toolpath: Toolpath, tool: int) -> tuple[str, ...]:
    said = {"indexed": "indexed", "wrapped": "wrapped", "simultaneous": "turning while cutting", "still": "rotary at 0"}
    return tuple(
        f"{at}. {operation.name or 'no name'} ({said[operation.rotary.intent]}, {operation.spindle.rpm:g} rpm"
        f"{', counterclockwise' if operation.spindle.turns == 'counterclockwise' else ''}"
        f"{'' if operation.coolant == 'off' else ', ' + operation.coolant})"
        for at, operation in enumerate(toolpath.operations, 1)
        if operation.tool == tool
    )


@dataclass(slots=True)
class _Use:
    """Where one tool cuts, mm, work coordinates."""

    low: np.ndarray = field(default_factory=lambda: np.full(3, np.inf))
    high: np.ndarray = field(default_factory=lambda: np.full(3, -np.inf))


def _used(items: Iterable[ProgramItem], toolpath: Toolpath) -> dict[int, _Use]:
    """Per tool the lowest and highest positions of its tip in cuts. Where tools are changed by hand, only a single tool is known."""
    numbers = {operation.tool for operation in toolpath.operations}
    tool = next(iter(numbers)) if len(numbers) == 1 else 0
    used: dict[int, _Use] = {}
    for item in items:
        if isinstance(item, EventRead):
            if item.kind in ("tool_change", "tool_selected") and isfinite(item.number):
                tool = int(item.number)
            continue
        assert isinstance(item, MotionRead)
        ends = item.end_mm[item.motion != RAPID]
        if len(ends) and tool:
            use = used.setdefault(tool, _Use())
            use.low = np.fmin(use.low, np.fmin.reduce(ends, axis=0))
            use.high = np.fmax(use.high, np.fmax.reduce(ends, axis=0))
    return used


def _tool(tool: Tool, toolpath: Toolpath, use: _Use | None) -> ToolFacts:
    unit = 1.0 if toolpath.units == "mm" else MM_PER_INCH
    along = "XYZ".index(toolpath.axis)
    lowest = float(use.low[2] / unit) if use is not None and isfinite(use.low[2]) else None
    reach = None
    if use is not None and toolpath.axis != "Z" and isfinite(use.low[along]):
        reach = float(use.low[along] / unit - tool.diameter / 2), float(use.high[along] / unit + tool.diameter / 2)
    shape = {"flat": "flat end", "ball": "ball end", "bullnose": "rounded corners", "drill": "drill", "chamfer": "cone"}[tool.shape]
    if isinstance(tool, BullnoseTool):
        shape += f", corner radius {number(tool.corner_radius)}"
    if isinstance(tool, DrillTool):
        shape += f", point {number(tool.point_angle)} degrees"
    if isinstance(tool, ChamferTool):
        shape += f", {number(tool.included_angle)} degrees, tip {number(tool.tip_diameter)}"
    return ToolFacts(
        tool.number,
        tool.name,
        f"diameter {number(tool.diameter)}, {shape}",
        tool.flutes,
        tool.cutting_length,
        tool.length,
        _does(toolpath, tool.number),
        lowest,
        reach,
    )


def _stock(toolpath: Toolpath, rotary: Rotary | None, tools: tuple[ToolFacts, ...]) -> tuple[str, ...]:
    stock, axis, units = toolpath.stock, toolpath.axis, toolpath.units
    if stock is None:
        return (f"not given; nothing that turns may reach beyond {number(toolpath.swept_radius)} {units} from the axis of rotation",)
    low, high = stock.along(axis)
    if isinstance(stock, RoundStock):
        shape = f"round, diameter {number(stock.diameter)} {units}, length {number(high - low)} {units}"
    else:
        first, second = (letter for letter in "XYZ" if letter != axis)
        shape = f"rectangular, {first} {number(stock.across[0])} by {second} {number(stock.across[1])}, length {number(high - low)} {units}"
    at = toolpath.centre["XYZ".index(axis)]
    lines = [shape, f"it lies from {axis} {number(low + at)} to {axis} {number(high + at)}"]
    if any(stock.offset_across(axis)):
        first, second = (letter for letter in "XYZ" if letter != axis)
        off = stock.offset_across(axis)
        lines.append(f"its middle stands off the axis of rotation by {first} {number(off[0])}, {second} {number(off[1])}")
    reaches = [tool.reach for tool in tools if tool.reach is not None]
    if rotary is not None and reaches and len(reaches) == len(tools):
        if rotary.chuck_faces[0] == "+":
            needed, end = high + at - min(reach[0] for reach in reaches), high + at
        else:
            needed, end = max(reach[1] for reach in reaches) - (low + at), low + at
        lines.append(
            f"it has to stick out of the jaws by more than {number(needed)} {units}, measured from its free end at {axis} {number(end)}: "
            "the cutters reach that far, their radius included"
        )
    return tuple(lines)


def _origin(toolpath: Toolpath, rotary: Rotary | None) -> tuple[str, ...]:
    axis, units = toolpath.axis, toolpath.units
    across = [(letter, toolpath.centre["XYZ".index(letter)]) for letter in "XYZ" if letter != axis]
    lines = []
    if all(value == 0 for _, value in across):
        first, second = (letter for letter, _ in across)
        lines.append(f"{first} 0 and {second} 0 lie on the axis of rotation: find it with touches (steadyrest centre find)")
    else:
        where = ", ".join(f"{letter} {number(value)}" for letter, value in across)
        lines.append(f"the axis of rotation lies at {where} {units} in work coordinates: find it with touches, and set the offset by that")
    if toolpath.stock is not None:
        low, high = (end + toolpath.centre["XYZ".index(axis)] for end in toolpath.stock.along(axis))
        ends = [(high, f"the + end of the stock{_hand(axis, '+')}"), (low, f"the - end of the stock{_hand(axis, '-')}")]
        exact = next((said for value, said in ends if value == 0), None)
        free = ends[0] if rotary is None or rotary.chuck_faces[0] == "+" else ends[1]
        lines.append(f"{axis} 0 is {exact}" if exact else f"{free[1]} lies at {axis} {number(free[0])} {units}")
    else:
        lines.append(f"{axis} 0: not said by the toolpath")
    if rotary is not None:
        zero = (
            "any angle will do, then it has to stay"
            if isinstance(toolpath.stock, RoundStock)
            else "the sides of the stock square to the table"
        )
        lines.append(f"rotary at 0: {zero}; a part that is machined already has to be set by a feature of it")
    return tuple(lines)


def _hand(axis: str, sign: str) -> str:
    return {"X+": " (right)", "X-": " (left)", "Y+": "", "Y-": "", "Z+": " (top)", "Z-": " (bottom)"}[axis + sign]


_STANDS = {
    "+X": "at the left end of the table: its chuck looks to the right",
    "-X": "at the right end of the table: its chuck looks to the left",
    "+Y": "at the near end of the table: its chuck looks away from you; with a horizontal spindle, up",
    "-Y": "at the far end of the table: its chuck looks towards you; with a horizontal spindle, down",
    "+Z": "upright: its chuck looks up, towards the spindle",
    "-Z": "upside down: its chuck looks away from the spindle",
}
_GOES = {
    "X": ("the top of the part towards you", "the top of the part away from you"),
    "Y": ("the top of the part to the right", "the top of the part to the left"),
    "Z": ("the side nearest to you to the right", "the side nearest to you to the left"),
}


def _sense(rotary: Rotary) -> int:
    """+1: a positive command turns the part right-hand about the + direction of its axis (design, frames and signs)."""
    return 1 if rotary.chuck_faces.startswith("+") == (rotary.positive_turns_chuck == "counterclockwise") else -1


def _mounting(letter: str, rotary: Rotary) -> MountingFacts:
    sense = _sense(rotary)
    sentences = [
        f"rotary {letter} along {rotary.along}, {_STANDS[rotary.chuck_faces]} ({rotary.chuck_faces})",
        f"a positive {letter} turns the chuck {rotary.positive_turns_chuck}, looking at its face",
        f"so a positive {letter} brings {_GOES[rotary.along][0 if sense == 1 else 1]}",
    ]
    if rotary.replaces:
        sentences.append(
            f"the drive of {rotary.replaces} turns it: {number(abs(rotary.mm_per_degree))} mm of {rotary.replaces} are one degree"
        )
    if rotary.clamp.use == "indexing":
        sentences.append(f"clamped for indexed cuts: {rotary.clamp.on} on, {rotary.clamp.off} off")
    else:
        sentences.append("the program does not clamp it: the drive alone holds the part")
    return MountingFacts(letter, rotary.along, tuple(sentences), mounting_drawings(letter, rotary.chuck_faces, sense))


def _offsets(toolpath: Toolpath, profile: Profile, letter: str | None, tools: tuple[ToolFacts, ...]) -> tuple[tuple[str, str], ...]:
    offset = profile.codes.work_offset or "axes set to zero by hand"
    rows = [(f"{offset}  {axis}", _meaning(axis, toolpath)) for axis in "XYZ"]
    if letter is not None and not profile.rotary[letter].replaces:  # type: ignore[index]
        rows.append((f"{offset}  {letter}", "where the rotary stands at 0"))
    for tool in tools:
        name = f"{profile.tool.offset_letter}{tool.number}" if profile.tool.length_offset else f"T{tool.number}, Z set by hand"
        rows.append((name, f"length of tool {tool.number}"))
    return tuple(rows)


def _meaning(axis: str, toolpath: Toolpath) -> str:
    if axis == toolpath.axis:
        return "along the axis of rotation: see the origin"
    value = toolpath.centre["XYZ".index(axis)]
    return "the axis of rotation" if value == 0 else f"the axis of rotation stands at {axis} {number(value)} with it"


def _positions(toolpath: Toolpath, profile: Profile, verdict: Verdict, letter: str | None) -> tuple[tuple[str, str, str], ...]:
    rows = [
        (f"{axis}, {toolpath.units}", number(span[0]), number(span[1])) for axis, span in verdict.whole.extents.items() if span is not None
    ]
    if letter is not None and verdict.whole.rotary_extent_deg is not None:
        low, high = verdict.whole.rotary_extent_deg
        rows.append((f"{letter}, degrees", number(low), number(high)))
    if profile.retract.form == "machine_zero":
        rows.append(("Z in machine coordinates, mm", "", f"{number(profile.retract.machine_z)} (retract)"))
    if profile.retract.form == "reference":
        rows.append(("Z", "", "reference point (retract)"))
    return tuple(rows)


def _turning(toolpath: Toolpath, profile: Profile, verdict: Verdict) -> tuple[tuple[str, str], ...]:
    unit = 1.0 if toolpath.units == "mm" else MM_PER_INCH
    whole = verdict.whole
    rows = [
        ("swept radius: what turns inside it can be hit", f"{number(toolpath.swept_radius)} {toolpath.units}"),
        ("clearance over it when the rotary turns at rapid", f"{number(profile.safety.clearance / unit)} {toolpath.units}"),
        ("total turning", f"{number(whole.turning_deg / 360)} turns"),
    ]
    if whole.rotary_extent_deg is not None:
        low, high = whole.rotary_extent_deg
        rows.append(("cable and hoses wind by", f"{number((high - low) / 360)} turns"))
    rows.append(
        ("time, without tool changes", f"{whole.cutting_minutes + whole.rapid_minutes:.1f} min, {whole.cutting_minutes:.1f} of it cutting")
    )
    return tuple(rows)


def _cautions(profile: Profile, rotary: Rotary | None, letter: str | None, verdict: Verdict) -> tuple[str, ...]:
    """Common practice of the trade, but for what the proof does not see, which the proof itself says."""
    lines = [
        "The proof shows that this program agrees with its toolpath, and nothing else. It does not see: " + "; ".join(_not_seen()) + ".",
        "Measure all tool lengths, and check every offset that was typed in.",
        "No gloves and no loose clothing near anything that turns; locked out before anybody reaches in.",
        "The machine's own manual, the rules of the shop and the law of the place come first.",
    ]
    if rotary is not None:
        lines.insert(1, f"Check {letter}'s direction, its zero and the centre of rotation at this machine, today (steadyrest turn-check).")
        span = verdict.whole.rotary_extent_deg
        turns = (span[1] - span[0]) / 360 if span is not None else 0.0
        if turns > 1:
            lines.append(f"The rotary goes {number(turns)} turns to one side: see that cables, hoses and the tail support let it.")
        if rotary.clamp.use == "never":
            lines.append(
                "Nothing clamps the rotary: compare what its drive holds with cutting force times radius; no heavy climb cut against it."
            )
    if profile.feed.inverse_code and "inverse" in (profile.feed.linear, profile.feed.rotary, profile.feed.combined):
        kind = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "the seconds of the block"}[
            profile.feed.inverse_is
        ]
        lines.append(f"F under {profile.feed.inverse_code} is {kind}: check that this controller means the same.")
    return tuple(lines)


def _not_seen() -> tuple[str, ...]:
    from steadyrest.proof import NOT_SEEN

    return NOT_SEEN


def _checklist(toolpath: Toolpath, profile: Profile, rotary: Rotary | None, letter: str | None) -> tuple[str, ...]:
    """The first run (common practice)."""
    start = profile.program.start_position
    lines = ["The drawing and the machine agree: which end, which way the chuck looks"] if rotary is not None else []
    if rotary is not None:
        lines += [f"Turn check done: a small positive {letter} goes the way of the arrow", "Centre of rotation touched and entered"]
    lines += [
        "Stock sticks out far enough, runs true, is held fast; jaws, screws and tail support clear the swept radius",
        "Tools in their places, lengths entered; holders clear the part at the lowest positions",
        "Work offset raised by more than the deepest cut; the whole program run above the part, the swing watched",
        "Work offset back; single block, rapid and feed turned down, hand on feed hold, distance to go read at each approach",
        "Guards closed, nobody near, never unattended on the first part",
    ]
    if start is not None:
        where = ", ".join(f"{axis} {number(value)}" for axis, value in zip(("X", "Y", "Z", letter or "rotary"), start, strict=True))
        lines.insert(len(lines) - 2, f"Machine stands at the start position before the start: {where} (mm, degrees)")
    if not profile.tool.change and len({operation.tool for operation in toolpath.operations}) > 1:
        lines.insert(len(lines) - 2, "Tools are changed by hand at the stops: the right one each time, and its length set anew")
    return tuple(lines)
