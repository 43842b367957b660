"""The motion and events of a program, as the proof's reader gives them, as stretches.

Everything is in millimetres here. A retract in machine coordinates ends an operation: where the tool stands then is not known, and
planning retracts between operations anyway. Rapids to a place of which a coordinate is not known yet are left out for the same reason.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from steadyrest.columns import Bools, Floats, take
from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, MM_PER_INCH, PER_MINUTE
from steadyrest.conventions import RAPID as READ_RAPID
from steadyrest.errors import ProgramError
from steadyrest.inputs.geometry import lengths
from steadyrest.inputs.program_in_part import MOST_DEG, in_part
from steadyrest.inputs.stretches import ARC, ArcColumns, Conditions, Gathered, Happening, Hole, Moves, tool_named
from steadyrest.motion import Line, tip_in_part, tool_axis
from steadyrest.notices import Notice, noticed
from steadyrest.reading import BESIDE_WORDS, EventRead, MotionRead
from steadyrest.toolpath import CUT, RAPID

FLAT = "flat"
"""The frame of a program's motion until it is known where it lies: ("flat", the words of its rotaries in degrees)."""
NORMALS = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
"""By the reader's plane XY, XZ, YZ: the axis across it."""
SAME_MM = 1e-9
_PROVED = re.compile(r"PROVED TOOLPATH [0-9A-F]+ PROFILE [0-9A-F]+", re.IGNORECASE)
"""Stands in the head of a program that was posted here, among what else it says of its machine."""
_NUMBER = r"(-?[0-9]*\.?[0-9]+)"
_GAUGE = re.compile(rf"T([0-9]{{1,9}})GAUGELENGTH{_NUMBER}")
_LINE = re.compile(rf"(?:AXISOF([A-Z])THROUGH|PIVOTOF([A-Z])AT)X{_NUMBER}Y{_NUMBER}Z{_NUMBER}")
"""What the head of a program says that its numbers hold, without blanks: a tool and its gauge length; a rotary and a point on its line."""
_CLAMP = "a clamp code", "when the rotary is clamped follows from the intent of each operation"
_LEFT_OUT = {
    "clamp": _CLAMP,
    "unclamp": _CLAMP,
    "length_offset": ("the tool length offset", "length offsets are measured at the machine and chosen by the profile"),
}


@dataclass(slots=True)
class Drilling:
    """A cycle whose motion is being gathered, and the pause at the bottom."""

    kind: str
    line: int
    runs: list[MotionRead] = field(default_factory=list)
    dwell: float = 0.0


@dataclass(slots=True, kw_only=True)
class ProgramState(Gathered):
    """What is in force while a program is taken. Lengths are in mm. `cut_in`: the units in which it cut so far, as mm in one.

    `chosen`: codes that were said to be left out. `clamped`: a clamp code came just now. `cut_without`: something was cut before any work
    offset was stated, so that nothing can be cut under one.
    `gauge_lengths`, `lines_said`: by the number of a tool, and for a rotary a point on its line with the line of the program, in the
    program's units, where its head says them.
    `head`: texts before the first word, which stands on the line `begins`; `named`: tools by number, each with the text that names it.
    `rotary_deg`: where the rotaries stand by their words, NaN as long as the program has not said it; `turned_at`: the first line at which
    one stands elsewhere than at 0; `blind_at`: the first that cuts before it is said where; 0: there is none.
    `carries_tool`: which of the rotaries carry the tool. `lines`: everything is taken in the part, with tool axes, through the lines of the
    rotaries with a tool (on a line of the program). `askew_at`: the first line, 0: there is none, from which on that is needed and was
    not asked.
    """

    chosen: tuple[str, ...] = ()
    begins: int = 0
    assumed: dict[str, Notice] = field(default_factory=dict)
    work_offset: str = ""
    cut_without: bool = False
    drilling: Drilling | None = None
    feed_mm: float = math.nan
    cut_in: set[float] = field(default_factory=set)
    rotary_deg: tuple[float, ...] = ()
    turned_at: int = 0
    blind_at: int = 0
    carries_tool: Bools = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    lines: Callable[[int, int], Sequence[Line]] | None = None
    askew_at: int = 0
    gauge_lengths: dict[int, float] = field(default_factory=dict)
    lines_said: dict[str, tuple[int, Floats]] = field(default_factory=dict)
    clamped: bool = False
    head: list[Happening] = field(default_factory=list)
    named: dict[int, tuple[str, Happening]] = field(default_factory=dict)

    @property
    def said_mm(self) -> float:
        """Millimetres in the unit in which its head speaks."""
        return MM_PER_INCH if self.cut_in == {MM_PER_INCH} else 1.0

    def error(self, line: int, wrong: str, cure: str) -> ProgramError:
        """An error at a line of the program."""
        return ProgramError(wrong, place=self.at(line), cure=cure)

    def conditions(self, line: int, *, cutting: bool) -> Conditions:
        """The conditions of the next motion; ProgramError for what has to be known by now."""
        if self.tool is None:
            raise self.error(line, "a cut before any tool change: no tool is given for it", "give --tool NUMBER for this program")
        if cutting:
            if not self.rpm:
                raise self.error(line, "a cut while the spindle is stopped", "put M3 with an S word before it")
            if any(map(math.isnan, self.rotary_deg)):
                self.blind_at = self.blind_at or line
            if self.cut_without and self.work_offset:
                raise self.error(
                    line,
                    f"a cut under {self.work_offset} after cuts under no work offset stated: the distance between the two is not given",
                    "state the work offset before the first cut, or make one toolpath for each",
                )
            self.cut_without = not self.work_offset
        stands = (FLAT, *(0.0 if math.isnan(w_deg) else w_deg for w_deg in self.rotary_deg))
        return Conditions(self.tool, self.rpm, self.turns, self.coolant, stands if self.lines is None else ("part",))


def take_event(state: ProgramState, event: EventRead) -> None:
    """Something that happens between motions."""
    kind, text, line = event.kind, event.text, event.line
    if kind == "assumed":
        state.assumed.setdefault(text, noticed("Assumed", state.at(line), text=text))
        return
    if kind == "left_out":
        known = "it was listed as a code that does not change what is cut"
        state.leave_out(text, line, known if text in state.chosen else "how corners are rounded is chosen by the machine's profile")
        return
    if kind == "dwell" and state.drilling is not None:
        state.drilling.dwell = event.number
        return
    close_hole(state)
    clamped, state.clamped = state.clamped, kind in ("clamp", "unclamp")
    if kind == "dwell" and not state.rpm:
        state.leave_out("a pause while the spindle is stopped", line, "the time that the spindle takes to stop is a setting of the profile")
    elif kind == "dwell" and clamped:
        state.leave_out("a pause after a clamp code", line, "the time that the clamp takes is a setting of the profile")
    elif kind == "cycle":
        state.drilling = Drilling(text, line)
    elif kind == "comment":
        _take_text(state, text.strip(), event)
    elif kind == "tool_selected":
        note = state.take_note_of(line)
        if note is not None and event.number >= 1:
            state.named.setdefault(int(event.number), (note, Happening({"note": note}, line)))
    elif kind == "tool_change":
        if not event.number >= 1:
            raise state.error(line, f"tool {event.number:g} empties the spindle", "leave it out, or load a tool")
        state.tool = int(event.number)
    elif kind == "spindle":
        state.rpm, state.turns = (0.0, state.turns) if text == "stop" else (float(event.number), text)
    elif kind == "coolant":
        state.coolant = text
    elif kind in ("dwell", "stop", "optional_stop"):
        move: dict[str, Any] = {"dwell": event.number} if kind == "dwell" else {"stop": {"optional": kind == "optional_stop"}}
        if state.tool is None:
            state.hold(Happening(move, line))
        else:
            state.add(state.conditions(line, cutting=False), Happening(move, line))
    elif kind == "retract":
        state.lose_place()
    elif kind == "work_offset":
        if state.work_offset not in ("", text):
            raise state.error(
                line,
                f"a second work offset, {text} after {state.work_offset}: the distance between the two is not given",
                "make one toolpath for each, or write the program with one work offset",
            )
        state.work_offset = text
    elif kind in _LEFT_OUT and (kind != "length_offset" or text == "on"):
        what, reason = _LEFT_OUT[kind]
        state.leave_out(what, line, reason)


def _take_text(state: ProgramState, text: str, event: EventRead) -> None:
    head, comma, rest = text.partition(",")
    if comma and "".join(head.split()).upper() == "MSG":  # the mark of a message to the operator (NISTIR 6556, 3.3.4)
        text = rest.strip()
    said = "".join(text.upper().split())
    gauge, line = _GAUGE.fullmatch(said), _LINE.fullmatch(said)
    if gauge is not None or line is not None:
        if gauge is not None:
            state.gauge_lengths[int(gauge[1])] = float(gauge[2])
        if line is not None:
            state.lines_said[line[1] or line[2]] = event.line, np.array(line.groups()[2:], dtype=np.float64)
        what, reason = "what the program's head says that its numbers hold", "lines and gauge lengths are those of the profile and the job"
        state.leave_out(what, event.line, reason)
        return
    note = Happening({"note": text}, event.line)
    named = tool_named(text)
    if named is not None:
        state.named.setdefault(named[0], (named[1], note))
    elif event.line < state.begins and text:
        state.head.append(note)
    elif text:
        state.note(text, event.line, names=event.number != BESIDE_WORDS)


def without_head_of_its_own(state: ProgramState) -> None:
    """Leave out what the head of a program that was posted here says of its machine: another one would say it of itself. Its name stays."""
    proved = next((text for text in state.head if _PROVED.fullmatch(text.move["note"])), None)
    if proved is not None:
        state.head = [text for text in state.head[:1] if not text.move["note"].lower().startswith("toolpath ")]
        state.leave_out("what the program's head says of its machine and its proof", proved.line, "the new program says it of its own")


def take_motion(state: ProgramState, run: MotionRead) -> None:
    """Consecutive motion blocks."""
    state.clamped = False
    before, after = run.vertex_deg[:-1], run.vertex_deg[1:]
    turned = (after != before) & ~(np.isnan(after) & np.isnan(before))
    # A first word of 0 is no motion: where the rotary stood was not known, and a program without turns begins at 0.
    cutting = (turned & ~(np.isnan(before) & (after == 0.0))).any(axis=1) & (run.motion != READ_RAPID)
    askew = cutting | (np.nan_to_num(run.rotary_deg[:, state.carries_tool]) != 0.0).any(axis=1)
    if askew.any() and state.lines is None:
        state.askew_at = int(run.line[np.argmax(askew)])
        state.cut_in.add(run.mm_per_unit)
        return
    for refused, wrong in (
        (cutting & (run.motion >= ARC_CLOCKWISE), "an arc while a rotary turns: where the tip then goes is no arc"),
        (cutting & (np.abs(after - before) > MOST_DEG).any(axis=1), f"a cut that turns a rotary by more than {MOST_DEG:g} degrees"),
    ):
        if refused.any():
            raise state.error(
                int(run.line[np.argmax(refused)]),
                wrong,
                "let the system that wrote the program write straight blocks, and shorter ones, there",
            )
    edges = (turned[1:].any(axis=1) & (run.cycle[1:] | (state.lines is None))) | (run.cycle[1:] != run.cycle[:-1])
    for first, last in pairwise([0, *(np.flatnonzero(edges) + 1).tolist(), len(run)]):
        part = run.rows(first, last)
        drilling = state.drilling if part.cycle[0] else None
        if drilling is None:  # a cycle begins with the way up to its R level, before its first hole
            close_hole(state)
        words = zip(part.rotary_deg[0].tolist(), state.rotary_deg, strict=True)
        state.rotary_deg = tuple(held if math.isnan(w_deg) else w_deg for w_deg, held in words)
        if not state.turned_at and any(w_deg and not math.isnan(w_deg) for w_deg in state.rotary_deg):
            state.turned_at = int(part.line[0])
        if drilling is None:
            _path(state, part)
        else:
            drilling.runs.append(part)


def _path(state: ProgramState, run: MotionRead) -> None:
    n, cuts = len(run), run.motion != READ_RAPID
    lost: Bools = np.asarray(np.isnan(run.vertex_mm).any(axis=1))
    unknown, strange = lost[1:], lost[1:] | lost[:-1]
    if (cuts & strange).any():
        line, wrong = int(run.line[np.argmax(cuts & strange)]), "a cut from or to a position that is not stated"
        raise state.error(line, wrong, "go to its start at rapid first, with X, Y and Z")
    edges = [0, *(np.flatnonzero(strange[1:] | strange[:-1]) + 1).tolist(), n]
    some_cut = bool(cuts.any())
    if state.tool is None and not some_cut:
        state.lose_place()
        state.leave_out("a rapid before any tool change", int(run.line[0]), "nothing is cut on the way")
        return
    arcs = None
    if run.arcs is not None and (run.motion >= ARC_CLOCKWISE).any():
        normals = NORMALS[run.arcs.plane] * np.where(run.motion == ARC_COUNTERCLOCKWISE, 1.0, -1.0)[:, None]
        arcs = ArcColumns(run.vertex_mm[:-1], run.arcs.centre_mm, normals, run.arcs.full_turns)
    source, ways = np.arange(n), None
    kinds = np.where(cuts, np.uint8(CUT), np.uint8(RAPID))
    kinds[run.motion >= ARC_CLOCKWISE] = ARC
    moves = Moves(kinds, run.end_mm, np.full(n, np.nan), run.line, arcs=arcs)
    if state.lines is not None:
        blind = cuts & np.isnan(run.vertex_deg[:-1] + run.vertex_deg[1:]).any(axis=1)
        state.blind_at = state.blind_at or (int(run.line[np.argmax(blind)]) if blind.any() else 0)
        moves, source, ways = in_part(moves, run, state.lines(state.tool or 0, int(run.line[0])))
    if some_cut:
        moves = replace(moves, feed=_feeds(state, run, arcs, ways)[source])
    for first, last in pairwise(edges):
        if strange[first]:
            state.lose_place()
        if unknown[first]:
            if not run.clear[first]:
                reason = "the approach to the first known point is planned from above"
                state.leave_out("a rapid to a place of which not all coordinates are known", int(run.line[first]), reason)
            continue
        conditions = state.conditions(int(run.line[first]), cutting=some_cut and bool(cuts[first:last].any()))
        state.add(conditions, take(moves, slice(*np.searchsorted(source, [first, last]).tolist())))


def _feeds(state: ProgramState, run: MotionRead, arcs: ArcColumns | None = None, ways_mm: Floats | None = None) -> Floats:
    """Feeds in mm per minute (n,), NaN in rapids: the F word where it is one per minute, else length over time.

    ways_mm   (n,) how far the tip goes in the part: where rotaries turn, F is seldom its speed, and length over time always is
    """
    state.cut_in.add(run.mm_per_unit)
    feed = run.feed_word if run.mm_per_unit == 1.0 else run.feed_word * run.mm_per_unit
    timed = run.feed_mode != PER_MINUTE
    if ways_mm is not None:
        timed |= np.isfinite(run.minutes) & (np.diff(run.vertex_deg, axis=0) != 0.0).any(axis=1)
    if timed.any():
        ways = np.linalg.norm(np.diff(run.vertex_mm, axis=0), axis=1) if ways_mm is None else ways_mm
        if ways_mm is None and arcs is not None:
            of_arc = run.motion >= ARC_CLOCKWISE
            ways[of_arc] = lengths(take(arcs, of_arc), run.end_mm[of_arc])
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = ways / run.minutes
        feed = np.where(timed, rate, feed)
        for row in np.flatnonzero(timed & ~(rate > 0) & (run.motion != READ_RAPID)).tolist():  # of no length: any feed will do
            before = feed[row - 1] if row else state.feed_mm
            feed[row] = 1.0 if np.isnan(before) else before
    known = feed[-1:] if not np.isnan(feed[-1]) else feed[~np.isnan(feed)]
    state.feed_mm = float(known[-1]) if len(known) else state.feed_mm
    return feed


def close_hole(state: ProgramState) -> None:
    """The hole whose rows are complete, if there is one."""
    drilling, state.drilling = state.drilling, None
    if drilling is None:
        return
    runs = drilling.runs
    feeds = [feed for run in runs for feed in _feeds(state, run).tolist()]
    places = [place for run in runs for place in (run.vertex_mm if run is runs[0] else run.end_mm).tolist()]
    down = next((row for row, motion in enumerate(motion for run in runs for motion in run.motion.tolist()) if motion == LINE), None)
    if down is None or any(map(math.isnan, places[down])):
        raise state.error(drilling.line, "a drilling cycle from a position that is not stated", "go to a position with X, Y and Z first")
    x, y, level = places[down]
    bottom = min(z for _, _, z in places[1:])
    says: dict[str, Any] = {"cycle": drilling.kind, "feed": feeds[down]}
    if drilling.kind in ("peck", "chip-break"):
        says["peck"] = level - places[down + 1][2]
    if drilling.kind == "dwell-drill" or (drilling.dwell and drilling.kind not in ("drill", "tap")):
        says["dwell"] = drilling.dwell
    conditions = state.conditions(drilling.line, cutting=True)
    point, up, axis = np.array([x, y, level]), np.array([x, y, places[-1][2]]), None
    rises = up[2] > level + SAME_MM  # back to the level from before the cycle
    if state.lines is not None:
        lines, stands = state.lines(conditions.tool, drilling.line), np.radians(np.nan_to_num(runs[-1].rotary_deg[-1:]))
        if stands[0, state.carries_tool].any():
            wrong = "a drilling cycle with the head turned: it goes along Z, and the tool does not"
            raise state.error(drilling.line, wrong, "let the system that wrote the program write single moves there")
        alpha = stands * [line.sign for line in lines]
        (point, up), (axis,) = tip_in_part(np.array([point, up]), np.repeat(alpha, 2, axis=0), lines), tool_axis(alpha, lines)
    state.add(conditions, Hole(point, 0.0, level - bottom, says, drilling.line, axis))
    if rises:
        state.add(conditions, Moves.one(RAPID, up, np.nan, drilling.line, axis))
