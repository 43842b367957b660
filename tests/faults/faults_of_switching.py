"""What goes wrong with tool, spindle, coolant, stops, pauses and holes."""

from __future__ import annotations

from fault_table import fault, in_middle, middle, pairs, tenth
from planting import Block, Program
from program_text import Text

# tool, spindle, coolant, stops


@fault("another tool's number")
def _(program: Program) -> Text | None:
    at = middle(program.text.having_code(program.profile.tool.change)) if program.profile.tool.change else None
    if at is None or program.profile.tool.letter not in program.text.words(at):
        return None
    letter = program.profile.tool.letter
    return program.text.number(at, letter, str(int(program.text.words(at)[letter]) + 1))


@fault("a tool change left out")
def _(program: Program) -> Text | None:
    at = middle(program.text.having_code(program.profile.tool.change)) if program.profile.tool.change else None
    return program.text.without(at) if at is not None else None


@fault("the stop for a tool change by hand left out")
def _(program: Program) -> Text | None:
    if program.profile.tool.change:
        return None
    at = middle(program.text.having_code(program.profile.stops.program))
    return program.text.without(at) if at is not None else None


@fault("another tool's length")
def _(program: Program) -> Text | None:
    tool = program.profile.tool
    at = middle(program.text.having_code(tool.length_offset)) if tool.length_offset else None
    if at is None:
        return None
    return program.text.number(at, tool.offset_letter, str(int(program.text.words(at)[tool.offset_letter]) + 1))


@fault("the tool's length left out")
def _(program: Program) -> Text | None:
    tool = program.profile.tool
    at = middle(program.text.having_code(tool.length_offset)) if tool.length_offset else None
    return program.text.without(at) if at is not None else None


@fault("spindle the wrong way round")
def _(program: Program) -> Text | None:
    spindle = program.profile.spindle
    at = middle(program.text.having_code(spindle.clockwise)) if spindle.counterclockwise else None
    return program.text.code(at, spindle.clockwise, spindle.counterclockwise) if at is not None else None


def _spindle_speed(program: Program, times: float) -> Text | None:
    at = middle([at for at in range(len(program.text.lines)) if "S" in program.text.words(at)])
    if at is None:
        return None
    return program.text.number(at, "S", str(int(float(program.text.words(at)["S"]) * times)))


@fault("spindle too fast")
def _(program: Program) -> Text | None:
    return _spindle_speed(program, 1.1)


@fault("spindle at half its speed")
def _(program: Program) -> Text | None:
    return _spindle_speed(program, 0.5)


@fault("spindle lowered to nine tenths")
def _(program: Program) -> Text | None:
    return _spindle_speed(program, 0.9)


@fault("a tap's feed lowered a little")
def _(program: Program) -> Text | None:
    blocks = [
        b
        for b in program.cuts("F", motions=("cycle",))
        if program.profile.cycles.tap and program.text.codes(b.at) & {program.profile.cycles.tap}
    ]
    return in_middle(program, blocks, "F", lambda value: value * 0.98)


@fault("a stop between two cuts")
def _(program: Program) -> Text | None:
    both = pairs(program)
    block = middle([b for before, b in both if before.motion == "line" and b.motion == "rapid"])
    return program.text.with_inserted(block.at, program.profile.stops.program) if block and program.profile.stops.program else None


@fault("spindle not started")
def _(program: Program) -> Text | None:
    spindle = program.profile.spindle
    lines = program.text.having_code(spindle.clockwise, spindle.counterclockwise)
    return program.text.without(lines[0]) if lines else None


@fault("the pause for the spindle left out")
def _(program: Program) -> Text | None:
    spindle = program.profile.spindle
    lines = program.text.having_code(spindle.clockwise, spindle.counterclockwise)
    if not lines or not spindle.dwell or "G4" not in program.text.codes(lines[0] + 1):
        return None
    return program.text.without(lines[0] + 1)


@fault("spindle stopped in the middle of a cut")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts(motions=("line",)) if "G" not in b.words])
    return program.text.with_inserted(block.at, program.profile.spindle.stop) if block else None


@fault("spindle left on at the end")
def _(program: Program) -> Text | None:
    lines = program.text.having_code(program.profile.spindle.stop)
    return program.text.code(lines[-1], program.profile.spindle.stop, "") if lines else None


@fault("coolant left out")
def _(program: Program) -> Text | None:
    coolant = program.profile.coolant
    at = middle(program.text.having_code(coolant.flood, coolant.mist, coolant.air, coolant.through))
    return program.text.without(at) if at is not None else None


@fault("mist for flood")
def _(program: Program) -> Text | None:
    coolant = program.profile.coolant
    at = middle(program.text.having_code(coolant.flood)) if coolant.mist and coolant.flood else None
    return program.text.code(at, coolant.flood, coolant.mist) if at is not None else None


@fault("coolant left on at the end")
def _(program: Program) -> Text | None:
    lines = program.text.having_code(program.profile.coolant.off)
    on = program.text.having_code(program.profile.coolant.flood, program.profile.coolant.mist)
    return program.text.code(lines[-1], program.profile.coolant.off, "") if lines and on else None


@fault("a stop left out")
def _(program: Program) -> Text | None:
    wanted = any(move.stop for op in program.toolpath.operations for move in op.moves or () if hasattr(move, "stop"))
    stops = program.profile.stops
    codes = [stops.optional] if not program.profile.tool.change else [stops.program, stops.optional]
    at = middle(program.text.having_code(*codes)) if wanted else None
    return program.text.without(at) if at is not None else None


@fault("a pause shorter than asked")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    lines = [at for at in program.text.having_code(codes.dwell) if codes.dwell_letter in program.text.words(at)]
    at = middle(lines)
    if at is None:
        return None
    old = program.text.words(at)[codes.dwell_letter]
    new = str(int(old) // 2) if "." not in old and int(old) > 1 else program.spelled(codes.dwell_letter, float(old) / 2)
    return program.text.number(at, codes.dwell_letter, new)


@fault("a pause left out")
def _(program: Program) -> Text | None:
    at = middle(program.text.having_code(program.profile.codes.dwell))
    return program.text.without(at) if at is not None else None


@fault("a pause in the middle of a cut")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    block = middle([b for b in program.cuts(motions=("line",)) if "G" not in b.words])
    if block is None or not codes.dwell:
        return None
    return program.text.with_inserted(block.at, f"{codes.dwell} {codes.dwell_letter}{program.spelled(codes.dwell_letter, 1)}")


@fault("the end code left out")
def _(program: Program) -> Text | None:
    lines = program.text.having_code(program.profile.stops.end)
    return program.text.without(lines[-1]) if lines else None


# holes


def _cycle(program: Program, letter: str) -> Block | None:
    return middle(program.cuts(letter, motions=("cycle",)))


@fault("a hole too deep")
def _(program: Program) -> Text | None:
    block = _cycle(program, "Z")
    return program.changed(block, "Z", lambda value: value - 5 * tenth(program)) if block else None


@fault("a hole not deep enough")
def _(program: Program) -> Text | None:
    block = _cycle(program, "Z")
    return program.changed(block, "Z", lambda value: value + 5 * tenth(program)) if block else None


@fault("the R level of a cycle too low")
def _(program: Program) -> Text | None:
    letter = program.profile.cycles.r_letter
    block = _cycle(program, letter)
    return program.changed(block, letter, lambda value: value - 5 * tenth(program)) if block else None


@fault("the step of a peck doubled")
def _(program: Program) -> Text | None:
    letter = program.profile.cycles.peck_letter
    block = _cycle(program, letter)
    return program.changed(block, letter, lambda value: value * 2) if block else None


@fault("the feed of a tap half a percent off")
def _(program: Program) -> Text | None:
    at = middle(program.text.having_code(program.profile.cycles.tap)) if program.profile.cycles.tap else None
    found = [b for b in program.cuts("F", motions=("cycle",)) if b.at == at]
    return program.changed(found[0], "F", lambda value: value * 1.005) if found else None


@fault("a hole left out of a cycle")
def _(program: Program) -> Text | None:
    found = [b for b in program.cuts(motions=("cycle",)) if "G" not in b.words]
    block = middle(found)
    return program.text.without(block.at) if block else None


@fault("a hole in the wrong place")
def _(program: Program) -> Text | None:
    block = _cycle(program, "X")
    return program.changed(block, "X", lambda value: value + tenth(program)) if block else None


@fault("another cycle")
def _(program: Program) -> Text | None:
    cycles = program.profile.cycles
    for here, other in ((cycles.drill, cycles.bore), (cycles.peck, cycles.drill), (cycles.bore, cycles.drill)):
        at = middle(program.text.having_code(here)) if here and other else None
        if at is not None:
            return program.text.code(at, here, other)
    return None


@fault("return to the old level after a hole")
def _(program: Program) -> Text | None:
    cycles = program.profile.cycles
    at = middle(program.text.having_code(cycles.return_to_r)) if cycles.return_to_r and cycles.return_to_old else None
    if at is None or not program.absolute:
        return None
    lift = f"{program.profile.codes.rapid} Z{program.spelled('Z', 4 if program.inch else 100)}"
    return program.text.code(at, cycles.return_to_r, cycles.return_to_old).with_inserted(at, lift)


@fault("the end of a cycle left out")
def _(program: Program) -> Text | None:
    cancel = program.profile.cycles.cancel
    lines = [at for at in program.text.having_code(cancel) if program.cuts() and at > program.cuts()[0].at] if cancel else []
    holes = program.cuts(motions=("cycle",))
    at = middle([line for line in lines if holes and line > holes[0].at])
    return program.text.code(at, cancel, "") if at is not None else None
