"""One operation, carried out: the rotary positioned, the tool brought to the path, the path, and what stands between its moves."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from steadyrest.columns import take
from steadyrest.motion.axis_positions import hole_point, indexed_positions, simultaneous_positions, wrapped_positions
from steadyrest.motion.feeds import Slowed, with_feeds
from steadyrest.motion.holes import Drilling, after_hole, at_rotary, drilled, dwell_word, scaled, why_written_out
from steadyrest.motion.links import WIDEST_TURN_DEG, approach, risen, turn
from steadyrest.motion.model import RAPID, STILL_DEG, Event, Motion, PlanItem, Stand
from steadyrest.motion.setup import Setup, check_replaced_axis
from steadyrest.motion.stretches import Windings, wound
from steadyrest.motion.subdivision import lifted, split_turns
from steadyrest.motion.survey import nearest_turn
from steadyrest.motion.turn_back import kept_in_travel
from steadyrest.notices import CycleSpelledOut, RapidRetracted, Subdivided
from steadyrest.toolpath import MoveColumns
from steadyrest.toolpath.columns import Dwell, Hole, Note, Stop

Moves = Generator[PlanItem, None, Stand]


@dataclass(slots=True)
class Seen:
    """What was met in one operation, for its notices."""

    slowed: Slowed = field(default_factory=Slowed)
    lifted: int = 0
    cut_moves: int = 0
    cut_blocks: int = 0
    spelled: dict[tuple[str, str], int] = field(default_factory=dict)

    def report(self, operation: int, setup: Setup) -> None:
        """Put one notice of each kind into the plan's list."""
        if self.slowed.blocks:
            setup.notices.append(self.slowed.notice(operation, setup))
        if self.lifted:
            setup.notices.append(RapidRetracted(setup.place(operation), self.lifted))
        if self.cut_moves:
            what = "moves" if setup.operation(operation).rotary.intent == "simultaneous" else "arcs"
            within = f"the tip stays within {setup.tolerance:.4g} {'in' if setup.inch else 'mm'} of its path"
            setup.notices.append(Subdivided(setup.place(operation), what, self.cut_moves, self.cut_blocks, within))
        for (cycle, reason), holes in self.spelled.items():
            setup.notices.append(CycleSpelledOut(setup.place(operation), cycle, holes, reason))


def carried_out(number: int, turns: list[int] | None, unfit: bool, stand: Stand, setup: Setup) -> Moves:
    """All passes of an operation, from a retracted tool to its last move; returns where the machine stands then.

    turns    whole turns for each pass; None: the nearest each time
    unfit    the operation fits into no winding of a limited travel and is turned back on the way
    """
    operation, seen = setup.operation(number), Seen()
    intent = operation.rotary.intent
    if intent in ("indexed", "still"):
        angles = operation.rotary.angles if operation.rotary.intent == "indexed" else (0.0,)
        for at, angle in enumerate(angles):
            if at:
                items, stand = risen(stand, number, setup)
                yield from items
            w_deg = -setup.sigma * angle + 0.0
            w_deg += 360.0 * _turn(w_deg, at, turns, stand, setup)
            items, stand = turn(w_deg, stand.entering(), number, setup, clamp=True)
            yield from items
            stand = yield from _flat_pass(number, w_deg, stand, setup, seen)
    else:
        stand = yield from _turning_pass(number, turns, unfit, stand.entering(), setup, seen)
    seen.report(number, setup)
    return stand


def _turn(w_deg: float, at: int, turns: list[int] | None, stand: Stand, setup: Setup) -> int:
    """Whole turns for one pass: as surveyed, else nearest to where the rotary stands."""
    if turns is not None:
        return turns[at]
    return nearest_turn(w_deg, float(np.nan_to_num(stand.rotary_deg[0])), setup) if setup.rotary is not None else 0


def _flat_pass(number: int, w_deg: float, stand: Stand, setup: Setup, seen: Seen) -> Moves:
    """The moves of an indexed or still operation at one angle."""
    for item in _grouped(setup.operation(number).stream()):
        if isinstance(item, MoveColumns):
            rows, after, arcs, blocks = indexed_positions(item, stand, number, setup)
            seen.cut_moves, seen.cut_blocks = seen.cut_moves + arcs, seen.cut_blocks + blocks
            stand, _ = yield from _run(rows, stand, after, number, setup, seen)
        elif isinstance(item, list):
            holes = [scaled(hole, hole.x * setup.scale, hole.y * setup.scale, 0.0, w_deg, setup) for hole in item]
            stand = yield from _holes(holes, stand, number, setup, seen)
            last = item[-1]
            stand = replace(stand, point=np.array([last.x, last.y, last.retract]) * setup.scale)
        elif not isinstance(item, Hole):
            yield _event(item, number, setup)
    return stand


def _turning_pass(number: int, turns: list[int] | None, unfit: bool, stand: Stand, setup: Setup, seen: Seen) -> Moves:
    """The moves of a wrapped or simultaneous operation."""
    wrapped = setup.operation(number).rotary.intent == "wrapped"
    windings = Windings(turns)
    for item in setup.operation(number).stream():
        if isinstance(item, MoveColumns):
            lower = wrapped_positions if wrapped else simultaneous_positions
            before_deg = setup.sigma * stand.phi_deg
            rows, after, moves, blocks = lower(item, stand, number, setup)
            seen.cut_moves, seen.cut_blocks = seen.cut_moves + moves, seen.cut_blocks + blocks
            if windings.whole is None:
                windings.begin(_turn(float(rows.rotary_deg[0, 0]), 0, turns, stand, setup))
            rows = replace(rows, rotary_deg=wound(rows.rotary_deg[:, 0], windings.of_rows(rows, before_deg))[:, None])
            if np.isnan(stand.point[0]):
                items, stand = turn(float(rows.rotary_deg[0, 0]), stand, number, setup, clamp=False)
                yield from items
            stand, added = yield from _run(rows, stand, after, number, setup, seen, unfit=unfit)
            windings.turned_back(added)
        elif isinstance(item, Hole):
            place, w_deg, after = hole_point(item, stand, number, setup)
            windings.hole(_turn(w_deg, 0, turns if windings.whole is None else None, stand, setup))
            height = float(place[2]) - item.retract * setup.scale
            hole = scaled(item, float(place[0]), float(place[1]), height, w_deg + 360.0 * (windings.whole or 0), setup)
            stand, added = yield from _turned_to_hole(hole, stand, number, setup, unfit)
            windings.turned_back(added)
            stand = yield from _holes([at_rotary(hole, float(stand.rotary_deg[0]))], stand, number, setup, seen)
            stand = replace(stand, point=after.point, phi_deg=after.phi_deg)
        else:
            yield _event(item, number, setup)
    return stand


def _run(
    rows: Motion, stand: Stand, after: Stand, number: int, setup: Setup, seen: Seen, *, unfit: bool = False
) -> Generator[PlanItem, None, tuple[Stand, int]]:
    """One run of rows, come to where it starts if it is the first; `after` is the stand in the operation's own coordinates.

    unfit     the operation does not fit the travel: turn back on the way
    returns   the stand, and the whole turns that were added
    """
    check_replaced_axis(rows.xyz, rows.move, number, setup)
    rows, stand = yield from _entered(rows, stand, number, setup)
    rows, low = lifted(rows, stand, setup.clear)
    rows = replace(rows, operation=number, rule="rapid" if bool((rows.kind == RAPID).all()) else "cut")
    seen.lifted += low
    added, rotary = 0, setup.rotary
    if len(rows) and unfit:
        stand, added = yield from kept_in_travel(rows, stand, number, setup, seen.slowed)
    elif len(rows):
        if rotary is not None and rotary.travel.kind == "rollover":
            rows = split_turns(rows, stand, WIDEST_TURN_DEG[rotary.travel.rule], setup)
        run, stand = with_feeds(rows, stand, setup, seen.slowed)
        yield run
    return replace(stand, point=after.point, phi_deg=after.phi_deg), added


def _entered(rows: Motion, stand: Stand, number: int, setup: Setup) -> Generator[PlanItem, None, tuple[Motion, Stand]]:
    """Before the first point of a pass: over it and down. A rapid to it is then done; a cut to it goes down at its feed."""
    if not np.isnan(stand.point[0]):
        return rows, stand
    cutting = bool(rows.kind[0] != RAPID)
    items, stand = approach(rows.xyz[0], stand, number, setup, cutting=cutting)
    yield from items
    if not cutting:
        return take(rows, slice(1, None)), stand
    tip = rows.tip.copy()
    tip[0] = abs(float(stand.xyz[2] - rows.xyz[0, 2]))
    return replace(rows, tip=tip), stand


def _holes(holes: list[Drilling], stand: Stand, number: int, setup: Setup, seen: Seen) -> Moves:
    """Holes at one rotary angle, in cycles of holes that are alike."""
    if setup.rotary is not None and setup.rotary.replaces:
        places = np.array([[hole.x, hole.y, hole.retract] for hole in holes])
        check_replaced_axis(places, np.array([hole.hole.move for hole in holes]), number, setup)
    if np.isnan(stand.point[0]):
        first = holes[0]
        items, stand = approach(np.array([first.x, first.y, first.retract]), stand, number, setup, cutting=False)
        yield from items
    group: list[Drilling] = []
    for hole in [*holes, None]:
        if group and (hole is None or not group[0].alike(hole)):
            yield from drilled(group, stand, number, setup, seen.slowed)
            stand, group = after_hole(group[-1], stand), []
        if hole is not None:
            group.append(hole)
            if reason := why_written_out(hole.hole, setup):
                key = hole.hole.cycle, reason
                seen.spelled[key] = seen.spelled.get(key, 0) + 1
    return stand


def _turned_to_hole(hole: Drilling, stand: Stand, number: int, setup: Setup, unfit: bool) -> Generator[PlanItem, None, tuple[Stand, int]]:
    """The rotary to a hole's angle, the tool risen first where it is too low to turn; returns the whole turns added."""
    assert setup.rotary is not None
    added = 0
    if unfit:
        travel = setup.rotary.travel
        while hole.w_deg + 360.0 * added > travel.highest:
            added -= 1
        while hole.w_deg + 360.0 * added < travel.lowest:
            added += 1
    target = hole.w_deg + 360.0 * added
    if abs(target - float(stand.rotary_deg[0])) < STILL_DEG:  # where it is not known, it turns
        return stand, added
    items, stand = risen(stand, number, setup)
    yield from items
    items, stand = turn(target, stand, number, setup, clamp=False)
    yield from items
    return stand, added


Item = MoveColumns | Dwell | Hole | Stop | Note


MOST_HOLES = 50_000
"""Holes of one cycle: where there are more, a new cycle begins, so that memory stays flat."""


def _grouped(stream: Iterable[Item]) -> Iterator[Item | list[Hole]]:
    """Neighbouring holes as lists of at most `MOST_HOLES`."""
    holes: list[Hole] = []
    for item in stream:
        if isinstance(item, Hole) and len(holes) < MOST_HOLES:
            holes.append(item)
            continue
        if holes:
            yield holes
            holes = []
        if isinstance(item, Hole):
            holes.append(item)
        else:
            yield item
    if holes:
        yield holes


def _event(item: Dwell | Stop | Note, number: int, setup: Setup) -> Event:
    if isinstance(item, Dwell):
        return Event("dwell", number, "move", move=item.move, words={"time": dwell_word(item.seconds, setup)})
    if isinstance(item, Stop):
        return Event("stop", number, "move", move=item.move, facts={"optional": item.optional})
    return Event("note", number, "move", move=item.move, facts={"text": item.text})
