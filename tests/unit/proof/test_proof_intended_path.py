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


LETTER_F = [
    {"rapid": [0, 0, 40]},
    {"cut": [0, 0, -1], "feed": 100},
    {"cut": [12, 0, -1], "feed": 300},
    {"cut": [12, 3, -1]},
    {"rapid": [12, 3, 40]},
]
"""No symmetry: half a turn, a mirrored axis or another zero is another part."""


def plane_program(a: float, *places: tuple[float, float, float]) -> str:
    """The letter's cuts at an angle A, written by hand, from over the first place down and up again from the last."""
    (x, y, z), *rest = places
    cuts = "".join(f"X{px:.3f} Y{py:.3f} Z{pz:.3f} F300\n" for px, py, pz in rest)
    return f"G0 A{a}\nX{x:.3f} Y{y:.3f}\nZ{z + 41:.3f}\nG94 G1 Z{z:.3f} F100\n{cuts}G0 Z{z + 41:.3f}\n"


def in_plane(**plane: object) -> dict[str, object]:
    return {"intent": "indexed", "planes": [{"origin": [-40, -18, 2], "z": [0, -1, 0], **plane}]}


AT_NINETY = plane_program(90, (-40, 2, 17), (-28, 2, 17), (-28, 5, 17))
"""By hand, ISO 841 (from memory): A90 brings -Y of the part up and Z of it to +Y. The plane's zero is 18 out, so 18 high, and 2 along Z,
so at Y 2; its x is X, its y = z x x = (0, -1, 0) x (1, 0, 0) = +Z of the part, so +Y of the machine."""


def test_a_plane_is_proved_where_a_hand_puts_it() -> None:
    assert proof_of(AT_NINETY, toolpath(LETTER_F, in_plane())).proved


@pytest.mark.parametrize(
    ("body", "plane", "rule"),
    [
        (AT_NINETY.replace("A90", "A-90"), {}, "cut-elsewhere"),
        (AT_NINETY.replace("Y5.000", "Y-1.000"), {}, "off-path"),
        (plane_program(90, (-40, 2, 17), (-52, 2, 17), (-52, -1, 17)), {}, "off-path"),
        (AT_NINETY, {"x": [-1, 0, 0]}, "off-path"),
        (AT_NINETY, {"x": [1, 0, 0.1]}, "off-path"),
        (AT_NINETY, {"origin": [-40, -18, 2.1]}, "cut-elsewhere"),
        (AT_NINETY, {"origin": [-40.1, -18, 2]}, "cut-elsewhere"),
        (AT_NINETY, {"origin": [-40, -17.9, 2]}, "cut-elsewhere"),
        (AT_NINETY, {"z": [0, 1, 0]}, "cut-elsewhere"),
        (AT_NINETY, {"z": [0, -1, 0.02]}, "cut-elsewhere"),
        (AT_NINETY, {"z": [0.02, -1, 0], "x": [1, 0.02, 0]}, "tool-axis"),
    ],
)
def test_a_program_of_another_plane_is_refused(body: str, plane: dict[str, object], rule: str) -> None:
    failure = proof_of(body, toolpath(LETTER_F, in_plane(**plane))).failure
    assert failure is not None
    assert (failure.rule, failure.place.plane, failure.place.angle_deg) == (rule, 1, None)


def test_without_a_rotary_only_a_plane_that_lies_level_is_proved() -> None:
    level = plane_program(0, (-40, 2, 17), (-28, 2, 17), (-28, 5, 17)).replace("G0 A0\n", "")
    flat = {"origin": [-40, 2, 18], "z": [0, 0, 1]}
    assert proof_of(level, toolpath(LETTER_F, in_plane(**flat)), profile(rotary={})).proved
    failure = proof_of(level, toolpath(LETTER_F, in_plane(**{**flat, "z": [0, 0.01, 1]})), profile(rotary={})).failure
    assert failure is not None
    assert failure.rule == "tool-axis"


def test_holes_in_planes_are_proved_and_one_that_is_elsewhere_is_not() -> None:
    holes = [{"hole": [2, 3], "retract": 5, "bottom": -6, "feed": 80}, {"hole": [9, 3], "retract": 5, "bottom": -6}, {"rapid": [9, 3, 40]}]
    body = "G0 A90\nX-38 Y5\nZ23\nG94 G99 G81 X-38 Y5 R23 Z12 F80\nX-31\nG80\nG0 Z58\n"
    assert proof_of(body, toolpath(holes, in_plane())).proved
    failure = proof_of(body, toolpath(holes, in_plane(x=[-1, 0, 0]))).failure
    assert failure is not None
    assert failure.rule in ("hole-aside", "cut-elsewhere", "hole-unfinished", "rapid-low", "ends-early")
