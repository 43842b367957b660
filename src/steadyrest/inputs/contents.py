"""What inputs add up to while something is still missing: what each is, what has to be said yet, and the toolpath as far as it goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.assembly import joined, read_piece, sizes_of, used_tools, within
from steadyrest.inputs.options import Input, PartOptions
from steadyrest.inputs.readers import Piece, Told, in_units, per, reader_for
from steadyrest.notices import Notice
from steadyrest.progress import TAKING, Progress, Work
from steadyrest.toolpath import FlatTool, Toolpath

MOST_UNKNOWN = 200
"""Tools of one input whose shape has to be given; each is found by reading it anew."""


@dataclass(frozen=True, slots=True)
class MissingTool:
    """A tool that inputs use and nobody describes.

    diameter   in the part's units, where an input says at least that
    why        what an input says instead of a shape; empty where it says nothing
    """

    number: int
    name: str
    diameter: float | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class InputSeen:
    """One input as it was read.

    kind, speaks   of its reader; empty where none recognises it
    operations     how many of the toolpath's it is, from `first`, which counts from 1
    error          why it cannot be read; then there are no operations
    """

    file: str
    kind: str
    speaks: str
    units: str
    first: int
    operations: int
    notices: tuple[Notice, ...]
    error: InputError | None


@dataclass(frozen=True, slots=True)
class Overview:
    """What inputs add up to.

    missing        tools that have to be described
    needs_stock    nobody says how far the turning part reaches
    toolpath       all that could be read. Where tools or stock are missing, stand-ins are in their place: a flat tool of the size that is
                   known, or 1; a clearance of 1. So it is for looking only. None where nothing could be read, or it contradicts itself
    error          why it contradicts itself, or None
    """

    inputs: tuple[InputSeen, ...]
    missing: tuple[MissingTool, ...]
    needs_stock: bool
    toolpath: Toolpath | None
    error: InputError | None

    @property
    def whole(self) -> bool:
        """Whether `take` gives a toolpath of the same."""
        return self.toolpath is not None and not self.missing and not self.needs_stock and all(each.error is None for each in self.inputs)


@dataclass(slots=True)
class _Read:
    """Inputs as they are read one after the other; `tools` are stand-ins, by number."""

    part: PartOptions
    pieces: list[tuple[Piece, str]] = field(default_factory=list)
    tools: dict[int, MissingTool] = field(default_factory=dict)

    def with_stand_ins(self, **more: Any) -> PartOptions:
        standing = tuple(FlatTool(number=each.number, shape="flat", diameter=each.diameter or 1.0) for each in self.tools.values())
        return self.part.model_copy(update={"tools": (*self.part.tools, *standing), **more})

    def read(self, one: Input, told: Told) -> Piece:
        """A piece; for each tool whose shape an input asks to be given, a stand-in of its diameter takes its place."""
        while True:
            try:
                return read_piece(one.file, one, self.with_stand_ins(), told)
            except ToolpathError as error:
                if error.tool is None or error.tool[0] in self.tools or len(self.tools) >= MOST_UNKNOWN:
                    raise
                number, diameter, units = error.tool
                diameter *= per(units, self.part.units or units)
                self.tools[number] = MissingTool(number, "", diameter, error.place.within(str(one.file)).before(error.wrong))


def overview(inputs: Sequence[Input], part: PartOptions, progress: Progress | None = None) -> Overview:
    """What inputs add up to in their order. What is wrong with them is told in it, in the words of `take`, and never raised.

    progress   is told how much of the files is read
    """
    sizes = sizes_of(inputs)
    work = Work(progress, TAKING, sum(sizes))
    so_far = _Read(part)
    seen: list[InputSeen] = []
    count = 0
    for each, size in zip(inputs, sizes, strict=True):
        file, kind, speaks, piece, error = str(each.file), "", "", None, None
        try:
            reader = reader_for(each.file, each)
            kind, speaks = reader.kind, reader.speaks
            piece = so_far.read(each, within(work, size))
        except InputError as caught:
            error = caught
        if piece is not None:
            if so_far.part.units is None:
                so_far.part = so_far.part.model_copy(update={"units": piece.units})
            so_far.pieces.append((in_units(piece, so_far.part.units or piece.units), file))
        operations, units, notices = (len(piece.operations), piece.units, piece.notices) if piece is not None else (0, "", ())
        seen.append(InputSeen(file, kind, speaks, units, count + 1, operations, notices, error))
        count += operations
    work.end()
    said = [(part.stock, part.clearance), *((piece.stock, piece.clearance) for piece, _ in so_far.pieces)]
    needs_stock = all(each == (None, None) for each in said)
    if not so_far.pieces:
        return Overview(tuple(seen), (), needs_stock, None, None)
    used, names, described = used_tools(so_far.pieces, so_far.part)
    for number in sorted(used - described):
        so_far.tools.setdefault(number, MissingTool(number, ""))
    missing = [MissingTool(each.number, names.get(each.number, ""), each.diameter, each.why) for each in so_far.tools.values()]
    missing.sort(key=lambda each: each.number)
    toolpath, wrong = None, None
    try:
        toolpath = joined(so_far.pieces, so_far.with_stand_ins(**({"clearance": 1.0} if needs_stock else {})))
    except InputError as caught:
        wrong = caught
    return Overview(tuple(seen), tuple(missing), needs_stock, toolpath, wrong)
