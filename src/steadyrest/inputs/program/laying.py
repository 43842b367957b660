"""Where does a flat program lie: as it is, or laid round a cylinder with one of its axes developed?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import InputError
from steadyrest.inputs.items import Arcs, Frame, Hole, Item, Moves, Stretch
from steadyrest.inputs.options import InputOptions

Floats = NDArray[np.float64]

_TURNED = {
    "X": np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
    "Y": np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
}
"""By the axis of rotation: the quarter turn of the drawing that brings the program's axis along it to the way round."""


@dataclass(frozen=True, slots=True)
class Laying:
    """The frame of all operations, the shift (3,) in mm of all positions, and the turn (3, 3) of the drawing after it; None: it stays."""

    frame: Frame
    shift: Floats | None = None
    turn: Floats | None = None

    def laid(self, stretch: Stretch) -> Stretch:
        """A stretch with its coordinates in the frame."""
        if self.shift is not None:
            stretch.items = [_shifted(item, self.shift) for item in stretch.items]
        if self.turn is not None:
            stretch.items = [_turned(item, self.turn) for item in stretch.items]
        return stretch


def laying(options: InputOptions, axis: str, mm: float) -> Laying:
    """How a program is to be laid.

    axis     X, Y or Z: the axis of rotation
    mm       millimetres per unit of the options' lengths
    raises   InputError where the developed axis has no way round
    """
    shift = np.array(options.shift) * mm if any(options.shift) else None
    if options.indexed is not None:
        return Laying(("indexed", *options.indexed), shift)
    wrap = options.wrap
    if wrap is None:
        return Laying(("still",), shift)
    if axis == "Z":
        raise InputError(
            "a program cannot be wrapped round an axis along the spindle: the tool would reach no surface round it",
            cure="say axis X or Y, or give angles instead",
        )
    frame = ("wrapped", wrap.diameter * mm, wrap.start_angle, wrap.z_from)
    across = "Y" if axis == "X" else "X"
    return Laying(frame, shift, None if wrap.developed in (None, across) else _TURNED[axis])


def _shifted(item: Item, shift: Floats) -> Item:
    if isinstance(item, Moves):
        arcs = item.arcs
        if arcs is not None:
            arcs = Arcs(arcs.start + shift, arcs.centre + shift, arcs.normal, arcs.full_turns)
        return replace(item, end=item.end + shift, arcs=arcs)
    if isinstance(item, Hole):
        return replace(item, point=item.point + shift)
    return item


def _turned(item: Item, turn: Floats) -> Item:
    if isinstance(item, Moves):
        arcs = item.arcs
        if arcs is not None:
            arcs = Arcs(arcs.start @ turn.T, arcs.centre @ turn.T, arcs.normal @ turn.T, arcs.full_turns)
        return replace(item, end=item.end @ turn.T, arcs=arcs)
    if isinstance(item, Hole):
        return replace(item, point=turn @ item.point)
    return item


def developed_width(stretches: list[Stretch], axis: str) -> float:
    """How wide the cut path is along the developed axis, ends of cuts, arcs and holes taken; 0 without any."""
    column = 1 if axis == "X" else 0
    low, high = math.inf, -math.inf
    for stretch in stretches:
        for item in stretch.items:
            if isinstance(item, Moves):
                values = item.end[:, column]
                if item.arcs is not None:
                    middle, radius = item.arcs.centre[:, column], np.hypot(*(item.arcs.start - item.arcs.centre)[:, :2].T)
                    values = np.concatenate([values, middle - radius, middle + radius])
            elif isinstance(item, Hole):
                values = item.point[column : column + 1]
            else:
                continue
            low, high = min(low, float(values.min())), max(high, float(values.max()))
    return max(0.0, high - low)
