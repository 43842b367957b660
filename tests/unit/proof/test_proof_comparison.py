"""Programs written by hand, each right or wrong in one thing."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.errors import InputError
from steadyrest.proof import NOT_SEEN, prove
from steadyrest.toolpath import Toolpath

LINE = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
LINE_TEXT = "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\n"


def test_a_right_program_is_proved_with_its_figures() -> None:
    verdict = proof_of(LINE_TEXT, toolpath(LINE))
    assert verdict.proved, verdict.text()
    (one,) = verdict.operations
    assert 0.0 == one.tip_off_path
    assert pytest.approx(4 / 200 + 40 / 600) == one.cutting_minutes
    assert {"X": (-50.0, -10.0), "Y": (0.0, 0.0), "Z": (18.0, 50.0)} == verdict.whole.extents
    assert (1,) == verdict.whole.tools


def test_the_limit_is_tolerance_and_half_counts_at_the_tips_radius() -> None:
    """Three linear words of 0.001 and a rotary word of 0.001 degrees, half a count each, at radius 18."""
    (one,) = proof_of(LINE_TEXT, toolpath(LINE), tolerance=0.02).operations
    half_angle = 0.0005 * 3.141592653589793 / 180
    assert pytest.approx(0.02 + 0.0005 * 3**0.5 + half_angle * one.radius, abs=1e-12) == one.limit
    assert pytest.approx(18.0) == one.radius


@pytest.mark.parametrize(
    ("broken", "kind"),
    [
        (LINE_TEXT.replace("X-50", "X-50.1"), "path"),
        (LINE_TEXT.replace("X-50 F600", "X-50 Y0.02 F600"), "path"),
        (LINE_TEXT.replace("Z18", "Z17.98"), "path"),
        (LINE_TEXT.replace("X-50 F600", ""), "missing"),
        (LINE_TEXT + "X-10\n", "extra"),
        (LINE_TEXT.replace("F600", "F601"), "feed"),
        (LINE_TEXT.replace("F600", "F359"), "feed"),
        (LINE_TEXT.replace("F200", "F119"), "feed"),
        (LINE_TEXT.replace("F200", "F201"), "feed"),
        (LINE_TEXT.replace("G0 A0", "G0 A1"), "path"),
        (LINE_TEXT.replace("G1 Z18 F200\n", "Z18\nG1 "), "rapid"),
        (LINE_TEXT.replace("Z22\n", ""), "path"),
        ("M8\n" + LINE_TEXT, "coolant"),
        (LINE_TEXT.replace("X-50", "G4 P1\nX-50"), "dwell"),
        (LINE_TEXT.replace("X-50", "M0\nX-50"), "stop"),
    ],
)
def test_a_wrong_program_is_refused_for_what_is_wrong(broken: str, kind: str) -> None:
    verdict = proof_of(broken, toolpath(LINE))
    assert not verdict.proved
    assert verdict.failure is not None
    assert kind == verdict.failure.kind, verdict.text()


def test_a_failure_names_line_operation_move_and_distance() -> None:
    verdict = proof_of(LINE_TEXT.replace("X-50", "X-51"), toolpath(LINE))
    assert verdict.failure is not None
    assert "line 13, operation 1, move 4" == str(verdict.failure.place)
    assert pytest.approx(1.0) == verdict.failure.distance


def test_a_feed_within_a_thousandth_passes() -> None:
    verdict = proof_of(LINE_TEXT.replace("F600", "F600.5"), toolpath(LINE))
    assert verdict.proved
    assert pytest.approx(100 * 0.5 / 600, rel=0.1) == verdict.operations[0].faster_percent
    assert not proof_of(LINE_TEXT.replace("F600", "F600.7"), toolpath(LINE)).proved


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("M0\n" + LINE_TEXT, 8),
        (LINE_TEXT.replace("G1 Z18", "M1\nG1 Z18"), 12),  # the tool stands where it came to at rapid: no cut has begun
        (LINE_TEXT + "M0\n", 14),  # the end of the cut
        (LINE_TEXT + "G0 Z30\nM0\n", 15),
    ],
)
def test_a_stop_that_nobody_asked_for_is_found_with_its_line_and_not_refused(text: str, line: int) -> None:
    verdict = proof_of(text, toolpath(LINE))
    assert verdict.proved, verdict.text()
    assert [("stop-added", "look", line)] == [(one.name, one.weight, one.line) for one in verdict.findings]


def lowered(text: str, part: Toolpath, **options: Any) -> list[tuple[int | None, int | None, int, str]]:
    verdict = proof_of(text, part, **options)
    assert verdict.proved, verdict.text()
    assert {"lowered"} >= {one.name for one in verdict.findings}
    return [(one.line, one.operation, one.count, one.sentence) for one in verdict.findings]


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        (LINE_TEXT.replace("F600", "F360"), 13, "F360; the toolpath asks for 600 mm/min (lowered to 60 percent)"),
        (LINE_TEXT.replace("F200", "F150"), 12, "F150; the toolpath asks for 200 mm/min (lowered to 75 percent)"),
    ],
)
def test_a_feed_lowered_by_hand_is_found_and_not_refused(text: str, line: int, sentence: str) -> None:
    assert [(line, 1, 1, sentence)] == lowered(text, toolpath(LINE))


@pytest.mark.parametrize(("feed", "right"), [(200, True), (150, True), (120, True), (119, False), (201, False)])
def test_a_plunge_onto_a_cut_that_begins_at_once_may_be_lowered_to_six_tenths(feed: int, right: bool) -> None:
    moves = [{"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
    text = f"G0 A0\nX-10 Y0\nZ30\nG1 Z18 F{feed}\nX-50 F600\n"
    verdict = proof_of(text, toolpath(moves))
    assert right == verdict.proved, verdict.text()
    assert (feed < 200 and right) == bool(verdict.findings)
    if verdict.failure is not None:
        assert f"F{feed}; the toolpath asks for 200 mm/min" in verdict.failure.sentence


def test_feeds_lowered_alike_are_one_finding_with_their_count() -> None:
    text = LINE_TEXT.replace("X-50 F600", "X-20 F500\nX-35 F400\nX-50")
    ((line, operation, count, sentence),) = lowered(text, toolpath(LINE))
    assert (13, 1, 3) == (line, operation, count)
    assert "F500; the toolpath asks for 600 mm/min (lowered to 66.7 percent)" == sentence


def test_a_feed_that_a_limit_of_the_machine_lowers_is_not_lowered_by_hand() -> None:
    slow = profile(linear={"X": {"fastest": 300}})
    verdict = proof_of(LINE_TEXT.replace("F600", "F300"), toolpath(LINE), slow)
    assert verdict.proved
    assert () == verdict.findings
    assert 1 == verdict.operations[0].slowed_blocks


def test_an_arc_that_the_slower_axis_of_its_plane_holds_back_is_slowed_and_not_lowered_by_hand() -> None:
    arc = {"arc": [-50, 0, 18], "centre": [-40, 0, 18], "turns": "clockwise", "feed": 600}
    slow = profile(linear={"Y": {"fastest": 300}})
    text = "G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\nG2 X-50 Y0 I-10 J0 F300\n"
    moves = [{"rapid": [-30, 0, 30]}, {"rapid": [-30, 0, 22]}, {"cut": [-30, 0, 18], "feed": 200}, arc]
    verdict = proof_of(text, toolpath(moves), slow)
    assert verdict.proved, verdict.text()
    assert () == verdict.findings
    assert (1, pytest.approx(50.0)) == (verdict.operations[0].slowed_blocks, verdict.operations[0].slowest_percent)


def test_the_slowest_of_all_blocks_that_a_limit_holds_back_is_told_in_percent_of_its_feed() -> None:
    slow = profile(linear={"X": {"fastest": 300}})
    more = [*LINE, {"rapid": [-50, 0, 30]}, {"rapid": [-50, 0, 22]}, {"cut": [-50, 0, 18], "feed": 200}, {"cut": [-60, 0, 18], "feed": 400}]
    text = LINE_TEXT.replace("F600", "F300") + "G0 Z30\nZ22\nG1 Z18 F200\nX-60 F300\n"
    for order in (more, [*more[4:], {"rapid": [-60, 0, 30]}, *LINE[1:]]):
        if order is not more:
            text = "G0 A0\nX-50 Y0\nZ30\nZ22\nG1 Z18 F200\nX-60 F300\nG0 Z30\nX-10\nZ22\nG1 Z18 F200\nX-50 F300\n"
        (one,) = proof_of(text, toolpath(order), slow).operations
        assert (2, pytest.approx(50.0)) == (one.slowed_blocks, one.slowest_percent)
        line = 1 + (HEAD + text).splitlines().index("X-50 F300")
        assert (line, line) == one.slowest_lines


def test_a_feed_is_said_in_the_units_of_the_program() -> None:
    bar = {"shape": "round", "diameter": 2, "from": -4, "to": 0}
    part = toolpath([{"rapid": [-1, 0, 2]}, {"cut": [-1, 0, 1], "feed": 45}], units="inch", stock=bar)
    text = HEAD.replace("G21", "G20") + "G0 A0\nX-1 Y0\nZ2\nG1 Z1 F35\n" + TAIL
    verdict = prove(text.encode(), part, profile())
    assert verdict.proved, verdict.text()
    assert ["F35; the toolpath asks for 45 inch/min (lowered to 77.8 percent)"] == [one.sentence for one in verdict.findings]


@pytest.mark.parametrize(("rpm", "right"), [(1000, True), (600, True), (599, False), (1001, False)])
def test_a_spindle_speed_may_be_lowered_to_six_tenths_and_never_raised(rpm: int, right: bool) -> None:
    verdict = prove((HEAD.replace("S1000", f"S{rpm}") + LINE_TEXT + TAIL).encode(), toolpath(LINE), profile())
    assert right == verdict.proved
    assert (rpm == 600) == bool(verdict.findings)
    if rpm == 600:
        (one,) = verdict.findings
        assert (7, 1) == (one.line, one.operation)
        assert "S600; the toolpath asks for a spindle speed of 1000 rpm (lowered to 60 percent)" == one.sentence


def test_a_holes_feed_may_be_lowered_but_a_taps_feed_and_spindle_are_exact() -> None:
    text = "G0 A0\nX-30 Y0\nZ30\nG99 {cycle} X-30 Y0 Z10 R22 F{feed}\nG80\n"
    (found,) = lowered(text.format(cycle="G81", feed=80), toolpath(HOLE))
    assert (11, 1, 1, "F80; the toolpath asks for 100 mm/min (lowered to 80 percent)") == found
    tapped = toolpath([HOLE[0], {**HOLE[1], "cycle": "tap", "feed": 1000}])
    right = text.format(cycle="G84", feed=1000)
    assert proof_of(right, tapped).proved, proof_of(right, tapped).text()
    assert not proof_of(right.replace("F1000", "F990"), tapped).proved
    slower = HEAD.replace("S1000", "S990")
    assert not prove((slower + right + TAIL).encode(), tapped, profile()).proved
    assert not prove((slower + right.replace("F1000", "F990") + TAIL).encode(), tapped, profile()).proved


def test_moves_may_be_cut_into_several_blocks_or_joined_where_they_are_one_line() -> None:
    assert proof_of(LINE_TEXT.replace("X-50", "X-20 F600\nX-35\nX-50"), toolpath(LINE)).proved
    joined = [*LINE[:3], {"cut": [-20, 0, 18], "feed": 600}, {"cut": [-35, 0, 18]}, {"cut": [-50, 0, 18]}]
    assert proof_of(LINE_TEXT, toolpath(joined)).proved


def test_a_stretch_run_back_and_again_within_one_move_is_refused() -> None:
    verdict = proof_of(LINE_TEXT.replace("X-50", "X-30 F600\nX-20\nX-50"), toolpath(LINE))
    assert not verdict.proved


def test_a_whole_path_run_backwards_is_refused_and_said_so() -> None:
    points = [[-10 - 4 * k, 2.0 * (k % 3), 18] for k in range(8)]
    moves = [
        {"rapid": [-10, 0, 30]},
        {"rapid": [-10, 0, 18]},
        *({"cut": point, "feed": 600} for point in points[1:]),
        {"cut": [-10, 0, 18]},
    ]
    back = [points[0], *points[:0:-1], points[0]]
    text = "G0 A0\nX-10 Y0\nZ30\nZ18\nG1 F600 " + "\n".join(f"X{x} Y{y}" for x, y, _ in back[1:]) + "\n"
    forth = "G0 A0\nX-10 Y0\nZ30\nZ18\nG1 F600 " + "\n".join(f"X{x} Y{y}" for x, y, _ in [*points[1:], points[0]]) + "\n"
    assert proof_of(forth, toolpath(moves)).proved
    assert not proof_of(text, toolpath(moves)).proved


def test_a_move_below_the_least_increment_needs_no_block() -> None:
    moves = [*LINE[:3], {"cut": [-20, 0, 18], "feed": 600}, {"cut": [-20.0002, 0, 18]}, {"cut": [-50, 0, 18]}]
    assert proof_of(LINE_TEXT.replace("X-50 F600", "X-20 F600\nX-50"), toolpath(moves)).proved


def test_a_full_circle_is_not_taken_for_a_move_that_ends_where_it_begins() -> None:
    circle = [*LINE[:3], {"arc": [-10, 0, 18], "centre": [-15, 0, 18], "turns": "clockwise", "feed": 300}]
    text = LINE_TEXT.replace("X-50 F600", "G2 X-10 Y0 I-5 J0 F300")
    assert proof_of(text, toolpath(circle)).proved
    assert not proof_of(LINE_TEXT.replace("X-50 F600\n", ""), toolpath(circle)).proved
    assert not proof_of(text.replace("G2", "G3"), toolpath(circle)).proved
    assert not proof_of(text.replace("I-5", "I5"), toolpath(circle)).proved


@pytest.mark.parametrize(("end", "right"), [("X-45 Y0", True), ("X-44 Y0", False)])
def test_an_arc_may_be_interrupted_by_a_comment(end: str, right: bool) -> None:
    """What is read before the comment ends inside the arc, and is followed by itself."""
    arc = [
        {"rapid": [-30, -15, 30]},
        {"cut": [-30, -15, 18], "feed": 200},
        {"arc": [-30, 15, 18], "centre": [-30, 0, 18], "turns": "clockwise", "feed": 300},
    ]
    text = f"G0 A0\nX-30 Y-15\nZ30\nG1 Z18 F200\nG2 {end} R15 F300\n(half of it)\nX-30 Y15 R15\n"
    assert right == proof_of(text, toolpath(arc)).proved


def test_an_arc_may_be_cut_into_chords_within_tolerance_only() -> None:

    arc = [
        {"rapid": [-30, -15, 30]},
        {"rapid": [-30, -15, 18]},
        {"arc": [-30, 15, 18], "centre": [-30, 0, 18], "turns": "clockwise", "feed": 300},
    ]

    def chords(count: int) -> str:
        ends = [(-30 - 15 * math.sin(math.pi * k / count), -15 * math.cos(math.pi * k / count)) for k in range(1, count + 1)]
        return "G0 A0\nX-30 Y-15\nZ30\nZ18\nG1 F300 " + "\n".join(f"X{x:.3f} Y{y:.3f}" for x, y in ends) + "\n"

    # The sagitta of n chords on half a circle of radius r is r (1 - cos(pi / 2n)): 0.0051 for 60, 0.0116 for 40.
    fine, coarse = proof_of(chords(60), toolpath(arc)), proof_of(chords(40), toolpath(arc))
    assert fine.proved, fine.text()
    assert pytest.approx(15 * (1 - math.cos(math.pi / 120)), abs=2e-3) == fine.farthest
    assert not coarse.proved


@pytest.mark.parametrize(("switched", "kind"), [("G43 H5\n", "offset"), ("G49\nG43 H1\n", "offset"), ("G53 G0 Z0\n", "path")])
@pytest.mark.parametrize("cut", ["G3 X-40 Y10 I0 J10\n", "G1 X-40 Y10\n"])
def test_a_cut_from_a_place_that_is_not_known_is_refused(switched: str, kind: str, cut: str) -> None:
    curve: dict[str, object] = {"arc": [-40, 10, 18], "centre": [-40, 0, 18], "turns": "counterclockwise"}
    moves = [
        {"rapid": [-20, -10, 30]},
        {"cut": [-20, -10, 18], "feed": 300},
        {"cut": [-40, -10, 18]},
        curve if "G3" in cut else {"cut": [-40, 10, 18]},
        {"cut": [-50, 10, 18]},
        {"rapid": [-50, 10, 30]},
    ]
    before = "G0 A0\nX-20 Y-10\nZ30\nG1 Z18 F300\nX-40\n"
    after = "G1 X-50\nG0 Z30\n"
    good = proof_of(before + cut + after, toolpath(moves))
    assert good.proved, good.text()
    failure = proof_of(before + switched + cut + after, toolpath(moves)).failure
    assert failure is not None
    assert kind == failure.kind


@pytest.mark.parametrize("tolerance", [0, -0.01, math.nan, math.inf])
def test_a_tolerance_that_is_none_is_an_error(tolerance: float) -> None:
    with pytest.raises(InputError, match="no length above 0"):
        proof_of("", toolpath(HOLE), tolerance=tolerance)


HOLE = [{"rapid": [-30, 0, 30]}, {"hole": [-30, 0], "retract": 22, "bottom": 10, "feed": 100}]


@pytest.mark.parametrize(
    "text",
    [
        "G98 G81 X-30 Y0 Z10 R22 F100\nG80\n",
        "Z22\nG1 Z10 F100\nG0 Z22\n",
        "Z25\nZ22\nG1 Z15 F100\nZ10\nG0 Z30\n",
        "Z21.9999\nZ22\nG1 Z10 F100\nG0 Z22\n",  # up by a count to the retract level, which a cycle before it rounded down
    ],
)
def test_a_hole_may_be_a_cycle_or_single_moves(text: str) -> None:
    verdict = proof_of("G0 A0\nX-30 Y0\nZ30\n" + text, toolpath(HOLE))
    assert verdict.proved, verdict.text()
    assert 1 == verdict.operations[0].holes


@pytest.mark.parametrize(
    "text",
    [
        "G99 G81 X-30 Y0 Z9.9 R22 F100\nG80\n",
        "G99 G81 X-30 Y0 Z10.1 R22 F100\nG80\n",
        "G99 G81 X-30.1 Y0 Z10 R22 F100\nG80\n",
        "G99 G81 X-30 Y0 Z10 R22 F200\nG80\n",
        "G99 G82 X-30 Y0 Z10 R22 P1 F100\nG80\n",
        "G99 G83 X-30 Y0 Z10 R22 Q3 F100\nG80\n",
        "G99 G85 X-30 Y0 Z10 R22 F100\nG80\n",
        "Z22\nZ15\nG1 Z10 F100\nG0 Z22\n",
        "Z22\nG1 Z10 F100\n",
        "Z22\nG1 Z15 F100\nG0 Z18\nG1 Z10\nG0 Z22\n",
        "",
    ],
)
def test_a_hole_that_is_not_as_asked_is_refused(text: str) -> None:
    assert not proof_of("G0 A0\nX-30 Y0\nZ30\n" + text, toolpath(HOLE)).proved


def test_the_rotary_must_not_turn_at_rapid_inside_the_swept_radius_and_clearance() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}]
    indexed = {"intent": "indexed", "angles": [0, 90]}
    # swept radius 20, clearance 5: at 25 it may turn, below it must not
    text = "G0 A0\nX-10 Y0\nZ30\nG1 X-50 F600\nG0 Z{z}\nA90\nX-10\nZ30\nG1 X-50\n"
    assert proof_of(text.format(z=25), toolpath(moves, indexed)).proved
    verdict = proof_of(text.format(z=24.9), toolpath(moves, indexed))
    assert verdict.failure is not None
    assert "turn" == verdict.failure.kind


def test_the_clamp_is_on_in_indexed_cuts_and_off_in_turns() -> None:
    clamped = profile(
        rotary={
            "A": {
                "along": "X",
                "chuck_faces": "+X",
                "positive_turns_chuck": "clockwise",
                "clamp": {"use": "indexing", "on": "M10", "off": "M11"},
            }
        }
    )
    right = "M11\nG0 A0\nM10\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\n"
    assert proof_of(right, toolpath(LINE), clamped).proved
    for broken in (
        right.replace("M10\n", ""),
        right.replace("M11\n", ""),
        right.replace("M11", "M1Z").replace("M10", "M11").replace("M1Z", "M10"),
    ):
        verdict = proof_of(broken, toolpath(LINE), clamped)
        assert verdict.failure is not None
        assert "clamp" == verdict.failure.kind


def test_travel_is_kept() -> None:
    limited = profile(
        rotary={
            "A": {
                "along": "X",
                "chuck_faces": "+X",
                "positive_turns_chuck": "clockwise",
                "travel": {"kind": "limited", "from": -10, "to": 300},
            }
        }
    )
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}]
    text = "G0 A{a}\nX-10 Y0\nZ30\nG1 X-50 F600\n"
    indexed = {"intent": "indexed", "angles": [-45]}
    assert proof_of(text.format(a=-45), toolpath(moves, indexed)).proved
    assert not proof_of(text.format(a=-45), toolpath(moves, indexed), limited).proved
    assert not proof_of(text.format(a=315), toolpath(moves, indexed), limited).proved
    short = proof_of(text.format(a=-45), toolpath(moves, indexed), profile(linear={"X": {"travel": 39}}))
    assert [("travel", "stop")] == [(one.name, one.weight) for one in short.findings if one.name == "travel"]


def test_the_end_is_reached_with_spindle_and_coolant_off() -> None:
    part = toolpath(LINE)
    for tail in (TAIL.replace("M5\n", ""), TAIL.replace("M9\n", "M8\n"), TAIL.replace("M5\nM9\n", "")):
        verdict = prove((HEAD + LINE_TEXT + tail).encode(), part, profile())
        assert not verdict.proved
        assert verdict.failure is not None
        assert "end" == verdict.failure.kind


def test_json_is_plain_data_and_says_what_is_not_seen() -> None:
    data = json.loads(json.dumps(proof_of(LINE_TEXT.replace("X-50", "X-51"), toolpath(LINE)).to_json(), allow_nan=False))
    assert 1 == data["schema"]
    assert data["proved"] is False
    assert list(NOT_SEEN) == data["not_seen"]
    assert 13 == data["failure"]["line"]


def test_a_last_block_of_a_hair_belongs_to_the_pass_that_it_ends() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}]
    text = "G0 A0\nX-10 Y0\nZ30\nG1 X-49.997 F600\nX-50\nG0 A90\nX-10\nG1 X-50\n"
    verdict = proof_of(text, toolpath(moves, {"intent": "indexed", "angles": [0, 90]}))
    assert verdict.proved, verdict.text()


def test_a_full_turn_of_the_part_is_not_taken_for_a_move_that_ends_where_it_begins() -> None:
    """On the part, the end of a full turn is the point where it begins; the turn has to be made all the same."""
    turn = 40 * 3.141592653589793
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, -turn, -1], "feed": 600}]
    part = toolpath(moves, {"intent": "wrapped", "diameter": 40})
    text = "G0 A0\nX-10 Y0\nZ30\nG94 G1 Z19 F200\n"
    around = f"G93 A360 F{600 / (19 * 2 * 3.141592653589793):.3f}\nG94\n"
    assert proof_of(text + around, part).proved
    assert not proof_of(text, part).proved
    assert not proof_of(text + around.replace("A360", "A-360"), part).proved


def test_many_tiny_moves_after_a_curve_in_chords_are_found_in_their_order() -> None:
    """The chords of an arc are shorter than the arc, by more than the moves after it are long."""

    ends = [(-30 - 15 * math.sin(math.pi * k / 60), -15 * math.cos(math.pi * k / 60)) for k in range(1, 61)]
    jitter = [(-29.993, 15), (-29.989, 15), (-29.988, 15), (-29.991, 15), (-29.5, 15)]
    moves = [
        {"rapid": [-30, -15, 30]},
        {"rapid": [-30, -15, 18]},
        {"arc": [-30, 15, 18], "centre": [-30, 0, 18], "turns": "clockwise", "feed": 300},
        *({"cut": [x, y, 18], "feed": 300} for x, y in jitter),
    ]
    text = "G0 A0\nX-30 Y-15\nZ30\nZ18\nG1 F300 " + "\n".join(f"X{x:.3f} Y{y:.3f}" for x, y in [*ends, *jitter]) + "\n"
    verdict = proof_of(text, toolpath(moves))
    assert verdict.proved, verdict.text()


def test_positioning_to_where_the_tool_stands_is_no_way_out_of_a_hole() -> None:
    at_place = "G0 A0\nX-30 Y0\nZ30\nZ22\nG0 X-30 Y0\nZ22\nG1 Z10 F100\nG0 Z22\n"
    verdict = proof_of(at_place, toolpath(HOLE))
    assert verdict.proved, verdict.text()


def test_machine_zero_is_no_height_for_a_tool_that_was_never_said_to_be_high_enough() -> None:
    flat = toolpath(LINE, {"intent": "indexed", "angles": [0]})
    body = "T1 M6\nG43 H1\n{}S1000 M3\nG0 A0\n" + LINE_TEXT
    said = proof_of(body.format("G0 Z25\nG53 G0 Z0\n"), flat)
    assert said.proved, said.text()
    for height in ("", "G53 G0 Z0\n", "G0 Z24\nG53 G0 Z0\n"):
        failure = proof_of(body.format(height), flat).failure
        assert failure is not None
        assert failure.kind == "turn"


def test_a_rotary_that_ends_many_turns_away_is_told_with_what_ends_elsewhere() -> None:
    moves = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, -1], "feed": 100}, {"cut": [-50, -3 * math.pi * 40, -1], "feed": 600}]
    part = toolpath(moves, {"intent": "wrapped", "diameter": 40})
    body = f"G0 A0\nX-10 Y0\nZ25\nG1 Z19 F100\nG93\nX-50 A1080 F{600 / math.hypot(40, 3 * math.pi * 38):.3f}\nG94\nG0 Z25\n"
    verdict = proof_of(body, part)
    assert verdict.proved, verdict.text()
    assert pytest.approx(1080) == verdict.whole.turning_deg
    assert 0 == verdict.whole.rapid_turning_deg
    (found,) = verdict.findings
    assert "1080 degrees, 3 turns from 0" in found.sentence
    assert 'rotary.A.unwinding.at_end = "zero"' in found.sentence
    back = proof_of(body + "A90\n", part)
    assert 990 == back.whole.rapid_turning_deg
    assert not back.findings


@pytest.mark.parametrize(
    "body", ["G99 G83 X-30 Y0 Z10 R22 Q5 F100\nG80\n", "Z22\nG1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12\nG0 Z22\nZ12.5\nG1 Z10\nG0 Z22\n"]
)
def test_cutting_minutes_of_a_hole_in_pecks_count_the_ways_between_them(body: str) -> None:
    moves = [{"rapid": [-30, 0, 30]}, {"hole": [-30, 0], "cycle": "peck", "retract": 22, "bottom": 10, "feed": 100, "peck": 5}]
    verdict = proof_of("G0 A0\nX-30 Y0\nZ30\n" + body, toolpath(moves))
    assert verdict.proved, verdict.text()
    (one,) = verdict.operations
    gap = 0.254 if "G83" in body else 0.5
    at_feed, back = (5 + 5 + gap + 2 + gap) / 100, (5 + (5 - gap) + 10 + (10 - gap)) / 5000
    assert pytest.approx(at_feed + back, abs=1e-5) == one.cutting_minutes
