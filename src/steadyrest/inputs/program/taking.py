"""What do the motion and events of a program, as the proof's reader gives them, add up to?

Everything is in millimetres here. A retract in machine coordinates ends an operation: where the tool stands then is not known, and
planning retracts between operations anyway. Rapids to a place of which a coordinate is not known yet are left out for the same reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.arcs import lengths
from steadyrest.inputs.changes import Assumed, LeftOut
from steadyrest.inputs.gathering import Gatherer
from steadyrest.inputs.items import ARC, Arcs, Happening, Hole, Moves, Settings
from steadyrest.inputs.program.turning import FLAT, Turning, turned_rows
from steadyrest.reading import EventRead, MotionRead
from steadyrest.toolpath import CUT, RAPID

Floats = NDArray[np.float64]
MM_PER_INCH = 25.4
# The reader's own numbers of motions, feed modes and planes (steadyrest.reading.model).
READ_RAPID, READ_LINE, READ_CLOCKWISE, READ_COUNTERCLOCKWISE = 0, 1, 2, 3
FEED_PER_MINUTE = 0
NORMALS = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
"""By the reader's plane XY, XZ, YZ: the axis across it."""
SAME_MM = 1e-9


@dataclass(slots=True)
class Drilling:
    """A cycle whose rows are being gathered: end (3,), motion and feed of each, and the pause at the bottom."""

    kind: str
    line: int
    start: Floats
    ends: list[Floats] = field(default_factory=list)
    motions: list[int] = field(default_factory=list)
    feed: float = math.nan
    dwell: float = 0.0


@dataclass(slots=True)
class Taking:
    """What is in force while a program is taken. `cut_in`: the units in which it cut so far, as millimetres in one.

    `chosen`: codes that were said to be left out. `clamped`: a clamp code came just now.
    """

    file: str
    tool: int | None
    chosen: tuple[str, ...] = ()
    gatherer: Gatherer = field(default_factory=Gatherer)
    left_out: dict[str, LeftOut] = field(default_factory=dict)
    assumed: dict[str, Assumed] = field(default_factory=dict)
    rpm: float | None = None
    turns: str = "clockwise"
    coolant: str = "off"
    work_offset: str = ""
    drilling: Drilling | None = None
    feed_mm: float = math.nan
    cut_in: set[float] = field(default_factory=set)
    tool_lines: dict[int, int] = field(default_factory=dict)
    turning: Turning = field(default_factory=Turning)
    clamped: bool = False

    def error(self, line: int, wrong: str, cure: str) -> ProgramError:
        """An error at a line of the program."""
        return ProgramError(wrong, place=Place(file=self.file, line=line), cure=cure)

    def settings(self, line: int, *, cutting: bool) -> Settings:
        """The settings of the next motion; ProgramError for what has to be known by now."""
        if self.tool is None:
            raise self.error(line, "a cut before any tool change: which tool makes it is not known", "say --tool NUMBER for this program")
        if cutting and not self.rpm:
            raise self.error(line, "a cut while the spindle stands", "put M3 with an S word before it")
        self.tool_lines.setdefault(self.tool, line)
        if cutting:
            self.turning.cuts(line)
        return Settings(self.tool, self.rpm, self.turns, self.coolant, (FLAT, self.turning.w_deg))

    def leave_out(self, what: str, line: int, reason: str) -> None:
        """One notice for all blocks of one kind that say nothing about what is cut."""
        old = self.left_out.get(what)
        place = Place(file=self.file, line=line) if old is None else old.place
        self.left_out[what] = LeftOut(place, what, 1 if old is None else old.times + 1, reason)


def take_event(taking: Taking, event: EventRead) -> None:
    """Something that happens between motions."""
    if event.kind == "assumed":
        taking.assumed.setdefault(event.text, Assumed(Place(file=taking.file, line=event.line), event.text))
        return
    if event.kind == "left_out":
        chosen = event.text in taking.chosen
        reason = "it was said to mean nothing for what is cut" if chosen else "how corners are rounded is chosen by the machine's profile"
        taking.leave_out(event.text, event.line, reason)
        return
    if event.kind == "dwell" and taking.drilling is not None:
        taking.drilling.dwell = event.number
        return
    close_hole(taking)
    clamped, taking.clamped = taking.clamped, event.kind in ("clamp", "unclamp")
    if event.kind == "dwell" and clamped:
        taking.leave_out("a pause after a clamp code", event.line, "how long the clamp takes is said by the profile")
        return
    if event.kind == "cycle":
        taking.drilling = Drilling(event.text, event.line, np.full(3, np.nan))
    elif event.kind == "comment":
        if event.text.strip():
            taking.gatherer.note(_without_message_mark(event.text.strip()), event.line)
    elif event.kind == "tool_change":
        if not event.number >= 1:
            raise taking.error(event.line, f"tool {event.number:g} empties the spindle", "leave it out, or load a tool")
        taking.tool = int(event.number)
    elif event.kind == "spindle":
        if event.text == "stop":
            taking.rpm = 0.0
        else:
            taking.rpm, taking.turns = float(event.number), event.text
    elif event.kind == "coolant":
        taking.coolant = event.text
    elif event.kind in ("dwell", "stop", "optional_stop"):
        move: dict[str, Any] = {"dwell": event.number} if event.kind == "dwell" else {"stop": {"optional": event.kind == "optional_stop"}}
        happening = Happening(move, event.line)
        if taking.tool is None:
            taking.gatherer.hold(happening)
        else:
            taking.gatherer.add(taking.settings(event.line, cutting=False), happening)
    elif event.kind == "retract":
        taking.gatherer.lose_place()
    elif event.kind == "work_offset":
        if taking.work_offset not in ("", event.text):
            raise taking.error(
                event.line,
                f"a second work offset, {event.text} after {taking.work_offset}: how the two lie to each other is not known here",
                "make one toolpath for each, or write the program with one work offset",
            )
        taking.work_offset = event.text
    elif event.kind == "length_offset":
        if event.text == "on":
            taking.leave_out("the tool length offset", event.line, "length offsets are measured at the machine and chosen by the profile")
    elif event.kind in ("clamp", "unclamp"):
        taking.leave_out("a clamp code", event.line, "when the rotary is clamped follows from the intent of each operation")


def _without_message_mark(text: str) -> str:
    """The text of a comment to the operator without its mark MSG, (NISTIR 6556, 3.3.4)."""
    head, comma, rest = text.partition(",")
    return rest.strip() if comma and "".join(head.split()).upper() == "MSG" else text


def take_motion(taking: Taking, run: MotionRead) -> None:
    """Consecutive motion blocks."""
    taking.clamped = False
    turned, cutting = turned_rows(run)
    if cutting is not None:
        raise taking.error(
            int(run.line[cutting]),
            "the program turns the rotary while it cuts; only faces are taken, on which it stands still",
            "let the system that wrote the program write CL data with tool axes",
        )
    parts = turned[1:] | (run.cycle[1:] != run.cycle[:-1])
    for first, last in pairwise([0, *(np.flatnonzero(parts) + 1).tolist(), len(run)]):
        rows = slice(first, last)
        drilled = bool(run.cycle[first]) and taking.drilling is not None
        if not drilled:  # a cycle begins with the way up to its R level, before its first hole
            close_hole(taking)
        taking.turning.stand(float(run.w_deg[first]), int(run.line[first]))
        (_drill if drilled else _path)(taking, run, rows)


def _starts(run: MotionRead, rows: slice) -> Floats:
    """(n, 3) where each of these rows begins, mm."""
    if rows.start:
        return run.end_mm[rows.start - 1 : rows.stop - 1]
    return np.vstack([run.start_mm[None, :], run.end_mm[: rows.stop - 1]])


def _path(taking: Taking, run: MotionRead, rows: slice) -> None:
    """Rapids, cuts and arcs."""
    end, motion, line = run.end_mm[rows], run.motion[rows], run.line[rows]
    before = run.end_mm[rows.start - 1] if rows.start else run.start_mm
    cuts = motion != READ_RAPID
    if math.isnan(float(end.sum() + before.sum())):  # some place is not known
        unknown: NDArray[np.bool_] = np.asarray(np.isnan(end).any(axis=1))
        strange = unknown | np.concatenate([[np.isnan(before).any()], unknown[:-1]])
        if (cuts & strange).any():
            raise taking.error(
                int(line[np.argmax(cuts & strange)]),
                "a cut from or to a place that is not known",
                "go to its start at rapid first, with X, Y and Z",
            )
        edges = [0, *(np.flatnonzero(strange[1:] | strange[:-1]) + 1).tolist(), len(end)]
    else:
        strange = unknown = np.zeros(1, dtype=np.bool_)
        edges = [0, len(end)]
    some_cut = bool(cuts.any())
    if taking.tool is None and not some_cut:
        taking.gatherer.lose_place()
        taking.leave_out("a rapid before any tool change", int(line[0]), "nothing is cut on the way")
        return
    arcs = _arcs(run, rows)
    feed = _feeds(taking, run, rows, arcs) if some_cut else np.full(len(end), np.nan)
    kinds = np.where(cuts, np.uint8(CUT), np.uint8(RAPID))
    if arcs is not None:
        kinds[motion >= READ_CLOCKWISE] = ARC
    moves = Moves(kinds, end, feed, line, arcs=arcs)
    for first, last in pairwise(edges):
        if strange[first]:
            taking.gatherer.lose_place()
        if unknown[first]:
            if not run.clear[rows][first]:
                reason = "the way to the first known point is planned from above"
                taking.leave_out("a rapid to a place of which not all coordinates are known", int(line[first]), reason)
            continue
        settings = taking.settings(int(line[first]), cutting=some_cut and bool(cuts[first:last].any()))
        taking.gatherer.add(settings, moves if len(edges) == 2 else moves.rows(first, last))


def _arcs(run: MotionRead, rows: slice) -> Arcs | None:
    """The arcs among these rows."""
    if run.centre_mm is None or run.plane is None or run.full_turns is None:
        return None
    at = np.flatnonzero(run.motion[rows] >= READ_CLOCKWISE)
    if not len(at):
        return None
    here = at + rows.start
    sense = np.where(run.motion[here] == READ_COUNTERCLOCKWISE, 1.0, -1.0)
    return Arcs(_starts(run, rows)[at], run.centre_mm[here], NORMALS[run.plane[here]] * sense[:, None], run.full_turns[here])


def _feeds(taking: Taking, run: MotionRead, rows: slice, arcs: Arcs | None = None) -> Floats:
    """Feeds in mm per minute (n,), NaN in rapids: the F word where it is one per minute, else length over time."""
    taking.cut_in.add(run.mm_per_unit)
    words, modes = run.feed_word[rows], run.feed_mode[rows]
    feed = words if run.mm_per_unit == 1.0 else words * run.mm_per_unit
    timed = modes != FEED_PER_MINUTE
    if timed.any():
        ways = np.linalg.norm(run.end_mm[rows] - _starts(run, rows), axis=1)
        if arcs is not None:
            of_arc = run.motion[rows] >= READ_CLOCKWISE
            ways[of_arc] = lengths(arcs, run.end_mm[rows][of_arc])
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = ways / run.minutes[rows]
        feed = np.where(timed, rate, feed)
        for row in np.flatnonzero(timed & ~(rate > 0) & (run.motion[rows] != READ_RAPID)).tolist():  # of no length: any feed will do
            before = feed[row - 1] if row else taking.feed_mm
            feed[row] = 1.0 if np.isnan(before) else before
    last = feed[-1]
    if np.isnan(last):
        known = np.flatnonzero(~np.isnan(feed))
        last = feed[known[-1]] if len(known) else taking.feed_mm
    taking.feed_mm = float(last)
    return feed


def _drill(taking: Taking, run: MotionRead, rows: slice) -> None:
    drilling = taking.drilling
    assert drilling is not None
    feeds = _feeds(taking, run, rows)
    starts = _starts(run, rows)
    for at, row in enumerate(range(rows.start, rows.stop)):
        if not drilling.ends:
            drilling.start = starts[at]
        drilling.ends.append(run.end_mm[row])
        drilling.motions.append(int(run.motion[row]))
        if run.motion[row] == READ_LINE and math.isnan(drilling.feed):
            drilling.feed = float(feeds[at])


def close_hole(taking: Taking) -> None:
    """The hole whose rows are complete, if there is one."""
    drilling, taking.drilling = taking.drilling, None
    if drilling is None:
        return
    places = [drilling.start, *drilling.ends]
    down = next((row for row, motion in enumerate(drilling.motions) if motion == READ_LINE), None)
    if down is None or np.isnan(places[down]).any():
        raise taking.error(drilling.line, "a drilling cycle from a place that is not known", "go to a position with X, Y and Z first")
    x, y, level = places[down].tolist()
    bottom = min(float(end[2]) for end in drilling.ends)
    says: dict[str, Any] = {"cycle": drilling.kind, "feed": drilling.feed}
    if drilling.kind in ("peck", "chip-break"):
        says["peck"] = level - float(drilling.ends[down][2])
    if drilling.dwell and drilling.kind not in ("drill", "tap"):
        says["dwell"] = drilling.dwell
    if drilling.kind == "dwell-drill":
        says.setdefault("dwell", 0.0)
    settings = taking.settings(drilling.line, cutting=True)
    taking.gatherer.add(settings, Hole(np.array([x, y, level]), 0.0, level - bottom, says, drilling.line))
    up = float(drilling.ends[-1][2])
    if up > level + SAME_MM:  # back to the level from before the cycle
        clear = Moves(np.array([RAPID], dtype=np.uint8), np.array([[x, y, up]]), np.array([np.nan]), np.array([drilling.line]))
        taking.gatherer.add(settings, clear)
