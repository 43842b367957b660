"""For any tool, at any place and tilt: three bundles of lines tell the same volume, and what is taken out once is gone."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from posed import BLOCK, billet, tool, unit
from simulated import SHAPES
from steadyrest.columns import Floats
from steadyrest.simulation.dexel import stock_dexels
from steadyrest.simulation.dexel_carving import DexelCarver
from steadyrest.simulation.kernel import DEPTH, VOLUME
from steadyrest.simulation.solid import solids_of

CELL = 1.0
WIDE = 8.0
"""Diameter of all the shapes."""
numbers = st.floats(-1.0, 1.0)
vectors = st.tuples(numbers, numbers, numbers).filter(lambda one: np.linalg.norm(one) > 0.1)


@st.composite
def poses(draw: Any) -> Floats:
    """One row of `Pose`, in the part frame: at rest, moved across its axis, or along it."""
    axis, other = unit(draw(vectors)), draw(vectors)
    aside = np.cross(axis, other)
    moved = np.linalg.norm(aside) > 1e-3 and draw(st.booleans())
    feed = unit(aside) if moved else np.zeros(3)
    tip = np.array(draw(st.tuples(numbers, numbers, numbers))) * (18.0, 13.0, 9.0)
    long, rise = (draw(st.floats(0.5, 20.0)) if moved else 0.0), (0.0 if moved else draw(st.sampled_from([0.0, 5.0])))
    return np.array([[*tip, *axis, *feed, long, rise, 0.0]])


@given(st.sampled_from(sorted(SHAPES)), poses())
def test_three_bundles_tell_one_volume_and_what_is_gone_is_gone(shape: str, table: Floats) -> None:
    carver, solids = DexelCarver(stock_dexels(billet(BLOCK), CELL), "X", "arrays"), solids_of(tool(SHAPES[shape]), 0.0)
    first, second = (carver.carve(table, 1, solids, 0.0)[0] for _ in range(2))
    volumes = carver.dexels.volumes_mm3()

    assert abs(24000 - volumes.mean() - first[VOLUME]) < 0.01
    assert abs(second[VOLUME]) < 1e-3
    assert second[DEPTH] < 1e-3
    # A line stands for its cell: at the rim of what is cut half a cell is in doubt, all along it; seen along a bundle that rim is no longer
    # than what goes round tool and way, and as deep as the block.
    rim = np.pi * WIDE + 2 * (20.0 + 40.0 + table[0, 9])
    assert np.ptp(volumes) < 0.25 * CELL * rim * 20.0
