"""Simultaneous operations on a chain of rotaries: their stretches, before all is chosen, and the motion of their runs after it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from steadyrest.columns import Floats, join
from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.around import LAID_OUT, laid_out
from steadyrest.motion.axis_positions import MISS_DEG, Positions
from steadyrest.motion.chain import BOTH, Lines
from steadyrest.motion.choice import Choice, usable
from steadyrest.motion.courses import Allowed, Course, within
from steadyrest.motion.model import Stand, motion, spot
from steadyrest.motion.poles import WIDEST_RAD
from steadyrest.motion.setup import Setup
from steadyrest.motion.simultaneous import Before, Leaning, Limits, at_start, course, leaning, withdrawn
from steadyrest.motion.stretches import Stretches, parted_at_poles, words_deg
from steadyrest.motion.subdivision import countable
from steadyrest.profile import Travel
from steadyrest.progress import Work
from steadyrest.toolpath import Item, MoveColumns, moves_in

WIDEST_DEFAULT_RAD = np.radians(1.0)
"""The axis tolerance that follows from a small tool is no wider."""
MOST_HELD = 200_000
"""Rows that are held back at most until the tool has passed a pole."""
SWINGS_PERCENT = 50.0
"""Where a pole is not to be passed slowly, so much of the feed is left at least beside it."""


def axis_tolerance_rad(number: int, setup: Setup) -> float:
    """How far the tool axis may be off in an operation: as it says, else what moves the cutter's edge or flank by the tolerance."""
    operation = setup.operation(number)
    if operation.axis_tolerance is not None:
        return float(np.radians(operation.axis_tolerance))
    tool = setup.toolpath.tool(operation.tool)
    reach = max(tool.diameter / 2, tool.cutting_length or 0.0) * setup.scale
    return float(min(setup.tolerance / reach, WIDEST_DEFAULT_RAD))


def stream(number: int, setup: Setup) -> Iterator[Item]:
    """The items of a simultaneous operation, or of a drawing laid out as one, no run ending beside a pole where another goes on."""
    items = laid_out(number, setup) if setup.operation(number).rotary.intent == "wrapped" else setup.operation(number).stream()
    return held_together(items, setup.lines_with(number))


def held_together(items: Iterable[Item], lines: Lines) -> Iterator[Item]:
    """The items of an operation, no run of moves ending beside a pole where another goes on: what is passed there is passed in one run."""
    waiting: MoveColumns | None = None
    for item in items:
        if waiting is not None and isinstance(item, MoveColumns):
            last = _last_away(waiting, lines)
            last = last if len(waiting) - last <= MOST_HELD else len(waiting)
            if last > 0:
                yield waiting.rows(0, last)
            waiting = join([waiting.rows(last, len(waiting)), item]) if last < len(waiting) else item
            continue
        if waiting is not None:
            yield waiting
        waiting = item if isinstance(item, MoveColumns) else None
        if waiting is None:
            yield item
    if waiting is not None:
        yield waiting


def _last_away(run: MoveColumns, lines: Lines) -> int:
    """The rows of a run up to the last that is not beside a pole."""
    if len(lines) < BOTH:
        return len(run)
    assert run.tool_axis is not None
    for axes in (run.tool_axis[-1:], run.tool_axis):  # it mostly is the very last
        away = np.flatnonzero(np.abs(axes @ lines[0].direction) < np.cos(1.1 * WIDEST_RAD))
        if len(away):
            return len(run) - len(axes) + int(away[-1]) + 1
    return 0


def stretches_of(number: int, setup: Setup, work: Work | None = None) -> Stretches:
    """The stretches of a simultaneous operation, in their order.

    work     counts the moves that are gone through
    raises   PlanError for a tool axis out of reach, and half a turn between two in a cut
    """
    met, before = Stretches(number, _travels(setup)), at_start(setup.lines_with(number))
    for item in stream(number, setup):
        if work is not None:
            work.on(moves_in(item))
        if isinstance(item, MoveColumns):
            laid = _laid(item, before, number, setup)
            met.meet(laid, item, setup.lines_with(number), swings=setup.profile.poles.past == "slow")
            before = laid.after
    return met


def _travels(setup: Setup) -> list[Travel] | None:
    """The travels of the rotaries where a cut that needs more of them is withdrawn from; None where it is refused."""
    if setup.profile.reorient.inside_a_cut != "withdraw":
        return None
    return [usable(rotary) for rotary in setup.rotaries.values()]


def _laid(run: MoveColumns, before: Before, number: int, setup: Setup) -> Leaning:
    limits = Limits(
        max(np.radians(MISS_DEG), np.radians(setup.operation(number).axis_tolerance or 0.0)), axis_tolerance_rad(number, setup) / 2
    )
    lines, travels = setup.lines_with(number), _travels(setup)
    laid = leaning(run, before, lines, setup.scale, limits, lambda row: setup.place(number, int(run.move[row])))
    return laid if travels is None else parted_at_poles(laid, lines, travels)


class Runs:
    """The runs of a simultaneous operation, one after another, in the states that are chosen for its stretches."""

    def __init__(self, number: int, choices: Sequence[Choice], setup: Setup) -> None:
        self.number, self.choices, self.setup = number, choices, setup
        self.before = at_start(setup.lines_with(number))
        self.last_rad: Floats | None = None
        self.met = 0
        self.stretches = Stretches(number, _travels(setup))
        self.withdrawals: list[int] = []

    def positions(self, run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> Positions:
        """The motion of a run, cut so that tip and tool axis stay within tolerance; `withdrawals` are its rows that are withdrawals.

        raises    PlanError where that takes too many blocks, or a pole is passed slower than the profile allows
        """
        lines = setup.lines_with(operation)
        laid = _laid(run, self.before, operation, setup)
        if self.stretches.travels is not None:
            laid = withdrawn(laid, self.stretches.meet(laid, run, lines, swings=setup.profile.poles.past == "slow"))
        way, throughs = course(laid, self.choices[max(self.met - 1, 0) :], self.last_rad, lines)
        half = axis_tolerance_rad(operation, setup) / 2
        drawn = setup.operation(operation).rotary.intent == "wrapped"
        limits = Allowed(setup.tolerance * (1 - LAID_OUT if drawn else 1), half, 2 * half)
        move = run.move
        made, xyz = within(way, throughs, lines, limits, lambda parts, row: countable(parts, move[row], operation, setup))
        leaves = made.free & (run.kind[made.row] != RAPID)
        leaves[0] &= self.last_rad is not None  # to the very first place the tool comes otherwise
        self.withdrawals = np.flatnonzero(leaves).tolist()
        self.before, self.last_rad, self.met = laid.after, made.alpha_rad[-1], self.met + laid.stretches
        words = words_deg(made.alpha_rad, lines) + 0.0
        step = np.diff(made.tip, axis=0)
        length = np.sqrt(np.einsum("ij,ij->i", step, step))
        _check_poles(made, words, length, run, operation, setup)
        feed, kind = run.feed * setup.scale, run.kind
        blocks = np.bincount(made.row, minlength=len(run))
        of = slice(None) if len(made) == len(run) else made.row  # each row has one way at least
        rows = motion(kind[of], xyz[1:], words[1:], feed=feed[of], move=move[of], tip=length)
        reached = stand._replace(point=spot(made.tip[-1]))
        return rows, reached, int(np.count_nonzero(blocks > 1)), int(blocks[blocks > 1].sum())


def _check_poles(made: Course, words: Floats, length: Floats, run: MoveColumns, operation: int, setup: Setup) -> None:
    """Refuse a cut that beside a pole goes slower than the profile allows, for its first rotary turns no faster."""
    poles = setup.profile.poles
    if len(setup.lines) != BOTH:
        return
    least = (poles.slowest_percent if poles.past == "slow" else SWINGS_PERCENT) / 100
    fastest = next(iter(setup.rotaries.values())).fastest
    beside = np.abs(made.axis @ setup.lines[0].direction) > np.cos(WIDEST_RAD)
    if not beside.any():
        return
    turned = np.abs(np.diff(words[:, 0]))
    slow = beside[1:] & beside[:-1] & ~made.free
    slow &= length / (run.feed[made.row] * setup.scale) < least * turned / fastest - 1e-12
    if not slow.any():
        return
    worst = np.flatnonzero(slow)[int(np.argmin(length[slow] / turned[slow]))]
    letter = next(iter(setup.rotaries))
    share = 100 * length[worst] / (run.feed[made.row[worst]] * setup.scale) / (turned[worst] / fastest)
    off = float(np.arccos(min(1.0, float(np.abs(made.axis[worst] @ setup.lines[0].direction)))))
    if off <= axis_tolerance_rad(operation, setup) / 2:
        beside, cure = (
            f"the cut passes the axis of {letter}, and beyond it the travels have no room",
            'set reorient.inside_a_cut = "withdraw"',
        )
    else:
        beside = f"the cut passes {np.degrees(off):.2g} degrees beside the axis of {letter}, too far to go straight through within the "
        beside, cure = beside + "axis tolerance", "allow a wider axis_tolerance"
    raise PlanError(
        f"{beside}: {letter} would have to swing round, and the tool go at {share:.2g} percent of its feed; {100 * least:g} are the least",
        place=setup.place(operation, int(run.move[made.row[worst]])),
        cure=f"tilt the part or the tool axes so that they stay away from it, {cure}, or "
        + ("lower poles.slowest_percent" if poles.past == "slow" else 'set poles.past = "slow" and poles.slowest_percent')
        + " in the profile",
    )
