"""How a part stands when it is turned: points about its centre, directions without."""

from __future__ import annotations

from functools import partial

import numpy as np

from steadyrest.inputs.geometry import indexed_points, turned
from steadyrest.inputs.stretches import (
    ARC,
    ArcColumns,
    Moves,
    mapped,
)


def test_points_turn_with_the_part_and_normals_without_its_centre() -> None:
    arc = ArcColumns(np.array([[0.0, 1.0, 0.0]]), np.array([[0.0, 0.0, 5.0]]), np.array([[0.0, 1.0, 0.0]]), np.array([0]))
    move = Moves.one(ARC, np.array([3.0, 0.0, 6.0]), 50.0, 6, np.array([0.0, 0.0, 1.0]), arc)
    points = partial(indexed_points, alpha_deg=90.0, letter="X", centre=np.array([0.0, 0.0, 5.0]))
    found = mapped(move, points, partial(turned, alpha_deg=-90.0, letter="X"))
    assert isinstance(found, Moves)
    assert found.arcs is not None
    assert found.axis is None
    assert [3.0, 1.0, 5.0] == found.end[0].tolist()
    assert [0.0, 0.0, 5.0] == found.arcs.centre[0].tolist()
    assert [0.0, 0.0, -1.0] == found.arcs.normal[0].tolist()
