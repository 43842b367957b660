"""Rules of arcs and feeds that hold for all inputs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arc_rows import arc, flattened, in_blocks, length, sweep_deg, sweeps_deg
from steadyrest.conventions import INVERSE, PLANE_AXES, PLANES
from steadyrest.motion.arcs import ArcRows, parted, spoken, wrapped_chords
from steadyrest.motion.feeds import inverse_pieces, planned_feed
from steadyrest.motion.kinematics import wrapped_axes
from steadyrest.profile.axes import Arcs, Feed, LinearAxis, Rotary
from strayed import turned_back

planes = st.sampled_from(PLANES)


@st.composite
def arcs(draw: st.DrawFn, largest: float = 500.0) -> tuple[ArcRows, float]:
    """An arc and the turn from which it was made, degrees, signed."""
    plane, radius = draw(planes), draw(st.floats(0.5, largest))
    begin, part = draw(st.floats(-360, 360)), draw(st.floats(0.5, 359.5))
    clockwise, turns, rise = draw(st.booleans()), draw(st.integers(0, 3)), draw(st.floats(-50, 50))
    u, v, across = PLANE_AXES[PLANES.index(plane)]
    centre = draw(st.tuples(*[st.floats(-100, 100)] * 3))
    sense = -1 if clockwise else 1
    ends = []
    for angle, height in ((begin, 0.0), (begin + sense * part, rise)):
        spot = [0.0, 0.0, 0.0]
        spot[u] = centre[u] + radius * math.cos(math.radians(angle))
        spot[v] = centre[v] + radius * math.sin(math.radians(angle))
        spot[across] = height
        ends.append((spot[0], spot[1], spot[2]))
    return arc(ends[0], ends[1], centre, plane, clockwise=clockwise, full_turns=turns), sense * (part + 360 * turns)


@given(made=arcs())
def test_the_sweep_is_the_turn_it_was_made_of(made: tuple[ArcRows, float]) -> None:
    swept, turn = made
    assert sweep_deg(swept) == pytest.approx(turn, abs=1e-9 * 1e3)


@settings(max_examples=200)
@given(made=arcs(), tolerance=st.sampled_from([0.005, 0.05, 1.0]))
def test_chords_stay_within_tolerance_of_the_helix(made: tuple[ArcRows, float], tolerance: float) -> None:
    flat, turn = made
    (start,), (centre,), (u, v, across) = flat.start, flat.centre, PLANE_AXES[flat.plane[0]]
    points = np.vstack([flat.start, flattened(flat, tolerance)])
    n = len(points) - 1
    radius = math.hypot(start[u] - centre[u], start[v] - centre[v])
    begin = math.atan2(start[v] - centre[v], start[u] - centre[u])
    for share in (0.25, 0.5, 0.8):
        done = (np.arange(n) + share) / n
        on_arc = np.empty((n, 3))
        on_arc[:, u] = centre[u] + radius * np.cos(begin + math.radians(turn) * done)
        on_arc[:, v] = centre[v] + radius * np.sin(begin + math.radians(turn) * done)
        on_arc[:, across] = start[across] + flat.rise[0] * done
        on_chord = points[:-1] + share * np.diff(points, axis=0)
        assert np.linalg.norm(on_arc - on_chord, axis=1).max() <= max(tolerance, 1e-9) * (1 + 1e-6)


@settings(max_examples=200)
@given(
    made=arcs(largest=500.0),
    form=st.sampled_from(["centre", "radius"]),
    full=st.booleans(),
    widest=st.sampled_from([360.0, 180.0, 90.0, 200.0]),
)
def test_spoken_arcs_are_the_same_arc_in_blocks_that_the_controller_takes(
    made: tuple[ArcRows, float], form: str, full: bool, widest: float
) -> None:
    whole, turn = made
    profile = Arcs.model_validate({"form": form, "full_circles": full and form == "centre" and widest == 360, "largest_sweep": widest})
    parts = spoken(whole, profile, 1.0)
    if parts == 0:  # only where a block would be shorter than rounding allows
        u, v, _ = PLANE_AXES[whole.plane[0]]
        assert math.hypot(*(whole.end - whole.start)[0, [u, v]]) < 0.01
        assert abs(turn) < 180
        return
    ends, ways = parted(whole, parts.astype(np.int64))
    assert tuple(ends[-1]) == tuple(whole.end[0])
    sweeps = sweeps_deg(whole, parts)
    assert sum(sweeps) == pytest.approx(abs(turn), abs=1e-5)
    assert ways.sum() == pytest.approx(length(whole), rel=1e-9)
    for wide in sweeps:
        assert wide <= widest + 1e-6
        assert profile.full_circles or wide < 359.999
        assert form == "centre" or wide <= 165.001 or 194.999 <= wide <= 345.001


@settings(max_examples=100, deadline=None)
@given(made=arcs(largest=15.0), z_from=st.sampled_from(["surface", "axis"]), tolerance=st.sampled_from([0.01, 0.1]))
def test_chords_of_a_wrapped_arc_stay_within_tolerance_on_the_part(made: tuple[ArcRows, float], z_from: Any, tolerance: float) -> None:
    drawn, turn = made
    (start,), (centre,), (u, v, across) = drawn.start, drawn.centre, PLANE_AXES[drawn.plane[0]]
    points = np.vstack([drawn.start, in_blocks(drawn, wrapped_chords(drawn, tolerance, 40.0, z_from))])
    n = len(points) - 1
    radius = math.hypot(start[u] - centre[u], start[v] - centre[v])
    begin = math.atan2(start[v] - centre[v], start[u] - centre[u])
    for share in (0.3, 0.5):
        done = (np.arange(n) + share) / n
        on_arc = np.empty((n, 3))
        on_arc[:, u] = centre[u] + radius * np.cos(begin + math.radians(turn) * done)
        on_arc[:, v] = centre[v] + radius * np.sin(begin + math.radians(turn) * done)
        on_arc[:, across] = start[across] + drawn.rise[0] * done
        on_chord = points[:-1] + share * np.diff(points, axis=0)
        asked, cut = (turned_back(*wrapped_axes(flat, 40.0, 0.0, z_from, "X", (0, 0, 0)), "X", (0, 0, 0)) for flat in (on_arc, on_chord))
        assert np.linalg.norm(asked - cut, axis=1).max() <= tolerance * (1 + 1e-6)


@st.composite
def profiles(draw: st.DrawFn) -> Feed:
    way = st.sampled_from(["per_minute", "inverse"])
    return Feed.model_validate(
        {
            "inverse_code": "G93",
            "inverse_is": draw(st.sampled_from(["per_minute", "per_second", "seconds"])),
            "per_minute_counts": draw(st.sampled_from(["linear_axes", "all_axes", "tip"])),
            "linear": draw(way),
            "rotary": draw(way),
            "combined": draw(way),
            "largest_mm": draw(st.sampled_from([500, 99999])),
            "largest_inverse": draw(st.sampled_from([100, 99999])),
        }
    )


ways = st.one_of(st.just(0.0), st.floats(-100, 100).filter(lambda d: abs(d) > 1e-4))


@settings(max_examples=300)
@given(
    rows=st.lists(st.tuples(ways, ways, ways, ways, st.floats(0.001, 100), st.floats(1, 1e5)), min_size=1, max_size=10),
    feed=profiles(),
    rapid=st.sampled_from([100.0, 5000.0]),
    inch=st.booleans(),
)
def test_no_axis_goes_faster_than_it_can_and_f_says_the_time(rows: list, feed: Feed, rapid: float, inch: bool) -> None:
    table = np.array(rows, dtype=float)
    rotary = Rotary(along="X", chuck_faces="+X", positive_turns_chuck="clockwise", fastest=3600)
    linear = {letter: LinearAxis(fastest=rapid) for letter in "XYZ"}
    d_xyz, d_w, tip, asked = table[:, :3], table[:, 3], table[:, 4], table[:, 5]
    planned = planned_feed(d_xyz, d_w[:, None], tip, asked, [rotary], linear, feed, inch)
    moves = (np.abs(table[:, :4]) > 0).any(axis=1)
    largest = feed.largest_inch if inch else feed.largest_mm
    for row in np.flatnonzero(moves):
        minutes, word = planned.minutes[row], planned.word[row]
        assert word > 0
        assert minutes >= tip[row] / asked[row] * (1 - 1e-12)
        assert bool(planned.slowed_by[row]) == (minutes > tip[row] / asked[row] * (1 + 1e-9))
        assert np.abs(d_xyz[row]).max() * (25.4 if inch else 1.0) <= rapid * minutes * (1 + 1e-9)
        assert abs(d_w[row]) <= 3600 * minutes * (1 + 1e-9)
        if planned.mode[row] == INVERSE:
            per = {"per_minute": 1 / minutes, "per_second": 1 / (60 * minutes), "seconds": 60 * minutes}[feed.inverse_is]
            assert word == pytest.approx(per)
            assert feed.inverse_is == "seconds" or word <= feed.largest_inverse * (1 + 1e-9)
        else:
            counted = np.linalg.norm(d_xyz[row])
            if feed.per_minute_counts == "tip":
                counted = tip[row]
            elif feed.per_minute_counts == "all_axes":
                counted = math.hypot(counted, d_w[row])
            elif counted == 0:
                counted = abs(d_w[row])
            assert word == pytest.approx(counted / minutes)
            assert word <= largest * (1 + 1e-9)


@given(minutes=st.floats(1e-5, 1e4), decimals=st.integers(0, 5), per=st.sampled_from(["per_minute", "per_second"]))
def test_after_cutting_f_in_inverse_time_is_within_half_a_thousandth(minutes: float, decimals: int, per: str) -> None:
    feed = Feed.model_validate({"inverse_code": "G93", "inverse_is": per})
    count = int(inverse_pieces(np.array([minutes]), 10.0**decimals, feed)[0])
    exact = count / (minutes if per == "per_minute" else 60 * minutes)
    assert abs(round(exact * 10**decimals) / 10**decimals - exact) <= 5.0001e-4 * exact
