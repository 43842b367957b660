"""One toolpath on machines built in other ways: programs that share no number leave the same part, by dexels."""

from __future__ import annotations

from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from steadyrest import load
from steadyrest.columns import Floats, join
from steadyrest.errors import PlanError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.posting import post_to_memory
from steadyrest.profile import Profile, chain_of, load_profile
from steadyrest.reading import read_program
from steadyrest.request import Request
from steadyrest.simulation import Cut, Simulation
from steadyrest.simulation.dexel import Dexels, billet_of, stock_dexels
from steadyrest.toolpath import CUT, MoveColumns, Toolpath, parse_toolpath

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


WITH_ONE = (
    "rs274ngc",
    "limited-clamped",
    "y-drives-rotary",
    "rs274ngc-right-end",
    "iso6983-degrees-in-f",
    "rollover-shortest",
    "rollover-sign",
    "inverse-per-second",
    "linear-feed-only",
    "tip-feed",
    "incremental",
    "rs274ngc",
)
FEED = 240.0


def groove() -> tuple[Toolpath, Floats]:
    """A groove about X, two and a half turns out and one back again, ever shallower, the tool straight towards the axis; and its points.

    The axis does not go through the zero of the program.
    """
    turns = np.concatenate([np.linspace(0.1, 2.6, 301), np.linspace(2.6, 1.6, 121)[1:]])
    out = np.stack([0 * turns, -np.sin(2 * np.pi * turns), np.cos(2 * np.pi * turns)], axis=1)
    centre = np.array([0.0, 3.0, -12.0])
    tips = centre + np.linspace(17, 19, len(turns))[:, None] * out + np.linspace(-40, -10, len(turns))[:, None] * [1.0, 0.0, 0.0]
    rows = list(zip(tips.tolist(), out.tolist(), strict=True))
    moves: list[dict[str, Any]] = [{"cut": tip, "tool_axis": axis, "feed": FEED} for tip, axis in rows]
    part = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "axis": "X",
        "centre": centre.tolist(),
        "stock": {"shape": "round", "diameter": 40, "from": -60, "to": 0},
        "tools": [{"number": 1, "shape": "ball", "diameter": 4, "cutting_length": 14}],
        "operations": [
            {
                "tool": 1,
                "spindle": {"rpm": 3000, "turns": "clockwise"},
                "rotary": {"intent": "simultaneous"},
                "moves": [{"rapid": (tips[0] + 5 * out[0]).tolist(), "tool_axis": rows[0][1]}, *moves],
            }
        ],
    }
    return parse_toolpath(part), tips


@pytest.mark.parametrize(("first", "second"), list(pairwise(WITH_ONE)))
def test_a_program_that_turns_one_rotary_while_it_cuts_is_taken_and_posted_for_another(first: str, second: str, tmp_path: Path) -> None:
    """Of mountings, travels and modes of F as they come; each point of the part is cut where it was asked, and as fast."""
    part, tips = groove()
    said = PartOptions(axis="X", centre=part.centre, stock=part.stock, tools=part.tools)
    for machine in (first, second):
        _, text = post_to_memory(Request(part, machine, simulate=False))
        program = tmp_path / "posted.nc"
        program.write_bytes(text)
        part = take([Input(file=program, language=machine, tool=1)], said)
        assert {"simultaneous"} == {operation.rotary.intent for operation in part.operations}
        rows = join([item for operation in part.operations for item in operation.stream() if isinstance(item, MoveColumns)])
        assert np.linalg.norm(rows.end[rows.kind == CUT][:, None] - tips, axis=2).min(axis=0).max() < 0.0012
        assert np.median(rows.feed[rows.kind == CUT]) == pytest.approx(FEED, rel=0.01)
