"""What goes wrong with ways clear of the part and with the clamp."""

from __future__ import annotations

from fault_table import fault, middle, only_z, pairs
from planting import Block, Program
from program_text import Text

from steadyrest.proof import as_mounted
from steadyrest.toolpath import Toolpath


@fault("every way clear in machine coordinates left out")
def _(program: Program) -> Text | None:
    retract = program.profile.retract
    code = {"machine_zero": retract.machine_code, "reference": retract.reference_code, "height": ""}[retract.form]
    lines = program.text.having_code(code) if code else []
    turns = [b for b in program.blocks if b.motion == "rapid" and program.rotary in b.words]
    if len(lines) < 2 or not turns or not any(line < turns[-1].at and line > program.cuts()[0].at for line in lines if program.cuts()):
        return None
    text = program.text
    lifts = [b.at for b in program.blocks if b.motion == "rapid" and only_z(b) and b.at + 1 in lines]
    lifts += [b.at for b, after in pairs(program) if b.motion == after.motion == "rapid" and only_z(b) and program.rotary in after.words]
    for at in sorted({*lines[1:], *lifts}, reverse=True):
        text = text.without(at)
    return text


@fault("a turn at rapid low down")
def _(program: Program) -> Text | None:
    letter = program.rotary
    block = middle([b for b in program.cuts("Z", motions=("line",)) if "G" not in b.words]) or middle(program.cuts(motions=("line",)))
    if not letter or block is None or not program.absolute:
        return None
    last = [b for b in program.blocks if letter in b.words and b.at <= block.at]
    stand = program.value(last[-1], letter) if last else 0.0
    rapid = program.profile.codes.rapid
    out = f"{rapid} {letter}{program.spelled(letter, stand + 20)}"
    back = f"{rapid} {letter}{program.spelled(letter, stand)}"
    return program.text.with_inserted(block.at + 1, out, back)


@fault("the height under a new tool left out before the rotary turns")
def _(program: Program) -> Text | None:
    changes = program.text.having_code(program.profile.tool.change)
    heights = [b for b in program.blocks if b.motion == "rapid" and only_z(b) and b.at - 2 in changes]
    turns = [b for b in program.blocks if b.motion == "rapid" and program.rotary in b.words]
    block = middle([b for b in heights if any(b.at < turn.at < b.at + 6 for turn in turns)])
    return program.text.without(block.at) if block is not None else None


@fault("a rapid across low through the stock")
def _(program: Program) -> Text | None:
    found = []
    for before, block in pairs(program):
        if block.motion == "rapid" and before.motion == "line" and only_z(block):
            found.append(block)
    block = middle(found)
    rapid = program.profile.codes.rapid
    if block is None or not program.absolute:
        return None
    last = [b for b in program.blocks if "X" in b.words and b.at < block.at]
    if not last:
        return None
    stand = program.value(last[-1], "X")
    aside = stand + (-10 if stand > _middle_of_stock(program) else 10)
    return program.text.with_inserted(block.at, f"{rapid} X{program.spelled('X', aside)}", f"{rapid} X{program.spelled('X', stand)}")


@fault("a rapid comes down too deep and goes up again")
def _(program: Program) -> Text | None:
    found = []
    for block, after in pairs(program):
        if block.motion == "rapid" and after.motion == "line" and only_z(block) and _over_stock(program, block):
            found.append(block)
    block = middle(found)
    if block is None or not program.absolute:
        return None
    deep = program.changed(block, "Z", lambda value: 0.0)
    return program.text.with_inserted(block.at, "".join(deep.lines[block.at]))


def _over_stock(program: Program, block: Block) -> bool:
    """Whether the tool stands within the length of the stock, as far as the X words (axis X) tell."""
    toolpath = _mounted(program)
    last = [b for b in program.blocks if "X" in b.words and b.at < block.at]
    if toolpath.stock is None or not last or toolpath.axis != "X":
        return False
    low, high = toolpath.stock.along("X")
    return low < program.value(last[-1], "X") - toolpath.centre[0] < high


def _middle_of_stock(program: Program) -> float:
    toolpath = _mounted(program)
    return toolpath.centre[0] + sum(toolpath.stock.along("X")) / 2 if toolpath.stock is not None and toolpath.axis == "X" else 0.0


def _mounted(program: Program) -> Toolpath:
    """Stock and centre as they stand on the machine."""
    return as_mounted(program.toolpath, next((one for one in program.profile.rotary.values() if one.along == program.toolpath.axis), None))


@fault("clamp and release swapped everywhere")
def _(program: Program) -> Text | None:
    clamp = _clamp(program)
    if clamp is None:
        return None
    text = program.text
    for at in program.text.having_code(clamp[0]):
        text = text.code(at, clamp[0], clamp[1])
    for at in program.text.having_code(clamp[1]):
        text = text.code(at, clamp[1], clamp[0])
    return text


@fault("a clamp left out")
def _(program: Program) -> Text | None:
    clamp = _clamp(program)
    at = middle(program.text.having_code(clamp[0])) if clamp else None
    return program.text.without(at) if at is not None else None


@fault("a release left out")
def _(program: Program) -> Text | None:
    clamp = _clamp(program)
    at = middle(program.text.having_code(clamp[1])) if clamp else None
    return program.text.without(at) if at is not None else None


@fault("the pause after a clamp left out")
def _(program: Program) -> Text | None:
    clamp = _clamp(program)
    letter = next(iter(program.profile.rotary), "")
    if clamp is None or not program.profile.rotary[letter].clamp.dwell:  # type: ignore[index]
        return None
    at = middle(program.text.having_code(clamp[0]))
    return program.text.without(at + 1) if at is not None and "G4" in program.text.codes(at + 1) else None


def _clamp(program: Program) -> tuple[str, str] | None:
    for rotary in program.profile.rotary.values():
        if rotary.clamp.use == "indexing" and rotary.clamp.on and rotary.clamp.off:
            return rotary.clamp.on, rotary.clamp.off
    return None
