"""Which moves does a table give, and what has to hold for every one of them?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath.columns import CUT, RAPID, RUN_LENGTH, MoveColumns, unit_axes
from steadyrest.toolpath.part import BEYOND, LEAST
from steadyrest.toolpath.table import Table
from steadyrest.toolpath.table_columns import AXIS, Block, check_shape


def stream_table(table: Table, *, simultaneous: bool, place: Place) -> Iterator[MoveColumns]:
    """The moves of a table in runs of columns; ToolpathError with the number of the move, counted over all blocks."""
    first_move = 1
    feed: float | None = None
    axis: Floats | None = None
    for block in table.blocks(place):
        check_shape(block, place, first_move)
        for start in range(0, len(block["motion"]), RUN_LENGTH):  # short runs stay in the processor's cache
            rows = {name: column[start : start + RUN_LENGTH] for name, column in block.items()}
            columns = _checked(rows, simultaneous, place, first_move, feed, axis)
            cuts = np.flatnonzero(columns.kind == CUT)
            if len(cuts):
                feed = float(columns.feed[cuts[-1]])
            if columns.tool_axis is not None:
                axis = columns.tool_axis[-1:].copy()
            first_move += len(columns)
            yield columns


def _checked(
    block: Block, simultaneous: bool, place: Place, first_move: int, feed_before: float | None, axis: Floats | None
) -> MoveColumns:
    def refuse(bad: np.ndarray[Any, Any], key: str, wrong: str, cure: str) -> None:
        if bad.any():
            row = int(np.argmax(bad))
            found = f"{block[key][row]:g}" if key in block else ""
            raise ToolpathError(wrong.format(found=found), place=replace(place, move=first_move + row, key=key), cure=cure)

    for name, column in block.items():
        refuse(~(np.abs(column) < BEYOND), name, f"{{found}} is not a finite number below {BEYOND:g}", "correct it")
    motion = block["motion"]
    n = len(motion)
    refuse((motion != RAPID) & (motion != CUT), "motion", "motion {found}; allowed are 0 rapid, 1 cut", "write 0 or 1")
    kind = motion.astype(np.uint8)
    cut = kind == CUT
    if "feed" in block:
        refuse(cut & (block["feed"] < LEAST), "feed", "the feed of a cut is {found}; it has to be above 0, at least 1e-09", "correct it")
        feed = np.where(cut, block["feed"], np.nan)
    else:
        if feed_before is None:
            refuse(cut, "feed", "a cut before any feed in this operation", "add the column feed to the table")
        feed = np.where(cut, feed_before if feed_before is not None else np.nan, np.nan)
    end = np.empty((n, 3))
    for at, name in enumerate("xyz"):
        end[:, at] = block[name]
    tool_axis: Floats | None = None
    if "i" in block:
        if not simultaneous:
            raise ToolpathError(
                "columns i, j, k are allowed in simultaneous operations only",
                place=replace(place, move=first_move, key="table, i"),
                cure="leave them out, or give the operation the rotary intent 'simultaneous'",
            )
        tool_axis = np.empty((n, 3))
        for at, name in enumerate(AXIS):
            tool_axis[:, at] = block[name]
        tool_axis = unit_axes(tool_axis, place, first_move)
    elif simultaneous:
        if axis is None:
            raise ToolpathError(
                "the tool axis is not known yet: the table of a simultaneous operation has no columns i, j, k",
                place=replace(place, move=first_move, key="table, i"),
                cure="add the columns i, j and k: unit vectors from the tip towards the spindle",
            )
        tool_axis = np.repeat(axis, n, axis=0)
    return MoveColumns(first_move=first_move, kind=kind, end=end, tool_axis=tool_axis, feed=feed)
