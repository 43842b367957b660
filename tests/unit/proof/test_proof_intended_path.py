"""Points of an operation's frame and what they mean on the machine and on the part."""

from __future__ import annotations

from math import pi, radians

import numpy as np
import pytest
from proof_parts import profile, proof_of, toolpath

from steadyrest.proof import Frame, setting_of
from steadyrest.proof.intended_path import _continued, passes


def test_passes_are_one_for_each_angle_and_count_operations_from_one() -> None:
    part = toolpath([{"rapid": [0, 0, 50]}], {"intent": "indexed", "angles": [0, 90]})
    found = list(passes(setting_of(part, profile(), None, None)))
    assert [(one.number, one.angle_deg, one.wants_clamp) for one in found] == [(1, 0, True), (1, 90, True)]
    assert [one.frame.phi_rad for one in found] == pytest.approx([0.0, -radians(90)])


@pytest.mark.parametrize(("z_from", "height"), [("surface", 20.0), ("axis", 0.0)])
def test_a_wrapped_height_counts_from_the_surface_or_the_axis(z_from: str, height: float) -> None:
    part = toolpath([{"rapid": [0, 0, 50]}], {"intent": "wrapped", "diameter": 40, "z_from": z_from, "start_angle": 30})
    (one,) = passes(setting_of(part, profile(), None, None))
    assert (one.frame.developed_mm, one.frame.height_mm, one.wants_clamp) == (20.0, height, False)
    assert one.frame.start_rad == pytest.approx(radians(30))
    (about_y,) = passes(setting_of(part.model_copy(update={"axis": "Y"}), profile(), None, None))
    assert about_y.frame.developed_mm == -20.0


def test_a_path_that_turns_through_half_a_turn_and_more_goes_on_the_same_way() -> None:
    frame = Frame("X", np.zeros(3))
    axes = np.array([[0, np.sin(radians(one)), np.cos(radians(one))] for one in (0, 100, 200, 300, 400)])
    assert _continued(frame.phi_of_axis(axes), np.nan) == pytest.approx(np.radians([0, 100, 200, 300, 400]))
    assert _continued(frame.phi_of_axis(axes[:1]), radians(700)) == pytest.approx([radians(720)])
    assert _continued(np.array([0.1, 0.2]), radians(360)) == pytest.approx(np.array([0.1, 0.2]) + 2 * pi)


def test_the_centre_of_an_arc_may_be_off_by_its_rounding() -> None:
    moves = [
        {"rapid": [-30, 0, 30]},
        {"rapid": [-30, 0, 22]},
        {"cut": [-30, 0, 18], "feed": 200},
        {"arc": [-50, 0, 18], "centre": [-40, 0, 18], "turns": "counterclockwise", "plane": "XY"},
    ]
    body = "G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\nG3 X-50 Y0 I-10 J{}\n"
    assert proof_of(body.format("0.0015"), toolpath(moves), tolerance=1e-4).proved
    assert not proof_of(body.format("0.006"), toolpath(moves), tolerance=1e-4).proved
