"""What is known before the first block."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reading_parts import blocks, read, same

from steadyrest.profile import load_profile
from steadyrest.reading.dialect import read_dialect
from steadyrest.reading.state import initial_state


def test_what_nobody_has_said_is_not_known() -> None:
    got = blocks("G0 X1")
    same([(1.0, math.nan, math.nan, math.nan)], got.ends)
    assert np.isnan(got.runs[0].vertex_mm[0]).all()


def test_steps_throughout_start_where_the_profile_says() -> None:
    got = read("%\nG17 G21 G91 G94\nG0 X1 Z-100\nM30\n%", "incremental")
    assert [(1.0, 0.0, 50.0, 0.0)] == got.ends


@pytest.mark.parametrize(("sets", "returns"), [(("cycles.return_to_r=",), True), ((), None)])
def test_where_no_code_says_so_holes_return_to_r(sets: tuple[str, ...], returns: bool | None) -> None:
    profile = load_profile("rs274ngc", list(sets))
    assert bool(profile.cycles.return_to_r) == (returns is None)
    assert returns is initial_state(read_dialect(profile)).return_to_r
