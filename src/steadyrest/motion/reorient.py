"""A cut that fits on in no travel of the rotaries: leave along the tool axis, turn with the tool clear, come back along it, and go on."""

from __future__ import annotations

import numpy as np

from steadyrest.conventions import LINE
from steadyrest.motion.chain_planes import said_angles
from steadyrest.motion.links import Moves, clear_height, rapids, turn_stops, turning
from steadyrest.motion.model import NAN, Asked, Event, Motion, Stand, after, motion
from steadyrest.motion.setup import Setup
from steadyrest.notices import noticed


def reoriented(rows: Motion, row: int, stand: Stand, operation: int, setup: Setup) -> Moves:
    """Withdraw to the clear height, turn to the angles of a row, come down to just over its place, and at its feed onto it.

    The tool stands along Z: all rotaries carry the part. The row is where the cut was left, in the angles in which it goes on.
    """
    (x, y, z), up = rows.xyz[row].tolist(), []
    if stand.xyz[2] < (clear := clear_height(operation, setup)):
        out, stand = rapids([(NAN, NAN, clear)], stand, operation, "retract")
        up.append(out)
    stand = yield from turned_inside(rows, row, stand, operation, setup, *up)
    down = min(z + setup.profile.safety.clearance * setup.mm, stand.xyz[2])
    fast, stand = rapids([(x, y, NAN), (NAN, NAN, down)], stand, operation, "reorient")
    yield fast
    back = motion(LINE, rows.xyz[[row]], rows.rotary_deg[[row]], feed=rows.feed[[row]], tip=down - z, operation=operation, rule="reorient")
    yield Asked(back, stand)
    return after(back, stand)


def turned_inside(rows: Motion, row: int, stand: Stand, operation: int, setup: Setup, *up: Motion) -> Moves:
    """Turn to the angles of a row, in which its cut goes on, once the tool is clear: after `up`, if it is not yet. It is told."""
    target = rows.rotary_deg[row]
    each = zip(target.tolist(), stand.rotary_deg, setup.rotaries.values(), strict=True)
    stops = [turn_stops(to, now, rotary) for to, now, rotary in each]
    way = (*up, turning(stops, operation, "reorient"))
    yield Event("reorient", operation, "reorient", facts={"angles": said_angles(target, setup)}, motion=way)
    place = setup.place(operation, int(rows.move[row]))
    setup.seen[operation].turned_back.append(noticed("Reoriented", place, angles=said_angles(np.round(target, 3), setup)))
    arrived = tuple(there or bool(through) for there, through in zip(stand.arrived, stops, strict=True))
    return stand._replace(rotary_deg=tuple(target.tolist()), arrived=arrived)
