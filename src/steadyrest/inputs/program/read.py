"""How does a plain three-axis program become a piece of a toolpath: still, indexed, or wrapped?"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.arcs import CHORD_MM
from steadyrest.inputs.changes import WiderThanRound
from steadyrest.inputs.model import Piece, Reader
from steadyrest.inputs.operations import Making, operations_of
from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.inputs.program.drilling import close_hole
from steadyrest.inputs.program.laying import developed_width, laying
from steadyrest.inputs.program.once import laid_in, with_head
from steadyrest.inputs.program.state import MM_PER_INCH, Taking
from steadyrest.inputs.program.taking import take_event, take_motion
from steadyrest.inputs.program.turning import stood_at_angles
from steadyrest.inputs.scaling import in_units
from steadyrest.notices import Notice
from steadyrest.profile import Profile, load_profile, rotaries_of
from steadyrest.reading import EventRead, Foreign, opened_program, read_program

LANGUAGE = "rs274ngc"
"""The language of a program about which nothing is said."""
_BLOCK = re.compile(
    rb"^[ \t]*(?:%.*|/?[ \t]*(?:\([^)]*\)|[A-Z:][ \t]*[-+]?[0-9. \t]+|#[0-9]+[ \t]*=.*|[A-Z][ \t]*[\[#].*)+[ \t]*(?:;.*)?|;.*)\r?$", re.I
)
_COMMENT = re.compile(rb"\([^()\n]*\)|;[^\n]*")
HEAD_BYTES = 1 << 16
MOST_NESTED = 5
"""So many comments inside each other are looked through."""
_NO_WORDS = re.compile(rb"(?:\xef\xbb\xbf)?(?:%.*|(?:N[ \t]*[0-9]+[ \t]*)?(?:[O:][ \t]*[0-9]+)?)", re.IGNORECASE)
_ANY_WORD = re.compile(rb"([A-Za-z])[ \t]*[-+.0-9\[#]")
_BLANKS = re.compile(rb"[ \t]+")
_CODE = re.compile(rb"[GM][ \t]*[0-9]|[XYZ][ \t]*[-+]?[0-9.]", re.IGNORECASE)


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are a program of words: nearly all lines are blocks, and there are G, M or axis words."""
    lines = [line for line in head.split(b"\n") if line.strip()][:200]
    if len(head) >= 1 << 16 and len(lines) > 1:
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
    said = {"mm": 1.0, "inch": MM_PER_INCH}.get(options.units or "")
    foreign = Foreign(options.leave_out, said)
    taking = Taking(file, options.tool, options.leave_out, _first_words(path))
    try:
        for item in read_program(path, profile, rotary_letter=letter, foreign=foreign):
            if isinstance(item, EventRead):
                take_event(taking, item)
            else:
                take_motion(taking, item)
    except OSError as error:
        raise ProgramError(f"cannot be read: {error.strerror}", place=Place(file=file), cure="check the name and the permissions") from None
    close_hole(taking)
    # The unit in which it cuts; a program that cuts in both, or not at all, counts as millimetres unless the user says otherwise.
    units = options.units or part.units or ("inch" if taking.cut_in == {MM_PER_INCH} else "mm")
    laid = laying(options, axis, MM_PER_INCH if units == "inch" else 1.0)
    making = Making(file, CHORD_MM)
    stretches = [laid.laid(stretch) for stretch in taking.gatherer.finish()]
    notices: list[Notice] = [*taking.left_out.values(), *taking.assumed.values()]
    along: str | None = None
    if taking.turning.line is not None:
        along, turned = stood_at_angles(stretches, taking.turning, profile, letter, options, part, file)
        notices.append(turned)
    used = {stretch.settings.tool for stretch in stretches}
    with_head(stretches, taking.head + [text for number, (_, text) in taking.named.items() if number not in used])
    if along is None:
        stretches = laid_in(stretches, laid.frame)
    operations: list[dict[str, Any]] = [operation for stretch in stretches for operation in operations_of(stretch, making)]
    if not operations:
        raise ProgramError("no motion in the program: nothing is cut", place=Place(file=file), cure="a program has blocks with X, Y or Z")
    if options.wrap is not None:
        notices += _wider(developed_width(stretches, axis), options.wrap.diameter, units, file)
    names = {number: name for number, (name, _) in taking.named.items()}
    told = (*notices, *making.notices)
    piece = Piece(name="", units="mm", tools={}, operations=tuple(operations), axis=along, tool_names=names, notices=told)
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


def _wider(width_mm: float, diameter: float, units: str, file: str) -> list[Notice]:
    width = width_mm / MM_PER_INCH if units == "inch" else width_mm
    circumference = math.pi * diameter
    return [WiderThanRound(Place(file=file), width, circumference)] if width > circumference * (1 + 1e-9) else []


PROGRAM = Reader(
    kind="program",
    speaks="plain three-axis programs: NISTIR 6556 (RS274/NGC), or the language of a profile",
    endings=(".nc", ".ngc", ".tap", ".cnc"),
    recognises=recognises,
    read=read_plain_program,
)
