"""Plain three-axis programs read: each as a piece of a toolpath, still, indexed, wrapped, or on faces."""

from __future__ import annotations

import math
import re
from pathlib import Path

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.changes import WiderThanRound
from steadyrest.inputs.geometry import CHORD_MM
from steadyrest.inputs.operations import operations_of
from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.inputs.program.layout import developed_width, frame_of, laid_in, placed, stood_at_angles, with_head
from steadyrest.inputs.program.motion import close_hole, take_event, take_motion
from steadyrest.inputs.program.state import ProgramState
from steadyrest.inputs.readers import HEAD_BYTES, Piece, Reader
from steadyrest.inputs.units import in_units
from steadyrest.notices import Notice
from steadyrest.profile import Profile, load_profile, rotaries_of
from steadyrest.reading import EventRead, Lenient, opened_program, read_program

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


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are a program of words: nearly all lines are blocks, and there are G, M or axis words."""
    lines = [line for line in head.split(b"\n") if line.strip()][:200]
    if len(head) >= HEAD_BYTES and len(lines) > 1:
        lines = lines[:-1]
    blocks = sum(bool(_BLOCK.match(_BLANKS.sub(b" ", line))) for line in lines)
    return bool(lines) and blocks * 10 >= len(lines) * 8 and any(_CODE.search(line) for line in lines)


def read_plain_program(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """A program as a piece of a toolpath; ProgramError with the line for whatever cannot be taken."""
    file = str(path)
    if options.words is not None:
        raise ProgramError("'words' is for CL data, and this is a program", place=Place(file=file), cure="leave it out")
    profile = load_profile(options.language or LANGUAGE)
    letter = _rotary_letter(path, profile, part)
    axis = part.axis or "X"
    lenient = Lenient(options.leave_out, {"mm": 1.0, "inch": MM_PER_INCH}.get(options.units or ""))
    state = ProgramState(file, options.tool, options.leave_out, _first_words(path))
    try:
        for item in read_program(path, profile, rotary_letter=letter, lenient=lenient):
            if isinstance(item, EventRead):
                take_event(state, item)
            else:
                take_motion(state, item)
    except OSError as error:
        raise ProgramError(f"cannot be read: {error.strerror}", place=Place(file=file), cure="check the name and the permissions") from None
    close_hole(state)
    # The unit in which it cuts; a program that cuts in both, or not at all, counts as millimetres unless the user says otherwise.
    units = options.units or part.units or ("inch" if state.cut_in == {MM_PER_INCH} else "mm")
    mm = MM_PER_INCH if units == "inch" else 1.0
    frame, along = frame_of(options, axis, mm), None
    stretches = state.stretches.finish()
    placed(stretches, options, axis, mm)
    notices: list[Notice] = [*state.left_out.values(), *state.assumed.values()]
    if state.turned_at is not None:
        along, turned = stood_at_angles(stretches, state, profile, letter, options, part)
        notices.append(turned)
    used = {stretch.conditions.tool for stretch in stretches}
    with_head(stretches, state.head + [text for number, (_, text) in state.named.items() if number not in used])
    if along is None:
        stretches = laid_in(stretches, frame)
    chorded: list[Notice] = []
    operations = tuple(operation for stretch in stretches for operation in operations_of(stretch, file, CHORD_MM, chorded))
    if not operations:
        raise ProgramError("no motion in the program: nothing is cut", place=Place(file=file), cure="a program has blocks with X, Y or Z")
    if options.wrap is not None:
        width, round_ = developed_width(stretches, axis) / mm, math.pi * options.wrap.diameter
        if width > round_ * (1 + 1e-9):
            wide = f"the developed path is {width:.6g} wide and the circumference is {round_:.6g}: it goes round {width / round_:.3g} times"
            notices.append(WiderThanRound(Place(file=file), wide))
    names = {number: name for number, (name, _) in state.named.items()}
    piece = Piece("", "mm", tools={}, operations=operations, axis=along, tool_names=names, notices=(*notices, *chorded))
    return in_units(piece, units)


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
    """The rotary of a profile that is meant: the one along the part's axis where that is said, else the one that the program turns."""
    meant = list((part.axis and rotaries_of(profile, part.axis)) or profile.rotary)
    words = set(_ANY_WORD.findall(_COMMENT.sub(b"", path.read_bytes()))) if len(meant) > 1 else set()
    return next((letter for letter in meant if words & {letter.encode(), letter.lower().encode()}), next(iter(meant), None))


PROGRAM = Reader(
    kind="program",
    speaks="plain three-axis programs: NISTIR 6556 (RS274/NGC), or the language of a profile",
    endings=(".nc", ".ngc", ".tap", ".cnc"),
    recognises=recognises,
    read=read_plain_program,
)
