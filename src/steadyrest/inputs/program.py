"""Plain three-axis programs read: each as a piece of a toolpath, still, laid round a cylinder, at several angles, on the faces to which
it turns the rotary, or in the part where it turns rotaries while it cuts.

What of a program that is cut at several angles is there for the operator or the spindle happens once and not at every angle: texts, pauses
and stops before the first motion of an operation, and stops after its last cut, become operations of their own at one angle. A stop is
made with spindle and coolant off. What stands between the cuts of an operation belongs to each face.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import InputError, Place, ProgramError
from steadyrest.inputs.cl.intents import by_intent
from steadyrest.inputs.geometry import CHORD_MM, chorded, turned
from steadyrest.inputs.operations import operations_of
from steadyrest.inputs.options import InputOptions, PartOptions, check_unsaid
from steadyrest.inputs.program_motion import ProgramState, close_hole, take_event, take_motion, without_head_of_its_own
from steadyrest.inputs.readers import HEAD_BYTES, Piece, Reader, Told, first_lines, in_units, per, unheard
from steadyrest.inputs.stretches import ARC, END, Frame, Happening, Hole, Item, Moves, Stretch, cuts, is_note, is_stop, mapped
from steadyrest.motion import Line, lines_of, tip_in_part
from steadyrest.notices import Notice, noticed
from steadyrest.profile import Chain, Profile, chain_of, has_one_in_table, load_profile, rotaries_of
from steadyrest.reading import EventRead, Lenient, lines_in, opened_program, read_program, sigma

LANGUAGE = "rs274ngc"
"""The language of a program about which nothing is said."""
_BLOCK = re.compile(
    rb"^[ \t]*(?:%.*|/?[ \t]*(?:\([^)]*\)|[A-Z:][ \t]*[-+]?[0-9. \t]+|#[0-9]+[ \t]*=.*|[A-Z][ \t]*[\[#].*)+[ \t]*(?:;.*)?|;.*)\r?$", re.I
)
_COMMENT = re.compile(rb"\([^()\n]*\)|;[^\n]*")
MOST_NESTED = 5
"""So many comments inside each other are looked through."""
_NO_WORDS = re.compile(rb"(?:\xef\xbb\xbf)?(?:%.*|(?:N[ \t]*[0-9]+[ \t]*)?(?:[O:][ \t]*[0-9]+)?)", re.IGNORECASE)
_ANY_WORD = re.compile(rb"([A-Za-z])[ \t]*[-+.0-9\[#]")
_BLANKS = re.compile(rb"[ \t]+")
_CODE = re.compile(rb"[GM][ \t]*[0-9]|[XYZ][ \t]*[-+]?[0-9.]", re.IGNORECASE)
ANGLE_DECIMALS = 9
PLANE_DECIMALS = 12
LINES_MM = 0.005
"""An axis said with four decimals of an inch is no farther off."""


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are a program of words: nearly all lines are blocks, and there are G, M or axis words."""
    lines = first_lines(head)
    blocks = sum(bool(_BLOCK.match(_BLANKS.sub(b" ", line))) for line in lines)
    return bool(lines) and blocks * 10 >= len(lines) * 8 and any(_CODE.search(line) for line in lines)


def read_plain_program(path: Path, options: InputOptions, part: PartOptions, told: Told = unheard) -> Piece:
    """A program as a piece of a toolpath; ProgramError with the line for whatever cannot be taken."""
    file = str(path)
    check_unsaid(options, ["words"], "is for CL data, and this is a program", file)
    profile = load_profile(options.language or LANGUAGE)
    letter = _rotary_letter(path, profile, part)
    axis = part.axis or "X"
    gathered = partial(_gathered, path, options, profile, letter, told)
    state = gathered()
    units, mm = _units_of(state, options, part)
    centre_mm = np.array(part.centre or (0.0,) * 3) * per(part.units or units, "mm")
    # Where the drive of a linear axis turns the part, the tool stands over the axis of rotation, and the reader has 0 there.
    replaced = [rotary.replaces for rotary in rotaries_of(profile, letter=letter).values()]
    over_mm = np.where([each in replaced for each in AXES], centre_mm, 0.0)
    if state.askew_at:
        _check_turning(replace(state, turned_at=state.askew_at), profile, options)
        if any(options.shift):
            wrong = "the program is to be shifted, and turns rotaries while it cuts, or a head: machine and part do not coincide"
            raise state.error(state.askew_at, wrong, "leave the shift out, and say by the part's centre where it stands on the machine")
        # what the program itself says that its numbers hold goes before what is known of the tools today
        lengths_mm = {tool: length * mm for tool, length in part.gauge_lengths.items()}
        lengths_mm |= {tool: length * state.said_mm for tool, length in state.gauge_lengths.items()}
        chain = _chain(profile, letter)
        state = gathered(lines=partial(_lines_with, state, profile, chain, lengths_mm, centre_mm - over_mm), turned_at=state.askew_at)
        units, mm = _units_of(state, options, part)
    stretches = state.stretches()
    _place(stretches, options, axis, np.array(options.shift) * mm + (over_mm if state.turned_at else 0.0))
    notices: list[Notice] = [*state.left_out.values(), *state.assumed.values()]
    along = centre = None
    if state.turned_at:
        _check_turning(state, profile, options)
        if has_one_in_table(profile):
            along, turned_as = _stand_at_angles(stretches, state, profile, letter, part)
            notices.append(turned_as)
        if along is None or state.lines is not None:
            chain = _chain(profile, letter)
            stretches, centre, turned_as = _stand_in_part(stretches, state, profile, chain, along or axis, centre_mm)
            notices.append(turned_as)
    used = {stretch.conditions.tool for stretch in stretches}
    texts = state.head + [text for number, (_, text) in state.named.items() if number not in used]
    if stretches and texts:  # the first of them names the first stretch unless it has a name
        first = stretches[0]
        first.name = first.name or texts.pop(0).move["note"]
        first.items = [*texts, *first.items]
    if not state.turned_at:
        stretches = _laid_in(stretches, options, axis, mm)
    operations = tuple(operation for stretch in stretches for operation in operations_of(stretch, file, CHORD_MM, notices))
    if not operations:
        raise ProgramError("no motion in the program: nothing is cut", place=Place(file=file), cure="a program has blocks with X, Y or Z")
    if options.wrap is not None:
        width, round_ = _developed_width(stretches, axis) / mm, math.pi * options.wrap.diameter
        if width > round_ * (1 + 1e-9):
            facts = {"width": width, "way_round": round_, "times_round": width / round_}
            notices.append(noticed("WiderThanRound", Place(file=file), **facts))
    names = {number: name for number, (name, _) in state.named.items()}
    piece = Piece("", "mm", tools={}, operations=operations, axis=along, centre=centre, tool_names=names, notices=tuple(notices))
    return in_units(piece, units)


def _gathered(path: Path, options: InputOptions, profile: Profile, letter: str | None, told: Told, **taken: Any) -> ProgramState:
    """What a program holds, as far as it can be taken as it is asked."""
    chain = _chain(profile, letter)
    state = ProgramState(file=str(path), tool=options.tool, chosen=options.leave_out, begins=_first_words(path))
    state.rotary_deg = (math.nan,) * len(chain.letters)
    state.carries_tool = np.array([each in chain.tool for each in chain.letters], dtype=np.bool_)
    state = replace(state, **taken)
    lines = lines_in(path)
    lenient = Lenient(options.leave_out, per(options.units, "mm") if options.units else None)
    for item in read_program(path, profile, rotary_letter=letter, lenient=lenient):
        if isinstance(item, EventRead):
            take_event(state, item)
            continue
        take_motion(state, item)
        if state.askew_at:
            return state
        if len(item):
            told(int(item.line[-1]), lines)
    close_hole(state)
    without_head_of_its_own(state)
    return state


def _units_of(state: ProgramState, options: InputOptions, part: PartOptions) -> tuple[Literal["mm", "inch"], float]:
    """The unit in which it cuts, and mm in it; a program that cuts in both, or not at all, counts as mm unless the user says otherwise."""
    units = options.units or part.units or ("inch" if state.cut_in == {MM_PER_INCH} else "mm")
    return units, per(units, "mm")


def _first_words(path: Path) -> int:
    """The line, from 1, of the first block that is more than marks, comments and the program's number; as far as a head goes."""
    with opened_program(path) as file:
        lines = file.read(HEAD_BYTES).split(b"\n")
    for number, line in enumerate(lines, 1):
        for _ in range(MOST_NESTED):
            line = _COMMENT.sub(b"", line)
        if not _NO_WORDS.fullmatch(line.strip()):
            return number
    return len(lines)


def _rotary_letter(path: Path, profile: Profile, part: PartOptions) -> str | None:
    """The rotary of a profile that is meant: the one along the part's axis where that is said, else the one that the program turns; None
    for a chain of two or a head, all of which is meant.
    """
    if not has_one_in_table(profile):
        return None
    meant = list((part.axis and rotaries_of(profile, part.axis)) or profile.rotary)
    words = set(_ANY_WORD.findall(_COMMENT.sub(b"", path.read_bytes()))) if len(meant) > 1 else set()
    return next((letter for letter in meant if words & {letter.encode(), letter.lower().encode()}), next(iter(meant), None))


def _chain(profile: Profile, letter: str | None) -> Chain:
    """What a program of a profile turns, counted from the part to the spindle: one rotary that stands in the table by itself, or all."""
    stated = None if has_one_in_table(profile) else chain_of(profile)
    return stated or Chain((letter,) if letter else ())


def _place(stretches: Sequence[Stretch], options: InputOptions, axis: str, shift: Floats) -> None:
    """Shift the coordinates of stretches by `shift` (3,), mm, and turn the drawing where the other axis is developed."""
    across = "Y" if axis == "X" else "X"
    # The quarter turn of the drawing that brings the program's axis along the axis of rotation to the way round.
    quarter = partial(turned, alpha_deg=90.0 if axis == "X" else -90.0, letter="Z")
    turns = options.wrap is not None and options.wrap.developed not in (None, across)
    for stretch in stretches if turns or shift.any() else ():
        stretch.items = [mapped(item, partial(np.add, shift), axes=lambda axes: axes) for item in stretch.items]
        if turns:
            stretch.items = [mapped(item, quarter, quarter) for item in stretch.items]


def _developed_width(stretches: Sequence[Stretch], axis: str) -> float:
    column = 1 if axis == "X" else 0
    low, high = math.inf, -math.inf
    for item in (item for stretch in stretches for item in stretch.items):
        if isinstance(item, Happening):
            continue
        along = item if isinstance(item, Hole) or item.arcs is None else chorded(item, CHORD_MM, item.motion == ARC)
        values = along.point[None, column] if isinstance(along, Hole) else along.end[:, column]
        low, high = min(low, float(values.min())), max(high, float(values.max()))
    return max(0.0, high - low)


def _laid_in(stretches: Sequence[Stretch], options: InputOptions, axis: str, mm: float) -> list[Stretch]:
    """The stretches of a program in the frame in which it is cut, `mm` in a unit of the options; stops right after each other as one."""
    frame: Frame = ("still",) if options.indexed is None else ("indexed", *options.indexed)
    if (wrap := options.wrap) is not None:
        if axis == "Z":
            wrong = "a program cannot be wrapped around an axis along the spindle: the tool cannot reach that surface"
            raise InputError(wrong, cure="use axis X or Y, or give angles instead")
        frame = ("wrapped", wrap.diameter * mm, wrap.start_angle, wrap.z_from)
    found: list[Stretch] = []
    for stretch in stretches:
        stretch.conditions = replace(stretch.conditions, frame=frame)
        for part in _parts(stretch, found) if frame[0] == "indexed" and len(frame) > 2 else [stretch]:
            _add(found, part)
    return found


def _parts(stretch: Stretch, before: Sequence[Stretch]) -> list[Stretch]:
    """What happens once before the cuts of a stretch, its cuts at every angle, and what happens once after them."""
    items, (_, first, *_, last) = stretch.items, stretch.conditions.frame
    cut = [at for at, item in enumerate(items) if cuts(item)]
    if not cut:
        goes_on = bool(before) and before[-1].conditions.tool == stretch.conditions.tool
        said: list[Item] = [item for item in items if isinstance(item, Happening)]
        return [_once(stretch, said, last if goes_on else first)] if len(said) == len(items) or any(map(is_stop, said)) else [stretch]
    begin = next(at for at, item in enumerate(items) if not isinstance(item, Happening))
    tail = items[cut[-1] + 1 :]
    after: list[Item] = [item for item in tail if isinstance(item, Happening)] if any(map(is_stop, tail)) else []
    lead, trail = _once(stretch, items[:begin], first), _once(stretch, after, last)
    trail.name = "stop"
    if len(lead.items) > 1 and isinstance(title := lead.items[0], Happening) and is_note(title):
        lead.name, lead.items = title.move["note"], lead.items[1:]
    elif all(map(is_note, lead.items)):
        lead.name = "text"
    stretch.items = [item for item in items[begin:] if not any(item is each for each in after)]
    return [part for part in (lead, stretch, trail) if part.items]


def _once(stretch: Stretch, items: list[Item], angle: float) -> Stretch:
    return Stretch(replace(stretch.conditions, frame=("indexed", angle)), stretch.name, items=items)


def _add(found: list[Stretch], part: Stretch) -> None:
    """The next stretch: where it is but a stop after a stop of the same tool, the two become one."""
    before, last = [END, END, *found][-2:]
    if not any(map(is_stop, part.items)) or not part.only_happens:
        # After a stop right after a tool change, the text before it is the name of what the tool cuts.
        if last.only_happens and last.name != "stop" and before.conditions.tool != last.conditions.tool:
            part.name = part.name or last.name
        found.append(part)
        return
    part.conditions = replace(part.conditions, rpm=0.0, coolant="off")
    part.name = part.name or "stop"
    if last.conditions.tool == part.conditions.tool:
        tail = next((at + 1 for at in reversed(range(len(last.items))) if not isinstance(last.items[at], Happening)), 0)
        if any(map(is_stop, last.items[tail:])):
            part.items = last.items[tail:] + part.items
            last.items = last.items[:tail]
            if not last.items:
                part.name = last.name
                found.pop()
    stops = [item for item in part.items if isinstance(item, Happening) and is_stop(item)]
    one = next((stop for stop in stops if not stop.move["stop"]["optional"]), stops[0])  # an optional one only if all are
    part.items = [item for item in part.items if not is_stop(item)] + [one]
    found.append(part)


def _check_turning(state: ProgramState, profile: Profile, options: InputOptions) -> None:
    """ProgramError where it is not said how the rotary that a program turns is mounted, or where else the program lies."""
    one = has_one_in_table(profile)
    if options.indexed is not None or options.wrap is not None:
        raise state.error(
            state.turned_at,
            f"the program turns the {'rotary' if one else 'rotaries'} itself, but angles or a diameter are given for it too",
            "leave out the angles or the diameter",
        )
    if options.language is None:
        raise state.error(
            state.turned_at,
            "the program turns the rotary, but nobody has said how the rotary is mounted",
            "name the profile of its machine with --language: its mounting decides which face A90 is; or take the rotary words out and "
            "give where the program is cut: indexed at angles, or wrapped",
        )
    if state.blind_at:
        wrong, cure = (
            "a cut before the rotary's angle is stated, in a program that turns it",
            "state the angle, such as A0, before the first cut",
        )
        if not one:
            wrong, cure = "a cut before each rotary's angle is stated, in a program that turns them", cure.replace("A0", "C0 A0")
        raise state.error(state.blind_at, wrong, cure)


def _stand_at_angles(
    stretches: Sequence[Stretch], state: ProgramState, profile: Profile, letter: str | None, part: PartOptions
) -> tuple[str, Notice]:
    """Give the stretches of a program that turns the rotary between its cuts the faces on which they lie; others lie in the part already.

    returns   the axis of rotation, and what was made of the words
    raises    ProgramError where the part's axis is another
    """
    (rotary,) = rotaries_of(profile, letter=letter).values()
    if part.axis not in (None, rotary.along):
        raise state.error(
            state.turned_at,
            f"the rotary of {profile.name} turns about {rotary.along}, but the axis given for the part is {part.axis}",
            "name another profile, or leave the axis out",
        )
    sign = sigma(rotary.chuck_faces, rotary.positive_turns_chuck)
    for stretch in stretches if state.lines is None else ():
        angle = round(-sign * float(stretch.conditions.frame[1]) % 360.0, ANGLE_DECIMALS) % 360.0
        stretch.conditions = replace(stretch.conditions, frame=("indexed", angle + 0.0))
    facts = {"chuck_faces": rotary.chuck_faces, "positive_turns_chuck": rotary.positive_turns_chuck, "face": -sign * 90.0 % 360.0}
    return rotary.along, noticed("TurnedAs", state.at(state.turned_at), profile=profile.name, letter=letter, **facts)


def _stand_in_part(
    stretches: list[Stretch], state: ProgramState, profile: Profile, chain: Chain, axis: str, centre_mm: Floats
) -> tuple[list[Stretch], tuple[float, float, float], Notice]:
    """The stretches of a program that turns the rotaries of a chain: in the planes in which they lie, or where rotaries turn while it cuts,
    or a head has turned, by the tool axes that its motion then has.

    centre_mm   (3,) where the chain's reference point lies, in the coordinates of the program at zero
    returns     the stretches, that point, and what was made of the words
    """
    if state.lines is not None:
        stretches = _approached([piece for stretch in stretches for piece in by_intent(stretch, axis, centre_mm, {})])
        for before, stretch in pairwise(stretches):  # where nothing but a stop comes, the part stays as it stands
            if stretch.only_happens:
                stretch.conditions = replace(stretch.conditions, frame=before.conditions.frame)
    lines = lines_of(profile, chain, centre_mm, 0.0, 1.0)
    for letter, line in zip(chain.letters, lines, strict=True):
        at, place = state.lines_said.get(letter, (0, line.point / state.said_mm))
        off = float(np.linalg.norm(np.cross(line.direction, place * state.said_mm - line.point)))
        if off > LINES_MM:
            raise state.error(
                at,
                f"the program says that it was made for an axis of {letter} that lies {off:.4g} mm beside that of {profile.name}",
                "say by the part's centre where its reference point lies, or name the profile of the machine that it was made for",
            )
    signs = np.array([line.sign for line in lines])
    for stretch in stretches if state.lines is None else ():
        alpha = np.radians(signs * np.array(stretch.conditions.frame[1:]))
        origin, x, _, z = tip_in_part(np.vstack([np.zeros(3), np.eye(3)]), np.tile(alpha, (4, 1)), lines)
        plane = (tuple((np.round(each, PLANE_DECIMALS) + 0.0).tolist()) for each in (origin, z - origin, x - origin))
        stretch.conditions = replace(stretch.conditions, frame=("plane", *plane))
    x, y, z = centre_mm.tolist()
    facts = {"profile": profile.name, "letters": " and ".join(chain.letters), "centre": f"X {x:g} Y {y:g} Z {z:g}"}
    facts["chain"] = " ".join(["part", *chain.part, "bed", *chain.tool, "spindle"])
    made = "TurnedInPlanes" if state.lines is None else "TurnedInPart"
    return stretches, (x, y, z), noticed(made, state.at(state.turned_at), **facts)


def _approached(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches without the ways to them: where a turn at rapid comes before the first cut, planning has its own way there."""
    found: list[Stretch] = []
    waiting: list[Item] = []
    name = ""
    for stretch, following in zip(stretches, [*stretches[1:], END], strict=True):
        if stretch.positions_only and not stretch.only_happens and stretch.conditions.tool == following.conditions.tool:
            waiting += [item for item in stretch.items if isinstance(item, Happening)]
            name = name or stretch.name
            continue
        if stretch.conditions.frame[0] == "simultaneous" and not stretch.only_happens:
            goes = [at for at, item in enumerate(stretch.items) if isinstance(item, Moves)]
            first = next((at for at in goes if cuts(stretch.items[at])), 0)
            stretch.items = [item for at, item in enumerate(stretch.items) if at >= first or isinstance(item, Happening)]
            begin = next(at for at, item in enumerate(stretch.items) if isinstance(item, Moves))
            moves = stretch.items[begin]
            if isinstance(moves, Moves) and not moves.motion[:2].any():
                stretch.items[begin] = take(moves, slice(1, None))
        stretch.items, stretch.name = [*waiting, *stretch.items], stretch.name or name
        waiting, name = [], ""
        found.append(stretch)
    return found


def _lines_with(
    state: ProgramState, profile: Profile, chain: Chain, lengths_mm: Mapping[int, float], centre_mm: Floats, tool: int, line: int
) -> Sequence[Line]:
    """The lines of a chain with a tool, mm; ProgramError where it turns a head and the tool's gauge length is not known."""
    length = lengths_mm.get(tool) if chain.tool else 0.0
    if length is None:
        raise state.error(
            line,
            f"the program turns {' and '.join(chain.tool)}, which carries the tool, and the gauge length of tool {tool} is not known",
            f"give it: --tool-length {tool}=LENGTH, or gauge_length in a job file; the numbers of the program hold for that length alone",
        )
    return lines_of(profile, chain, centre_mm, length, 1.0)


PROGRAM = Reader(
    kind="program",
    speaks="plain three-axis programs: NISTIR 6556 (RS274/NGC), or the language of a profile",
    endings=(".nc", ".ngc", ".tap", ".cnc"),
    recognises=recognises,
    read=read_plain_program,
    tells=True,
)
