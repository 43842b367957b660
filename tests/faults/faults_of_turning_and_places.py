"""What goes wrong with the rotary, with positions and with units."""

from __future__ import annotations

from itertools import pairwise

from fault_table import fault, in_middle, middle, moving, pairs, tenth
from planting import Block, Program
from program_text import Text

# the rotary


@fault("sign of the rotary turned everywhere")
def _(program: Program) -> Text | None:
    letter = program.rotary
    some = [b for b in program.blocks if letter in b.words and abs(program.value(b, letter)) % 180 > 1]
    return program.changed_all(letter, lambda value: -value) if some else None


@fault("sign of the rotary turned in one block")
def _(program: Program) -> Text | None:
    letter = program.rotary
    if not letter:
        return None
    blocks = [block for block in program.cuts(letter) if abs(program.value(block, letter)) % 180 > 1]
    return in_middle(program, blocks, letter, lambda value: -value)


@fault("a turn too many in one block")
def _(program: Program) -> Text | None:
    letter = program.rotary
    if not letter or program.profile.rotary.get(letter) is None:
        return None
    if program.profile.rotary[letter].travel.kind == "rollover":
        return None
    return in_middle(program, program.cuts(letter), letter, lambda value: value + 360)


@fault("from the middle of a cut on in the next turn")
def _(program: Program) -> Text | None:
    letter = program.rotary
    cuts = {id(b) for b in program.cuts(letter, motions=("line",))} if letter else set()
    block = middle([b for a, b in pairs(program) if id(a) in cuts and id(b) in cuts])
    if block is None or not program.absolute or letter not in program.profile.rotary:
        return None
    if program.profile.rotary[letter].travel.kind == "rollover":
        return None
    return program.changed_all(letter, lambda value: value + 360, [b for b in program.blocks if b.at >= block.at])


@fault("winding lost: angles of cuts brought back into one turn")
def _(program: Program) -> Text | None:
    letter = program.rotary
    if not letter or not program.absolute or letter not in program.profile.rotary:
        return None
    if program.profile.rotary[letter].travel.kind == "rollover":
        return None
    blocks = program.cuts(letter)
    return program.changed_all(letter, lambda value: value % 360, blocks) if blocks else None


@fault("an angle left out of one block")
def _(program: Program) -> Text | None:
    letter = program.rotary
    block = middle(moving(program, letter, 0.5)) if letter else None
    return program.text.lacking(block.at, letter) if block else None


@fault("an angle off by half a degree in one block")
def _(program: Program) -> Text | None:
    letter = program.rotary
    if not letter or letter not in program.profile.rotary:
        return None
    return in_middle(program, program.cuts(letter), letter, lambda value: value + 0.5)


@fault("an index angle off by one degree")
def _(program: Program) -> Text | None:
    letter = program.rotary
    if not letter or letter not in program.profile.rotary:
        return None
    blocks = [block for block in program.blocks if block.motion == "rapid" and letter in block.words]
    last = blocks[-2:-1] if program.profile.rotary[letter].unwinding.at_end != "stay" else blocks[-1:]
    if program.profile.chain:
        last = blocks[:1]  # the last turns the part about the axis of its one hole, where no cut is off
    return in_middle(program, last, letter, lambda value: value + 1)


@fault("the whole turns of turning back wrong by half a turn")
def _(program: Program) -> Text | None:
    letter = program.rotary
    blocks = [b for b in program.blocks if b.motion == "rapid" and letter in b.words and letter in program.profile.rotary]
    last = [b for b, after in pairwise(blocks) if any(b.at < cut.at < after.at for cut in program.cuts())]
    return in_middle(program, last, letter, lambda value: value + 180 if value < 180 else value - 180)


# positions


@fault("X and Y swapped everywhere")
def _(program: Program) -> Text | None:
    return _swapped(program, "X", "Y")


@fault("Y and Z swapped everywhere")
def _(program: Program) -> Text | None:
    return _swapped(program, "Y", "Z")


@fault("X and Z swapped in one block")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts("X", "Z") if abs(program.value(b, "X") - program.value(b, "Z")) > tenth(program)])
    return program.text.letter(block.at, {"X": "Z", "Z": "X"}) if block else None


def _swapped(program: Program, one: str, two: str) -> Text | None:
    text, some = program.text, False
    if program.rotary in (one, two):
        return None
    for block in program.cuts():
        if (one in block.words) != (two in block.words) or (one in block.words and block.words[one] != block.words[two]):
            text, some = text.letter(block.at, {one: two, two: one}), True
    return text if some else None


@fault("sign of X turned in one block")
def _(program: Program) -> Text | None:
    return in_middle(program, [b for b in program.cuts("X") if abs(program.value(b, "X")) > tenth(program)], "X", lambda value: -value)


@fault("sign of Y turned everywhere")
def _(program: Program) -> Text | None:
    if program.rotary == "Y" or not [b for b in program.cuts("Y") if abs(program.value(b, "Y")) > tenth(program)]:
        return None
    return program.changed_all("Y", lambda value: -value)


@fault("the job turned end for end by half: its places and not the rotary's words")
def _(program: Program) -> Text | None:
    letters = "".join(letter for letter in "XYIJ" if letter != program.rotary)
    if not [b for b in program.cuts("X") if abs(program.value(b, "X")) > tenth(program)]:
        return None
    return program.changed_all(letters, lambda value: -value)


def _ends(program: Program, letter: str) -> list[Block]:
    """The last cuts before a rapid: anywhere else, a point may move along its own path and still be right."""
    both = pairs(program)
    return [b for b, after in both if b.motion == "line" and after.motion == "rapid" and letter in b.words]


@fault("X off by a tenth in one block")
def _(program: Program) -> Text | None:
    return in_middle(program, _ends(program, "X"), "X", lambda value: value + tenth(program))


@fault("Y off by a tenth in one block")
def _(program: Program) -> Text | None:
    return in_middle(program, _ends(program, "Y") if program.rotary != "Y" else [], "Y", lambda value: value - tenth(program))


@fault("Z deeper by a tenth in one block")
def _(program: Program) -> Text | None:
    return in_middle(program, program.cuts("Z"), "Z", lambda value: value - tenth(program))


@fault("Z deeper by a tenth everywhere")
def _(program: Program) -> Text | None:
    return program.changed_all("Z", lambda value: value - tenth(program)) if program.absolute else None


@fault("the origin a millimetre off the axis in Y")
def _(program: Program) -> Text | None:
    if program.rotary == "Y" or not program.absolute:
        return None
    return program.changed_all("Y", lambda value: value + 10 * tenth(program))


@fault("a digit of a coordinate doubled")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts("X") if abs(program.value(b, "X")) > 1])
    if block is None:
        return None
    number = block.words["X"]
    at = 1 if number[0] in "+-" else 0
    return program.text.number(block.at, "X", number[: at + 1] + number[at:])


@fault("the decimal point of a coordinate moved")
def _(program: Program) -> Text | None:
    return in_middle(program, [b for b in program.cuts("X") if abs(program.value(b, "X")) > tenth(program)], "X", lambda value: value * 10)


@fault("coordinates rounded to whole tenths")
def _(program: Program) -> Text | None:
    if not program.absolute:
        return None
    step = tenth(program)
    cut = program.cuts()
    if not any(
        abs(program.value(b, letter) / step - round(program.value(b, letter) / step)) > 0.3
        for b in cut
        for letter in "XYZ"
        if letter in b.words
    ):
        return None
    return program.changed_all("XYZ", lambda value: round(value / step) * step, cut)


@fault("lengths in inches under millimetres")
def _(program: Program) -> Text | None:
    if program.inch:
        return None
    return program.changed_all("XYZIJKR", lambda value: value / 25.4)


@fault("lengths in millimetres under inches")
def _(program: Program) -> Text | None:
    if not program.inch:
        return None
    return program.changed_all("XYZIJKR", lambda value: value * 25.4)


@fault("the code of the other unit")
def _(program: Program) -> Text | None:
    units = program.profile.units
    here, other = (units.inch, units.mm) if program.inch else (units.mm, units.inch)
    at = middle(program.text.having_code(here)) if here and other else None
    return program.text.code(at, here, other) if at is not None else None


@fault("incremental where absolute is meant, or the other way")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    here, other = (codes.absolute, codes.incremental) if program.absolute else (codes.incremental, codes.absolute)
    at = middle(program.text.having_code(here)) if here and other else None
    return program.text.code(at, here, other) if at is not None else None


@fault("the work offset of another fixture")
def _(program: Program) -> Text | None:
    code = program.profile.codes.work_offset
    at = middle(program.text.having_code(code)) if code == "G54" else None
    return program.text.code(at, code, "G55") if at is not None else None


@fault("the work offset left out")
def _(program: Program) -> Text | None:
    code = program.profile.codes.work_offset
    at = middle(program.text.having_code(code)) if code else None
    return program.text.code(at, code, "") if at is not None else None
