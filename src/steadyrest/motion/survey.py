"""The look ahead: which angles every operation needs, so that the whole turns can be chosen for all of them together.

Inside an operation the rotary may wind otherwise at its rapids and holes. A stretch runs from a rapid, or a hole, to before the next one.
Its angles belong together; between two stretches any number of whole turns may be added, for the tool goes up before the rotary turns at
rapid (design, rules of motion).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.axis_positions import hole_positions, simultaneous_positions, wrapped_positions
from steadyrest.motion.choice import Stretch, choose, counts_of, standing
from steadyrest.motion.kinematics import unwound
from steadyrest.motion.links import arriving_travel
from steadyrest.motion.model import STILL_DEG, Motion, spot, unknown
from steadyrest.motion.planes import lyings
from steadyrest.motion.setup import Setup
from steadyrest.motion.winding import Unfit, turns_into, window
from steadyrest.progress import TURNS, Work
from steadyrest.toolpath import Holes, MoveColumns, moves_in

MOST_STRETCHES = 20_000
"""In an operation with more of them, parts between pauses counted, every rapid turns the shorter way, and only where
it begins is chosen: memory has to stay bounded."""


@dataclass(slots=True)
class Windings:
    """The whole turns of an operation's stretches, met one after the other.

    chosen   whole turns of each stretch; None: every rapid and hole turns the shorter way
    whole    whole turns in force; None before the first stretch
    """

    chosen: list[int] | None = None
    whole: int | None = None
    _met: int = 0
    _at_rapid: bool = True

    def hole(self, nearest: int) -> int:
        """The turns of a hole that comes next, the shorter way to which is in turn `nearest`."""
        self._at_rapid = False
        self._met += self.whole is not None
        self.whole = self.chosen[self._met] if self.chosen is not None else nearest
        return self.whole

    def wound(self, rows: Motion, before_deg: float) -> tuple[Motion, Ints]:
        """Rows that come from `before_deg`, NaN at the operation's start, with their whole turns; and which of them begin a stretch."""
        assert self.whole is not None
        w_deg = rows.rotary_deg[:, 0]
        # rapids that turn begin one, and the first of several that do not; at the operation's start none for itself
        rapid = rows.kind == RAPID
        turning = np.abs(np.diff(w_deg, prepend=before_deg)) > STILL_DEG  # NaN, before the first, does not turn
        found = np.flatnonzero(rapid & (turning | ~np.concatenate([[self._at_rapid], rapid[:-1]])))
        self._at_rapid = bool(rapid[-1])
        turns = np.zeros(len(rows), dtype=np.int64)
        if self.chosen is not None:
            turns[found] = np.diff(self.chosen[self._met : self._met + len(found) + 1])
        else:
            way = w_deg[found] - np.where(found > 0, w_deg[found - 1], before_deg)
            turns[found] = -np.sign(way) * np.ceil(np.maximum(np.abs(way) - 180.0, 0.0) / 360.0)
        turns = self.whole + np.cumsum(turns)
        self._met += len(found)
        self.whole = int(turns[-1])
        return (replace(rows, rotary_deg=(w_deg + 360.0 * turns)[:, None]) if turns.any() else rows), found


def surveyed(setup: Setup, start_w_deg: float) -> tuple[Mapping[int, list[int]], set[int]]:
    """Whole turns for every operation, one for each angle it stands at, or each stretch where it turns while cutting.

    An operation of which a stretch fits into no winding is one in all: it is turned back on the way.

    returns   the turns by the number of the operation, and the numbers of operations that fit into no winding and have to be turned back;
              nothing where the travel has no end and nothing goes back to zero: each link is then least by itself, and so is their sum
    raises    PlanError where an operation needs more than the travel and the profile says to refuse it
    """
    if setup.rotary is None:
        return {}, set()
    travel, unwinding = setup.rotary.travel, setup.rotary.unwinding
    if travel.kind != "limited" and "zero" not in (unwinding.at_end, unwinding.between):
        return {}, set()
    rotaries = (setup.rotary,)
    spans: list[Stretch] = []
    in_one: dict[int, Stretch] = {}
    work = Work(setup.work.progress, TURNS, sum(one.moves_there for one in setup.toolpath.operations))
    for number, operation in enumerate(setup.toolpath.operations, 1):
        before = work.done
        stretches, one = operation_spans(number, setup, work)
        work.to(before + operation.moves_there)
        spans += stretches
        if one is not None and len(stretches) > 1:
            in_one[number] = one
    turns: defaultdict[int, list[int]] = defaultdict(list)
    unfit: set[int] = set()
    while spans:
        # What comes before the one that does not fit is chosen by itself, and what follows from where its turning back leaves it.
        fit, failed = len(spans), None
        while isinstance(chosen := choose(spans[:fit], rotaries, (start_w_deg,)), Unfit):
            fit, failed = chosen.index, chosen
        number = spans[fit].operation if failed is not None else 0
        if number in in_one:  # no stretch of it is too wide: it cannot arrive at one of them, and is turned back instead
            at = next(index for index, span in enumerate(spans) if span.operation == number)
            spans = [*spans[:at], in_one.pop(number), *(span for span in spans[at:] if span.operation != number)]
            continue
        for span, choice in zip(spans, chosen, strict=False):
            turns[span.operation].append(choice.turns[0])
        if failed is not None:
            turns[number].append(_first_turn(spans[fit], failed, setup))
            unfit.add(number)
            end_w = float(spans[fit].end_deg[0, 0])
            start_w_deg = end_w + 360.0 * turns_into(end_w, travel)
        spans = spans[fit + 1 :]
    return turns, unfit


def _first_turn(span: Stretch, unfit: Unfit, setup: Setup) -> int:
    """Where an operation that does not fit begins: with the most room in the direction in which it goes on.

    raises    PlanError where turning back on the way is no cure, or not wanted
    """
    assert setup.rotary is not None
    travel, arriving = setup.rotary.travel, arriving_travel(setup.rotary)
    start_w, end_w, lowest_w, highest_w = (float(each[0, 0]) for each in (span.start_deg, span.end_deg, span.lowest_deg, span.highest_deg))
    still = highest_w - lowest_w < STILL_DEG
    if still or travel.when_exceeded == "refuse":
        if unfit.overshoot:
            wrong = (
                f"the rotary cannot arrive at {start_w:.3f} degrees from {setup.rotary.unwinding.arrive_from}: "
                f"its travel from {travel.lowest:g} to {travel.highest:g} leaves no room to overshoot"
            )
            cure = "make rotary unwinding.overshoot smaller, or set unwinding.between to shortest"
        else:
            wrong = (
                f"the operation needs the rotary from {lowest_w:.3f} to {highest_w:.3f} degrees, "
                f"{highest_w - lowest_w:.3f} in all; "
                f"the travel of {setup.letter} is {travel.lowest:g} to {travel.highest:g}: it fits in no whole turn"
            )
            cure = "use other angles" if still else "split the operation, or set rotary travel.when_exceeded to turn_back"
        raise PlanError(wrong, place=setup.place(span.operation), cure=cure)
    return ceil((arriving.lowest - start_w) / 360.0) if end_w >= start_w else floor((arriving.highest - start_w) / 360.0)


def operation_spans(number: int, setup: Setup, work: Work | None = None) -> tuple[list[Stretch], Stretch | None]:
    """The angles W that an operation needs, before whole turns are added: in stretches; and in one, if it turns while cutting.

    work   counts the moves that are gone through
    """
    operation = setup.operation(number)
    rotary = operation.rotary
    if rotary.intent == "still":
        return [standing(np.zeros((1, 1)), number)], None
    if rotary.intent == "indexed":
        return [standing(np.array([lying.rotary_deg]), number) for (lying,) in lyings(number, setup)], None
    positions = wrapped_positions if rotary.intent == "wrapped" else simultaneous_positions
    stand, nearest = unknown(1), Windings(whole=0)
    parts: list[Floats] = []
    one: list[float] = []  # start, end, least and most of all of it, as it is carried out when every rapid turns the shorter way
    met = 0
    for item in operation.stream():
        if work is not None:
            work.on(moves_in(item))
        if isinstance(item, MoveColumns):
            before_deg = setup.sigma * stand.phi_deg
            rows, stand, _, _ = positions(item, stand, number, setup)
            shorter, found = nearest.wound(rows, before_deg)
            w_deg, shorter_deg = rows.rotary_deg[:, 0], shorter.rotary_deg[:, 0]
        elif isinstance(item, Holes):
            points, _, phi_deg = hole_positions(item, number, setup)
            w_deg, found = setup.sigma * phi_deg, np.arange(len(item))
            shorter_deg = unwound(w_deg, one[1] if one else w_deg[0])
            nearest.hole(round((shorter_deg[-1] - w_deg[-1]) / 360.0))
            stand = stand._replace(point=spot(points[-1]), phi_deg=float(phi_deg[-1]))
        else:
            continue
        low, high = float(shorter_deg.min()), float(shorter_deg.max())
        begin, _, lowest, highest = one or [float(shorter_deg[0]), 0.0, low, high]
        one = [begin, float(shorter_deg[-1]), min(lowest, low), max(highest, high)]
        if met <= MOST_STRETCHES:
            parts.append(_parts(w_deg, found, holes=isinstance(item, Holes)))
            met += len(parts[-1])
    if not one:
        return [standing(np.zeros((1, 1)), number)], None
    (whole,), stretches = _stretches(np.array([[*one, 1.0, 1.0]]), number), _joined(np.vstack(parts))
    assert setup.rotary is not None
    travel = setup.rotary.travel
    fewest, most = window(counts_of(stretches[:, 2]), counts_of(stretches[:, 3]), travel)
    if met > MOST_STRETCHES or (travel.kind == "limited" and (fewest > most).any()):
        return [whole], whole
    return _stretches(stretches, number), whole


def _parts(w_deg: Floats, found: Ints, *, holes: bool) -> Floats:
    """From the first row and from each found to begin a stretch: start, end, lowest, highest; whether one begins there, with a hole."""
    begins, at = np.zeros(len(w_deg)), np.append(0, found[found > 0])
    begins[found] = 1.0
    lowest, highest = np.minimum.reduceat(w_deg, at), np.maximum.reduceat(w_deg, at)
    return np.column_stack([w_deg[at], w_deg[[*at[1:] - 1, -1]], lowest, highest, begins[at], np.full(len(at), holes)])


def _joined(parts: Floats) -> Floats:
    """The same (m, 6) of the stretches of which these (n, 6) are the parts, the first turned to."""
    start, end, lowest, highest, begins, turned_to = parts.T
    begins[0] = turned_to[0] = 1.0
    at = np.flatnonzero(begins)
    ends = end[[*at[1:] - 1, -1]]
    return np.column_stack([start[at], ends, np.minimum.reduceat(lowest, at), np.maximum.reduceat(highest, at), begins[at], turned_to[at]])


def _stretches(rows: Floats, operation: int) -> list[Stretch]:
    """The stretches of rows (n, 6)."""
    start, end, lowest, highest = rows[:, :4].T[..., None, None]
    each = zip(start, end, lowest, highest, (rows[:, 5] > 0).tolist(), strict=True)
    return [Stretch(first, last, low, high, operation, turns) for first, last, low, high, turns in each]
