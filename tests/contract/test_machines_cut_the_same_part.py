"""One toolpath on machines built in other ways: programs that share no number leave the same part, by dexels."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from steadyrest import load
from steadyrest.errors import PlanError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.posting import post_to_memory
from steadyrest.profile import Profile, chain_of, load_profile
from steadyrest.reading import read_program
from steadyrest.request import Request
from steadyrest.simulation import Cut, Simulation
from steadyrest.simulation.dexel import Dexels, billet_of, stock_dexels
from steadyrest.toolpath import Toolpath

ROOT = Path(__file__).parents[2]
PROFILES = [load_profile(file.parent.name) for file in sorted((ROOT / "controllers").glob("*/controller.toml"))]
MACHINES = [profile for profile in PROFILES if (chain := chain_of(profile)) is not None and len(chain.letters) == 2]
CELL_MM = 0.61
"""So that no wall of the tour lies where lines do: there a hair decides about whole rows of them."""
PAST_POLES = ("poles.past=slow", "reorient.inside_a_cut=withdraw")
TOUR = [
    "orientations",
    "planes",
    *(pytest.param(name, marks=pytest.mark.long) for name in ("along_z", "off_centre_inch", "still", "tilted_planes")),
]
"""Of the tour what machines with two rotaries can do, none of them all that the others can."""


def lengths_of(part: Toolpath) -> dict[int, float]:
    return {tool.number: (100.0 + 7 * tool.number) / (25.4 if part.units == "inch" else 1.0) for tool in part.tools}


def cut_on(machine: Profile, toolpath: Path | Toolpath, sets: tuple[str, ...] = PAST_POLES) -> tuple[bytes, Cut, Dexels]:
    lengths = lengths_of(load(toolpath) if isinstance(toolpath, Path) else toolpath)
    posted, text = post_to_memory(Request(toolpath, machine.name, sets=sets, gauge_lengths=lengths, simulate=False))
    profile, job = load_profile(machine.name, sets), posted.toolpath
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
        assert {kind: len(one) for kind, one in done.touches.items()} == {kind: len(one) for kind, one in other.touches.items()}
        leaves_the_same(done, left, other, other_left)


def leaves_the_same(done: Cut, left: Dexels, other: Cut, other_left: Dexels, off_mm: float = 0.03) -> None:
    assert done.removed_mm3 == pytest.approx(other.removed_mm3, rel=2e-3)
    for one, two in zip(left.bundles, other_left.bundles, strict=True):
        same = one.held == two.held
        assert same.mean() > 0.998  # where a line just grazes a cut, one may hold what the other does not
        room = min(one.ends.shape[2], two.ends.shape[2])
        there = same[..., None] & (np.arange(room) < one.held[..., None])
        assert np.quantile(np.abs(one.ends[:, :, :room] - two.ends[:, :, :room])[there], 0.998) < off_mm


@pytest.mark.parametrize(
    ("toolpath", "first", "second"),
    [
        ("tests/golden/tour/orientations", "two-in-table", "two-in-head"),
        ("tests/golden/tour/orientations", "two-in-head", "two-in-table"),
        pytest.param("demo/helm_boss/helm_boss", "two-in-table", "head-and-table", marks=pytest.mark.long),
        pytest.param("demo/helm_boss/helm_boss", "two-in-head", "two-in-table", marks=pytest.mark.long),
    ],
)
def test_a_program_of_one_machine_taken_and_posted_for_another_leaves_the_same_part(
    toolpath: str, first: str, second: str, tmp_path: Path
) -> None:
    """Its rotaries turn while it cuts, and a head that turns has the lengths of its tools in the head of its program."""
    part = load(ROOT / f"{toolpath}.toolpath.json")
    text, done, left = cut_on(load_profile(first), part)
    program = tmp_path / "posted.nc"
    program.write_bytes(text)
    said = PartOptions(units=part.units, axis=part.axis, centre=part.centre, stock=part.stock, clearance=part.clearance, tools=part.tools)
    taken = take([Input(file=program, language=first)], said)
    assert "simultaneous" in [operation.rotary.intent for operation in taken.operations]

    other_text, other, other_left = cut_on(
        load_profile(second), taken, (*PAST_POLES, *(["rotary.B.prefer=either"] if second == "head-and-table" else []))
    )
    assert other_text != text
    leaves_the_same(done, left, other, other_left, off_mm=0.1)  # beside the pole two degrees of axis tolerance move a ball by 0.08
