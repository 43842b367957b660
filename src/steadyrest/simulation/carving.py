"""Which way of carving is used: whole arrays at first, compiled loops from some thousands of positions on where numba is installed."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import ToolSolid
from steadyrest.simulation.taken import nothing_taken, together

Carving = Literal["auto", "arrays", "compiled"]
WORTH_COMPILING = 2_000
"""Positions; starting the compiler costs as much as some thousand positions in whole arrays, ten times that the first time on a machine."""
MOST_THREADS = 4


class Carver:
    """A field being carved, and which operation last changed what can be seen of each line."""

    def __init__(self, field: Field, way: Carving = "auto", threads: int | None = None) -> None:
        if way == "compiled" and find_spec("numba") is None:
            raise ValueError("compiled carving needs numba: install steadyrest[fast]")
        self.field = field
        self.last = np.zeros(field.shape, dtype=np.uint16)
        self.done = 0
        self._way = way
        self._can_compile = find_spec("numba") is not None
        self._threads = threads or min(os.cpu_count() or 1, MOST_THREADS)
        self._sine, self._cosine = np.sin(field.second), np.cos(field.second)

    @property
    def top_mm(self) -> float:
        """The outermost material on any line."""
        return float(self.field.outer_mm.max(initial=0.0))

    def carve(self, table: Floats, operation: int, solids: tuple[ToolSolid, ToolSolid], touch_mm: float) -> Floats:
        """Take stamps (k, 10) out; what each took and touched, (k, COLUMNS) of `taken`. `solids`: of cuts, and the one of rapids."""
        self.done += len(table)
        if self._way == "compiled" or (self._way == "auto" and self._can_compile and self.done > WORTH_COMPILING):
            return self._compiled(table, operation, solids, touch_mm)
        from steadyrest.simulation.arrays import carve

        return carve(self.field, self.last, table, operation, solids, touch_mm)

    def _compiled(self, table: Floats, operation: int, solids: tuple[ToolSolid, ToolSolid], touch_mm: float) -> Floats:
        from steadyrest.simulation.loops_over_stamps import Around, Lines, Work, carve_heights, carve_radii

        field = self.field
        tools = np.array([_numbers(solid) for solid in solids])
        grid = np.array([field.first_mm[0], field.first_step_mm, field.second_step, field.second[0]])
        parts = self._threads
        out = [nothing_taken(len(table)) for _ in range(parts)]
        lines = Lines(field.outer_mm, field.gaps_mm, field.gaps_held, self.last, grid, field.first_mm)
        around = Around(self._sine, self._cosine, field.outer_mm.max(axis=1).astype(np.float64))

        def carve_part(part: int) -> None:
            work = Work(table, operation, tools, touch_mm, part, parts, out[part])
            if field.chart == "radii":
                carve_radii(lines, around, work)
            else:
                carve_heights(lines, field.second, work)

        if parts == 1:
            carve_part(0)
            return together(out)
        with ThreadPoolExecutor(parts) as pool:  # the compiler lets one thread in at a time; the loops run without its lock
            for _ in pool.map(carve_part, range(parts)):
                pass
        return together(out)


def _numbers(solid: ToolSolid) -> NDArray[np.float64]:
    """A solid as the compiled loops take it."""
    whole = (solid.kind, solid.radius_mm, solid.flat_mm, solid.corner_mm, solid.widening, solid.lift_mm)
    return np.array([*whole, solid.cutting_mm, solid.length_mm, solid.holder_mm])
