"""What is a reader of inputs, and what does it give?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.notices import Notice
from steadyrest.toolpath import Operation, Stock


@dataclass(frozen=True, slots=True)
class Piece:
    """What one input adds to a toolpath.

    name          of the part; empty where the input has none
    units         mm or inch: of everything in here
    tools         by number, each as the object of a toolpath's JSON
    operations    in order, each as the object of a toolpath's JSON (a `table` may be a Table), or an Operation
    axis, centre, stock, clearance   where the input says them
    tool_names    by number, of tools that have no name in `tools`
    notices       what was changed or left out
    """

    name: str
    units: str
    tools: Mapping[int, Mapping[str, Any]]
    operations: tuple[Mapping[str, Any] | Operation, ...]
    axis: str | None = None
    centre: tuple[float, float, float] | None = None
    stock: Stock | None = None
    clearance: float | None = None
    tool_names: Mapping[int, str] = field(default_factory=dict)
    notices: tuple[Notice, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Reader:
    """One kind of input. A package adds its own by an entry point in the group `steadyrest.readers` that names a Reader.

    kind          what a user calls it: small letters, digits and hyphens
    speaks        one sentence: what it reads, and the source of its rules
    endings       of files of this kind, small, each with its point
    recognises    whether the first 64 KiB of a file can only be of this kind; False where they may be another's
    read          the file as a Piece. InputError, or one of its kind, for whatever is wrong with it; never a shortened Piece
    """

    kind: str
    speaks: str
    endings: tuple[str, ...]
    recognises: Callable[[bytes], bool]
    read: Callable[[Path, InputOptions, PartOptions], Piece]
