"""Whatever a toolpath asks of whatever controller: the program is proved, or the asking is refused in plain words."""

from __future__ import annotations

import re
from math import radians
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from steadyrest.errors import InputError, ProgramError, SteadyrestError
from steadyrest.motion import plan
from steadyrest.profile import ResolvedProfile, find_profiles, load_profile, resolve
from steadyrest.profile_tools import tried_gauge_lengths
from steadyrest.proof import prove
from steadyrest.testing import toolpaths
from steadyrest.toolpath import Held, Toolpath, load_toolpath, parse_toolpath
from steadyrest.writing import write_program

TOUR = Path(__file__).parents[1] / "golden" / "tour"
FEW = settings.default.max_examples // 4
"""Each example is written, read back and proved: a quarter of the usual number, for every profile."""
BUNDLED = sorted(found.name for found in find_profiles() if found.where == "bundled")


def written(toolpath: Toolpath, resolved: ResolvedProfile) -> bytes:
    planned = plan(toolpath, resolved.profile, gauge_lengths=tried_gauge_lengths(toolpath, resolved.profile))
    return b"".join(
        write_program(
            planned.items,
            resolved.profile,
            resolved.template_folders,
            inch=planned.inch,
            rotary_letters=planned.letters,
        )
    )


@pytest.mark.parametrize("name", BUNDLED)
@settings(max_examples=FEW)
@given(data=st.data())
def test_any_toolpath_is_proved_or_refused(name: str, data: st.DataObject) -> None:
    resolved = resolve(name)
    along = next(iter(resolved.profile.rotary.values())).along
    toolpath = data.draw(toolpaths(axis=along))
    if toolpath.stock is not None and (at := data.draw(st.sampled_from((None, "from", "to")))):
        toolpath = toolpath.model_copy(update={"stock": toolpath.stock.model_copy(update={"held": Held(at=at)})})
    try:
        text = written(toolpath, resolved)
    except InputError:
        return
    verdict = prove(text, toolpath, resolved.profile, gauge_lengths=tried_gauge_lengths(toolpath, resolved.profile))
    assert verdict.proved, verdict.text()
    assert not {"lowered", "stop-added"} & {one.name for one in verdict.findings}, verdict.text()


@given(data=st.data())
def test_a_program_read_with_another_mounting_is_never_proved_by_luck(data: st.DataObject) -> None:
    """Where the part turns, and not by half turns only, the other sense of rotation cuts elsewhere."""
    resolved, other = resolve("rs274ngc"), resolve("rs274ngc", ["rotary.A.chuck_faces=-X"])
    toolpath = data.draw(toolpaths(axis="X"))
    try:
        text = written(toolpath, resolved)
    except InputError:
        reject()
    words = [word for line in text.splitlines() if not line.startswith(b"(") for word in re.findall(rb"A(-?[0-9.]+)", line)]
    assume(any(float(word) % 180 for word in words))
    assume(text != elsewhere(toolpath, other))
    try:
        verdict = prove(text, toolpath, other.profile)
    except SteadyrestError:
        return  # refused before it is compared
    assert not verdict.proved


def elsewhere(toolpath: Toolpath, other: ResolvedProfile) -> bytes:
    try:
        return written(toolpath, other)
    except InputError:
        return b""


OFF = st.tuples(st.integers(-300, 300), st.sampled_from([-0.04, -0.03, 0.03, 0.04])).map(lambda one: round(0.1 * one[0] + one[1], 3))
"""Coordinates that a decimal less would move by more than the tolerance."""


@pytest.mark.parametrize("turns", [False, True])
@given(ends=st.lists(st.tuples(OFF, OFF), min_size=1, max_size=6))
def test_finer_numbers_than_the_profiles_are_proved_and_coarser_ones_never(turns: bool, ends: list[tuple[float, float]]) -> None:
    """Of places, mm; of angles, tens of degrees on a cylinder of 20: 0.3 degrees there are 0.05 mm."""
    moves: list[dict[str, Any]] = [{"rapid": [-70, 0, 5]}, {"cut": [-70, 0, 0], "feed": 50}]
    moves += [{"cut": [-60 + x / 10, 10 * radians(10 * y), 0] if turns else [-60 + x, y, 0]} for x, y in ends]
    rotary = {**WRAPPED, "start_angle": 0} if turns else {"intent": "still"}
    toolpath = small_part([*moves, {"rapid": [*moves[-1]["cut"][:2], 5]}], ROUND, rotary)
    setting = "numbers.angle.decimals=0" if turns else "numbers.length.decimals=1"
    fine, coarse = resolve("rs274ngc"), resolve("rs274ngc", [setting])
    verdict = prove(written(toolpath, fine), toolpath, coarse.profile)
    assert verdict.proved, verdict.text()
    program = written(toolpath, coarse)
    verdict = prove(program, toolpath, coarse.profile)
    assert verdict.proved, verdict.text()
    assert not prove(program, toolpath, fine.profile).proved


@pytest.mark.parametrize(
    ("part", "writer", "reader"),
    [
        ("indexed", "rs274ngc", "rs274ngc-right-end"),  # the other sense of rotation
        ("wrapped", "rs274ngc", "rs274ngc-right-end"),
        ("wrapped", "rs274ngc", "inverse-seconds"),  # 1 over minutes against seconds
        ("wrapped", "inverse-per-second", "rs274ngc"),  # 1 over seconds against 1 over minutes
        ("wrapped", "rs274ngc", "linear-feed-only"),  # no inverse time
        ("wrapped", "linear-feed-only", "tip-feed"),  # F of the linear axes against F of the tip
        ("indexed", "absolute-centres", "rs274ngc"),  # I J K as positions against steps
        ("indexed", "rs274ngc", "absolute-centres"),
        ("indexed", "counts-numbered", "rs274ngc"),  # whole counts against decimal points
        ("indexed", "incremental", "rs274ngc"),  # steps against positions
        ("indexed", "rs274ngc", "radius-arcs"),  # I J K against R
        ("indexed", "rs274ngc", "limited-clamped"),  # cuts with the clamp off
        ("simultaneous", "rollover-sign", "rollover-shortest"),  # a sign as direction against the shortest way
        ("overlong_turn", "rs274ngc", "limited-clamped"),  # beyond the travel
        ("along_y", "rs274ngc-b", "rs274ngc"),  # a rotary that the other one does not have
    ],
)
def test_what_one_profile_writes_another_refuses_where_meanings_differ(part: str, writer: str, reader: str) -> None:
    toolpath = load_toolpath(TOUR / f"{part}.toolpath.json")
    changed = ["spindle.largest_rpm=24000"] if writer == "counts-numbered" else []
    text = written(toolpath, resolve(writer, changed))
    try:
        verdict = prove(text, toolpath, load_profile(reader))
    except (ProgramError, InputError):
        return
    assert not verdict.proved


@pytest.mark.parametrize("circles", [1, 2, 3])
def test_wrapped_circles_over_themselves_are_gone_round_as_often_as_asked(circles: int) -> None:
    moves = [
        {"rapid": [-120, -188.495559, 7]},
        {"cut": [-120, -188.495559, -6], "feed": 50},
        {"arc": [-120, -188.495559, -6], "centre": [-121, -188.495559, -6], "turns": "counterclockwise", "full_turns": circles},
        {"rapid": [-120, -188.495559, 7]},
    ]
    operation = {
        "tool": 1,
        "spindle": {"rpm": 300, "turns": "clockwise"},
        "rotary": {"intent": "wrapped", "diameter": 20, "start_angle": -360},
        "moves": moves,
    }
    toolpath = parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 20, "from": -130, "to": 0},
            "tools": [{"number": 1, "shape": "flat", "diameter": 2}],
            "operations": [operation],
        }
    )
    resolved = resolve("rs274ngc")
    text = written(toolpath, resolved)
    assert prove(text, toolpath, resolved.profile).proved
    lines = text.splitlines(keepends=True)
    chords = [at for at, line in enumerate(lines) if b"A" in line and b"X" in line and b"F" in line]
    less = b"".join(line for at, line in enumerate(lines) if at not in chords[: len(chords) // circles])
    assert not prove(less, toolpath, resolved.profile).proved


ROUND = {"shape": "round", "diameter": 20, "from": -120, "to": -5}
SQUARE = {"shape": "rectangular", "across": [20, 20], "from": -120, "to": -5}
WRAPPED = {"intent": "wrapped", "diameter": 20, "start_angle": -360, "z_from": "surface"}


def small_part(moves: list[dict[str, Any]], stock: dict[str, Any], rotary: dict[str, Any]) -> Toolpath:
    """One operation with an end mill."""
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "name": "found by drawing",
            "units": "mm",
            "axis": "X",
            "centre": [0, 0, 0],
            "stock": stock,
            "tools": [{"number": 1, "shape": "flat", "diameter": 2}],
            "operations": [
                {
                    "name": "face",
                    "tool": 1,
                    "spindle": {"rpm": 300, "turns": "clockwise"},
                    "coolant": "off",
                    "rotary": rotary,
                    "moves": moves,
                }
            ],
        }
    )


def test_steps_of_a_hole_rounded_to_other_lengths_keep_their_time() -> None:
    """Steps of 0.5045 become 0.504 and 0.505 with three decimals, and F 49.95 and 50.02."""
    hole = {"hole": [-120, -8], "cycle": "chip-break", "retract": 17.142136, "bottom": 4, "peck": 0.5045, "feed": 50}
    toolpath = small_part([{"rapid": [-120, -8, 17.142136]}, hole], SQUARE, {"intent": "indexed", "angles": [0]})
    resolved = resolve("iso6983-degrees-in-f")
    text = written(toolpath, resolved)
    assert b"F49.95" in text
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()


def test_a_tool_that_leaves_its_cut_is_not_sent_back_into_it_after_turning_back() -> None:
    """The rotary is turned back where a rapid would leave its travel; the tool was at the bottom of a cut."""
    moves: list[dict[str, Any]] = [
        {"rapid": [-120, -188.495559, 3]},
        {"cut": [-120, -188.495559, -6], "feed": 50},
        {"cut": [-120, -188.118568, -6]},
        {"dwell": 0},
        {"rapid": [-120, -188.118568, 3]},
        {"rapid": [-120, -125.538042, 3]},
        {"cut": [-120, -125.538042, -6], "feed": 50},
        {"cut": [-120, -188.495559, -6]},
        {"rapid": [-120, -188.495559, 3]},
        {"rapid": [-110, -188.495559, 3]},
        {"cut": [-110, -188.495559, -2], "feed": 50},
        {"cut": [-110, 100, -2]},
        {"rapid": [-110, 100, 3]},
    ]
    toolpath, resolved = small_part(moves, ROUND, WRAPPED), resolve("limited-clamped")
    text = written(toolpath, resolved)
    assert b"ROTARY TURNED BACK" in text
    assert b"G0 Z4" not in text
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()


def test_the_end_of_the_travel_is_cut_to_though_the_path_goes_a_hair_beyond() -> None:
    """An angle of 360.00007 degrees in a travel of 360: nobody turns back, and into the cut again, for that."""
    moves: list[dict[str, Any]] = [
        {"rapid": [-120, -126.0401594, 3]},
        {"cut": [-120, -126.0401594, -6], "feed": 50},
        {"cut": [-120, -189.2495072, -6]},
        {"rapid": [-120, -189.2495072, 3]},
    ]
    stock = ROUND | {"diameter": 20.0799954}
    toolpath, resolved = small_part(moves, stock, WRAPPED | {"diameter": 20.0799954}), resolve("limited-clamped")
    text = written(toolpath, resolved)
    assert b"TURNED BACK" not in text
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()


def test_a_feed_too_small_to_be_written_is_refused_with_its_cure() -> None:
    """0.115 mm along the axis while the rotary turns four and a half times: F counts the 0.115 mm alone."""
    moves = [
        {"rapid": [-120, -188.495559, 7.142136]},
        {"cut": [-120, -188.495559, -6], "feed": 50},
        {"cut": [-119.885, 99.148664, -6]},
        {"rapid": [-119.885, 99.148664, 7.142136]},
    ]
    coarse = resolve("linear-feed-only", ["numbers.feed.decimals=1"])
    with pytest.raises(InputError, match=r"operation 1 'face', move 3: a block needs F 0.05, but F is written in steps of 0.1"):
        written(small_part(moves, SQUARE, WRAPPED), coarse)
    text = written(small_part(moves, SQUARE, WRAPPED), resolve("linear-feed-only"))
    assert prove(text, small_part(moves, SQUARE, WRAPPED), resolve("linear-feed-only").profile).proved


def test_a_feed_rounded_up_by_more_than_a_percent_is_refused_and_one_that_a_limit_holds_is_rounded_down() -> None:
    """F 0.56 was written 1: the tip moved 80 percent faster than asked."""
    moves = [{"rapid": [-120, 0, 30]}, {"rapid": [-120, 0, 22]}, {"cut": [-120, 0, 18], "feed": 100}, {"cut": [-119, 30, 18], "feed": 0.56}]
    coarse = resolve("linear-feed-only", ["numbers.feed.decimals=0"])
    with pytest.raises(InputError, match=r"a block needs F .*, but F is written in steps of 1"):
        written(small_part(moves, ROUND, WRAPPED), coarse)
    held = [*moves[:3], {"cut": [-119, 300, 18], "feed": 4000}]
    slow = resolve("linear-feed-only", ["numbers.feed.decimals=1", "rotary.A.fastest=300"])
    verdict = prove(written(small_part(held, ROUND, WRAPPED), slow), small_part(held, ROUND, WRAPPED), slow.profile)
    assert verdict.proved, verdict.text()
    assert verdict.whole.fastest_rotary_deg_per_min <= 300


FAST_ARC = [
    {"rapid": [-50, -10, 30]},
    {"cut": [-50, -10, 18], "feed": 300},
    {"arc": [-70, 10, 18], "centre": [-60, 0, 18], "turns": "clockwise", "feed": 9000},
    {"arc": [-70, 10, 17], "centre": [-60, 0, 18], "turns": "clockwise", "feed": 9000},
    {"rapid": [-70, 10, 30]},
]


@pytest.mark.parametrize("name", [name for name in BUNDLED if name not in ("rs274ngc-b", "upright-c", "y-drives-rotary")])
def test_an_arc_asked_faster_than_an_axis_goes_is_slowed_and_proved(name: str) -> None:
    toolpath, resolved = small_part(FAST_ARC, ROUND, {"intent": "indexed", "angles": [0]}), resolve(name)
    lengths = tried_gauge_lengths(toolpath, resolved.profile)
    verdict = prove(written(toolpath, resolved), toolpath, resolved.profile, gauge_lengths=lengths)
    assert verdict.proved, verdict.text()
    assert verdict.operations[0].slowed_blocks


def test_arcs_said_by_their_radius_are_split_as_far_as_their_rounding_asks_for() -> None:
    """An arc of 160 degrees in tenths of a thousandth of an inch: its rounded ends move its middle six times as far."""
    random = np.random.default_rng(1)
    moves: list[dict[str, Any]] = []
    for radius, start, sweep in zip(random.uniform(2, 30, 60), random.uniform(0, 360, 60), random.uniform(140, 165, 60), strict=True):
        begin, end = (np.radians(at) for at in (start, start + sweep))
        place, on = ([-70 + radius * np.cos(at), radius * np.sin(at)] for at in (begin, end))
        moves += [{"rapid": [*place, 30]}, {"cut": [*place, 18], "feed": 300}]
        moves += [{"arc": [*on, 18], "centre": [-70, 0, 18], "turns": "counterclockwise"}, {"rapid": [*on, 30]}]
    toolpath, resolved = small_part(moves, ROUND, {"intent": "indexed", "angles": [0]}), resolve("radius-arcs")
    text = written(toolpath, resolved)
    assert 60 < text.count(b" R")
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()


def test_a_profile_in_steps_speaks_the_cycles_that_it_states() -> None:
    moves = [
        {"rapid": [-50, 0, 30]},
        {"hole": [-50, 0.00049], "retract": 22.0004, "bottom": 9.9996, "feed": 100, "cycle": "peck", "peck": 5},
        {"hole": [-60.00049, 0.00098], "retract": 22.0004, "bottom": 9.9996, "feed": 100, "cycle": "peck", "peck": 5},
        {"hole": [-70, 3], "retract": 22.0004, "bottom": 9.9996, "feed": 100, "cycle": "peck", "peck": 5},
        {"rapid": [-70, 3, 30]},
        {"cut": [-80, 3, 18], "feed": 100},
    ]
    toolpath, resolved = small_part(moves, ROUND, {"intent": "indexed", "angles": [0, 120]}), resolve("incremental")
    text = written(toolpath, resolved)
    assert 2 == text.count(b"G83")
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()


def test_a_hole_off_the_centre_on_a_borrowed_drive_is_refused_with_the_axis_that_it_needs() -> None:
    moves = [{"rapid": [-50, 0, 30]}, {"hole": [-50, 5], "retract": 22, "bottom": 10, "feed": 100}]
    toolpath = small_part(moves, ROUND, {"intent": "indexed", "angles": [0]})
    with pytest.raises(InputError, match="move 2: Y 5 is needed here, but the Y drive turns the rotary: only the centre is allowed, 0"):
        written(toolpath, resolve("y-drives-rotary"))


def test_where_f_is_a_time_no_short_block_gets_faster_by_its_rounding() -> None:
    """Steps of 0.028 mm at 6941 a minute take 0.0002445 s: F 0.00024 would be 1.9 percent too fast."""
    steps = [{"cut": [-120 + 0.02 * at, 0.02 * at, 18], "feed": 6941} for at in range(1, 40)]
    moves = [{"rapid": [-120, 0, 30]}, {"cut": [-120, 0, 18], "feed": 100}, *steps]
    resolved = resolve("inverse-seconds", ["rotary.A.fastest=99999"])
    toolpath = small_part(moves, ROUND | {"diameter": 36}, WRAPPED | {"diameter": 36, "z_from": "axis"})
    verdict = prove(written(toolpath, resolved), toolpath, resolved.profile)
    assert verdict.proved, verdict.text()
    assert verdict.operations[0].faster_percent <= 1
