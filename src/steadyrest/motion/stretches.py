"""What has to be chosen for the runs of a simultaneous operation: its stretches, and where a cut that the travels end is parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.conventions import RAPID
from steadyrest.motion.chain import Lines
from steadyrest.motion.choice import Stretch
from steadyrest.motion.simultaneous import Leaning, Passed, hold, withdrawn
from steadyrest.profile import Travel
from steadyrest.toolpath import MoveColumns

SLACK_DEG = 1e-6
"""Past the end of a travel by less is not past it: far below what any rotary word can say."""


def words_deg(alpha_rad: Floats, lines: Lines) -> Floats:
    """Commanded angles, degrees, of angles (..., r)."""
    return np.asarray(alpha_rad * np.degrees([float(line.sign) for line in lines]))


@dataclass(slots=True)
class Stretches:
    """The stretches of an operation as its runs are gone through.

    travels   of the rotaries, where a cut that fits in none of them may be withdrawn from; None: it may not
    moves     with which move each begins; of one that goes on beyond a pole, the move that comes nearest to it
    """

    operation: int
    travels: Sequence[Travel] | None = None
    found: list[Stretch] = field(default_factory=list)
    moves: list[int] = field(default_factory=list)

    def meet(self, at: Leaning, run: MoveColumns, lines: Lines, *, swings: bool) -> list[int]:
        """Take in a run: what goes on from the run before belongs to the last stretch.

        swings    whether the first rotary may swing round beside a pole
        returns   positions at which a cut has to be withdrawn from, since it fits on in no solution and no turn: as far on as it fits
        """
        parted: list[int] = []
        words = words_deg(at.alpha_rad, lines)
        goes_on = bool(self.found)
        starts: list[tuple[int, Passed | None]] = [(node, None) for node in np.flatnonzero(at.begins).tolist()]
        starts = sorted(starts + [(one.exit, one) for one in at.passed if one.chosen], key=lambda each: each[0])
        starts = [(0, None), *starts] if goes_on else starts
        for number, (node, one) in enumerate(starts):
            following, past = starts[number + 1] if number + 1 < len(starts) else (len(at.tip), None)
            last = past.entry if past is not None else following - 1
            begun = not (goes_on and number == 0)
            if begun:
                left = node > 0 and run.kind[at.row[node - 1]] != RAPID  # the cut was withdrawn from there
                past_deg = self._past(one, at, words, lines, swings=swings) if one is not None else None
                self._begin(words[:, node], run, at, one.closest if one is not None else node, past_deg, turned_to=not self.found or left)
            while (end := self._gone_on(words[:, node : last + 1], begun=begun)) < last - node:
                node, begun = node + end, True
                self._begin(words[:, node], run, at, node, None, turned_to=True)
                parted.append(node)
        return parted

    def _begin(
        self, w_deg: Floats, run: MoveColumns, at: Leaning, node: int, past: dict[tuple[int, int], Floats] | None, *, turned_to: bool
    ) -> None:
        self.found.append(Stretch(w_deg, w_deg, w_deg, w_deg, self.operation, turned_to, past))
        self.moves.append(int(run.move[at.row[max(node - 1, 0)]]))

    def _gone_on(self, w_deg: Floats, *, begun: bool) -> int:
        """The last stretch goes on over angles (s, k, r), as far as it fits in some solution and turn: up to which of them.

        Over all of them, too, where it begins with the first and not even the second fits: then it can be parted nowhere.
        """
        last, end = self.found[-1], int(w_deg.shape[1]) - 1
        columns = [[one[:, at] for at in range(w_deg.shape[2])] for one in w_deg]  # reduced by itself each is much faster
        least, most = (np.array([[reduce(column) for column in one] for one in columns]) for reduce in (np.min, np.max))
        lowest, highest = np.minimum(last.lowest_deg, least), np.maximum(last.highest_deg, most)
        if self.travels is not None and not _fits(lowest, highest, self.travels).any():
            on_lowest = np.minimum(np.minimum.accumulate(w_deg, axis=1), last.lowest_deg[:, None])
            on_highest = np.maximum(np.maximum.accumulate(w_deg, axis=1), last.highest_deg[:, None])
            beyond = int(np.argmin(_fits(on_lowest, on_highest, self.travels).any(axis=0)))
            if beyond > begun:
                end = beyond - 1
                lowest, highest = on_lowest[:, end], on_highest[:, end]
        self.found[-1] = replace(last, end_deg=w_deg[:, end], lowest_deg=lowest, highest_deg=highest)
        return end

    def _past(self, one: Passed, at: Leaning, words: Floats, lines: Lines, *, swings: bool) -> dict[tuple[int, int], Floats]:
        steps = {}
        for solution in (0, 1):
            before, after = _straight(one, at, solution, lines)
            steps[solution, 1 - solution] = after - before
            if swings:
                steps[solution, solution] = words[solution, one.exit] - words[solution, one.entry]
        return steps


def parted_at_poles(at: Leaning, lines: Lines, travels: Sequence[Travel]) -> Leaning:
    """A run that is withdrawn from at each pole beyond which, straight on, the travels have no room: the cut ends there and begins anew.

    The first rotary is held on both sides, so that it turns on its way with the tool clear, and the tool comes back as it left.
    """
    shut = [number for number, one in enumerate(at.passed) if one.chosen and not _opens(one, at, lines, travels)]
    if not shut:
        return at
    made = withdrawn(at, sorted(at.passed[number].closest for number in shut))
    passed, halves = [one for number, one in enumerate(made.passed) if number not in shut], []
    for one in (made.passed[number] for number in shut):
        middle, again = one.passage.closest, one.closest + 1  # the same place, come back to
        halves.append(Passed(replace(one.passage, exit=middle, ends=True), one.entry, one.closest, one.closest))
        halves.append(Passed(replace(one.passage, entry=middle, begins=True), again, again, one.exit))
    hold(made.alpha_rad, made.axis, halves, np.flatnonzero(made.begins), lines)
    return replace(made, passed=sorted(passed + halves, key=lambda one: one.entry))


def _opens(one: Passed, at: Leaning, lines: Lines, travels: Sequence[Travel]) -> bool:
    """Whether the tool can go straight through beside a pole, from one solution into the other."""
    words = (_straight(one, at, solution, lines) for solution in (0, 1))
    return any(_fits(ends.min(axis=0), ends.max(axis=0), travels).all() for ends in words)


def _straight(one: Passed, at: Leaning, solution: int, lines: Lines) -> Floats:
    """Words (2, r) with which a passage gone straight through begins, come to in a solution, and ends, in the other one."""
    ends = np.stack([at.alpha_rad[solution, one.entry], at.alpha_rad[1 - solution, one.exit]])
    run = one.through(at.axis, ends, solution, lines)
    return words_deg(np.stack([ends[0], run.angles(np.array([run.v_after]))[0]]), lines)


def _fits(lowest_deg: Floats, highest_deg: Floats, travels: Sequence[Travel]) -> Bools:
    """Whether angles of the rotaries' words, (..., r) between lowest and highest, lie within the travels in some whole turns."""
    fits = np.ones(lowest_deg.shape[:-1], dtype=np.bool_)
    for column, travel in enumerate(travels):
        if travel.kind == "limited":
            fewest = np.ceil((travel.lowest - SLACK_DEG - lowest_deg[..., column]) / 360.0)
            fits &= fewest <= np.floor((travel.highest + SLACK_DEG - highest_deg[..., column]) / 360.0)
    return fits
