"""Carries a program read back out on the stock: keeps the tool in hand, counts the operations, and takes the tool's way out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from itertools import pairwise
from math import isnan, nan
from typing import Any, Protocol

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import RAPID
from steadyrest.errors import Place, ProgramError
from steadyrest.profile import Profile, has_one_in_table, rotaries_of
from steadyrest.proof import Frame, as_mounted, poses, setting_of
from steadyrest.reading import EventRead, MotionRead, ProgramItem, sigma
from steadyrest.simulation.carving import Carver, Carving
from steadyrest.simulation.cut import Account, Cut, OperationCut, Side
from steadyrest.simulation.dexel import CELL_MM, Dexels, billet_of, stock_dexels
from steadyrest.simulation.dexel_carving import DexelCarver
from steadyrest.simulation.dexel_history import POSES_BETWEEN, DexelRecorder
from steadyrest.simulation.dexel_view import Looking, Sight
from steadyrest.simulation.dexel_way import UP, PoseChart, Steps
from steadyrest.simulation.field import Field, Section, mm_per_unit, stock_field
from steadyrest.simulation.history import Recorder, every_so_many
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, SHANK, VOLUME
from steadyrest.simulation.solid import Solids, ToolSolid, solid_of, solids_of
from steadyrest.simulation.stock import Uncut
from steadyrest.simulation.walls import WallFinder, Walls
from steadyrest.simulation.way import STAMPS_AT_ONCE, Chart
from steadyrest.toolpath import Toolpath

Progress = Callable[[int, int], None]
LEAST_OFF_MM, OFF_OF_CELL = 0.002, 0.03
LEAST_TOUCH_MM, TOUCH_OF_OFF = 0.01, 6.0
ABOVE_MM = 100.0
MOST_OPERATIONS = 65535
SEEN_UNCUT = 64, 256
"""Lines of what is shown of a stock out of which nothing is taken."""


class Look(Protocol):
    """What looks at stamps in the place of a carver: `Uncut` and `Remaining` at those of radii, those of billets at poses."""

    done: int

    def reached(self, chart: Any, way: Any, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at."""

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """What stamps touch, (k, COLUMNS) of `kernel`."""


class Simulation:
    """Feed it the items of `read_program` in order, then ask for the result.

    toolpath        for its axis of rotation, stock and tools only; its moves are never looked at. Where the job stands end for end, so
                    does the field: it is that of the stock on the machine
    profile         for the rotary's mounting
    rotary_letter   which of the profile's rotaries; by default the one along the toolpath's axis
    stock           a field, or dexels, to begin with in place of the toolpath's stock, such as an earlier program left (it is copied)
    along, around   lines of the field, see `stock_field`; of dexels those of what is seen of them
    gauge_lengths   of the tools by their numbers, file units; needed where a head turns
    operation_lines first lines of the operations, rising; none: all is one
    off_mm          how far the swept tool may be missed between two positions; by default 0.03 cells, at least 0.002 mm
    carving         "arrays", "compiled" (needs numba), or "auto": as the number of positions makes worth it
    carver          what takes the stamps in place of a carver: for a quick look, or, over a field of its own, to find walls
    history         at most so many rows and columns of the field of which a `History` is kept, of dexels of each of their sides; None: none
                    is, and of dexels only the first side is told
    at_once         positions between two calls of `progress`
    progress        called now and then with the line reached and the positions simulated so far
    raises          ToolpathError without stock; ProfileError for a rotary that is not there; ProgramError for a tool that the toolpath
                    does not have; InputError for a gauge length that is missing; ValueError for carving, along or around that cannot be
    """

    def __init__(
        self,
        toolpath: Toolpath,
        profile: Profile,
        *,
        rotary_letter: str | None = None,
        stock: Field | Dexels | None = None,
        along: int | None = None,
        around: int | None = None,
        gauge_lengths: Mapping[int, float] | None = None,
        operation_lines: Sequence[int] = (),
        off_mm: float | None = None,
        carving: Carving = "auto",
        carver: Look | WallFinder | None = None,
        history: tuple[int, int] | None = None,
        at_once: int = STAMPS_AT_ONCE,
        progress: Progress | None = None,
    ) -> None:
        self._toolpath, self._profile = toolpath, profile
        self._scale = mm_per_unit(toolpath)
        self._quick = None if isinstance(carver, WallFinder) else carver
        self._cells = along, around
        self._recorder: Recorder | DexelRecorder | None = None
        self._sights: tuple[Sight, ...] = ()
        self._carver: Carver | DexelCarver | Look
        self._chart: Chart | PoseChart
        if has_one_in_table(profile):
            own = carver if isinstance(carver, Uncut | WallFinder) else None
            self._by_radii(rotary_letter, stock if isinstance(stock, Field) else None, off_mm, carving, history, own)
        else:
            self._by_dexels(gauge_lengths or {}, stock if isinstance(stock, Dexels) else None, off_mm, carving, history)
        self._at_once = at_once if not isinstance(self._recorder, DexelRecorder) else min(at_once, POSES_BETWEEN)
        self._solids: dict[int, Solids] = {}
        self._progress = progress
        self._operation_lines = tuple(operation_lines)
        self._tool, self._selected = nan, nan
        self._clear = False
        self._unknown: list[int] = []
        self._blocks = 0

    def _by_radii(
        self,
        letter: str | None,
        stock: Field | None,
        off_mm: float | None,
        carving: Carving,
        history: tuple[int, int] | None,
        own: Uncut | WallFinder | None,
    ) -> None:
        """With one rotary in the table, or none, every tool axis lies across the axis of rotation: radii see all of it."""
        rotary = next(iter(rotaries_of(self._profile, self._toolpath.axis, letter).values()), None)
        toolpath = self._toolpath = as_mounted(self._toolpath, rotary)
        if own is not None:
            field = own.field
        else:
            field = stock.rows() if stock is not None else stock_field(toolpath, *self._cells)
        self._stock_mm3 = field.volume_mm3()
        if history is not None:
            every = every_so_many(field, history)
            carver = Carver(field, carving, every)
            self._carver, self._recorder = carver, Recorder(carver, every)
        else:
            self._carver = own or Carver(field, carving)
        self._account = Account(field)
        off = off_mm if off_mm is not None else max(LEAST_OFF_MM, OFF_OF_CELL * field.cell_mm)
        self._touch_mm = max(LEAST_TOUCH_MM, TOUCH_OF_OFF * off)
        frame = Frame(toolpath.axis, np.array(toolpath.centre, dtype=np.float64) * self._scale)
        turns = sigma(rotary.chuck_faces, rotary.positive_turns_chuck) if rotary is not None else 0
        replaced = rotary.replaces if rotary is not None else ""
        self._chart = Chart(field, frame, off, 0.5 * field.cell_mm, float(field.outer_mm.max(initial=0.0)), turns, replaced)

    def _by_dexels(
        self,
        gauge_lengths: Mapping[int, float],
        stock: Dexels | None,
        off_mm: float | None,
        carving: Carving,
        history: tuple[int, int] | None,
    ) -> None:
        """Where two rotaries turn, or a head, the tool may stand at any tilt."""
        setting = setting_of(self._toolpath, self._profile, None, None, gauge_lengths)
        billet, centre = billet_of(self._toolpath), setting.frame.centre_mm
        low, high, cell = billet.low, billet.high, CELL_MM
        if self._quick is not None:
            self._carver, self._stock_mm3 = self._quick, 0.0
        else:
            dexels = stock.copy() if stock is not None else stock_dexels(billet)
            self._carver, self._stock_mm3 = DexelCarver(dexels, self._toolpath.axis, carving), dexels.volume_mm3()
            axis, ways = self._toolpath.axis, list[Looking](["outward", "from the high end", "from the low end"])
            if axis == "Z":
                ways[:2] = ways[1::-1]
            self._sights = tuple(Sight(dexels, axis, way, *self._cells) for way in (ways if history is not None else ways[:1]))
            if history is not None:
                self._recorder = DexelRecorder(self._carver, self._sights, history)
            low, high, cell = dexels.low, dexels.high, dexels.cell_mm
        self._account = Account()
        off = off_mm if off_mm is not None else max(LEAST_OFF_MM, OFF_OF_CELL * cell)
        self._touch_mm = max(LEAST_TOUCH_MM, (UP + 1) * off, cell / 4)
        self._chart = PoseChart(
            Steps(low, high, off, 0.5 * cell),
            centre,
            float(centre[2]) + setting.top_mm,
            lambda tool: partial(poses, setting.lines_with(tool)),
        )

    def of(self, items: Iterable[ProgramItem]) -> Cut:
        """What comes of a whole program."""
        for item in items:
            self.take(item)
        return self.result()

    def take(self, item: ProgramItem) -> None:
        """Carry out the next item of the program."""
        if isinstance(item, EventRead):
            self._switch(item)
        elif len(item):
            self._move(item)

    def left(self) -> Field | Dexels:
        """What is left of the stock, to be cut on by another program."""
        return self._carver.dexels if isinstance(self._carver, DexelCarver) else self._sides()[0].field

    def result(self) -> Cut:
        """What has come of it so far. Arrays are those of the simulation itself: ask once, at the end, or copy the field."""
        account = self._account
        operations = tuple(one for _, one in sorted(account.operations.items()))
        return Cut(
            sides=self._sides(),
            stock_mm3=self._stock_mm3,
            removed_mm3=sum(one.removed_mm3 for one in operations),
            operations=operations,
            touches={name: account.touches(column) for name, column in (("rapid", DEPTH), ("shank", SHANK), ("holder", HOLDER))},
            unknown_lines=tuple(sorted(set(self._unknown))),
            touch_mm=self._touch_mm,
            dexel_mm=self._carver.dexels.cell_mm if isinstance(self._carver, DexelCarver) else None,
        )

    def _sides(self) -> tuple[Side, ...]:
        """What is seen. Of dexels' other sides, those of which something was cut; but about Z that all round is always one."""
        if isinstance(self._carver, DexelCarver):
            recorder = self._recorder
            histories = recorder.histories() if isinstance(recorder, DexelRecorder) else (None,) * len(self._sights)
            sides = [sight.side(self._carver.dexels, one) for sight, one in zip(self._sights, histories, strict=True)]
            return tuple(one for at, one in enumerate(sides) if at == 0 or one.field.chart == "radii" or one.last_cut.any())
        if isinstance(self._chart, PoseChart):
            field = stock_field(self._toolpath, *SEEN_UNCUT)
            return (Side.of(field, np.zeros(field.shape, dtype=np.uint16)),)
        last = self._carver.last if isinstance(self._carver, Carver) else np.zeros((0, 0), dtype=np.uint16)
        return (Side.of(self._chart.field, last, self._recorder.history() if isinstance(self._recorder, Recorder) else None),)

    def _switch(self, event: EventRead) -> None:
        by_hand = event.kind == "stop" and not self._profile.tool.change and self._selected != self._tool and not isnan(self._selected)
        if event.kind == "tool_selected":
            self._selected = event.number
        elif event.kind == "tool_change" or by_hand:  # by hand: while the program waits
            self._tool = self._selected = self._selected if by_hand or isnan(event.number) else event.number
        elif event.kind == "retract":
            self._clear = True

    def _move(self, read: MotionRead) -> None:
        tool = self._tool_in_hand()
        chart = self._chart.with_tool(tool)
        clear = self._clear or bool(np.isfinite(read.vertex_mm[0, 2]))  # a height that gets lost on the way was left upwards
        way: Any = chart.way(read, chart.over_mm + ABOVE_MM if clear else nan)  # of that chart, which alone looks into it
        self._clear = clear and not np.isfinite(read.end_mm[-1, 2])
        lines, rapid = read.line, read.motion == RAPID
        low = read.end_mm[:, 2] < chart.over_mm  # not so where it is not known
        nowhere = ~way.known & ~read.clear & (low | (~rapid & np.isfinite(read.end_mm).any(axis=1)))
        self._unknown += lines[nowhere].tolist()
        for operation, _ in self._operations(lines):
            self._account.operations.setdefault(operation, OperationCut(operation))
        # Of a tool that is not known any solid of the toolpath will do: then the first block near the stock says so.
        solid = self._solids[tool].cut if tool in self._solids else solid_of(self._toolpath.tools[0], self._scale)
        if self._quick is not None and tool in self._solids:
            reached = self._quick.reached(chart, way, rapid, solid)
        else:
            reached = chart.in_reach(way, solid)
        if len(reached):
            self._cut(read, chart, way, reached, tool)
        self._blocks += len(read)
        if self._progress is not None:
            self._progress(int(lines[-1]), self._carver.done)

    def _cut(self, read: MotionRead, chart: Chart | PoseChart, way: Any, reached: Ints, tool: int) -> None:
        lines, rapid = read.line, np.asarray(read.motion == RAPID)
        if tool not in self._solids:
            known = ", ".join(str(one.number) for one in self._toolpath.tools)
            wrong = (
                f"tool {tool} is not in the toolpath, which has {known}" if tool else f"it is not known which tool cuts: {known} are there"
            )
            place = Place(line=int(lines[reached[0]]))
            raise ProgramError(wrong, place=place, cure="change the program to a tool of the toolpath before it cuts")
        self._unknown += [int(lines[block]) for block in reached[way.guessed[reached]]]
        solids = self._solids[tool]
        for operation, part in self._operations(lines):
            blocks = reached[(reached >= part.start) & (reached < part.stop)]
            pieces: list[tuple[Ints, Floats]] = []
            for table, block, share in chart.stamps(way, blocks, rapid, solids.cut, self._at_once):
                taken = self._carver.carve(table, operation, solids, self._touch_mm)
                if self._recorder is not None:
                    self._recorder.add(self._blocks + block + share, table, solids.cut)
                self._account.add(operation, lines[block], rapid[block], taken)
                pieces.append((block, taken[:, [VOLUME, AXIAL]]))
                if self._progress is not None:
                    self._progress(int(lines[block[-1]]), self._carver.done)
            if pieces:
                self._rate(operation, read, chart, way, pieces, solids.cut.radius_mm)

    def _rate(
        self, operation: int, read: MotionRead, chart: Chart | PoseChart, way: Any, pieces: list[tuple[Ints, Floats]], radius_mm: float
    ) -> None:
        """The rate of what the stamps took: their blocks, and volume and height over the tip (k, 2). Only time in the material counts."""
        block, taken = np.concatenate([one for one, _ in pieces]), np.concatenate([one for _, one in pieces])
        parts = np.bincount(block, minlength=len(read))
        cuts = np.flatnonzero((taken[:, 0] > 0) & (read.motion[block] != RAPID) & way.known[block])
        if not len(cuts):
            return
        block, volume, height = block[cuts], taken[cuts, 0], taken[cuts, 1]
        length = chart.tip_mm(way)[block] / parts[block]
        plunges = (parts[block] == 1) & chart.plunges(way)[block]
        share = np.where(plunges & (height > 0), np.minimum(height / np.maximum(length, 1e-12), 1.0), 1.0)
        in_material, long = length * share, max(radius_mm, 1e-3)
        stretch = np.floor((np.cumsum(in_material) - 0.5 * in_material) / long)
        stretch = np.cumsum(np.diff(stretch, prepend=stretch[0]) > 0)
        lengths = np.bincount(stretch, in_material)
        if len(lengths) > 1 and lengths[-1] < 0.5 * long:  # a short rest says nothing on its own
            stretch = np.minimum(stretch, len(lengths) - 2)
        minutes = np.bincount(stretch, read.minutes[block] / parts[block] * share)
        known = np.isfinite(minutes) & (minutes > 0)
        rates = np.where(known, np.bincount(stretch, volume) / np.where(known, minutes, 1.0), 0.0)
        most, here = int(np.argmax(rates)), self._account.operations[operation]
        if known.any() and not here.rate_mm3_per_min >= rates[most]:
            here.rate_mm3_per_min, here.rate_line = float(rates[most]), int(read.line[block[np.argmax(stretch == most)]])

    def _operations(self, lines: Ints) -> list[tuple[int, slice]]:
        """Which blocks of a run belong to which operation, in order."""
        numbers = np.clip(np.searchsorted(self._operation_lines, lines, side="right"), 1, MOST_OPERATIONS)
        edges = [0, *(np.flatnonzero(np.diff(numbers)) + 1).tolist(), len(lines)]
        return [(int(numbers[a]), slice(a, b)) for a, b in pairwise(edges)]

    def _tool_in_hand(self) -> int:
        """The tool's number. A program that names none has the only tool of the toolpath."""
        if isnan(self._tool):
            tools = self._toolpath.tools
            tool = tools[0].number if len(tools) == 1 and isnan(self._selected) else 0
        else:
            tool = int(self._tool)
        if tool not in self._solids and any(one.number == tool for one in self._toolpath.tools):
            self._solids[tool] = solids_of(solid_of(self._toolpath.tool(tool), self._scale), self._touch_mm)
        return tool


def find_walls(
    items: Iterable[ProgramItem],
    toolpath: Toolpath,
    profile: Profile,
    cut: Cut,
    *,
    rotary_letter: str | None = None,
    off_mm: float | None = None,
    carving: Carving = "auto",
    progress: Progress | None = None,
) -> Walls:
    """Where the walls of a part stand, finer than its lines lie: the same program once more. All as of the `Simulation` that cut it.

    Of dexels nobody knows: their field is only what is seen of them.
    """
    if cut.dexel_mm is not None:
        return Walls(*np.zeros((2, *cut.field.shape), dtype=np.uint8))
    rotary = next(iter(rotaries_of(profile, toolpath.axis, rotary_letter).values()), None)
    mounted = as_mounted(toolpath, rotary)
    assert mounted.stock is not None, "what was cut had a stock"
    finder = WallFinder(cut.field, Section.of(mounted.stock, mounted.axis, mm_per_unit(mounted)), carving)
    Simulation(toolpath, profile, rotary_letter=rotary_letter, off_mm=off_mm, carver=finder, progress=progress).of(items)
    return finder.walls()
