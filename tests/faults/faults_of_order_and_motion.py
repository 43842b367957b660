"""What goes wrong with the order of blocks, with motion codes and with feeds."""

from __future__ import annotations

from fault_table import fault, in_middle, middle, moving, only_z, pairs, tenth
from planting import Block, Program
from program_text import Text

# order and completeness


@fault("a cut left out")
def _(program: Program) -> Text | None:
    for letter in "XY" if program.rotary != "Y" else "X":
        block = middle(moving(program, letter, 5 * tenth(program)))
        if block is not None and "G" not in block.words and "F" not in block.words:
            return program.text.without(block.at)
    return None


@fault("a rapid's lift left out")
def _(program: Program) -> Text | None:
    both = pairs(program)
    lifts = [b for before, b in both if b.motion == "rapid" and before.motion in ("line", "cw", "ccw") and only_z(b)]
    block = middle(lifts)
    return program.text.lacking(block.at, "Z") if block else None


@fault("a block doubled further on")
def _(program: Program) -> Text | None:
    runs = _runs(program, 4)
    if runs is None:
        return None
    first, last = runs
    return program.text.with_inserted(last + 1, "".join(program.text.lines[first]))


@fault("a stretch of blocks run twice")
def _(program: Program) -> Text | None:
    runs = _runs(program, 4)
    if runs is None:
        return None
    first, last = runs
    return program.text.with_inserted(last + 1, *("".join(line) for line in program.text.lines[first : last + 1]))


@fault("two blocks in the wrong order")
def _(program: Program) -> Text | None:
    runs = _runs(program, 4)
    return program.text.moved(runs[0], runs[0] + 1, runs[0] + 2) if runs else None


@fault("a stretch of blocks run backwards")
def _(program: Program) -> Text | None:
    runs = _runs(program, 5)
    if runs is None:
        return None
    text = program.text
    for step, at in enumerate(range(runs[0], runs[1] + 1)):
        text = text.with_line(at, program.text.lines[runs[1] - step])
    return text


def _runs(program: Program, length: int) -> tuple[int, int] | None:
    """The lines of a run of straight cuts, one after the other, each to another place, none with a code of its own."""
    found, run = [], list[Block]()
    for block in program.blocks:
        plain_cut = block.motion == "line" and "G" not in block.words
        if plain_cut and (not run or block.at == run[-1].at + 1):
            run.append(block)
        else:
            run = [block] if plain_cut else []
        if len(run) >= length and len({tuple(sorted(b.words.items())) for b in run[-length:]}) == length:
            found.append((run[-length].at, run[-1].at))
    return middle(found)


@fault("the last cut missing")
def _(program: Program) -> Text | None:
    for block in reversed(program.cuts(motions=("line",))):
        letters = [letter for letter in "XY" if letter in block.words and letter != program.rotary]
        if (
            letters
            and "G" not in block.words
            and any(b in moving(program, letter, 5 * tenth(program)) for b in [block] for letter in letters)
        ):
            return program.text.without(block.at)
    return None


@fault("the program cut off in the middle")
def _(program: Program) -> Text | None:
    block = middle(program.cuts())
    return program.text.without(block.at + 1, len(program.text.lines)) if block else None


@fault("the program cut off in the middle, and ended properly")
def _(program: Program) -> Text | None:
    block = middle(program.cuts())
    ends = program.text.having_code(program.profile.spindle.stop)
    last = [at for at in ends if block is not None and at > block.at]
    return program.text.without(block.at + 1, last[-1]) if block is not None and last else None


@fault("an extra cut in between")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts("X", motions=("line",)) if "G" not in b.words and "Z" not in b.words])
    if block is None:
        return None
    other = program.changed(block, "X", lambda value: value + 10 * tenth(program) if value > 0 else value - 10 * tenth(program))
    other = (
        other.with_line(block.at, (*other.lines[block.at], f"Y{program.spelled('Y', 10 * tenth(program))}"))
        if "Y" not in block.words and program.rotary != "Y"
        else other
    )
    return program.text.with_inserted(block.at, "".join(other.lines[block.at]))


@fault("an extra cut at the end")
def _(program: Program) -> Text | None:
    at = middle(program.text.having_code(program.profile.spindle.stop)[-1:])
    block = middle(program.cuts("X", motions=("line",)))
    if at is None or block is None:
        return None
    code = program.profile.codes.line
    words = program.spelled("X", program.value(block, "X") + 1)
    feed = program.spelled("F", 100)
    mode = program.profile.feed.per_minute_code
    return program.text.with_inserted(at, f"{mode} {code} X{words} F{feed}".strip())


# motion codes


@fault("a cut at rapid")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts("X", motions=("line",)) if "G" not in b.words])
    codes = program.profile.codes
    if block is None:
        return None
    return program.text.with_line(block.at, (codes.rapid, " ", *program.text.lacking(block.at, "F").lines[block.at]))


@fault("a rapid at feed: the last motion code still holds")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    both = pairs(program)
    found = [
        b for before, b in both if before.motion == "line" and b.motion == "rapid" and codes.rapid in map(str, program.text.lines[b.at])
    ]
    block = middle(found)
    return program.text.code(block.at, codes.rapid, "") if block else None


@fault("a line's code left out: the last motion code still holds")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    at = middle(program.text.having_code(codes.line))
    return program.text.code(at, codes.line, "") if at is not None else None


@fault("an arc turned over")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    both = (codes.arc_clockwise, codes.arc_counterclockwise)
    at = middle(program.text.having_code(*both))
    if at is None:
        return None
    clockwise = bool(program.text.codes(at) & {_bare(both[0])})
    return program.text.code(at, both[0], both[1]) if clockwise else program.text.code(at, both[1], both[0])


def _bare(code: str) -> str:
    return code[0] + code[1:].lstrip("0") if len(code) > 1 and code[1:].lstrip("0") else code


@fault("an arc as a straight line")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    at = middle(program.text.having_code(codes.arc_clockwise, codes.arc_counterclockwise))
    if at is None:
        return None
    return (
        program.text.lacking(at, "I", "J", "K", "R")
        .code(at, codes.arc_clockwise, codes.line)
        .code(at, codes.arc_counterclockwise, codes.line)
    )


@fault("an arc's centre off by a tenth")
def _(program: Program) -> Text | None:
    for letter in "IJK":
        blocks = program.cuts(letter, motions=("cw", "ccw"))
        if blocks:
            return in_middle(program, blocks, letter, lambda value: value + tenth(program))
    return None


@fault("an arc's radius off by a tenth")
def _(program: Program) -> Text | None:
    return in_middle(program, program.cuts("R", motions=("cw", "ccw")), "R", lambda value: value + tenth(program))


@fault("the long way round instead of the short one: R with the other sign")
def _(program: Program) -> Text | None:
    return in_middle(program, program.cuts("R", motions=("cw", "ccw")), "R", lambda value: -value)


@fault("another plane's code before an arc")
def _(program: Program) -> Text | None:
    codes = program.profile.codes
    planes = [code for code in (codes.plane_xy, codes.plane_xz, codes.plane_yz) if code]
    arcs = {block.at for block in program.cuts(motions=("cw", "ccw"))}
    at = middle([at for at in program.text.having_code(*planes) if at in arcs])
    if at is None or len(planes) < 2:
        return None
    here = next(code for code in planes if program.text.codes(at) & {_bare(code)})
    other = next(code for code in planes if code != here)
    return program.text.code(at, here, other)


# feed


@fault("a feed ten times as much")
def _(program: Program) -> Text | None:
    return in_middle(program, program.cuts("F"), "F", lambda value: value * 10)


@fault("every feed ten times as much")
def _(program: Program) -> Text | None:
    blocks = program.cuts("F") + program.cuts("F", motions=("cycle",))
    return program.changed_all("F", lambda value: value * 10, blocks) if blocks else None


@fault("a feed halved")
def _(program: Program) -> Text | None:
    return in_middle(program, [b for b in program.cuts("F") if program.value(b, "F") > 1], "F", lambda value: value / 2)


@fault("a feed lowered to nine tenths")
def _(program: Program) -> Text | None:
    blocks = [b for b in program.cuts("F") if program.value(b, "F") > 60 * 10.0 ** -program.decimals("F", b.inverse)]
    return in_middle(program, blocks, "F", lambda value: value * 0.9)


@fault("a feed a tenth")
def _(program: Program) -> Text | None:
    return in_middle(program, [b for b in program.cuts("F") if program.value(b, "F") > 1], "F", lambda value: value / 10)


@fault("every feed one percent more")
def _(program: Program) -> Text | None:
    blocks = [b for b in program.cuts("F") if program.value(b, "F") > 60 * 10.0 ** -program.decimals("F", b.inverse)]
    return program.changed_all("F", lambda value: value * 1.01, blocks) if blocks else None


@fault("F left over from the block before")
def _(program: Program) -> Text | None:
    found = []
    last: tuple[str, bool] | None = None
    for block in program.cuts():
        if "F" in block.words:
            if last is not None and last[1] == block.inverse and abs(float(last[0]) / float(block.words["F"]) - 1) > 0.3:
                found.append((block, last[0]))
            last = (block.words["F"], block.inverse)
    chosen = middle(found)
    return program.text.number(chosen[0].at, "F", chosen[1]) if chosen else None


@fault("F left out")
def _(program: Program) -> Text | None:
    found = []
    last: str | None = None
    for block in program.cuts("F", motions=("line", "cw", "ccw", "cycle")):
        if last is not None and abs(float(last) / float(block.words["F"]) - 1) > 0.3:
            found.append(block)
        last = block.words["F"]
    block = middle(found)
    return program.text.lacking(block.at, "F") if block else None


@fault("per minute where inverse time is meant")
def _(program: Program) -> Text | None:
    feed = program.profile.feed
    at = middle(program.text.having_code(feed.inverse_code)) if feed.inverse_code and feed.per_minute_code else None
    return program.text.code(at, feed.inverse_code, feed.per_minute_code) if at is not None else None


@fault("inverse time where per minute is meant")
def _(program: Program) -> Text | None:
    feed = program.profile.feed
    cuts = {block.at for block in program.cuts("F")}
    lines = [at for at in program.text.having_code(feed.per_minute_code) if at in cuts]
    at = middle(lines) if feed.inverse_code and feed.per_minute_code else None
    return program.text.code(at, feed.per_minute_code, feed.inverse_code) if at is not None else None


@fault("the code of the feed mode left out")
def _(program: Program) -> Text | None:
    feed = program.profile.feed
    at = middle(program.text.having_code(feed.inverse_code)) if feed.inverse_code else None
    return program.text.code(at, feed.inverse_code, "") if at is not None else None
