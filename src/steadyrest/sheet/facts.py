"""The sheet: facts from the toolpath, the profile and the program read back, and as HTML. What none of them says is left open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from steadyrest.conventions import AXES
from steadyrest.posting import post_to_memory, prove
from steadyrest.profile import Profile, Rotary, resolve
from steadyrest.progress import READING_BACK, Progress, Work
from steadyrest.proof import Setting, Verdict, setting_of
from steadyrest.reading import ProgramItem, last_line, lines_in, read_program
from steadyrest.request import Request
from steadyrest.sheet.chain_drawing import chain_drawings
from steadyrest.sheet.in_chuck import HAND, ends, stock_lines
from steadyrest.sheet.mounting import Drawing, MountingFacts, mounting_facts
from steadyrest.sheet.on_chain import chain_lines, reference_lines
from steadyrest.sheet.tools import ToolFacts, number, of_part, tool_facts
from steadyrest.summary import Posted
from steadyrest.toolpath import RoundStock, Toolpath

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What the sheet says besides what is known of `posted`, which it is for. Texts are plain; the page escapes them.

    program   the name of its file, where it has one
    stick_out how far the stock has to stand out of the jaws, also the last line of `stock`; empty where nothing says it
    chain     two rotaries or a head as the program assumes them, a sentence each; nothing of one rotary in the table
    drawings  the rotary as it is mounted, or the chain
    """

    posted: Posted
    program: str
    stock: tuple[str, ...]
    stick_out: str
    origin: tuple[str, ...]
    mounting: MountingFacts | None
    tools: tuple[ToolFacts, ...]
    offsets: tuple[tuple[str, str], ...]
    positions: tuple[tuple[str, str, str], ...]
    turning: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    checklist: tuple[str, ...]
    chain: tuple[str, ...] = ()
    drawings: tuple[Drawing, ...] = ()


def setup_sheet(request: Request, program: Path | None = None, *, progress: Progress | None = None) -> SheetFacts:
    """The facts of the sheet. A program that must not run gets its sheet too, with STOP across it.

    program   a program that exists, judged again here; None: the toolpath is posted and judged, and nothing is kept
    progress  is told how far it is, stage by stage
    raises    InputError where something that was given is wrong
    """
    text: Path | bytes
    if program is not None:
        posted, text, name = prove(program, request, progress=progress), program, program.name
    else:
        (posted, text), name = post_to_memory(request, progress=progress), ""
    profile = resolve(request.named_controller, request.sets).profile
    setting = setting_of(posted.toolpath, profile, None, request.tolerance, request.gauge_lengths)
    items = read_program(text, setting.profile, rotary_letter=setting.letter)
    return sheet_facts(posted, setting, Work(progress, READING_BACK, lines_in(text)).through(items, last_line), name)


def sheet_facts(posted: Posted, setting: Setting, items: Iterable[ProgramItem], program: str = "") -> SheetFacts:
    """The facts of one program that was judged.

    setting   of its proof
    items     the same program read back (`steadyrest.reading.read_program`)
    program   the name of its file, where it has one
    """
    toolpath, profile, letter, rotary = setting.mounted, setting.profile, setting.letter, setting.rotary
    word = rotary.word_letter(letter) if rotary is not None and letter is not None else ""
    tools, inverse = tool_facts(items, toolpath, profile, posted.gauge_lengths)
    found = {one.name for one in posted.outcome.findings}
    mounting = mounting_facts(letter, rotary, profile.spindle.stands, toolpath.units) if rotary and letter else None
    stick_out = _stick_out(setting, tools)
    return SheetFacts(
        posted=posted,
        program=program,
        stock=(*stock_lines(setting), *([stick_out] if stick_out else [])),
        stick_out=stick_out,
        origin=origin_lines(setting),
        mounting=mounting,
        tools=tools,
        offsets=_offsets(toolpath, profile, (word,) if word else tuple(setting.rotaries), setting.lines != ()),
        positions=_positions(setting, posted.verdict),
        turning=_turning(toolpath, profile, posted.verdict),
        cautions=_cautions(profile, rotary, word, posted.verdict, found, inverse),
        checklist=_checklist(toolpath, profile, word, setting),
        chain=chain_lines(setting, posted.verdict, posted.notices),
        drawings=chain_drawings(profile, toolpath.units) if setting.lines else mounting.drawings if mounting is not None else (),
    )


def _stick_out(setting: Setting, tools: tuple[ToolFacts, ...]) -> str:
    toolpath, rotary = setting.mounted, setting.rotary
    reaches = [tool.reach for tool in tools if tool.reach is not None]
    if toolpath.stock is None or rotary is None or not reaches or len(reaches) < len(tools):
        return ""
    low, high = ends(toolpath)
    plus = rotary.chuck_faces[0] == "+"
    needed, free = (high - min(reach[0] for reach in reaches), high) if plus else (max(reach[1] for reach in reaches) - low, low)
    return (
        f"stick-out from the jaws: more than {number(needed)} {toolpath.units}, measured from the free end "
        f"at {toolpath.axis} {number(free)} (the cutters reach that far, radius included)"
    )


def origin_lines(setting: Setting, found_by: str = "steadyrest centre find") -> tuple[str, ...]:
    """Where zero of the work coordinates is, and whether the job was turned end for end."""
    toolpath, rotary = setting.mounted, setting.rotary
    axis, units = toolpath.axis, toolpath.units
    lines = []
    if setting.end_for_end:
        lines.append(
            "the job is turned end for end about Z, as the rotary is: X and Y of the toolpath change sign, and zero is where it is "
            "stated here. Touch off the other end, with the tool's radius the other way"
        )
    first, second = (letter for letter in AXES if letter != axis)
    across = {letter: toolpath.centre[AXES.index(letter)] for letter in (first, second)}
    if setting.lines:
        lines += reference_lines(setting)
    elif any(across.values()):
        where = ", ".join(f"{letter} {number(value)}" for letter, value in across.items())
        lines.append(f"the axis of rotation is at {where} {units} in work coordinates: touch off to find it, and set the offset to suit")
    else:
        lines.append(f"{first} 0 and {second} 0 are on the axis of rotation: touch off to find it ({found_by})")
    if toolpath.stock is not None:
        low, high = ends(toolpath)
        sides = [(high, f"the + end of the stock{HAND[axis + '+']}"), (low, f"the - end of the stock{HAND[axis + '-']}")]
        exact = next((said for value, said in sides if value == 0), None)
        free = sides[0] if rotary is None or rotary.chuck_faces[0] == "+" else sides[1]
        lines.append(f"{axis} 0 is {exact}" if exact else f"{free[1]} is at {axis} {number(free[0])} {units}")
    else:
        lines.append(f"{axis} 0: the toolpath does not state where it is")
    if rotary is not None:
        zero = "the sides of the stock square to the table"
        zero = "any angle will do, but do not change it afterwards" if isinstance(toolpath.stock, RoundStock) else zero
        lines.append(f"rotary at 0: {zero}; set a part that is already machined by one of its features")
    return tuple(lines)


def _offsets(toolpath: Toolpath, profile: Profile, words: Sequence[str], on_chain: bool) -> tuple[tuple[str, str], ...]:
    offset, what = profile.codes.work_offset or "zero set by hand,", "the reference point" if on_chain else "the axis of rotation"
    meant = {axis: f"puts {what} at {axis} {number(value)}" if value else what for axis, value in zip(AXES, toolpath.centre, strict=True)}
    meant |= {} if on_chain else {toolpath.axis: "see the origin"}
    for word in words:
        meant.pop(word, None)
    zero = "its zero, as in the profile" if on_chain else "the rotary's zero"
    return tuple((f"{offset}  {letter}", said) for letter, said in (meant | dict.fromkeys(words, zero)).items())


def _positions(setting: Setting, verdict: Verdict) -> tuple[tuple[str, str, str], ...]:
    """As the machine's display shows them: a borrowed drive by its own word, in lengths."""
    profile, rotary, units = setting.profile, setting.rotary, setting.toolpath.units
    borrowed = rotary.replaces if rotary is not None else ""
    rows = [
        (f"{axis}, {units}", number(span[0]), number(span[1]))
        for axis, span in verdict.whole.extents.items()
        if span is not None and axis != borrowed
    ]
    if rotary is not None and verdict.whole.rotary_extent_deg is not None:
        ends = verdict.whole.rotary_extent_deg
        if borrowed:
            low, high = sorted(rotary.mm_per_degree * end for end in ends)
            rows.append((f"{borrowed} (turns the rotary), {units}", of_part(low, units), of_part(high, units)))
        else:
            rows.append((f"{setting.letter}, degrees", number(ends[0]), number(ends[1])))
    for letter, span in verdict.whole.rotary_extents_deg.items():
        rows += [(f"{letter}, degrees", number(span[0]), number(span[1]))] if span is not None else []
    if profile.retract.form == "machine_zero":
        rows.append((f"Z in machine coordinates, {units}", "", f"{of_part(profile.retract.machine_z, units)} (retract)"))
    if profile.retract.form == "reference":
        rows.append(("Z", "", "reference point (retract)"))
    return tuple(rows)


def _turning(toolpath: Toolpath, profile: Profile, verdict: Verdict) -> tuple[tuple[str, str], ...]:
    whole = verdict.whole
    chain = bool(whole.rotary_extents_deg)
    what, reach = "the reference point", toolpath.swept_ball
    if not chain:
        what, reach = "the axis", toolpath.swept_radius
    rows = [
        (f"the turning stock reaches this far from {what}", f"{number(reach)} {toolpath.units}"),
        ("clearance above that while the rotary turns at rapid", f"{of_part(profile.safety.clearance, toolpath.units)} {toolpath.units}"),
        ("rotary turns in all", f"{number(whole.turning_deg / 360)} turns"),
        ("of that at rapid", f"{number(whole.rapid_turning_deg / 360)} turns"),
    ]
    if whole.rotary_extent_deg is not None:
        low, high = whole.rotary_extent_deg
        rows.append(("cables and hoses wind up by", f"{number((high - low) / 360)} turns"))
    time = f"{whole.cutting_minutes + whole.rapid_minutes:.1f} min, {whole.cutting_minutes:.1f} min of it cutting"
    return (*rows, ("time, without tool changes", time))


_INVERSE = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "the seconds of the block"}


def _cautions(profile: Profile, rotary: Rotary | None, word: str, verdict: Verdict, found: Set[str], inverse: bool) -> tuple[str, ...]:
    """What has to be minded before the first run: common practice of the trade, but for what the proof does not see, which it says itself.

    found     names of what was found and stands on the sheet already
    inverse   the program feeds in inverse time somewhere
    """
    lines = ["The proof shows only that this program agrees with its toolpath. It does not check: " + "; ".join(verdict.not_seen) + "."]
    if verdict.whole.rotary_extents_deg:
        letters = " and ".join(verdict.whole.rotary_extents_deg)
        lines.append(
            f"Check the direction of {letters} (steadyrest turn-check), and where each axis runs (steadyrest centre line), at this machine."
        )
    if rotary is not None:
        lines.append(f"Check {word}'s direction, its zero and the centre of rotation at this machine, today (steadyrest turn-check).")
    lines += [
        "Measure all tool lengths, and check every offset that was typed in.",
        "No gloves and no loose clothing near anything that turns; lock out the machine before anybody reaches in.",
        "The machine's manual, the shop's rules and local law come first.",
    ]
    if rotary is not None:
        span = verdict.whole.rotary_extent_deg
        turns = (span[1] - span[0]) / 360 if span is not None else 0.0
        if turns > 1:
            lines.append(f"The rotary goes {number(turns)} turns to one side: check that cables, hoses and the tailstock allow it.")
        if rotary.clamp.use == "never" and "clamp" not in found:
            lines.append(
                "Nothing clamps the rotary: compare the holding torque of its drive with cutting force times radius; no heavy climb cuts."
            )
    if inverse:
        feed = profile.feed
        lines.append(f"F under {feed.inverse_code} is {_INVERSE[feed.inverse_is]}: check that this controller takes it so.")
    return tuple(lines)


def _checklist(toolpath: Toolpath, profile: Profile, word: str, setting: Setting) -> tuple[str, ...]:
    """The first run, in the order in which it is gone through (common practice)."""
    lines = [
        "Drawing and machine agree: which end, which way the chuck faces",
        f"Turn check done: a small positive {word} move turns the way of the arrow",
        "Spindle stopped: centre of rotation touched off and entered",
    ]
    lines = lines if word else []
    if setting.lines:
        lines = [
            "Machine and sheet agree: which rotary carries what, and where its axis runs",
            f"Turn check done for each of {' and '.join(setting.rotaries)}: a small positive move turns the way that is said here",
            "Spindle stopped: reference point touched off and entered; the part stands where the toolpath says",
        ]
    if setting.has_head:
        lines.append("Every tool measured to the gauge line, and as long as on this sheet: the program is right for these lengths alone")
    lines += [
        "Stock sticks out far enough, runs true, is clamped tight; tool clears jaws, screws and tailstock",
        "Tools loaded, lengths entered; holders clear the part at the lowest positions",
        "Work offset raised by more than the deepest cut; whole program run above the part; watch the stock and the cables swing",
    ]
    if (start := profile.program.start_position) is not None:
        where = ", ".join(f"{axis} {of_part(value, toolpath.units)}" for axis, value in zip(AXES, start[:3], strict=True))
        named: tuple[str, ...] = (word,) if word else tuple(setting.rotaries) or ("rotary",)
        angles = ", ".join(f"{letter} at {number(angle)}" for letter, angle in zip(named, start[3:], strict=False))
        at = f"{where} {toolpath.units}, {angles} degrees"
        lines.append(f"Machine at the start position before cycle start: {at}")
    if not profile.tool.change and len({operation.tool for operation in toolpath.operations}) > 1:
        lines.append("Tools are changed by hand at the stops: the right tool each time, and its length set again")
    return (
        *lines,
        "Work offset back; single block, rapid and feed turned down, hand on feed hold; read distance to go at each approach",
        "Guards closed, nobody near, never unattended on the first part",
    )


def setup_sheet_page(facts: SheetFacts) -> str:
    """A whole page, self-contained: it opens offline and prints on A4 and Letter."""
    title, sheet = facts.posted.toolpath.name or "no name", Markup(setup_sheet_fragment(facts))
    return str(_environment().get_template("setup_sheet.html.j2").render(title=title, style=Markup(setup_sheet_style()), sheet=sheet))


def setup_sheet_fragment(facts: SheetFacts) -> str:
    """The sheet alone, one element of the class `setup-sheet`, for a page that carries `setup_sheet_style`."""
    file = Path(facts.posted.toolpath.file or "").name
    return str(_environment().get_template("setup_sheet_fragment.html.j2").render(facts=facts, file=file))


def setup_front_fragment(facts: SheetFacts) -> str:
    """Mounting, stock with its stick-out, and tools with theirs: three elements of the class `card`, for a page with a style of its own."""
    return str(_environment().get_template("setup_front_fragment.html.j2").render(facts=facts))


@cache
def setup_sheet_style() -> str:
    """The style sheet; all of it holds inside `.setup-sheet` only, but for the size of printed pages."""
    return (HERE / "setup_sheet.css").read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {"number": number, "drawn": Markup}  # our own drawings, made of numbers and letters alone
    return environment
