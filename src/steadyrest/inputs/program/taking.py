"""What do the motion and events of a program, as the proof's reader gives them, add up to?

Everything is in millimetres here. A retract in machine coordinates ends an operation: where the tool stands then is not known, and
planning retracts between operations anyway. Rapids to a place of which a coordinate is not known yet are left out for the same reason.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place
from steadyrest.inputs.changes import Assumed
from steadyrest.inputs.items import ARC, Arcs, Happening, Moves
from steadyrest.inputs.program.drilling import close_hole, drill
from steadyrest.inputs.program.feeds import feeds_of, starts
from steadyrest.inputs.program.state import Drilling, Taking
from steadyrest.inputs.program.turning import turned_rows
from steadyrest.inputs.tool_names import tool_named
from steadyrest.reading import EventRead, MotionRead
from steadyrest.reading.model import BESIDE_WORDS, CLOCKWISE, COUNTERCLOCKWISE
from steadyrest.reading.model import RAPID as READ_RAPID
from steadyrest.toolpath import CUT, RAPID

NORMALS = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
"""By the reader's plane XY, XZ, YZ: the axis across it."""


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
    if event.kind == "dwell" and not taking.rpm:
        taking.leave_out("a pause while the spindle stands", event.line, "how long the spindle takes to stop is said by the profile")
        return
    if event.kind == "dwell" and clamped:
        taking.leave_out("a pause after a clamp code", event.line, "how long the clamp takes is said by the profile")
        return
    if event.kind == "cycle":
        taking.drilling = Drilling(event.text, event.line, np.full(3, np.nan))
    elif event.kind == "comment":
        _take_text(taking, _without_message_mark(event.text.strip()), event)
    elif event.kind == "tool_selected":
        text = taking.gatherer.take_note_of(event.line)
        if text is not None and event.number >= 1:
            taking.named.setdefault(int(event.number), (text, Happening({"note": text}, event.line)))
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
        if not taking.work_offset and taking.cut_without:
            taking.doubted = event.text
        taking.work_offset = event.text
    elif event.kind == "length_offset":
        if event.text == "on":
            taking.leave_out("the tool length offset", event.line, "length offsets are measured at the machine and chosen by the profile")
    elif event.kind in ("clamp", "unclamp"):
        taking.leave_out("a clamp code", event.line, "when the rotary is clamped follows from the intent of each operation")


def _take_text(taking: Taking, text: str, event: EventRead) -> None:
    """A comment: the name of a tool, a text at the head of the program, or one where it stands."""
    note = Happening({"note": text}, event.line)
    named = tool_named(text)
    if named is not None:
        taking.named.setdefault(named[0], (named[1], note))
    elif event.line < taking.begins and text:
        taking.head.append(note)
    elif text:
        taking.gatherer.note(text, event.line, names=event.number != BESIDE_WORDS)


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
        taking.turning.stand(float(run.rotary_deg[first, 0]) if run.rotary_deg.shape[1] else 0.0, int(run.line[first]))
        (drill if drilled else _path)(taking, run, rows)


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
    feed = feeds_of(taking, run, rows, arcs) if some_cut else np.full(len(end), np.nan)
    kinds = np.where(cuts, np.uint8(CUT), np.uint8(RAPID))
    if arcs is not None:
        kinds[motion >= CLOCKWISE] = ARC
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
    if run.arcs is None:
        return None
    at = np.flatnonzero(run.motion[rows] >= CLOCKWISE)
    if not len(at):
        return None
    here = at + rows.start
    sense = np.where(run.motion[here] == COUNTERCLOCKWISE, 1.0, -1.0)
    normals = NORMALS[run.arcs.plane[here]] * sense[:, None]
    return Arcs(starts(run, rows)[at], run.arcs.centre_mm[here], normals, run.arcs.full_turns[here])
