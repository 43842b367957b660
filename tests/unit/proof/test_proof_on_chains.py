"""Programs for two rotaries, proved and refused: written by hand from the angles and positions that planning's kinematics gives."""

from __future__ import annotations

import numpy as np
import pytest

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, LEANING, TWO_IN_HEAD, bowl, machine, part, planes, verdict, written
from steadyrest.errors import InputError
from steadyrest.motion import plan
from steadyrest.profile import shared_templates_folder
from steadyrest.writing import write_program


@pytest.mark.parametrize("chain", [C_ON_A, LEANING], ids=["C on A", "C on a leaning B"])
@pytest.mark.parametrize("which", [0, 1])
def test_planes_cut_on_two_rotaries_in_the_table_are_proved_in_either_solution(chain: dict, which: int) -> None:
    profile, toolpath = machine(chain), planes()
    found = verdict(written(toolpath, profile, which=which).program(), toolpath, profile)
    assert found.failure is None, found.text()
    assert [one.blocks for one in found.operations] == [10]
    assert 0 < found.farthest < 0.002
    assert 0 < found.operations[0].axis_off_deg < 0.0005


@pytest.mark.parametrize("chain", [HEAD_AND_TABLE, TWO_IN_HEAD], ids=["C below, B in the head", "C and A in the head"])
def test_planes_and_leaning_cuts_are_proved_with_the_gauge_length_of_the_tool(chain: dict) -> None:
    profile = machine(chain)
    for toolpath in (planes(), bowl(200)):
        found = verdict(written(toolpath, profile).program(), toolpath, profile, gauge_lengths=GAUGE)
        assert found.failure is None, found.text()


def test_where_a_head_turns_a_gauge_length_that_is_missing_is_asked_for_by_the_tools_number() -> None:
    toolpath, profile = planes(), machine(HEAD_AND_TABLE)
    with pytest.raises(InputError, match=r"gauge length of tool 1 is not known"):
        verdict(written(toolpath, profile).program(), toolpath, profile, gauge_lengths={2: 128.35})


BY_TIME = {"inverse_code": "G93", "rotary": "inverse", "combined": "inverse"}


@pytest.mark.parametrize("feed", [BY_TIME, {"per_minute_counts": "tip"}], ids=["inverse time", "F of the tip"])
def test_a_cut_is_timed_with_the_gauge_length_of_its_tool_and_left_with_it_before_the_next_one_is_put_in(feed: dict) -> None:
    """Two tools that swing about points in their tips' ways: 20 mm in two seconds, however far the axes go with each."""
    lean = np.radians(np.linspace(-30, 30, 61))
    axes = np.column_stack([np.sin(lean), np.zeros(61), np.cos(lean)])
    ways = zip(np.linspace(-10, 10, 61), axes.tolist(), strict=True)
    moves = [{"cut": [x, 0, 41], "tool_axis": axis, "feed": 600} for x, axis in ways]
    tools = [{"number": number, "shape": "ball", "diameter": 6, "cutting_length": 14} for number in (1, 2)]
    toolpath = part([{"rotary": {"intent": "simultaneous"}, "moves": moves, "tool": number} for number in (1, 2)], tools=tools)
    fast = {axis: {"fastest": 90000} for axis in "XYZ"}
    profile, gauges = machine(HEAD_AND_TABLE, feed=feed, linear=fast, stops={"end": "M30"}), {1: 180.0, 2: 60.0}
    planned = plan(toolpath, profile, gauge_lengths=gauges)
    lines = write_program(planned.items, profile, [shared_templates_folder()], inch=planned.inch, rotary_letters=planned.letters)
    found = verdict(b"".join(lines).decode("ascii"), toolpath, profile, gauge_lengths=gauges)
    assert found.failure is None, found.text()
    down_mm = np.hypot(20, 40) + 5 - (38 * np.cos(lean[0]) - 11 * np.sin(lean[0]))
    assert [one.cutting_minutes for one in found.operations] == pytest.approx([(down_mm + 20) / 600] * 2, rel=5e-3)


@pytest.mark.parametrize("which", [0, 1])
def test_a_tool_axis_that_leans_and_goes_round_is_proved_in_either_solution(which: int) -> None:
    toolpath, profile = bowl(400), machine(C_ON_A)
    found = verdict(written(toolpath, profile, which=which).program(), toolpath, profile)
    assert found.failure is None, found.text()


def test_a_rotary_without_a_clamp_beside_one_that_has_one_is_held_to_none() -> None:
    clamp = {"use": "indexing", "on": "M12", "off": "M13"}
    profile = machine({**C_ON_A, "rotary": {**C_ON_A["rotary"], "C": {**C_ON_A["rotary"]["C"], "clamp": clamp}}}, stops={"end": "M30"})
    planned = plan(planes(), profile)
    lines = write_program(planned.items, profile, [shared_templates_folder()], inch=planned.inch, rotary_letters=planned.letters)
    text = b"".join(lines).decode("ascii")
    assert text.count("M12") == 2
    assert verdict(text, planes(), profile).failure is None
    refused = verdict(text.replace("M12\n", "", 1), planes(), profile).failure
    assert refused is not None
    assert refused.rule == "clamp-off"


def test_a_move_whose_tool_axis_swings_by_a_quarter_may_be_cut_into_many_blocks() -> None:
    """The tool axis is held against the one that is meant where the tip is, on the great circle and not on its chord."""
    lean = np.radians(np.linspace(0, 90, 181))
    every = [{"cut": [u, 4, 46], "tool_axis": [np.sin(at), 0.0, np.cos(at)], "feed": 300} for u, at in zip(20 * lean, lean, strict=True)]
    intent = {"rotary": {"intent": "simultaneous"}}
    asked = part([{**intent, "moves": [every[0], every[-1]]}])
    found = verdict(written(part([{**intent, "moves": every}])).program(), asked)
    assert found.failure is None, found.text()
    assert found.operations[0].blocks > 150
