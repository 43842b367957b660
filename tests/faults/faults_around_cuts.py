"""What goes wrong between and around the cuts: events at the wrong place, offsets at the wrong time, motion that nobody asks for."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from fault_table import fault, in_middle, middle, only_z, pairs, tenth
from planting import Block, Program
from program_text import Text

from steadyrest.proof import as_mounted
from steadyrest.toolpath import Toolpath

Place = Callable[[Program], int | None]
Lines = Callable[[Program], list[str]]
"""Lines to put in; none where the dialect lacks a word for one of them."""


def _mounted(program: Program) -> Toolpath:
    """The stock as it stands on the machine, turned or not."""
    return as_mounted(program.toolpath, next((one for one in program.profile.rotary.values() if one.along == "X"), None))


def _low(program: Program, block: Block) -> bool:
    """Whether a cut ends in the space that the stock sweeps; only about X, and in the toolpath's units."""
    if program.toolpath.axis != "X" or program.toolpath.stock is None or program.inch != (program.toolpath.units == "inch"):
        return False
    start = program.profile.program.start_position
    found: dict[str, float] = {} if start is None or program.absolute else {"X": start[0], "Z": start[2]}
    for one in program.blocks:
        if one.at > block.at:
            break
        before = {} if program.absolute else found
        found |= {letter: before.get(letter, 0.0) + program.value(one, letter) for letter in "XZ" if letter in one.words}
    mounted = _mounted(program)
    assert mounted.stock is not None
    (low, high), top = mounted.stock.along("X"), mounted.swept_radius
    return low < found.get("X", high) - mounted.centre[0] < high and found.get("Z", top) - mounted.centre[2] < top


def in_cut(program: Program) -> int | None:
    """After a straight cut deep in the stock, with another one to come."""
    both = pairs(program)
    found = [b for b, after in both if b.motion == after.motion == "line" and after.at == b.at + 1 and not only_z(after)]
    block = middle([b for b in found if _low(program, b)])
    return block.at + 1 if block else None


def at_end_of_cut(program: Program) -> int | None:
    """After the last cut before a way up."""
    both = pairs(program)
    found = [b for b, after in both if b.motion in ("line", "cw", "ccw") and after.motion == "rapid" and only_z(after)]
    block = middle([b for b in found if _low(program, b)])
    return block.at + 1 if block else None


def _plunge(program: Program) -> Block | None:
    """A block at feed straight down, after rapids."""
    both = pairs(program)
    return middle([b for before, b in both if before.motion == "rapid" and b.motion == "line" and only_z(b)])


def _inserted(name: str, place: Place, lines: Lines) -> None:
    def plant(program: Program) -> Text | None:
        at, new = place(program), lines(program)
        return program.text.with_inserted(at, *new) if at is not None and new else None

    fault(name)(plant)


def _around_plunge(name: str, before: Lines, after: Lines) -> None:
    def plant(program: Program) -> Text | None:
        block, first, last = _plunge(program), before(program), after(program)
        if block is None or not first or not last:
            return None
        return program.text.with_inserted(block.at + 1, *last).with_inserted(block.at, *first)

    fault(name)(plant)


def _said(*codes: str) -> list[str]:
    return list(codes) if all(codes) else []


def _again(program: Program, *codes: str) -> list[str]:
    """The last line before the middle of the program that has one of the codes, without its comments."""
    lines = program.text.having_code(*codes)
    return ["".join(token for token in program.text.lines[lines[0]] if token[0] not in "(;N")] if lines else []


def _spindle(program: Program) -> list[str]:
    return _again(program, program.profile.spindle.clockwise)


def _tool(program: Program) -> int:
    return program.toolpath.operations[0].tool


def _offset(program: Program, number: int) -> list[str]:
    tool = program.profile.tool
    return _said(f"{tool.length_offset} {tool.offset_letter}{number}") if tool.length_offset else []


def _off_and_on(program: Program) -> list[str]:
    return _said(program.profile.spindle.stop, *_spindle(program))


def _both_offsets(program: Program) -> list[str]:
    tool = program.profile.tool
    return _said(tool.cancel_offset, *_offset(program, _tool(program))) if tool.length_offset else []


def _other_work(program: Program) -> list[str]:
    return ["G56", program.profile.codes.work_offset] if program.profile.codes.work_offset else []


def _clamp(program: Program) -> tuple[str, str]:
    clamps = [rotary.clamp for rotary in program.profile.rotary.values() if rotary.clamp.use == "indexing"]
    return (clamps[0].on, clamps[0].off) if clamps else ("", "")


def _released(program: Program) -> list[str]:
    on, off = _clamp(program)
    if program.profile.chain and any(one.rotary.intent not in ("indexed", "still") for one in program.toolpath.operations):
        return []  # where the last cut turns, the clamp is off already, and nothing turns after it comes on
    pause = _pause(program, next(iter(program.profile.rotary.values())).clamp.dwell) if on else ""
    return [line for line in (off, pause, on, pause) if line] if on else []


def _pause(program: Program, seconds: float) -> str:
    codes = program.profile.codes
    number = seconds * (1000 if codes.dwell_unit == "milliseconds" else 1)
    return f"{codes.dwell} {codes.dwell_letter}{program.spelled(codes.dwell_letter, number)}" if codes.dwell and seconds else ""


def _changed_tool(program: Program) -> list[str]:
    tool = program.profile.tool
    return [f"{tool.letter}{_tool(program)} {tool.change}", *_offset(program, _tool(program))] if tool.change else []


for where, place in (("in the middle of a cut", in_cut), ("at the end of a cut", at_end_of_cut)):
    _inserted(f"the spindle off and on {where}", place, _off_and_on)
    _inserted(f"the same tool put in again {where}", place, _changed_tool)
    _inserted(f"the length offset off and on {where}", place, _both_offsets)
    _inserted(f"another work offset and back {where}", place, _other_work)
    _inserted(f"the clamp off and on {where}", place, _released)
    _inserted(f"the end code {where}", place, lambda program: [program.profile.stops.end])

_inserted("a stop in the middle of a cut", in_cut, lambda program: _said(program.profile.stops.program))
_inserted("a stop at the end of a cut", at_end_of_cut, lambda program: _said(program.profile.stops.program))
_inserted("a pause at the end of a cut", at_end_of_cut, lambda program: _said(_pause(program, 1)))
_inserted("the spindle the other way at the end of a cut", at_end_of_cut, lambda program: _said(program.profile.spindle.counterclockwise))
_inserted("the spindle's speed at nothing in the middle of a cut", in_cut, lambda program: ["S0", *_spindle(program)])
_inserted("cutter compensation in the middle of a cut", in_cut, lambda program: ["G41"])
_inserted("coordinates shifted in the middle of a cut", in_cut, lambda program: ["G92 Z0"])
_inserted("offsets set in the middle of a cut", in_cut, lambda program: ["G10 L2 P1 Z0"])
_inserted("coordinates turned in the middle of a cut", in_cut, lambda program: ["G68 X0 Y0 R90"])
_inserted("a program called in the middle of a cut", in_cut, lambda program: ["M98 P1000"])
_inserted("coordinates mirrored in the middle of a cut", in_cut, lambda program: ["G51.1 X0"])
_inserted("another path mode in the middle of a cut", in_cut, lambda program: ["G64"])
_inserted("a tool called that no operation cuts with", at_end_of_cut, lambda program: [f"{program.profile.tool.letter}24"])

_around_plunge("the spindle off in a plunge", lambda program: _said(program.profile.spindle.stop), _spindle)
_around_plunge("another speed in a plunge", lambda program: ["S100"], _spindle)
_around_plunge(
    "coolant off in a plunge",
    lambda program: _said(program.profile.coolant.off) if _again(program, program.profile.coolant.flood) else [],
    lambda program: _again(program, program.profile.coolant.flood),
)
_around_plunge(
    "another tool's length in a plunge",
    lambda program: _offset(program, _tool(program) + 1),
    lambda program: _offset(program, _tool(program)),
)
_around_plunge("another work offset in a plunge", lambda program: _other_work(program)[:1], lambda program: _other_work(program)[1:])


# motion that nobody asks for


def _moving(name: str, place: Place, lines: Lines) -> None:
    _inserted(name, place, lambda program: lines(program) if program.absolute else [])


def _circle(program: Program) -> list[str]:
    arcs, codes = program.profile.arcs, program.profile.codes
    at = in_cut(program) if arcs.form == "centre" and arcs.full_circles and "XY" in arcs.planes else None
    if at is None:
        return []
    here = {letter: program.value(b, letter) for b in program.blocks if b.at < at for letter in "XY" if letter in b.words}
    if set(here) != {"X", "Y"}:
        return []
    centre = (here["X"] + 2, here["Y"]) if arcs.centre_is == "absolute" else (2.0, 0.0)
    words = " ".join(f"{letter}{program.spelled(letter, value)}" for letter, value in zip("XYIJ", (*here.values(), *centre), strict=True))
    return [f"{codes.plane_xy} {codes.arc_clockwise} {words}", codes.line]


_moving("a full circle in the middle of a cut", in_cut, _circle)


@fault("an arc doubled")
def _(program: Program) -> Text | None:
    arcs = [b for b in program.cuts(motions=("cw", "ccw")) if not set(b.words) & {"R"}]
    block = middle(arcs)
    return program.text.with_inserted(block.at + 1, "".join(program.text.lines[block.at])) if block and program.absolute else None


def _feed(program: Program) -> str:
    codes, feed = program.profile.codes, program.profile.feed
    return f"{feed.per_minute_code} {codes.line}".strip()


def _machine(program: Program) -> str:
    retract = program.profile.retract
    return f"{retract.machine_code} " if retract.form == "machine_zero" else ""


def _at_machine(words: str, *, feed: bool) -> Lines:
    def lines(program: Program) -> list[str]:
        motion = f"{_feed(program)} {words} F{program.spelled('F', 100)}" if feed else f"{program.profile.codes.rapid} {words}"
        return [_machine(program) + motion] if _machine(program) else []

    return lines


_moving("a feed straight up in machine coordinates", at_end_of_cut, _at_machine("Z0", feed=True))
_moving("a feed across in machine coordinates", at_end_of_cut, _at_machine("X0", feed=True))
_moving("a rapid across in machine coordinates", at_end_of_cut, _at_machine("X0 Y0", feed=False))
_moving("a rapid up and across in machine coordinates", at_end_of_cut, _at_machine("X0 Y0 Z0", feed=False))


@fault("a feed up out of a cut")
def _(program: Program) -> Text | None:
    at = at_end_of_cut(program)
    if at is None or not program.absolute:
        return None
    return program.text.with_inserted(at, f"{_feed(program)} Z{program.spelled('Z', 100)} F{program.spelled('F', 100)}")


@fault("the way up doubled, lower than it was")
def _(program: Program) -> Text | None:
    ups = [b for before, b in pairs(program) if before.motion == "line" and b.motion == "rapid" and only_z(b)]
    block = middle([b for b in ups if program.absolute and _low(program, next(c for c in reversed(program.blocks) if c.at < b.at))])
    if block is None:
        return None
    lower = program.changed(block, "Z", lambda value: program.toolpath.centre[2])
    return program.text.with_inserted(block.at + 1, "".join(lower.lines[block.at]))


@fault("a plunge at rapid onto a cut's start")
def _(program: Program) -> Text | None:
    codes, both = program.profile.codes, pairs(program)
    plunges = [
        (b, after)
        for (before, b), (_, after) in pairwise(both)
        if before.motion == "rapid" and b.motion == after.motion == "line" and only_z(b) and "G" not in after.words
    ]
    chosen = middle(plunges)
    if chosen is None:
        return None
    feed, inverse = [f"F{b.words['F']}" for b in chosen[:1] if "F" in b.words], program.profile.feed.inverse_code
    if any(inverse and inverse in program.text.codes(b.at) for b in chosen):
        return None
    cut = chosen[1]
    words = (codes.line, " ", *program.text.lines[cut.at], *([" ", *feed] if "F" not in cut.words else []))
    text = program.text.with_line(cut.at, words)
    return text.lacking(chosen[0].at, "F").code(chosen[0].at, codes.line, codes.rapid)


@fault("a turn in a cut of a head that only indexes")
def _(program: Program) -> Text | None:
    stands = [letter for letter, rotary in program.profile.rotary.items() if not rotary.turns_while_cutting]
    cuts = program.cuts("X", motions=("line",))
    block = middle([b for b in cuts if _low(program, b)]) or middle(cuts)
    if not stands or block is None:
        return None
    return program.text.with_line(
        block.at, (*program.text.lacking(block.at, *stands).lines[block.at], f" {stands[0]}{program.spelled(stands[0], 5)}")
    )


# order


def _line_before(name: str, code: Callable[[Program], str], place: Place, *, also: int = 0) -> None:
    """The first line after a place that has a code, moved to that place."""

    def plant(program: Program) -> Text | None:
        at, said = place(program), code(program)
        lines = [line for line in program.text.having_code(said) if at is not None and line > at] if said else []
        return program.text.moved(lines[0], lines[0] + 1 + also, at) if lines and at is not None else None

    fault(name)(plant)


_line_before("the spindle stopped before the way up", lambda program: program.profile.spindle.stop, at_end_of_cut)
_line_before("the clamp released before the way up", lambda program: _clamp(program)[1], at_end_of_cut)
_line_before("the tool changed before the way up", lambda program: program.profile.tool.change, at_end_of_cut)
_line_before(
    "the tool changed by hand before the way up",
    lambda program: "" if program.profile.tool.change else program.profile.stops.program,
    at_end_of_cut,
)


def _late(name: str, code: Callable[[Program], str], *, motions: tuple[str, ...] = ("rapid", "line", "cw", "ccw", "cycle")) -> None:
    """The first line with a code, moved to after the first block that moves Z and moves so."""

    def plant(program: Program) -> Text | None:
        lines = program.text.having_code(code(program)) if code(program) else []
        down = [b for b in program.blocks if "Z" in b.words and b.motion in motions]
        after = [b.at for b in down if lines and b.at > lines[0]]
        return program.text.moved(lines[0], lines[0] + 1, after[0] + 1) if after else None

    fault(name)(plant)


_late("the work offset stated late", lambda program: program.profile.codes.work_offset)
_late("the length offset stated late", lambda program: program.profile.tool.length_offset)
_late("the clamp on late", lambda program: _clamp(program)[0], motions=("line", "cycle"))
_late("the path mode stated late", lambda program: program.profile.codes.path_mode)


@fault("the overshoot against backlash left out")
def _(program: Program) -> Text | None:
    return _overshoot(program, lambda block: program.text.without(block.at))


@fault("the overshoot against backlash too short")
def _(program: Program) -> Text | None:
    return _overshoot(program, lambda block: program.changed(block, program.rotary, lambda value: value - 1))


def _overshoot(program: Program, change: Callable[[Block], Text]) -> Text | None:
    sided = any(rotary.unwinding.between == "one_side" for rotary in program.profile.rotary.values())
    alone = [
        (b, after) for b, after in pairs(program) if set(b.words) & set("XYZABC") == set(after.words) & set("XYZABC") == {program.rotary}
    ]
    both = middle([b for b, after in alone if b.motion == after.motion == "rapid"]) if sided else None
    return change(both) if both else None


# start and end


def _without_code(name: str, code: Callable[[Program], str]) -> None:
    def plant(program: Program) -> Text | None:
        lines = program.text.having_code(code(program)) if code(program) else []
        return program.text.code(lines[0], code(program), "") if lines else None

    fault(name)(plant)


_without_code(
    "cutter compensation not said to be off", lambda program: "G40" if "G40" in " ".join(program.profile.program.safe_start) else ""
)
_without_code("cycles not said to be off", lambda program: program.profile.cycles.cancel)
_without_code("the path mode left out", lambda program: program.profile.codes.path_mode)


@fault("another path mode from the start")
def _(program: Program) -> Text | None:
    mode = program.profile.codes.path_mode
    lines = program.text.having_code(mode) if mode else []
    return program.text.code(lines[0], mode, "G64") if lines else None


@fault("the way clear before the first tool change left out")
def _(program: Program) -> Text | None:
    retract = program.profile.retract
    code = {"machine_zero": retract.machine_code, "reference": retract.reference_code, "height": ""}[retract.form]
    lines = program.text.having_code(code) if code else []
    return program.text.without(lines[0]) if lines else None


@fault("the way clear before the end left out")
def _(program: Program) -> Text | None:
    stops = program.text.having_code(program.profile.spindle.stop)
    last = [b for b in program.cuts() if _low(program, b)]
    if not stops or not last or last[-1].at >= stops[-1] or last[-1] != program.cuts()[-1]:
        return None
    text = program.text
    for at in range(stops[-1] - 1, last[-1].at, -1):
        text = text.without(at) if text.words(at) else text
    return text


def _after_end(name: str, *lines: str, mark: bool = False) -> None:
    def plant(program: Program) -> Text | None:
        ends = program.text.having_code(program.profile.stops.end)
        last = len(program.text.lines) if program.text.lines[-1] else len(program.text.lines) - 1
        return program.text.with_inserted(last if mark else ends[-1] + 1, *lines) if ends else None

    fault(name)(plant)


_after_end("a dive after the end code", "G0 Z-50")
_after_end("a second end code", "M30")
_after_end("a mark of another kind after the end code", "&")
_after_end("a dive after everything", "G0 Z-50", mark=True)
_after_end("a second program after everything", "G90 G0 Z-50", "M30", mark=True)


@fault("the mark at the end left out")
def _(program: Program) -> Text | None:
    return _without_marks(program, start=False)


@fault("both marks left out")
def _(program: Program) -> Text | None:
    return _without_marks(program, start=True)


def _without_marks(program: Program, *, start: bool) -> Text | None:
    marks = [at for at, line in enumerate(program.text.lines) if "".join(line)[:1] == "%"]
    if len(marks) != 2:
        return None
    text = program.text.without(marks[1])
    return text.without(marks[0]) if start else text


@fault("the way home left out")
def _(program: Program) -> Text | None:
    last = [b for b in program.blocks if b.motion == "rapid" and set(b.words) & set("XY")]
    return program.text.without(last[-1].at) if program.profile.program.start_position is not None and last else None


@fault("the way home a millimetre too short")
def _(program: Program) -> Text | None:
    last = [b for b in program.blocks if b.motion == "rapid" and "Z" in b.words]
    return program.changed(last[-1], "Z", lambda value: value - 1) if program.profile.program.start_position is not None and last else None


# holes in single moves


def _runs(program: Program, *motions: str) -> list[tuple[list[Block], list[float]]]:
    """Blocks one after the other that have a Z each and move so, with their heights; only where heights are positions."""
    count, blocks = len(motions), program.blocks
    runs = [list(blocks[at : at + count]) for at in range(len(blocks) - count + 1)] if program.absolute else []
    found = [run for run in runs if [b.motion for b in run] == list(motions) and all("Z" in b.words for b in run)]
    return [(run, [program.value(b, "Z") for b in run]) for run in found]


@fault("a bored hole left at rapid")
def _(program: Program) -> Text | None:
    cycles = program.profile.cycles
    lines = program.text.having_code(cycles.bore) if cycles.bore and cycles.drill else []
    return program.text.code(lines[0], cycles.bore, cycles.drill) if lines else None


@fault("the feed of a hole from above its retract level")
def _(program: Program) -> Text | None:
    letter = program.profile.cycles.r_letter
    return in_middle(program, program.cuts(letter, motions=("cycle",)), letter, lambda value: value + 10 * tenth(program))


@fault("a chip not broken")
def _(program: Program) -> Text | None:
    rises = [(run, z) for run, z in _runs(program, "line", "rapid", "line") if z[2] < z[0] < z[1] < z[0] + 10 * tenth(program)]
    chosen = middle(rises)
    return program.text.without(chosen[0][1].at) if chosen else None


def _peck(program: Program) -> tuple[list[Block], list[float]] | None:
    """Down at feed, out and back at rapid, and deeper at feed."""
    return middle([(run, z) for run, z in _runs(program, "line", "rapid", "rapid", "line") if z[3] < z[0] < z[2] < z[1]])


@fault("a peck that does not come out")
def _(program: Program) -> Text | None:
    chosen = _peck(program)
    return program.text.without(chosen[0][1].at, chosen[0][2].at + 1) if chosen else None


@fault("a peck that comes out half the way")
def _(program: Program) -> Text | None:
    chosen = _peck(program)
    return program.changed(chosen[0][1], "Z", lambda value: (value + chosen[1][0]) / 2) if chosen else None


@fault("a peck that comes back at rapid deeper than it has been")
def _(program: Program) -> Text | None:
    chosen = _peck(program)
    return program.changed(chosen[0][2], "Z", lambda value: chosen[1][0] - tenth(program)) if chosen else None
