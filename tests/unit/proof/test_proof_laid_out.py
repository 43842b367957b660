"""Both ways on two rotaries or a head, laid into the same coordinates: those of the toolpath, or of the machine where a height is wrong."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, MOVES, TWO_IN_HEAD, bowl, machine, part, planes, verdict, written
from steadyrest.posting import post_to_memory
from steadyrest.profile import load_profile
from steadyrest.proof import Difference, prove
from steadyrest.proof.laid_out import tool_axes_apart
from steadyrest.request import Request
from steadyrest.toolpath import Toolpath

CHAINS = [C_ON_A, HEAD_AND_TABLE, TWO_IN_HEAD]


def spoiled(toolpath: Toolpath, chain: dict[str, Any], change: Callable[[list[str]], list[str]]) -> Difference:
    profile = machine(chain)
    maker = written(toolpath, profile)
    assert verdict(maker.program(), toolpath, profile, gauge_lengths=GAUGE).proved
    maker.text = change(maker.text)
    failure = verdict(maker.program(), toolpath, profile, gauge_lengths=GAUGE).failure
    assert failure is not None
    assert failure.difference is not None
    return failure.difference


def higher(which: int, by: float) -> Callable[[list[str]], list[str]]:
    """Z of the block at that place among those that cut is another one."""

    def change(lines: list[str]) -> list[str]:
        at = [at for at, line in enumerate(lines) if line.startswith("G93")][which]
        words = [f"Z{float(word[1:]) + by:.4f}" if word[0] == "Z" else word for word in lines[at].split()]
        return [*lines[:at], " ".join(words), *lines[at + 1 :]]

    return change


@pytest.mark.parametrize("chain", CHAINS, ids=lambda chain: chain["chain"])
def test_in_a_cut_both_ways_are_those_of_the_part_with_their_tool_axes(chain: dict[str, Any]) -> None:
    """By hand: Z lifts the tip by as much along the spindle; in the part that is along the tool, where the table alone turns."""
    toolpath = bowl(400)
    found = spoiled(toolpath, chain, higher(200, 0.5))
    (columns,) = toolpath.operations[0].stream()
    assert ("path", "on the part") == (found.shown, found.where)
    assert found.asked_at is not None
    assert found.found_at is not None
    assert 0.3 < found.off_mm < 0.51
    np.testing.assert_allclose(np.linalg.norm(found.found_at[4:]), 1.0)
    last = np.flatnonzero(np.diff(found.asked.number))
    assert len(last) > 8
    for place, move in zip(found.asked.stand[last], found.asked.number[last], strict=True):
        np.testing.assert_allclose(place[:3], columns.end[move - 1], atol=1e-9)  # type: ignore[union-attr]
        np.testing.assert_allclose(place[4:], columns.tool_axis[move - 1], atol=1e-6)  # type: ignore[union-attr]
    # Away from the word that differs the program is where the toolpath is.
    near = np.linalg.norm(found.found.stand[:, None, :3] - found.asked.stand[None, :, :3], axis=2).min(axis=1)
    assert near[0] < 0.01
    assert found.off_mm == pytest.approx(near.max(), abs=0.02)
    assert ("coordinates", "tool axis") == (found.figures[0].name, found.figures[-1].name)


def test_in_a_plane_the_places_are_those_of_its_own_moves() -> None:
    toolpath = planes()
    found = spoiled(toolpath, C_ON_A, _moved)
    assert ("path", "in the plane of the operation") == (found.shown, found.where)
    asked = found.asked.stand
    wanted = {tuple(move[key]) for move in MOVES for key in ("rapid", "cut") if key in move}
    assert {tuple(place) for place in asked[:, :3].round(6).tolist()} <= {tuple(map(float, one)) for one in wanted}
    np.testing.assert_allclose(asked[:, 4:], np.tile([0.0, 0.0, 1.0], (len(asked), 1)), atol=1e-9)
    assert found.off_mm == pytest.approx(0.5, abs=0.01)


def _moved(lines: list[str]) -> list[str]:
    """The end of the second cut, its X half a millimetre on."""
    at = next(at for at, line in enumerate(lines) if "G1" in line and "X" in line)
    words = [f"X{float(word[1:]) + 0.5:.4f}" if word[0] == "X" else word for word in lines[at].split()]
    return [*lines[:at], " ".join(words), *lines[at + 1 :]]


def test_what_is_too_low_is_shown_on_the_machine_with_the_heights_that_matter() -> None:
    """A turn on the way, a tenth of a millimetre over the place where the tool ends its first plane."""

    def low(lines: list[str]) -> list[str]:
        at = [at for at, line in enumerate(lines) if line == "G53 G0 Z0"][1]
        return [*lines[:at], *lines[at + 1 :]]

    found = spoiled(planes(), C_ON_A, low)
    assert ("height", "on the machine") == (found.shown, found.where)
    assert found.found_at is not None
    assert ["top of the stock as it turns", "clear height"] == [name for name, _ in found.levels]
    assert found.found_at[2] < found.levels[0][1]
    assert found.needed_mm == pytest.approx(found.levels[1][1])


def test_a_wrapped_drawing_is_laid_out_as_on_a_machine_with_one_rotary_along_its_axis() -> None:
    moves: list[dict[str, Any]] = [
        {"rapid": [0, 0, 40]},
        {"rapid": [0, 0, 2]},
        {"cut": [0, 0, -1], "feed": 200},
        {"cut": [0, 10, -1], "feed": 400},
        {"rapid": [0, 10, 40]},
    ]
    stock = {"shape": "round", "diameter": 40, "from": -30, "to": 30}
    toolpath = part([{"rotary": {"intent": "wrapped", "diameter": 40}, "moves": moves}], axis="X", stock=stock)
    posted, text = post_to_memory(Request(toolpath, "two-in-table", simulate=False))
    assert posted.verdict.proved
    block = next(line for line in text.decode().splitlines() if "Z22.1347" in line)
    failure = prove(text.replace(b"Z22.1347", b"Z22.4347"), toolpath, load_profile("two-in-table")).failure
    assert block.startswith("Y")
    assert failure is not None
    found = failure.difference
    assert found is not None
    assert ("path", "wrapped", "") == (found.shown, found.frame.kind, found.where)
    assert found.off_mm == pytest.approx(0.3, abs=0.01)
    assert found.asked_at is not None
    # Developed: along X 0, around between 0 and 10, 1 deep.
    assert [0, -1] == found.points(found.asked_at[None])[0, [0, 2]].round(6).tolist()
    assert 0 < found.points(found.asked_at[None])[0, 1] < 10


def test_tool_axes_are_apart_by_their_angle_and_by_nothing_where_one_has_none() -> None:
    one, other = np.array([0, 0, 0, 0, 0, 0, 1.0]), np.array([0, 0, 0, 0, 0, 0.6, 0.8])
    assert tool_axes_apart(one, other) == pytest.approx(np.arccos(0.8))
    assert 0.0 == tool_axes_apart(one[:4], other[:4])
    assert 0.0 == tool_axes_apart(one, np.full(7, np.nan))
