"""Arcs: sweep, length, chords, and what the controller speaks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from steadyrest.motion.arcs import Arc, RadiusRounding, chords, flattened, flattened_wrapped, length, radii, spoken, sweep
from steadyrest.profile.axes import Arcs

QUARTER = Arc((10.0, 0.0, 1.0), (0.0, 10.0, 1.0), (0.0, 0.0, 0.0))
CIRCLE = Arc((10.0, 0.0, 1.0), (10.0, 0.0, 1.0), (0.0, 0.0, 0.0))


def at(degrees: float, radius: float = 10.0, z: float = 0.0) -> tuple[float, float, float]:
    return radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees)), z


def by_radius(**more: object) -> Arcs:
    return Arcs.model_validate({"form": "radius", "full_circles": False, **more})


def test_clockwise_goes_the_other_way_round() -> None:
    assert sweep(QUARTER) == pytest.approx(90.0)
    assert sweep(replace(QUARTER, clockwise=True)) == pytest.approx(-270.0)


def test_an_arc_that_ends_where_it_starts_is_a_full_circle() -> None:
    assert sweep(CIRCLE) == 360.0
    assert sweep(replace(CIRCLE, full_turns=3, clockwise=True)) == -1080.0


def test_the_noise_of_arithmetic_does_not_make_a_full_circle_vanish() -> None:
    for wobble in (1e-12, -1e-12):
        assert sweep(replace(CIRCLE, end=(10.0, wobble, 1.0))) == 360.0


def test_full_turns_come_on_top_of_the_part_turn() -> None:
    assert sweep(replace(QUARTER, full_turns=2)) == pytest.approx(810.0)


def test_a_helix_is_longer_than_its_circle() -> None:
    assert length(replace(CIRCLE, end=(10.0, 0.0, 6.0))) == pytest.approx(math.hypot(20 * math.pi, 5.0))


def test_a_radius_off_by_rounding_changes_linearly() -> None:
    arc = replace(QUARTER, end=(0.0, 10.002, 1.0))
    points = flattened(arc, 0.01)
    far = np.hypot(points[:, 0], points[:, 1])
    np.testing.assert_allclose(np.diff(far), np.full(len(far) - 1, 0.002 / len(far)), atol=1e-12)
    assert radii(arc) == pytest.approx((10.0, 10.002))


def test_the_last_chord_ends_exactly_at_the_end() -> None:
    for arc in (QUARTER, replace(CIRCLE, end=(10.0, 0.0, -3.7)), replace(QUARTER, full_turns=5)):
        assert tuple(flattened(arc, 0.005)[-1]) == arc.end


def test_a_helix_sinks_evenly_from_chord_to_chord() -> None:
    z = flattened(replace(CIRCLE, end=(10.0, 0.0, -8.0)), 0.01)[:, 2]
    np.testing.assert_allclose(np.diff(z), (-8.0 - 1.0) / len(z))


def test_a_circle_keeps_four_chords_however_wide_the_tolerance() -> None:
    assert chords(CIRCLE, 1000.0) == 4


def test_high_over_the_wrapped_surface_chords_are_shorter() -> None:
    low = flattened_wrapped(Arc((3.0, 0.0, 0.0), (3.0, 0.0, 0.0), (0.0, 0.0, 0.0)), 0.01, 40.0, "surface")
    high = flattened_wrapped(Arc((3.0, 0.0, 20.0), (3.0, 0.0, 20.0), (0.0, 0.0, 0.0)), 0.01, 40.0, "surface")
    over_axis = flattened_wrapped(Arc((3.0, 0.0, 20.0), (3.0, 0.0, 20.0), (0.0, 0.0, 0.0)), 0.01, 40.0, "axis")
    assert len(high) > len(low)
    assert len(low) == len(over_axis)


def test_an_arc_within_the_settings_is_spoken_as_it_is() -> None:
    assert spoken(QUARTER, Arcs(), 1.0) == [QUARTER]


def test_two_turns_of_a_helix_are_two_blocks_that_each_close_exactly() -> None:
    said = spoken(Arc((10.0, 0.0, 0.0), (10.0, 0.0, -4.0), (0.0, 0.0, 0.0), full_turns=2), Arcs(), 1.0)
    assert said is not None
    assert [sweep(arc) for arc in said] == [360.0, 360.0]
    assert [(arc.end[0], arc.end[1]) for arc in said] == [(10.0, 0.0), (10.0, 0.0)]
    assert said[0].end[2] == pytest.approx(-2.0)


def test_without_full_circles_a_circle_is_two_halves() -> None:
    said = spoken(CIRCLE, Arcs(full_circles=False), 1.0)
    assert said is not None
    assert [sweep(arc) for arc in said] == pytest.approx([180.0, 180.0])


def test_the_widest_sweep_of_a_block_is_kept() -> None:
    said = spoken(CIRCLE, Arcs(largest_sweep=90, full_circles=False), 1.0)
    assert said is not None
    assert [sweep(arc) for arc in said] == pytest.approx([90.0] * 4)


@pytest.mark.parametrize("turn", [10.0, 164.0, 166.0, 180.0, 194.0, 200.0, 340.0, 350.0])
def test_in_the_radius_form_no_block_comes_near_a_half_or_a_full_turn(turn: float) -> None:
    said = spoken(Arc(at(0.0), at(turn), (0.0, 0.0, 0.0)), by_radius(), 1.0)
    assert said is not None
    assert sum(sweep(arc) for arc in said) == pytest.approx(turn)
    assert all(sweep(arc) <= 165.0 or 195.0 <= sweep(arc) <= 345.0 for arc in said)


def test_in_the_radius_form_a_profile_can_ask_for_narrow_blocks_only() -> None:
    said = spoken(Arc(at(0.0), at(200.0), (0.0, 0.0, 0.0)), by_radius(largest_sweep=180), 1.0)
    assert said is not None
    assert [sweep(arc) for arc in said] == pytest.approx([100.0, 100.0])


def test_what_the_controller_does_not_speak_is_none() -> None:
    helix = replace(QUARTER, end=(0.0, 10.0, 5.0))
    assert spoken(QUARTER, Arcs(form="none"), 1.0) is None
    assert spoken(QUARTER, Arcs(planes=("XZ",)), 1.0) is None
    assert spoken(helix, Arcs(helical=False), 1.0) is None
    assert spoken(helix, Arcs(), 1.0) == [helix]


def test_radii_are_limited_in_mm_whatever_the_unit() -> None:
    assert spoken(QUARTER, Arcs(largest_radius=20), 1.0) == [QUARTER]
    assert spoken(QUARTER, Arcs(largest_radius=20), 25.4) is None
    assert spoken(QUARTER, Arcs(smallest_radius=20), 25.4) == [QUARTER]
    assert spoken(QUARTER, Arcs(smallest_radius=20), 1.0) is None


def test_ends_that_rounding_could_bring_together_are_not_spoken() -> None:
    tiny = Arc(at(0.0), at(0.02), (0.0, 0.0, 0.0))
    assert spoken(tiny, Arcs(), 1.0) is None
    assert spoken(Arc(at(0.0, 0.004), at(180.0, 0.004), (0.0, 0.0, 0.0)), Arcs(), 1.0) is None


def test_an_almost_full_circle_is_split_so_that_rounding_cannot_close_it() -> None:
    said = spoken(Arc(at(0.0), at(359.98), (0.0, 0.0, 0.0)), Arcs(), 1.0)
    assert said is not None
    assert [sweep(arc) for arc in said] == pytest.approx([179.99, 179.99])


@pytest.mark.parametrize("turn_deg", [200.0, 250.0, 300.0])
def test_the_middle_of_an_arc_over_half_a_turn_strays_as_its_radius_and_its_chord_do(turn_deg: float) -> None:
    half = math.radians(turn_deg) / 2
    radius, chord, off = 10.0, 10.0 * math.sin(half), 1e-4
    far, near = (r + math.sqrt(r * r - c * c) for r, c in ((radius + off, chord - off), (radius, chord)))
    strays = far - near
    assert RadiusRounding(off, off, 1.02 * strays).holds(turn_deg)
    assert not RadiusRounding(off, off, 0.98 * strays).holds(turn_deg)
