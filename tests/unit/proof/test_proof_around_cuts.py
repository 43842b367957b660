"""What a program may do between and around its cuts: what no stated rule allows is refused, and for that rule."""

from __future__ import annotations

import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.errors import ProgramError
from steadyrest.proof import Verdict, prove

LINE = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
TEXT = "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\n"
END = "X-50 F600\n"
CIRCLE = [*LINE[:3], {"arc": [-10, 0, 18], "centre": [-15, 0, 18], "turns": "clockwise", "feed": 300}]
ROUND = TEXT.replace(END, "G2 X-10 Y0 I-5 J0 F300\n")
CLAMPED = profile(
    rotary={
        "A": {
            "along": "X",
            "chuck_faces": "+X",
            "positive_turns_chuck": "clockwise",
            "clamp": {"use": "indexing", "on": "M10", "off": "M11"},
        }
    }
)
HELD = TEXT.replace("G0 A0\n", "M11\nG0 A0\nM10\n")


def rule(verdict: Verdict) -> str:
    return verdict.failure.rule if verdict.failure is not None else "proved"


def found(verdict: Verdict) -> list[tuple[str, str, int | None]]:
    assert verdict.proved, verdict.text()
    return [(one.name, one.weight, one.line) for one in verdict.findings]


def test_the_programs_that_are_broken_below_are_right() -> None:
    assert proof_of(TEXT, toolpath(LINE)).proved
    assert proof_of(ROUND, toolpath(CIRCLE)).proved
    assert proof_of(HELD, toolpath(LINE), CLAMPED).proved


@pytest.mark.parametrize(
    "added",
    [
        "G2 X-50 Y0 I5 J0\n",
        "G17 G3 X-50 Y0 I-5 J0 F600\n",
        "G18 G2 X-50 Z18 I5 K0\n",
        "G53 G1 Z0 F600\n",
        "G53 G1 X0 F600\n",
        "G53 G1 Y0 F600\n",
        "G53 G1 X0 Y0 Z0 F600\n",
        "G1 Z40 F600\n",
        "G1 Z17 F600\nZ18\n",
        "X-40\nX-50\n",
    ],
)
def test_nothing_moves_at_feed_outside_the_path(added: str) -> None:
    assert rule(proof_of(TEXT + added, toolpath(LINE))) in ("cuts-on", "off-path")
    more = [*LINE, {"rapid": [-50, 0, 40]}, {"rapid": [-60, 0, 40]}]
    assert rule(proof_of(TEXT + added + "G0 Z40\nX-60\n", toolpath(more))) in ("cut-elsewhere", "off-path")


@pytest.mark.parametrize("added", ["G2 X-10 Y0 I-5 J0\n", "G3 X-10 Y0 I-5 J0\n", "G2 X-10 Y0 I5 J0\n"])
def test_a_circle_is_cut_once(added: str) -> None:
    assert "proved" != rule(proof_of(ROUND + added, toolpath(CIRCLE)))
    assert "proved" != rule(proof_of(ROUND.replace("G2 ", added + "G2 "), toolpath(CIRCLE)))


@pytest.mark.parametrize(
    ("broken", "name"),
    [
        (TEXT.replace("G1 Z18 F200\n", "M5\nG1 Z18 F200\nM3\n"), "spindle-way"),
        (TEXT.replace("G1 Z18 F200\n", "M4\nG1 Z18 F200\nM3\n"), "spindle-way"),
        (TEXT.replace("G1 Z18 F200\n", "S100\nG1 Z18 F200\nS1000\n"), "spindle-speed"),
        (TEXT.replace("G1 Z18 F200\n", "S2000\nG1 Z18 F200\nS1000\n"), "spindle-speed"),
        (TEXT.replace("G1 Z18 F200\n", "M8\nG1 Z18 F200\nM9\n"), "coolant"),
        (TEXT.replace("G1 Z18 F200\n", "G54 G43 H2\nZ22\nG1 Z18 F200\n"), "length-offset"),
        (TEXT.replace("X-10 Y0\n", "G43 H2\nX-10 Y0\n").replace("Z22\n", "G43 H1\nZ22\n"), "length-offset"),
        (TEXT.replace("X-10 Y0\n", "G55\nA0\nX-10 Y0\n").replace("G1 Z18", "G54\nX-10 Y0\nG1 Z18"), "work-offset"),
        (TEXT.replace("Z30\n", "G49\nZ30\nG43 H1\nZ30\n"), "length-offset"),
        (TEXT.replace("Z30\n", "T1 M6\nZ30\nG43 H1\nS1000 M3\nZ30\n"), "length-offset"),
        (TEXT.replace("G0 A0\n", "T7\nG0 A0\n"), "tool-selected"),
    ],
)
def test_plunges_and_rapids_too_run_with_everything_as_the_operation_asks(broken: str, name: str) -> None:
    assert name == rule(proof_of(broken, toolpath(LINE)))


@pytest.mark.parametrize(
    ("head", "name"),
    [
        (HEAD.replace("G54\n", ""), "work-offset"),
        (HEAD.replace("G54\n", "G55\n"), "work-offset"),
        (HEAD.replace("G43 H1 ", ""), "length-offset"),
        (HEAD.replace("G43 H1", "G43 H2"), "length-offset"),
        (HEAD.replace("G53 G0 Z0\n", ""), "tool-change-low"),
    ],
)
@pytest.mark.parametrize("late", ["", "G54\n", "G43 H1\n", "G54 G43 H1\n"])
def test_offsets_are_on_before_the_first_rapid(head: str, name: str, late: str) -> None:
    text = TEXT.replace("G1 Z18", late + "X-10 Y0\nZ22\nA0\nG1 Z18")
    assert name == rule(prove((head + text + TAIL).encode(), toolpath(LINE), profile()))


@pytest.mark.parametrize(
    ("event", "name"),
    [
        ("M5\nM3\n", "spindle-stop-low"),
        ("M4\nM3\n", "spindle-stop-low"),
        ("S0\nS1000\n", "spindle-stop-low"),
        ("M6\nG43 H1\nM3\n", "tool-change-low"),
        ("T1 M6\n", "tool-change-low"),
        ("G43 H2\nG43 H1\n", "offset-low"),
        ("G49\nG43 H1\n", "offset-low"),
        ("G55\nG54\n", "offset-low"),
    ],
)
@pytest.mark.parametrize("place", ["at the end", "in the cut"])
def test_nothing_is_switched_with_the_tool_in_the_space_that_the_stock_sweeps(event: str, name: str, place: str) -> None:
    text = TEXT + event if place == "at the end" else TEXT.replace(END, "X-30 F600\n" + event + END)
    assert name == rule(proof_of(text, toolpath(LINE)))


def test_the_same_clear_of_the_stock_harms_nothing() -> None:
    up = "G0 Z30\nM5\nT1 M6\nG49\nG43 H1\nG55\nG54\nG53 G0 Z0\n"
    assert proof_of(TEXT + up, toolpath(LINE)).proved
    beside = [{"rapid": [10, 0, 30]}, {"rapid": [10, 0, 5]}, {"cut": [20, 0, 5], "feed": 600}]
    text = "G0 A0\nX10 Y0\nZ30\nZ5\nG1 X20 F600\nM5\n"
    assert proof_of(text, toolpath(beside)).proved
    assert "spindle-stop-low" == rule(
        proof_of(
            text.replace("X10", "X1").replace("X20", "X2"),
            toolpath([{"rapid": [1, 0, 30]}, {"rapid": [1, 0, 5]}, {"cut": [2, 0, 5], "feed": 600}]),
        )
    )


def test_the_program_ends_clear_of_the_stock() -> None:
    assert "spindle-stop-low" == rule(prove((HEAD + TEXT + "M5\nM30\n").encode(), toolpath(LINE), profile()))
    still = toolpath(LINE, operation={"spindle": {"rpm": 0, "turns": "clockwise"}})
    assert "end-low" == rule(prove((HEAD.replace(" S1000 M3", "") + TEXT + "M30\n").encode(), still, profile()))


def test_the_clamp_is_released_clear_of_the_stock_only() -> None:
    assert "release-low" == rule(proof_of(HELD + "M11\nM10\n", toolpath(LINE), CLAMPED))
    assert "release-low" == rule(proof_of(HELD.replace(END, "X-30 F600\nM11\nM10\n" + END), toolpath(LINE), CLAMPED))
    assert proof_of(HELD + "G0 Z30\nM11\n", toolpath(LINE), CLAMPED).proved
    assert "clamp-off" == rule(proof_of(HELD.replace("M10\n", "").replace(END, "M10\n" + END), toolpath(LINE), CLAMPED))


def test_a_pause_that_nobody_asks_for_is_refused_in_a_cut_and_found_at_its_end() -> None:
    assert "pause-added" == rule(proof_of(TEXT.replace(END, "G4 P1\n" + END), toolpath(LINE)))
    assert [("stop-added", "look", 14)] == found(proof_of(TEXT + "G4 P1\n", toolpath(LINE)))
    assert [] == found(proof_of("G4 P10\n" + TEXT, toolpath(LINE)))
    assert [("stop-added", "look", 8)] == found(proof_of("G4 P11\n" + TEXT, toolpath(LINE)))
    assert [("stop-added", "look", 14)] == found(proof_of(TEXT + "M0\n", toolpath(LINE)))


def test_stops_and_pauses_that_are_asked_for_low_down_are_found() -> None:
    for move, code in (({"dwell": 2}, "G4 P2\n"), ({"stop": {"optional": False}}, "M0\n"), ({"stop": {"optional": True}}, "M1\n")):
        assert [("stop-in-stock", "look", 13)] == found(proof_of(TEXT.replace(END, code + END), toolpath([*LINE[:3], move, LINE[3]])))
        assert [] == found(proof_of(TEXT.replace("Z22\n", code + "Z22\n"), toolpath([LINE[0], move, *LINE[1:]])))


@pytest.mark.parametrize("after", ["G0 Z-50\n", "O0002\nG0 Z-50\nM30\n", "%\nG0 Z-50\n", "whatever\n", "M30\n", "#1=2\n"])
def test_the_text_is_read_to_its_last_byte(after: str) -> None:
    with pytest.raises(ProgramError):
        prove((HEAD + TEXT + TAIL + after).encode(), toolpath(LINE), profile())


def test_a_program_begins_and_ends_with_the_marks_of_its_profile() -> None:
    marked = profile(program={"start_mark": "%", "end_mark": "%"})
    whole = HEAD + TEXT + TAIL
    assert prove(f"%\n{whole}%\n".encode(), toolpath(LINE), marked).proved
    assert "no-mark" == rule(prove(whole.encode(), toolpath(LINE), marked))
    for text in (f"%\n{whole}", f"{whole}%\n", f"%\n{whole}%\n%\n", f"%\n{whole}%\nG0 Z-50\n", f"%\n{whole}&\n"):
        with pytest.raises(ProgramError):
            prove(text.encode(), toolpath(LINE), marked)


@pytest.mark.parametrize("code", ["G17", "G40", "G49", "G80"])
def test_the_safe_start_is_stated_before_the_first_motion(code: str) -> None:
    safe = profile(program={"start_mark": "", "end_mark": "", "safe_start": ("G17 G40 G49 G80",)})
    without = HEAD.replace(f"{code} ", "").replace(f" {code}", "")
    late = without.replace("G53 G0 Z0\n", f"G53 G0 Z0\n{code}\n", 1)
    for head in (without, late):
        assert "mode" == rule(prove((head + TEXT + TAIL).encode(), toolpath(LINE), safe))
    assert proof_of(TEXT, toolpath(LINE), safe).proved


def test_the_path_mode_is_the_profiles_before_the_first_motion_and_a_change_of_it_is_found() -> None:
    exact = profile(codes={"path_mode": "G61"})
    stated = HEAD.replace("G80", "G80 G61")
    for head in (
        HEAD,
        HEAD.replace("G80", "G80 G64"),
        HEAD.replace("G80", "G80 G61.1"),
        HEAD.replace("G53 G0 Z0\n", "G53 G0 Z0\nG61\n", 1),
    ):
        assert "path-mode" == rule(prove((head + TEXT + TAIL).encode(), toolpath(LINE), exact))
    assert [] == found(prove((stated + "G61\n" + TEXT + TAIL).encode(), toolpath(LINE), exact))
    changed = TEXT.replace(END, "G64\n" + END) + "G61\n"
    assert [("path-mode", "look", 13)] == found(prove((stated + changed + TAIL).encode(), toolpath(LINE), exact))
    assert [("path-mode", "look", 13)] == found(proof_of(changed, toolpath(LINE)))


def test_extents_and_travel_count_what_arcs_reach_between_their_ends() -> None:
    """A full circle of radius 5 about (-15, 0), and three quarters of one of radius 10 about (-30, 0) that never gets to Y 10."""
    whole = proof_of(ROUND, toolpath(CIRCLE)).whole
    assert {"X": (-20.0, -10.0), "Y": (-5.0, 5.0), "Z": (18.0, 50.0)} == whole.extents
    arc = {"arc": [-20, 0, 18], "centre": [-30, 0, 18], "turns": "counterclockwise", "feed": 300}
    part = [{"rapid": [-37.0711, 7.0711, 30]}, {"rapid": [-37.0711, 7.0711, 18]}, arc]
    text = "G0 A0\nX-37.0711 Y7.0711\nZ30\nZ18\nG17 G3 X-20 Y0 I7.0711 J-7.0711 F300\n"
    extents = proof_of(text, toolpath(part)).whole.extents
    assert pytest.approx((-40.0, -20.0), abs=1e-3) == extents["X"]
    assert pytest.approx((-10.0, 7.0711), abs=1e-3) == extents["Y"]
    assert [("travel", "stop")] == [one[:2] for one in found(proof_of(ROUND, toolpath(CIRCLE), profile(linear={"Y": {"travel": 9.9}})))]
    assert [] == found(proof_of(ROUND, toolpath(CIRCLE), profile(linear={"Y": {"travel": 10.1}})))


PECK = [{"rapid": [-30, 0, 30]}, {"hole": [-30, 0], "retract": 22, "bottom": 10, "feed": 100, "cycle": "peck", "peck": 5}]
OVER = "G0 A0\nX-30 Y0\nZ30\n"


@pytest.mark.parametrize(
    ("cycle", "text", "name"),
    [
        ("peck", "G99 G83 X-30 Y0 Z10 R22 Q5 F100\nG80\n", "proved"),
        ("peck", "Z22\nG1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12\nG0 Z22\nZ12.5\nG1 Z10\nG0 Z22\n", "proved"),
        ("peck", "Z22\nG1 Z17 F100\nZ12\nZ10\nG0 Z22\n", "peck-step"),
        ("peck", "Z22\nG1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12\nZ10\nG0 Z22\n", "peck-step"),
        ("peck", "Z22\nG1 Z17 F100\nG0 Z18\nG1 Z12\nG0 Z22\nZ12.5\nG1 Z10\nG0 Z22\n", "peck-out"),
        ("peck", "G99 G81 X-30 Y0 Z10 R22 F100\nG80\n", "peck-step"),
        ("chip-break", "Z22\nG1 Z17 F100\nG0 Z17.5\nG1 Z12\nG0 Z12.5\nG1 Z10\nG0 Z22\n", "proved"),
        ("chip-break", "Z22\nG1 Z17 F100\nG0 Z17.1\nG1 Z12\nG0 Z12.5\nG1 Z10\nG0 Z22\n", "peck-step"),
        ("chip-break", "Z22\nG1 Z17 F100\nZ12\nZ10\nG0 Z22\n", "peck-step"),
    ],
)
def test_pecks_come_out_and_chips_are_broken(cycle: str, text: str, name: str) -> None:
    assert name == rule(proof_of(OVER + text, toolpath([PECK[0], {**PECK[1], "cycle": cycle}])))


@pytest.mark.parametrize(
    ("turned", "name"),
    [
        ("A-5\nA0\n", "proved"),
        ("A0\n", "backlash"),
        ("A5\nA0\n", "backlash"),
        ("A-1\nA0\n", "backlash"),
        ("A-10\nA-2\nA0\n", "proved"),
        ("A-10\nA-2\nA-3\nA0\n", "backlash"),
    ],
)
def test_a_first_arrival_too_overshoots_where_backlash_asks_for_it(turned: str, name: str) -> None:
    sided = profile(
        rotary={
            "A": {
                "along": "X",
                "chuck_faces": "+X",
                "positive_turns_chuck": "clockwise",
                "unwinding": {"between": "one_side", "arrive_from": "below", "overshoot": 5},
            }
        }
    )
    assert name == rule(proof_of(TEXT.replace("G0 A0\n", "G0 " + turned), toolpath(LINE), sided))


STEPS = "G17 G40 G80\nG21 G91 G94\nM0\nS1000 M3\nG0 X-10\nZ-120\nG1 Z-12 F200\nX-40 F600\n"
HOME = "G0 Z132\nM5\nX50\nM30\n"


@pytest.mark.parametrize(
    ("home", "with_rotary", "name"),
    [
        (HOME, True, "proved"),
        (HOME, False, "proved"),
        (HOME.replace("X50\n", ""), True, "home"),
        (HOME.replace("X50", "X49.99"), True, "home"),
        (HOME.replace("X50", "X49.99"), False, "home"),
        (HOME.replace("Z132", "Z131"), True, "home"),
        (HOME.replace("X50\n", "X50\nY1\n"), True, "home"),
        (HOME.replace("X50\n", "X50\nA360\n"), True, "home"),
    ],
)
def test_a_program_of_steps_goes_home(home: str, with_rotary: bool, name: str) -> None:
    mounted = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "unwinding": {"at_end": "zero"}}
    stepped = profile(
        program={"start_mark": "", "end_mark": "", "start_position": (0, 0, 150, 0), "safe_start": ()},
        words={"distance": "incremental"},
        codes={"work_offset": ""},
        tool={"change": "", "length_offset": "", "cancel_offset": ""},
        retract={"form": "height"},
        cycles={"depth_from": "r_level"},
        rotary={"A": mounted} if with_rotary else {},
    )
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
    assert name == rule(prove((STEPS + home).encode(), toolpath(moves), stepped))
