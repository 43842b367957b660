"""What an operation cuts: engagement, volume and its rate."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from simulated import END_MILL, cut

SLOT = "G0 X-5 Y0 A{angle}\nG0 Z25\nG1 Z17\nG1 X45\nG53 G0 Z0\n"
TWO = SLOT.format(angle=0) + SLOT.format(angle=90)


def test_engagement_of_a_slot_is_its_depth_and_the_tools_diameter() -> None:
    done = cut(SLOT.format(angle=0), along=400, around=1440).operations[0]

    assert (3.0, 9) == (pytest.approx(done.axial_mm, abs=1e-2), done.axial_line)
    assert (6.0, 9) == (pytest.approx(done.radial_mm, abs=0.1), done.radial_line)


def test_engagement_of_a_side_cut_is_the_stepover() -> None:
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    cuts = "G0 X-5 Y21 A0\nG0 Z25\nG1 Z16\nG1 X45\nG53 G0 Z0\n"
    done = cut(cuts, stock=block, along=40, around=4000).operations[0]

    assert 4.0 == pytest.approx(done.axial_mm, abs=0.02)
    assert 2.0 == pytest.approx(done.radial_mm, abs=0.05)


def test_volume_rate_is_width_times_depth_times_feed() -> None:
    """Q = ap ae vf (any handbook of milling)."""
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    done = cut("G0 X-5 Y0 A0\nG0 Z25\nG1 Z18\nG1 X0\n" + "".join(f"G1 X{x}\n" for x in range(1, 46)), stock=block, along=400, around=2000)

    assert 2 * 6 * 100 == pytest.approx(done.operations[0].rate_mm3_per_min, rel=0.06)


def test_a_drilled_hole_engages_its_depth_and_diameter() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z25\nG1 Z12", along=200, around=1440).operations[0]

    assert 8.0 == pytest.approx(done.axial_mm, abs=0.05)
    assert 6.0 == pytest.approx(done.radial_mm, abs=0.2)


def test_volumes_add_up() -> None:
    done = cut(TWO, along=40, around=720)

    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3(), rel=1e-9)


def test_where_a_face_is_cut_away_nothing_is_left() -> None:
    face = "".join(f"G0 X-2 Y{-22 if k % 2 else 22} A{90 * k}\nG0 Z25\nG1 Z-1\nG1 Y{22 if k % 2 else -22}\nG53 G0 Z0\n" for k in range(4))
    done = cut(face, tools=[END_MILL | {"diameter": 10}], along=40, around=360)

    np.testing.assert_array_equal(done.field.first_mm > 3, (done.field.outer_mm > 0).any(axis=1))
    assert 20.0 == pytest.approx(done.field.outer_mm.max())


@pytest.mark.parametrize("cuts", ["G1 X105\n", "G1 X5\nG1 X20\nG1 X105\n"])
def test_the_volume_rate_counts_the_time_in_the_material_only(cuts: str) -> None:
    """Forty of the 205 mm of one block are in the material; it takes from there as fast as in blocks of a millimetre."""
    block = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
    done = cut("G0 X-100 Y0 A0\nG0 Z25\nG1 Z18\n" + cuts, stock=block, along=400, around=2000)

    assert 2 * 6 * 100 == pytest.approx(done.operations[0].rate_mm3_per_min, rel=0.06)


def test_a_plunge_from_far_above_takes_as_fast_as_its_feed_goes_down() -> None:
    done = cut("G0 X20 Y0 A0\nG0 Z60\nG1 Z12", along=400, around=2880).operations[0]

    assert pi * 3**2 * 100 == pytest.approx(done.rate_mm3_per_min, rel=0.06)
