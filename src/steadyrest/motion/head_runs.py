"""Simultaneous runs with a head: out along the tool, up, turn, back along the tool; between that the run itself.

A head's tip swings while it turns: up is the machine's own zero, or a height under which no tool dips to the stock, as the profile
retracts. As in planes that a head lays askew (`leaning`), what goes along a leaning tool, or through the air with it, goes at feed in
straight lines.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.conventions import LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.chain import tip_in_part, tool_axis
from steadyrest.motion.leaning import quick
from steadyrest.motion.links import Moves, rapids, retracted, turn
from steadyrest.motion.model import NAN, STILL_DEG, Asked, Motion, Stand, Step, after, motion, spot
from steadyrest.motion.reorient import turned_inside
from steadyrest.motion.setup import Setup

UPRIGHT = 1e-9
"""A tool that leans less stands along Z."""


def carried_by_head(rows: Motion, withdrawals: list[int], stand: Stand, number: int, setup: Setup) -> Moves:
    """Rows of a run in pieces that are come to and left along the tool: at the start, at each rapid that turns, and at each withdrawal."""
    before = np.vstack([stand.rotary_deg, rows.rotary_deg[:-1]])
    comes = (rows.kind == RAPID) & (np.abs(rows.rotary_deg - before) > STILL_DEG).any(axis=1)
    comes[withdrawals] = True
    comes[0] |= bool(np.isnan(stand.point[0]))
    begins = np.flatnonzero(comes).tolist()
    for begin, end in zip([0, *begins], [*begins, len(rows)], strict=True):
        piece = take(rows, slice(begin, end))
        if begin in begins and len(piece):
            if not (begin == 0 and np.isnan(stand.point[0])):
                stand = yield from left(stand, number, setup)
                stand = yield from retracted(stand, number, setup)
            again = begin in withdrawals
            if again:
                stand = yield from turned_inside(rows, begin, stand, number, setup)
            else:
                stand = yield from turn(piece.rotary_deg[0].tolist(), stand, number, setup, clamp=False)
            piece, stand = yield from _come(piece, stand, number, setup, again=again)
        if len(piece):
            piece = replace(_in_straight_lines(piece, setup, number), operation=number, rule="cut" if piece.kind.any() else "rapid")
            yield Asked(piece, stand)
            stand = after(piece, stand)._replace(point=(0.0, 0.0, 0.0))
    return stand


def left(stand: Stand, number: int, setup: Setup) -> Moves:
    """Out along the tool until it is clear of all that the stock can be turned to."""
    xyz, axis, off = _clear_of(np.array(stand.xyz), np.array(stand.rotary_deg), number, setup)
    if off <= 0:
        return stand
    kind = RAPID if axis[2] > 1 - UPRIGHT else LINE
    rows = motion(
        kind, (xyz + off * axis)[None], np.array([stand.rotary_deg]), feed=quick(setup), tip=off, operation=number, rule="retract"
    )
    yield Asked(rows, stand)
    return after(rows, stand)


def _clear_of(xyz: Floats, w_deg: Floats, number: int, setup: Setup) -> tuple[Floats, Floats, float]:
    """A place (3,), the direction of the tool on the machine, and how far along it the tool is clear.

    raises    PlanError where the tool points up there
    """
    lines = setup.lines_with(number)
    alpha = np.radians(w_deg)[None] * [line.sign for line in lines]
    table = sum(line.carries_part for line in lines)
    axis = tool_axis(alpha[:, table:], lines[table:])[0]
    if axis[2] < -UPRIGHT:
        said = ", ".join(f"{letter} {angle + 0.0:.6g}" for letter, angle in zip(setup.rotaries, w_deg.tolist(), strict=True))
        raise PlanError(
            f"a cut begins or ends at {said}: the tool points up there, and going up would take it into the part",
            place=setup.place(number),
            cure="begin and end where the tool points down, or lay the part otherwise",
        )
    height = (tip_in_part(xyz[None], alpha, lines)[0] - setup.centre) @ tool_axis(alpha, lines)[0]
    return xyz, axis, float(setup.over - height)


def _come(piece: Motion, stand: Stand, number: int, setup: Setup, *, again: bool) -> Generator[Step, None, tuple[Motion, Stand]]:
    """From the machine's own zero over the first place along the tool, and for a rapid down to it; the rows that are left.

    again    the cut was there before: only the last clearance down to it goes at its feed
    """
    xyz, axis, off = _clear_of(piece.xyz[0], piece.rotary_deg[0], number, setup)
    cutting = bool(piece.kind[0] != RAPID)  # onto the start of a cut it comes at feed, from however high it starts
    clearance = setup.profile.safety.clearance * setup.mm
    off = max(off, clearance if cutting else 0.0)
    x, y, z = spot(xyz + off * axis)
    rule = "reorient" if again else "approach"
    over, stand = rapids([(x, y, NAN), (NAN, NAN, z)], stand, number, rule)
    yield over
    last = off if cutting and not again else clearance if cutting else 0.0
    if off > last:
        kind, place = RAPID if axis[2] > 1 - UPRIGHT else LINE, (xyz + last * axis)[None]
        down = motion(kind, place, piece.rotary_deg[:1], feed=quick(setup), tip=off - last, operation=number, rule=rule)
        yield Asked(down, stand)
        stand = after(down, stand)
    if not cutting:
        return take(piece, slice(1, None)), stand
    tip = piece.tip.copy()
    tip[0] = last
    return replace(piece, tip=tip), stand


def _in_straight_lines(piece: Motion, setup: Setup, number: int) -> Motion:
    """Rapids with a leaning tool as straight lines at the quick feed."""
    lines = setup.lines_with(number)
    table = sum(line.carries_part for line in lines)
    alpha = np.radians(piece.rotary_deg) * [line.sign for line in lines]
    leans = (piece.kind == RAPID) & (tool_axis(alpha[:, table:], lines[table:])[:, 2] < 1 - UPRIGHT)
    if not leans.any():
        return piece
    return replace(piece, kind=np.where(leans, LINE, piece.kind).astype(np.uint8), feed=np.where(leans, quick(setup), piece.feed))
