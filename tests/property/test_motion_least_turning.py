"""The turning of whole programs against every choice of whole turns, one by one; and that what is chosen is proved."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion, plan, survey
from steadyrest.profile import Profile, ResolvedProfile, resolve
from steadyrest.proof import prove
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.writing import write_program

RADIUS = 20.0
Groove = tuple[int, int, float]
"""Where a cut begins and ends, degrees as the program counts them, and how high the tool goes afterwards over the surface."""


def developed(w_deg: float) -> float:
    """rs274ngc along X: W is alpha, and alpha = -y / r."""
    return -math.radians(w_deg) * RADIUS


def part(operations: list[list[Groove]], **rotary: Any) -> Toolpath:
    """Wrapped operations of grooves, over each start at rapid, or down to it at feed straight from where the one before ended."""
    made = []
    for number, grooves in enumerate(operations):
        moves: list[dict[str, Any]] = []
        for at, (begin, end, up) in enumerate(grooves):
            x = -10.0 - 2 * at - number
            moves += [{"rapid": [x, developed(begin), up]}, {"cut": [x, developed(begin), -1], "feed": 300}]
            moves += [{"cut": [x - 1, developed(end), -1], "feed": 800}, {"rapid": [x - 1, developed(end), up]}]
        wrapped = {"intent": "wrapped", "diameter": 2 * RADIUS}
        made.append({"tool": 1, "spindle": {"rpm": 5000, "turns": "clockwise"}, "rotary": wrapped, "moves": moves})
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 2 * RADIUS, "from": -90, "to": 0},
            "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
            "operations": made,
        }
    )


def written(toolpath: Toolpath, resolved: ResolvedProfile) -> bytes:
    planned = plan(toolpath, resolved.profile)
    folders = resolved.template_folders
    return b"".join(write_program(planned.items, resolved.profile, folders, inch=planned.inch, rotary_letters=planned.letters))


def rapid_turning(toolpath: Toolpath, profile: Profile) -> float:
    """How far the planned program turns at rapid, from W 0 on."""
    at, total = 0.0, 0.0
    for item in plan(toolpath, profile).items:
        runs = item.motion if isinstance(item, Event) else [item] if isinstance(item, Motion) else []
        for run in runs:
            for kind, w_deg in zip(run.kind, run.rotary_deg[:, 0], strict=True):
                if not np.isnan(w_deg):
                    total += abs(float(w_deg) - at) if kind == RAPID else 0.0
                    at = float(w_deg)
    return total


def least_turning(operations: list[list[Groove]], profile: Profile) -> float | None:
    """By trying every whole turn for every groove; None where one of them fits nowhere."""
    rotary = profile.rotary["A"]
    low, high = (rotary.travel.lowest, rotary.travel.highest) if rotary.travel.kind == "limited" else (-math.inf, math.inf)
    # in six turns' reach of the way through that turns least, or of zero, lies all that can be better
    choices: list[list[int]] = []
    for grooves in operations:
        for at, (begin, end, _) in enumerate(grooves):
            fits = [k for k in range(-9, 10) if low <= min(begin, end) + 360 * k and max(begin, end) + 360 * k <= high]
            if not fits:
                return None
            around = -((begin + 180) // 360)
            zero = rotary.unwinding.between == "zero" and at == 0
            choices.append([min(fits, key=lambda k: abs(k - around))] if zero else fits)
    flat = [groove for grooves in operations for groove in grooves]
    best = {0.0: 0.0}
    for (begin, end, _), turns in zip(flat, choices, strict=True):
        after: dict[float, float] = {}
        for turn, (at, cost) in itertools.product(turns, best.items()):
            there = end + 360.0 * turn
            after[there] = min(after.get(there, math.inf), cost + abs(begin + 360.0 * turn - at))
        best = after
    ends = {"zero": abs, "stay": lambda w: 0.0, "nearest_turn": lambda w: abs(w - 360 * round(w / 360))}
    return min(cost + ends[rotary.unwinding.at_end](at) for at, cost in best.items())


grooves = st.tuples(st.integers(-700, 700), st.integers(-700, 700), st.sampled_from([1.0, 5.0, 30.0]))
programs = st.lists(st.lists(grooves, min_size=1, max_size=3), min_size=1, max_size=2)
mountings = st.lists(
    st.sampled_from(
        ["rotary.A.unwinding.between=zero", "rotary.A.unwinding.at_end=zero", "rotary.A.unwinding.at_end=nearest_turn", *["limited"] * 3]
    ),
    unique=True,
    max_size=3,
)


@settings(deadline=None)
@given(operations=programs, said=mountings, low=st.integers(-1500, -400), high=st.integers(400, 1500))
def test_no_other_choice_of_whole_turns_turns_less_at_rapid(operations: list[list[Groove]], said: list[str], low: int, high: int) -> None:
    sets = [one for one in said if one != "limited"]
    if "limited" in said:
        sets += ["rotary.A.travel.kind=limited", f"rotary.A.travel.from={low}", f"rotary.A.travel.to={high}"]
    resolved = resolve("rs274ngc", sets)
    least = least_turning(operations, resolved.profile)
    if least is None or ("limited" in said and "rotary.A.unwinding.at_end=nearest_turn" in sets):
        return
    toolpath = part(operations)
    assert pytest.approx(least, abs=1e-6) == rapid_turning(toolpath, resolved.profile)
    text = written(toolpath, resolved)
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()
    assert pytest.approx(least, abs=0.01) == verdict.whole.rapid_turning_deg + abs(_first_angle(text))
    assert all(one.lifted == 0 for one in verdict.operations)


def _first_angle(text: bytes) -> float:
    """To where the rotary is first turned: from where, the program does not know."""
    return next(
        float(word[1:]) for line in text.splitlines() if not line.startswith(b"(") for word in line.decode().split() if word[0] == "A"
    )


@pytest.mark.parametrize("turns", [7, 40])
@pytest.mark.parametrize("name", ["rs274ngc", "rollover-shortest", "rollover-sign", "y-drives-rotary", "linear-feed-only", "tip-feed"])
def test_a_groove_of_many_turns_followed_by_a_rapid_back_to_its_start_turns_less_than_one_at_rapid(name: str, turns: int) -> None:
    toolpath, resolved = part([[(0, 360 * turns + 100, 30.0), (0, 90, 30.0)]]), resolve(name, ["rotary.A.unwinding.at_end=stay"])
    text = written(toolpath, resolved)
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()
    assert pytest.approx(100, abs=0.1) == verdict.whole.rapid_turning_deg


def test_whole_turns_inside_a_cut_are_refused() -> None:
    toolpath, resolved = part([[(0, 500, 30.0), (0, 90, 30.0)]]), resolve("rs274ngc")
    text = written(toolpath, resolved)
    assert prove(text, toolpath, resolved.profile).proved
    assert b" A500" in text
    assert not prove(text.replace(b" A500", b" A860", 1), toolpath, resolved.profile).proved
    # down at a place at which a turn more would be as good, without coming up for it
    low = text.replace(b"G93 X", b"G0 A360\nG93 G1 X", 1).replace(b" A500", b" A860", 1)
    assert not prove(low, toolpath, resolved.profile).proved


def test_an_operation_of_which_a_groove_is_wider_than_the_travel_is_turned_back_and_does_not_unwind_its_rapids() -> None:
    toolpath = part([[(0, 2000, 30.0), (0, 300, 30.0), (0, 90, 30.0)]])
    resolved = resolve("rs274ngc", ["rotary.A.travel.kind=limited", "rotary.A.travel.from=-720", "rotary.A.travel.to=720"])
    text = written(toolpath, resolved)
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()
    assert 1 == verdict.operations[0].lifted
    with pytest.raises(PlanError, match="it fits in no whole turn"):
        list(plan(toolpath, resolve("rs274ngc", ["rotary.A.travel.kind=limited", "rotary.A.travel.when_exceeded=refuse"]).profile).items)


def test_holes_round_a_part_are_reached_the_shorter_way_each() -> None:
    holes = [{"hole": [-10.0 - at, developed(w)], "retract": 2, "bottom": -5, "feed": 100} for at, w in enumerate((0, 350, 20, 700))]
    data = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 2 * RADIUS, "from": -90, "to": 0},
        "tools": [{"number": 1, "shape": "drill", "diameter": 4, "point_angle": 118}],
        "operations": [
            {
                "tool": 1,
                "spindle": {"rpm": 5000, "turns": "clockwise"},
                "rotary": {"intent": "wrapped", "diameter": 2 * RADIUS},
                "moves": holes,
            }
        ],
    }
    toolpath = parse_toolpath(data)
    for sets in ([], ["rotary.A.travel.kind=limited"], ["rotary.A.unwinding.between=zero"]):
        resolved = resolve("rs274ngc", sets)
        verdict = prove(written(toolpath, resolved), toolpath, resolved.profile)
        assert verdict.proved, verdict.text()
        assert pytest.approx(10 + 30 + 40, abs=0.01) == verdict.whole.rapid_turning_deg


def test_an_operation_of_too_many_stretches_is_chosen_as_one_and_still_turns_the_shorter_way(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(survey, "MOST_STRETCHES", 2)
    toolpath = part([[(0, 700, 30.0), (0, 350, 1.0), (-20, 90, 30.0)], [(0, 90, 5.0)]])
    for sets in (
        ["rotary.A.travel.kind=limited", "rotary.A.travel.from=-1500", "rotary.A.travel.to=1500"],
        ["rotary.A.unwinding.at_end=zero"],
    ):
        resolved = resolve("rs274ngc", sets)
        verdict = prove(written(toolpath, resolved), toolpath, resolved.profile)
        assert verdict.proved, verdict.text()
        first = 20 + 10 + 10
        assert verdict.whole.rapid_turning_deg < first + 90 + 1080 + 90
        assert all(one.lifted == 0 for one in verdict.operations)
