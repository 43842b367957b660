"""Arcs: sweep, length, chords, and what the controller speaks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from arc_rows import arc, flattened, in_blocks, length, sweep_deg, sweeps_deg
from steadyrest.columns import Floats, join
from steadyrest.motion.arcs import ArcRows, RadiusRounding, chords, parted, spoken, wrapped_chords
from steadyrest.profile.axes import Arcs

EAST, NORTH = (10.0, 0.0, 1.0), (0.0, 10.0, 1.0)
QUARTER, CIRCLE = arc(EAST, NORTH), arc(EAST, EAST)


def at(degrees: float, radius: float = 10.0, z: float = 0.0) -> tuple[float, float, float]:
    return radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees)), z


def by_radius(**more: object) -> Arcs:
    return Arcs.model_validate({"form": "radius", "full_circles": False, **more})


def said(arcs: ArcRows, settings: Arcs) -> Floats:
    blocks = spoken(arcs, settings, 1.0)
    assert blocks > 0
    return blocks


def swept(arcs: ArcRows, settings: Arcs) -> list[float]:
    return sweeps_deg(arcs, said(arcs, settings))


def test_clockwise_goes_the_other_way_round() -> None:
    assert sweep_deg(QUARTER) == pytest.approx(90.0)
    assert sweep_deg(arc(EAST, NORTH, clockwise=True)) == pytest.approx(-270.0)


def test_an_arc_that_ends_where_it_starts_is_a_full_circle() -> None:
    assert sweep_deg(CIRCLE) == 360.0
    assert sweep_deg(arc(EAST, EAST, full_turns=3, clockwise=True)) == -1080.0


@pytest.mark.parametrize("wobble", [1e-12, -1e-12, 5e-7, -5e-7])
def test_the_noise_of_a_file_does_not_make_a_full_circle_vanish(wobble: float) -> None:
    circle = arc(EAST, (10.0, wobble, 1.0))
    assert sweep_deg(circle) == 360.0
    (end,) = in_blocks(circle, said(circle, Arcs()))
    assert tuple(end) == EAST


def test_full_turns_come_on_top_of_the_part_turn() -> None:
    assert sweep_deg(arc(EAST, NORTH, full_turns=2)) == pytest.approx(810.0)


def test_a_helix_is_longer_than_its_circle() -> None:
    assert length(arc(EAST, (10.0, 0.0, 6.0))) == pytest.approx(math.hypot(20 * math.pi, 5.0))


def test_a_radius_off_by_rounding_changes_linearly() -> None:
    rounded = arc(EAST, (0.0, 10.0019, 1.0))
    points = flattened(rounded, 0.01)
    far = np.hypot(points[:, 0], points[:, 1])
    np.testing.assert_allclose(np.diff(far), np.full(len(far) - 1, 0.0019 / len(far)), atol=1e-12)
    assert (10.0, 10.0019) == pytest.approx((rounded.first[0], rounded.last[0]))


def test_the_last_chord_ends_exactly_at_the_end() -> None:
    for one in (QUARTER, arc(EAST, (10.0, 0.0, -3.7)), arc(EAST, NORTH, full_turns=5)):
        assert tuple(flattened(one, 0.005)[-1]) == tuple(one.end[0])


def test_a_helix_sinks_evenly_from_chord_to_chord() -> None:
    z = flattened(arc(EAST, (10.0, 0.0, -8.0)), 0.01)[:, 2]
    np.testing.assert_allclose(np.diff(z), (-8.0 - 1.0) / len(z))


def test_a_circle_keeps_four_chords_however_wide_the_tolerance() -> None:
    assert chords(CIRCLE, 1000.0) == 4


def test_high_over_the_wrapped_surface_chords_are_shorter() -> None:
    low, high = (arc((3.0, 0.0, z), (3.0, 0.0, z)) for z in (0.0, 20.0))
    assert wrapped_chords(high, 0.01, 40.0, "surface") > wrapped_chords(low, 0.01, 40.0, "surface")
    assert wrapped_chords(high, 0.01, 40.0, "axis") == wrapped_chords(low, 0.01, 40.0, "surface")


def test_an_upright_arc_over_the_wrapped_surface_counts_at_its_top() -> None:
    upright, flat = arc((3.0, 0.0, 20.0), (3.0, 0.0, 20.0), (0.0, 0.0, 20.0), "XZ"), arc((3.0, 0.0, 23.0), (3.0, 0.0, 23.0))
    assert wrapped_chords(upright, 0.01, 40.0, "axis") == wrapped_chords(flat, 0.01, 40.0, "axis")


def test_an_arc_within_the_settings_is_spoken_as_it_is() -> None:
    assert spoken(QUARTER, Arcs(), 1.0) == [1]


def test_two_turns_of_a_helix_are_two_blocks_that_each_close_exactly() -> None:
    helix = arc((10.0, 0.0, 0.0), (10.0, 0.0, -4.0), full_turns=2)
    ends = in_blocks(helix, said(helix, Arcs()))
    np.testing.assert_array_equal(ends[:, :2], [(10.0, 0.0), (10.0, 0.0)])
    assert ends[0, 2] == pytest.approx(-2.0)


def test_without_full_circles_a_circle_is_two_halves() -> None:
    assert swept(CIRCLE, Arcs(full_circles=False)) == pytest.approx([180.0, 180.0])


def test_the_widest_sweep_of_a_block_is_kept() -> None:
    assert swept(CIRCLE, Arcs(largest_sweep=90, full_circles=False)) == pytest.approx([90.0] * 4)


@pytest.mark.parametrize("turn", [10.0, 164.0, 166.0, 180.0, 194.0, 200.0, 340.0, 350.0])
def test_in_the_radius_form_no_block_comes_near_a_half_or_a_full_turn(turn: float) -> None:
    sweeps = swept(arc(at(0.0), at(turn)), by_radius())
    assert sum(sweeps) == pytest.approx(turn)
    assert all(sweep <= 165.0 or 195.0 <= sweep <= 345.0 for sweep in sweeps)


def test_in_the_radius_form_a_profile_can_ask_for_narrow_blocks_only() -> None:
    assert swept(arc(at(0.0), at(200.0)), by_radius(largest_sweep=180)) == pytest.approx([100.0, 100.0])


def test_where_rounding_alone_moves_the_middle_too_far_no_arc_is_said_by_its_radius() -> None:
    assert spoken(arc(at(0.0, 1e5), at(300.0, 1e5)), by_radius(largest_radius=1e6), 1.0, RadiusRounding(0.05, 0.05, 0.01)) == [0]


def test_what_the_controller_does_not_speak_is_cut_into_chords() -> None:
    helix = arc(EAST, (0.0, 10.0, 5.0))
    for able, settings in ((QUARTER, Arcs(form="none")), (QUARTER, Arcs(planes=("XZ",))), (helix, Arcs(helical=False))):
        assert spoken(able, settings, 1.0) == [0]
    assert spoken(helix, Arcs(), 1.0) == [1]


def test_radii_are_limited_in_mm_whatever_the_unit() -> None:
    assert spoken(QUARTER, Arcs(largest_radius=20), 1.0) == [1]
    assert spoken(QUARTER, Arcs(largest_radius=20), 25.4) == [0]
    assert spoken(QUARTER, Arcs(smallest_radius=20), 25.4) == [1]
    assert spoken(QUARTER, Arcs(smallest_radius=20), 1.0) == [0]


def test_ends_that_rounding_could_bring_together_are_not_spoken() -> None:
    assert spoken(arc(at(0.0), at(0.02)), Arcs(), 1.0) == [0]
    assert spoken(arc(at(0.0, 0.004), at(180.0, 0.004)), Arcs(), 1.0) == [0]


def test_an_almost_full_circle_is_split_so_that_rounding_cannot_close_it() -> None:
    assert swept(arc(at(0.0), at(359.98)), Arcs()) == pytest.approx([179.99, 179.99])


def test_many_arcs_at_once_are_as_each_by_itself() -> None:
    each = [
        QUARTER,
        arc(at(0.0), at(0.02)),
        arc(EAST, (10.0, 0.0, -3.7), full_turns=2),
        arc((0.0, 0.0, 10.0), (10.0, 0.0, 0.0), plane="XZ"),
    ]
    together, parts = join(each), np.array([1, 3, 2, 4])
    assert spoken(together, Arcs(), 1.0).tolist() == [float(spoken(one, Arcs(), 1.0)[0]) for one in each]
    alone = [parted(one, parts[[row]]) for row, one in enumerate(each)]
    for together_of, alone_of in zip(parted(together, parts), zip(*alone, strict=True), strict=True):
        np.testing.assert_array_equal(together_of, np.concatenate(alone_of))


@pytest.mark.parametrize("turn_deg", [200.0, 250.0, 300.0])
def test_the_middle_of_an_arc_over_half_a_turn_strays_as_its_radius_and_its_chord_do(turn_deg: float) -> None:
    half = math.radians(turn_deg) / 2
    radius, chord, off = 10.0, 10.0 * math.sin(half), 1e-4
    far, near = (r + math.sqrt(r * r - c * c) for r, c in ((radius + off, chord - off), (radius, chord)))
    strays, turns = far - near, np.array([turn_deg])
    assert RadiusRounding(off, off, 1.02 * strays).holds(turns)
    assert not RadiusRounding(off, off, 0.98 * strays).holds(turns)
