"""What is known before the first block."""

from __future__ import annotations

import math

import numpy as np
from reading_parts import blocks, read, same


def test_what_nobody_has_said_is_not_known() -> None:
    got = blocks("G0 X1")
    same([(1.0, math.nan, math.nan, math.nan)], got.ends)
    assert np.isnan(got.runs[0].vertex_mm[0]).all()


def test_steps_throughout_start_where_the_profile_says() -> None:
    got = read("%\nG17 G21 G91 G94\nG0 X1 Z-100\nM30\n%", "incremental")
    assert [(1.0, 0.0, 50.0, 0.0)] == got.ends
