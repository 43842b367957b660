"""One toolpath on machines built in other ways: programs that share no number leave the same part, by dexels."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from steadyrest import load
from steadyrest.errors import PlanError
from steadyrest.posting import post_to_memory
from steadyrest.profile import Profile, chain_of, load_profile
from steadyrest.reading import read_program
from steadyrest.request import Request
from steadyrest.simulation import Cut, Simulation
from steadyrest.simulation.dexel import Dexels, billet_of, stock_dexels

ROOT = Path(__file__).parents[2]
PROFILES = [load_profile(file.parent.name) for file in sorted((ROOT / "controllers").glob("*/controller.toml"))]
MACHINES = [profile for profile in PROFILES if (chain := chain_of(profile)) is not None and len(chain.letters) == 2]
CELL_MM = 0.61
"""So that no wall of the tour lies where lines do: there a hair decides about whole rows of them."""
PAST_POLES = ("poles.past=slow",)
TOUR = [
    "orientations",
    "planes",
    *(pytest.param(name, marks=pytest.mark.long) for name in ("along_z", "off_centre_inch", "still", "tilted_planes")),
]
"""Of the tour what machines with two rotaries can do, none of them all that the others can."""


def cut_on(machine: Profile, toolpath: Path) -> tuple[bytes, Cut, Dexels]:
    part = load(toolpath)
    lengths = {tool.number: (100.0 + 7 * tool.number) / (25.4 if part.units == "inch" else 1.0) for tool in part.tools}
    posted, text = post_to_memory(Request(toolpath, machine.name, sets=PAST_POLES, gauge_lengths=lengths, simulate=False))
    profile, job = load_profile(machine.name, PAST_POLES), posted.toolpath
    assert posted.verdict.proved
    begin = stock_dexels(billet_of(job), CELL_MM)
    simulation = Simulation(job, profile, gauge_lengths=lengths, stock=begin, along=20, around=90)
    done, left = simulation.of(read_program(text, profile)), simulation.left()
    assert isinstance(left, Dexels)
    return text, done, left


@pytest.mark.parametrize("toolpath", TOUR)
def test_a_toolpath_leaves_the_same_part_on_every_machine_with_two_rotaries(toolpath: str) -> None:
    found = []
    for machine in MACHINES:
        with suppress(PlanError):  # beside a pole, and where a solution is out of reach
            found.append(cut_on(machine, ROOT / f"tests/golden/tour/{toolpath}.toolpath.json"))
    (text, done, left), *others = found

    assert done.removed_mm3 > 50
    assert others
    for other_text, other, other_left in others:
        assert text != other_text
        assert done.removed_mm3 == pytest.approx(other.removed_mm3, rel=2e-3)
        assert {kind: len(one) for kind, one in done.touches.items()} == {kind: len(one) for kind, one in other.touches.items()}
        for one, two in zip(left.bundles, other_left.bundles, strict=True):
            same = one.held == two.held
            assert same.mean() > 0.998  # where a line just grazes a cut, one may hold what the other does not
            room = min(one.ends.shape[2], two.ends.shape[2])
            there = same[..., None] & (np.arange(room) < one.held[..., None])
            assert np.quantile(np.abs(one.ends[:, :, :room] - two.ends[:, :, :room])[there], 0.998) < 0.03
