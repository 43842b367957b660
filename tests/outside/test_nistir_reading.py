"""Programs and rules of NISTIR 6556 (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, 2000), read back.

Values are those that the report prints; where it prints none, they were worked out from its text with sympy or scipy, and say so.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy
from scipy.integrate import quad

from steadyrest.errors import ProgramError
from steadyrest.profile import load_profile
from steadyrest.reading import EventRead, MotionRead, read_program

HEAD = "%\nG17 G21 G90 G94\n"
TAIL = "\nM2\n%\n"


def run(text: str, *sets: str) -> tuple[list[MotionRead], list[EventRead]]:
    items = list(read_program((HEAD + text + TAIL).encode(), load_profile("rs274ngc", list(sets))))
    return [i for i in items if isinstance(i, MotionRead)], [i for i in items if isinstance(i, EventRead)]


def ends(text: str, *sets: str) -> np.ndarray:
    return np.concatenate([motion.end_mm for motion in run(text, *sets)[0]])


def arcs(text: str) -> list[tuple[np.ndarray, np.ndarray, np.ndarray, int, int]]:
    """Start, end, centre, motion and full turns of each arc."""
    found = []
    for motion in run(text)[0]:
        for row in np.flatnonzero(motion.motion >= 2):
            assert motion.arcs is not None
            start, end = motion.vertex_mm[row : row + 2]
            found.append((start, end, motion.arcs.centre_mm[row], int(motion.motion[row]), int(motion.arcs.full_turns[row])))
    return found


def lengths_mm(text: str) -> list[float]:
    """Lengths of the feed rows from their minutes and F."""
    motions = run(text)[0]
    product = np.concatenate([motion.minutes * motion.feed_word for motion in motions])
    return product[~np.isnan(product)].tolist()


def calculated(expression: str) -> float:
    return float(ends(f"G0 X{expression}")[-1, 0])


def test_3_3_2_3_a_calculation_of_the_text() -> None:
    assert 0.5 == pytest.approx(calculated("[2.0 / 3 * 1.5 - 5.5 / 11.0]"), abs=1e-15)


@pytest.mark.parametrize(
    ("expression", "value"),
    [("[1 + 2 * 3 - 4 / 5]", 6.2), ("[15 MOD 4.0]", 3), ("fix[-0.499]", -1), ("fup[-0.5001]", 0), ("round[-0.5001]", -1)],
)
def test_c_2_the_expressions_of_the_sample_program(expression: str, value: float) -> None:
    assert value == pytest.approx(calculated(expression), abs=1e-12)


def test_3_3_2_3_powers_come_before_products_and_products_before_sums() -> None:
    assert float(sympy.Integer(2) + 3 * sympy.Integer(2) ** 3 * 2) == calculated("[2 + 3 * 2 ** 3 * 2]")


@pytest.mark.parametrize("name", ["sin", "cos", "tan"])
def test_3_3_2_4_functions_take_degrees(name: str) -> None:
    exact = getattr(sympy, name)(sympy.rad(25))
    assert float(exact) == pytest.approx(calculated(f"{name}[25]"), abs=1e-15)


def test_3_3_2_4_the_arctangent_of_two_values_knows_the_quadrant() -> None:
    assert float(sympy.deg(sympy.atan2(-1, -2))) == pytest.approx(calculated("atan[-1]/[-2]"), abs=1e-12)


def test_3_3_3_a_setting_takes_effect_after_its_line() -> None:
    assert [15.0, 6.0] == ends("#3=15\nG94 F9\n#3=6 G1 x#3\nx#3")[:, 0].tolist()


def test_3_3_blanks_may_stand_inside_numbers() -> None:
    assert [0.1234, 7.0] == ends("g0x +0. 12 34y 7")[-1, :2].tolist()


def test_3_5_3_2_the_arc_of_the_text() -> None:
    text = "G0 X7 Y7 Z0\nG17 G2 X10 Y16 I3 J4 F100"
    ((_, _, centre, motion, _),) = arcs(text)
    assert ((10.0, 11.0), 2) == (tuple(centre[:2]), motion)
    assert 12.490458 == pytest.approx(lengths_mm(text)[0], abs=1e-6)  # worked out: radius 5, 143.130102 degrees


def test_table_10_the_arc_with_a_radius() -> None:
    text = "G0 X3 Y1 Z0\nF100 g2 x[6-[4*3/2]] r 7.01 z0.5"
    ((_, end, centre, motion, _),) = arcs(text)
    assert (0.0, 1.0, 0.5) == tuple(end)
    assert 2 == motion
    np.testing.assert_allclose(centre[:2], (1.5, 7.8476), atol=5e-5)


def test_table_10_the_length_offset_moves_nothing_and_leaves_z_to_the_tool_table() -> None:
    motions, events = run("G0 X0 Y1 Z0.5\nt2\nm6 g43 h2\nG0 X0")
    assert 2 == sum(len(motion) for motion in motions)
    assert [2.0] == [event.number for event in events if event.kind == "length_offset"]
    assert math.isnan(motions[-1].end_mm[-1, 2])


def test_table_10_an_arcsine_in_a_word() -> None:
    assert 30.0 == pytest.approx(ends("G0 X0 Y1 Z0\nF9 g1 x asin[0.5]")[-1, 0], abs=1e-12)


def test_table_10_the_two_holes_in_steps() -> None:
    # Printed: Z up to 1.0; holes at (33, 3) and (36, 5), bottom 0.2, each retract to 1.0.
    expected = [(30, 1, 1), (33, 3, 1), (33, 3, 0.2), (33, 3, 1), (36, 5, 1), (36, 5, 0.2), (36, 5, 1)]
    got = ends("G0 X30 Y1 Z-0.5\nF9 G98\ng91 g81 x3 y2 z-0.8 r1.5 l2")
    np.testing.assert_allclose(got[1:], expected, atol=1e-12)


def test_3_5_16_2_the_first_example() -> None:
    got = ends("G0 X1 Y2 Z3\nF9\nG90 G81 G98 X4 Y5 Z1.5 R2.8")
    np.testing.assert_allclose(got[1:], [(4, 5, 3), (4, 5, 2.8), (4, 5, 1.5), (4, 5, 3)])


def test_3_5_16_2_the_second_example() -> None:
    got = ends("G0 X1 Y2 Z3\nF9\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")
    holes = [(5, 7), (9, 12), (13, 17)]
    expected = [(1, 2, 4.8)] + [(x, y, z) for x, y in holes for z in (4.8, 4.2, 4.8)]
    np.testing.assert_allclose(got[1:], expected)


def test_c_3_a_z_from_positions_is_read_again_as_a_step() -> None:
    got = ends("G0 X0 Y0 Z3\nF9 G99\nG90 G81 X1 Y1 Z-0.6 R1.8\nG91 X1 R0.2")
    np.testing.assert_allclose(got[-2:, 2], [1.8 + 0.2 - 0.6, 1.8 + 0.2])


def test_3_5_16_4_pecks_come_back_to_just_above_the_last_depth() -> None:
    # The source that belongs to the report comes back to 0.010 inch, 0.254 mm, above.
    got = ends("G0 X0 Y0 Z5\nF9 G99\nG83 X1 Y0 Z-2 R1 Q2")
    np.testing.assert_allclose(got[1:, 2], [5, 1, -1, 1, -0.746, -2, 1])


C_1_ARCS = [
    # Section C.1, the engraving program: sweeps and lengths worked out from its words.
    ("G0 X16 Y2.5 Z0\nF100 g3 x13.5 y0 i-2.5", 270.0, 2.5, (13.5, 2.5)),
    ("G0 X32.5 Y0 Z0\nF100 g2 x32.5 j2.5", 360.0, 2.5, (32.5, 2.5)),
    ("G0 X64 Y4 Z0\nF100 g2 x69 r4", None, 4.0, (66.5, 0.877501)),
]


@pytest.mark.parametrize(("text", "sweep_deg", "radius", "centre"), C_1_ARCS)
def test_c_1_the_arcs_of_the_engraving_program(text: str, sweep_deg: float | None, radius: float, centre: tuple[float, float]) -> None:
    ((start, end, got, _, turns),) = arcs(text)
    np.testing.assert_allclose(got[:2], centre, atol=1e-6)
    assert radius == pytest.approx(math.dist(start[:2], got[:2]), abs=1e-9)
    if sweep_deg is None:
        sweep_deg = math.degrees(2 * math.asin(math.dist(start[:2], end[:2]) / 2 / radius))
    assert (sweep_deg == 360.0) == (turns == 1)
    assert math.radians(sweep_deg) * radius == pytest.approx(lengths_mm(text)[0], abs=1e-9)


@pytest.mark.parametrize("code", ["G2", "G3"])
@pytest.mark.parametrize(("plane", "words", "axes"), [("G17", "XYIJ", (0, 1, 2)), ("G18", "ZXKI", (2, 0, 1)), ("G19", "YZJK", (1, 2, 0))])
@pytest.mark.parametrize("end_deg", [30, 100, 200, 359])
def test_3_5_3_helices_have_the_length_of_their_integral(
    code: str, plane: str, words: str, axes: tuple[int, int, int], end_deg: float
) -> None:
    # G3 turns from the first axis of the plane to the second, seen from the third (3.5.3, 4.3.6.1).
    first, second, third = "XYZ"[axes[0]], "XYZ"[axes[1]], "XYZ"[axes[2]]
    radius, rise = 7.0, 3.0
    angle = math.radians(end_deg)
    text = (
        f"G0 {first}{radius} {second}0 {third}0\nF100 {plane} {code} "
        f"{first}{radius * math.cos(angle):.9f} {second}{radius * math.sin(angle):.9f} {third}{rise} {words[2]}-7"
    )
    swept = angle if code == "G3" else 2 * math.pi - angle
    sign = 1 if code == "G3" else -1

    def speed(t: float) -> float:
        at = sign * swept * t
        return math.hypot(-radius * math.sin(at) * swept, radius * math.cos(at) * swept, rise)

    length, _ = quad(speed, 0, 1)
    assert length == pytest.approx(lengths_mm(text)[0], rel=1e-8)


def test_3_5_3_1_radius_arcs_have_the_centre_that_geometry_gives() -> None:
    x, y = sympy.symbols("x y", real=True)
    for radius in (6, -6):
        solutions = sympy.solve([x**2 + y**2 - 36, (x - 8) ** 2 + (y - 4) ** 2 - 36], [x, y])
        ((_, _, centre, _, _),) = arcs(f"G0 X0 Y0 Z0\nF100 G3 X8 Y4 R{radius}")
        # Counterclockwise with a positive R keeps the centre to the left of the way from start to end.
        left = [s for s in solutions if float(8 * s[1] - 4 * s[0]) > 0]
        right = [s for s in solutions if float(8 * s[1] - 4 * s[0]) < 0]
        expected = (left if radius > 0 else right)[0]
        np.testing.assert_allclose(centre[:2], [float(value) for value in expected], atol=1e-9)


@pytest.mark.parametrize(("mismatch", "taken"), [(0.0019, True), (0.0021, False)])
def test_3_5_3_2_radii_may_differ_by_two_micrometres(mismatch: float, taken: bool) -> None:
    text = f"G0 X0 Y0 Z0\nF100 G2 X{10 + mismatch:.4f} Y0 I5"
    if taken:
        assert 1 == len(arcs(text))
    else:
        with pytest.raises(ProgramError, match="may differ by"):
            run(text)


@pytest.mark.parametrize(("mismatch", "taken"), [(0.00019, True), (0.00021, False)])
def test_3_5_3_2_radii_may_differ_by_two_tenths_of_a_thousandth_inch(mismatch: float, taken: bool) -> None:
    text = f"G20\nG0 X0 Y0 Z0\nF100 G2 X{10 + mismatch:.5f} Y0 I5"
    if taken:
        assert 1 == len(arcs(text))
    else:
        with pytest.raises(ProgramError, match="may differ by"):
            run(text)


# 2.1.2.5 and 3.5.19, with the figures of a wrapped cut at radius 20: words, minutes.
FEEDS = [
    ("G94 G1 X10 F300", 10 / 300),
    ("G94 G1 X10 A90 F90.994341", 6.593817 / 60),
    ("G94 G1 A90 F859.436693", 6.283185 / 60),
    ("G94 G1 X0.001 A90 F0.009549", 6.283185 / 60),
    ("G93 G1 X10 A90 F9.099434", 6.593817 / 60),
    ("G93 G1 A90 F9.549297", 6.283185 / 60),
]


@pytest.mark.parametrize(("words", "minutes"), FEEDS)
def test_2_1_2_5_what_f_means(words: str, minutes: float) -> None:
    motions, _ = run(f"G0 X0 Y0 Z0 A0\n{words}", "feed.largest_mm=99999")
    assert minutes == pytest.approx(motions[-1].minutes[-1], rel=1e-4)


def test_3_5_19_in_inverse_time_every_feed_block_needs_its_f() -> None:
    with pytest.raises(ProgramError, match="without F under G93"):
        run("G0 X0\nG93 G1 X1 F5\nX2")


def test_2_1_2_2_a_rotary_has_no_modulo_and_no_shortest_way() -> None:
    motions, _ = run("G0 A350\nG90 A10")
    assert [350.0, 10.0] == motions[0].rotary_deg[:, 0].tolist()


def test_table_8_units_change_before_the_numbers_of_their_own_line() -> None:
    assert 25.4 == ends("G0 X1 G20")[-1, 0]


def test_table_8_a_spindle_stop_beside_a_move_comes_before_it_and_a_program_stop_after() -> None:
    items = list(read_program((HEAD + "X1 G0 M0 M5" + TAIL).encode(), load_profile("rs274ngc")))
    order = [item.kind if isinstance(item, EventRead) else "motion" for item in items]
    assert ["program_start", "spindle", "motion", "stop", "program_end"] == [kind for kind in order if kind != "mode"]


@pytest.mark.parametrize(
    "text",
    [
        "G0 X1 (open",
        "G0 X1 (a (b))",
        "G0 U1",
        "G77",
        "M77",
        "G0 G1 X1",
        "M3 S1 M8 M48 M0 M6 T1",
        "G0 X1 X2",
        "G0 X",
        "G93 G1 X1",
        "G1 X1 F0",
        "G0 X0 Y0\nG2 X10 Y0 I4 F9",
        "G0 X0 Y0\nG2 X0 Y0 R4 F9",
        "G0 X0 Y0\nG2 X10 Y0 R4 F9",
        "G0 X0 Y0\nG2 X10 Y0 K5 F9",
        "G80 X1",
        "G91 G53 G0 X1",
        "G53 G2 X1 Y1 I1 F9",
        "G10 L3 P1 X1",
        "G0 X0 Y0 Z9\nF9 G98 G81 X1 Z1",
        "G0 X0 Y0 Z9\nF9 G98 G81 X1 R1",
        "G0 X0 Y0 Z9\nF9 G98 G82 X1 Z1 R2",
        "G0 X0 Y0 Z9\nF9 G98 G83 X1 Z1 R2",
        "G0 X0 Y0 Z9 A0\nF9 G98 G81 X1 Z1 R2 A4",
        "G0 X0 Y0 Z9\nF9 G98 G84 X1 Z1 R2",
        "X1E-3",
    ],
)
def test_conditions_that_the_report_calls_errors_are_refused(text: str) -> None:
    with pytest.raises(ProgramError) as refused:
        run(text)
    assert refused.value.place.line is not None
    assert refused.value.place.column is not None
    assert refused.value.cure


@pytest.mark.parametrize("text", ["%\nG21\nM2\n", "G21\n", "%\nG21\n%\n"])
def test_3_1_a_missing_second_mark_and_a_missing_end_are_refused(text: str) -> None:
    with pytest.raises(ProgramError):
        list(read_program(text.encode(), load_profile("rs274ngc")))
