"""What the program's words and the toolpath's figures say; and which word a failure comes from, on its line, with what it should say."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.conventions import LINE, RAPID
from steadyrest.profile import bundled_folder, load_profile
from steadyrest.proof import Failure, Setting, length_text, prove, setting_of
from steadyrest.proof.geometry import FULL_TURN
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import Edit, PathAhead, _off, axis_word, coordinate_said, edited, length, place_said, speed

BEGIN, END, GOAL = (np.array(one, dtype=np.float64) for one in ((0, 0, 30, 0), (-51, 2, 30, radians(90)), (-50, 2.5, 10, radians(450))))


def setting(**groups: Any) -> Setting:
    return setting_of(toolpath([{"rapid": [0, 0, 50]}]), profile(**groups), None, None)


def a_rotary(**settings: Any) -> dict[str, Any]:
    return {"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **settings}}


@pytest.mark.parametrize(("coordinate", "says"), [(0, "X-51; the toolpath asks for -50 mm"), (1, "Y2; the toolpath asks for 2.5 mm")])
def test_a_word_is_said_with_what_it_should_say(coordinate: int, says: str) -> None:
    assert axis_word(setting(), coordinate, BEGIN, END, GOAL) == says


def test_an_angle_is_said_in_degrees_with_the_sign_and_the_turns_of_its_word() -> None:
    assert axis_word(setting(), 3, BEGIN, END, GOAL) == "A-90; the toolpath asks for -450 degrees"
    rollover = setting(rotary=a_rotary(travel={"kind": "rollover"}))
    assert axis_word(rollover, 3, BEGIN, END, GOAL) == "A270; the toolpath asks for 270 degrees"
    other_way = setting(rotary=a_rotary(positive_turns_chuck="counterclockwise"))
    assert axis_word(other_way, 3, BEGIN, END, GOAL) == "A90; the toolpath asks for 450 degrees"
    assert coordinate_said(setting(rotary={}), 3, END) == "rotary90"


def test_steps_are_said_from_where_the_block_begins() -> None:
    steps = setting_of(toolpath([{"rapid": [0, 0, 50]}]), load_profile(bundled_folder() / "incremental"), None, None)
    assert axis_word(steps, 0, np.array([-10.0, 0, 0, 0]), END, GOAL) == "X-41; the toolpath asks for a step of -40 mm"
    unknown = np.array([np.nan, 0, 0, 0])
    assert axis_word(steps, 0, unknown, END, GOAL) == "X-51; the toolpath asks for -50 mm"


def test_lengths_and_speeds_are_in_the_units_of_the_program() -> None:
    inch = setting(units={"program": "inch"})
    assert (length(setting(), 12.34567), length(inch, 25.4)) == ("12.3457 mm", "1 inch")
    assert (speed(setting(), 300), speed(inch, 254)) == ("300 mm/min", "10 inch/min")
    assert place_said(inch, np.array([25.4, -0.0, 50.8])) == "X1 Y0 Z2 inch"
    assert coordinate_said(inch, 2, np.array([0, 0, 25.4, 0])) == "Z1"


@pytest.mark.parametrize(
    ("mm", "inch", "text"), [(1.23456, False, "1.235 mm"), (-0.0001, False, "0 mm"), (25.4, True, "1 inch"), (3.0, True, "0.1181 inch")]
)
def test_a_length_for_people_has_no_more_digits_than_can_be_measured(mm: float, inch: bool, text: str) -> None:
    assert length_text(mm, inch=inch) == text


def test_a_difference_is_said_by_the_word_it_comes_from() -> None:
    mismatch = Mismatch("off-path", "the tip leaves its path", line=9)
    assert edited(mismatch, None) is mismatch
    assert not mismatch.edited
    edited(mismatch, Edit(7, "X-51; the toolpath asks for -50 mm", GOAL, END))
    assert (mismatch.edited, mismatch.line) == (True, 7)
    assert mismatch.asked is GOAL
    assert mismatch.found is END
    assert mismatch.sentence == "X-51; the toolpath asks for -50 mm: the tip leaves its path"


def test_what_the_program_has_not_said_is_asked_for_as_the_goal_has_it() -> None:
    mismatch = Mismatch("cut-elsewhere", "the cut starts elsewhere", line=9)
    mismatch.asked = GOAL
    edited(mismatch, Edit(7, "Z31; the toolpath asks for 30 mm", np.array([np.nan, np.nan, 30, 0]), END))
    assert mismatch.asked.tolist() == [-50, 2.5, 30, 0]


MOVES = [
    {"rapid": [-10, 5, 30]},
    {"rapid": [-10, 5, 22]},
    {"cut": [-10, 5, 18], "feed": 200},
    {"cut": [-50, 5, 18], "feed": 600},
    {"cut": [-50, -5, 18]},
    {"rapid": [-50, -5, 30]},
    {"rapid": [-10, -8, 30]},
    {"cut": [-10, -8, 17], "feed": 200},
    {"cut": [-20, -8, 17], "feed": 600},
]
TEXT = "G0 A0\nX-10 Y5\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\nY-5\nG0 Z30\nX-10 Y-8\nG1 Z17 F200\nX-20 F600\n"
FIRST = len(HEAD.splitlines()) + 1


def failure_of(text: str, moves: list[dict[str, object]], intent: dict[str, object] | None = None, **settings: object) -> Failure:
    failure = proof_of(text, toolpath(moves, intent), profile(**settings)).failure
    assert failure is not None
    return failure


def test_the_program_as_it_should_be_is_proved() -> None:
    verdict = proof_of(TEXT, toolpath(MOVES))
    assert verdict.proved, verdict.text()


@pytest.mark.parametrize(
    ("line", "new", "says"),
    [
        (1, "X-12 Y5", "X-12; the toolpath asks for -10 mm: the cut starts"),
        (1, "X-10 Y50", "Y50; the toolpath asks for 5 mm"),
        (2, "Z33", "Z33; the toolpath asks for 30 mm"),
        (3, "Z21", "Z21; the toolpath asks for 22 mm"),
        (4, "G1 Z180 F200", "Z180; the toolpath asks for 18 mm: the tip leaves its path"),
        (5, "X-50.1 F600", "X-50.1; the toolpath asks for -50 mm: the tip leaves its path"),
        (5, "X-45 F600", "X-45; the toolpath asks for -50 mm"),
        (5, "X50 F600", "X50; the toolpath asks for -50 mm"),
        (5, "X-50 F660", "F660; the toolpath asks for 600 mm/min"),
        (6, "Y-4", "Y-4; the toolpath asks for -5 mm"),
        (8, "X-10 Y8", "Y8; the toolpath asks for -8 mm"),
        (9, "G1 Z16 F200", "Z16; the toolpath asks for 17 mm"),
        (0, "G0 A10", "A10; the toolpath asks for 0 degrees"),
        (10, "X-20 A-20 F600", "A-20; the toolpath asks for 0 degrees"),
    ],
)
def test_a_word_is_named_on_its_own_line(line: int, new: str, says: str) -> None:
    lines = TEXT.splitlines()
    lines[line] = new
    failure = failure_of("\n".join(lines) + "\n", MOVES)
    assert FIRST + line == failure.place.line, failure
    assert says in failure.sentence


@pytest.mark.parametrize(("at", "line"), [(1, 2), (6, 6), (8, 8)])
def test_a_missing_block_is_named_where_it_is_missing(at: int, line: int) -> None:
    lines = TEXT.splitlines()
    del lines[at]
    failure = failure_of("\n".join(lines) + "\n", MOVES)
    assert FIRST + line == failure.place.line, failure
    assert "is missing before this line" in failure.sentence


def test_the_other_end_of_a_turn_is_said_as_the_word_stands() -> None:
    moves = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-20, 376.991118, -1], "feed": 600}]
    text = "G0 A0\nX-10 Y0\nZ25\nG94 G1 Z19 F200\nG93 X-20 A-1080 F1.674\nG94\n"
    wrapped = {"intent": "wrapped", "diameter": 40}
    assert proof_of(text, toolpath(moves, wrapped)).proved
    failure = failure_of(text.replace("A-1080", "A1080"), moves, wrapped)
    assert FIRST + 4 == failure.place.line
    assert failure.sentence.startswith("A1080; the toolpath asks for -1080 degrees")


def test_switches_are_named_where_they_are_said() -> None:
    for said, wrong, line, says in (
        ("S1000", "S1100", 7, "turns at 1100 rpm; the operation asks for 1000 rpm"),
        ("M3", "M4", 7, "the spindle turns counterclockwise; the operation asks for clockwise"),
        ("T1", "T2", 5, "tool 2 is called; the operations use only tool 1"),
        ("H1", "H2", 6, "the length offset is that of tool 2; tool 1 is in the spindle"),
        ("G54", "G55", 3, "work offset G55 is on; the profile's is G54"),
    ):
        failure = prove((HEAD.replace(said, wrong) + TEXT + TAIL).encode(), toolpath(MOVES), profile()).failure
        assert failure is not None
        assert line == failure.place.line, failure
        assert says in failure.sentence


HOLES = [{"rapid": [-30, 0, 30]}, {"hole": [-30, 0], "cycle": "peck", "retract": 22, "bottom": 10, "peck": 4, "dwell": 0.5, "feed": 100}]


@pytest.mark.parametrize(
    ("spelled", "line", "new", "says"),
    [
        ("Z14", 6, "G1 Z13.8", "pecks of 4 mm"),
        ("Z18", 4, "G1 Z19 F100", "Z19 makes pecks of 3 mm and 5 mm; the toolpath asks for pecks of 4 mm"),
        ("Z10", 8, "G1 Z9.8", "Z9.8; the toolpath asks for 10 mm: the hole is 0.2 mm deeper than asked for"),
        ("Z10", 8, "G1 Z10.5", "Z10.5; the toolpath asks for 10 mm: the hole is 0.5 mm shallower than asked for"),
        ("P0.5", 9, "G4 P0.2", "a pause of 0.2 s at the bottom; the toolpath asks for 0.5 s"),
        ("X-30", 1, "X-31 Y0", "X-31; the toolpath asks for -30 mm"),
        ("Z18", 4, "G1 X-31 Z18 F100", "X-31; the toolpath asks for -30 mm"),
        ("Z22", 5, "G0 Z23", "Z23; the toolpath asks for 22 mm: the feed starts above the retract level"),
    ],
)
def test_a_holes_words_are_named_on_their_line(spelled: str, line: int, new: str, says: str) -> None:
    right = "G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F100\nG0 Z22\nG1 Z14\nG0 Z22\nG1 Z10\nG4 P0.5\nG0 Z22\n"
    verdict = proof_of(right, toolpath(HOLES))
    assert verdict.proved, verdict.text()
    lines = right.splitlines()
    assert spelled in lines[line]
    lines[line] = new
    failure = failure_of("\n".join(lines) + "\n", HOLES)
    assert FIRST + line == failure.place.line, failure
    assert says in failure.sentence


def test_a_length_is_said_in_the_units_of_the_program() -> None:
    """An inch program of a toolpath in mm."""
    text = "G0 A0\nX-0.39370 Y0\nZ1.18110\nG1 X-2.1 F23.622\n"
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-50.8, 0, 30], "feed": 600}]
    inches = profile(units={"program": "inch"}, numbers={"length": {"decimals": 5}})
    failure = prove((HEAD.replace("G21", "G20") + text + TAIL).encode(), toolpath(moves), inches).failure
    assert failure is not None
    assert failure.sentence.startswith("X-2.1; the toolpath asks for -2 inch")


def test_a_place_names_operation_and_angle_in_one_form() -> None:
    indexed = {"intent": "indexed", "angles": [60]}
    operation = {"name": "flat"}
    part = toolpath([{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}], indexed, operation=operation)
    failure = proof_of("G0 A60\nX-10 Y0\nZ30\nG1 X-51 F600\n", part).failure
    assert failure is not None
    assert "line 11, operation 1 'flat' at 60 degrees, move 2" == str(failure.place)


def test_a_missing_turn_is_said_as_a_rollover_axis_says_it() -> None:
    axis = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "travel": {"kind": "rollover", "rule": "shortest"}}
    moves: list[dict[str, object]] = [{"rapid": [-10, 0, 30]}, {"cut": [-50, 0, 30], "feed": 600}]
    indexed = {"intent": "indexed", "angles": [0, -10]}
    text = "G0 A0\nX-10 Y0\nZ30\nG1 X-50 F600\nG0 Z40\nA350\nX-10\nZ30\nG1 X-50\n"
    rotary = {"A": axis}
    assert proof_of(text, toolpath(moves, indexed), profile(rotary=rotary)).proved
    failure = failure_of(text.replace("A350\n", ""), moves, indexed, rotary=rotary)
    assert "a block to A350 is missing before this line" in failure.sentence
    failure = failure_of(text.replace("A350\n", "A340\n"), moves, indexed, rotary=rotary)
    assert (FIRST + 5, True) == (failure.place.line, failure.sentence.startswith("A340; the toolpath asks for 350 degrees"))


def test_the_end_of_a_cut_may_be_said_too_early_in_a_word_that_holds_on() -> None:
    """The next block does not say X again: all that it does is beside the path, and it is not its word that differs."""
    failure = failure_of(TEXT.replace("X-50 F600\n", "X-30 F600\nX-49\n"), MOVES)
    assert (FIRST + 6, True) == (failure.place.line, failure.sentence.startswith("X-49; the toolpath asks for -50 mm"))


def test_a_cut_left_out_is_not_laid_to_the_block_before_it() -> None:
    """That block ends where a cut of the toolpath ends, though it does so on the way of the next."""
    moves = [*MOVES[:3], {"cut": [-30, 5, 18], "feed": 600}, *MOVES[3:]]
    text = TEXT.replace("X-50 F600\n", "X-30 F600\nX-50\n")
    assert proof_of(text, toolpath(moves)).proved
    failure = failure_of(text.replace("X-50\n", ""), moves)
    assert FIRST + 6 == failure.place.line, failure


def test_a_slanting_rapid_down_onto_a_cut_is_laid_to_the_word_that_went_beside_it() -> None:
    """The last rapid says X again, rightly: it slants because the block before it stands elsewhere."""
    moves = [{"rapid": [-10, 5, 30]}, {"rapid": [-10, 5, 18]}, {"cut": [-50, 5, 18], "feed": 600}]
    text = "G0 A0\nX-10 Y5\nZ30\nX-10 Z18\nG1 X-50 F600\n"
    assert proof_of(text, toolpath(moves)).proved
    for line, right, wrong in ((1, "X-10 Y5", "X-12 Y5"), (3, "X-10 Z18", "X-12 Z18")):
        failure = failure_of(text.replace(right, wrong), moves)
        assert (FIRST + line, "rapid-low") == (failure.place.line, failure.rule)
        assert failure.sentence.startswith("X-12; the toolpath asks for -10 mm")


def test_where_two_blocks_meet_too_late_that_word_is_named_and_not_their_feeds() -> None:
    """The time of both together is right: 10 mm and 30 mm at 600 mm/min."""
    moves = [{"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
    text = "G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nG93 X-20 F60\nX-50 F20\nG94\n"
    assert proof_of(text, toolpath(moves)).proved
    failure = failure_of(text.replace("X-20", "X-22"), moves)
    assert FIRST + 4 == failure.place.line
    assert failure.sentence.startswith("X-22; the toolpath asks for -20 mm")


def test_the_word_is_named_that_puts_a_block_off_half_way_along_its_cut() -> None:
    """The next block ends the cut, so this one is to end before: X-30 is half way, and Y12 would be six tenths."""
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 20, 18]}]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-30 Y12\nX-50 Y20\n", toolpath(moves)).failure
    assert failure is not None
    word, asked = failure.sentence.split("; the toolpath asks for ")
    assert ("Y12", pytest.approx(10, abs=0.001)) == (word, float(asked.split()[0]))


def test_where_a_cut_is_gone_in_part_the_word_is_named_that_puts_the_next_block_off() -> None:
    """A quarter is done, and the block after the next ends the cut: X-34 Y12 is on the way, X-31 Y15.5 would be too, but not as near."""
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 20, 18]}]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-20 Y5\nX-31 Y12\nX-50 Y20\n", toolpath(moves)).failure
    assert failure is not None
    word, asked = failure.sentence.split("; the toolpath asks for ")
    assert ("X-31", pytest.approx(-34, abs=0.01)) == (word, float(asked.split()[0]))


def test_a_cut_that_ends_early_is_named_where_one_block_alone_leaves_it_before_the_end() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18]}]
    text = HEAD + "G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-40\nG0 Z30\nM2\n"
    failure = prove(text.encode(), toolpath(moves), profile()).failure
    assert failure is not None
    assert failure.sentence.startswith("X-40; the toolpath asks for -50 mm")


@pytest.mark.parametrize(("said", "asked"), [("A120", 750), ("A745", 750), ("A25", 30)])
def test_a_wrong_angle_is_told_the_turn_that_it_is_nearest_to_or_else_the_one_where_the_rotary_stood(said: str, asked: int) -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}]
    part = toolpath(moves, {"intent": "indexed", "angles": [30]})
    failure = proof_of(f"G0 A720\n{said}\nX-10 Y0\nZ30\nG1 Z18 F200\n", part).failure
    assert failure is not None
    assert f"{said}; the toolpath asks for {asked} degrees" in failure.sentence


def test_over_the_goal_of_a_link_at_a_wrong_height_the_block_before_is_named_that_said_the_height() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 20, 18]}]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-40 Y15\nG0 Z30\nX-45 Z5\n", toolpath(moves)).failure
    assert failure is not None
    assert ("rapid-low", 13) == (failure.rule, failure.place.line)
    assert failure.sentence.startswith("Z30; the toolpath asks for 18 mm: ")


def test_a_word_is_right_within_what_its_kind_allows_lengths_and_angles_apart() -> None:
    here = setting_of(toolpath(MOVES), profile(), None, None)
    allowed = np.array([here.slack_mm] * 3 + [here.axis_limit_rad])
    goal = np.array([-10.0, 5.0, 18.0, 1.0])
    assert not _off(goal + 0.9 * allowed * np.vstack([np.eye(4), -np.eye(4)]), goal, here).any()
    assert (_off(goal + 1.1 * allowed * np.eye(4), goal, here) == np.eye(4, dtype=np.bool_)).all()
    assert _off(np.array([[np.nan, 5.0, 18.0, 1.0 + FULL_TURN]]), goal, here).tolist() == [[True, False, False, False]]


@pytest.mark.parametrize(("place", "line"), [("-31", 5), ("-29", 5)])
def test_two_blocks_that_meet_at_another_place_are_told_by_that_place_and_not_by_their_times(place: str, line: int) -> None:
    moves: list[dict[str, Any]] = [{"rapid": [-10, 5, 30]}, {"cut": [-10, 5, 18], "feed": 200}, {"cut": [-50, 5, 18], "feed": 600}]
    moves += [{"cut": [-50, -5, 18], "feed": 300}]
    text = f"G0 A0\nX-10 Y5\nZ30\nG1 Z18 F200\nG93 X{place} F30\nX-50 F30\nG94 Y-5 F300\n"
    failure = proof_of(text, toolpath(moves)).failure
    assert failure is not None
    assert f"X{place}; the toolpath asks for -30 mm" in failure.sentence
    assert len(HEAD.splitlines()) + line == failure.place.line


def test_the_path_ahead_ends_before_a_rapid() -> None:
    class Elements(list[int]):
        kind = np.array([LINE, LINE, RAPID, LINE], dtype=np.uint8)

    cut, lifted = (PathAhead(Elements(range(4)), None, setting(), 0.0, first) for first in (0, 2))  # type: ignore[arg-type]
    assert (0.25, 2.0) == (cut.places(0.25)[0], cut.places(0.25)[-1])
    assert 0 == len(lifted.places(0.25))


@pytest.mark.parametrize(
    ("feed", "cause"),
    [("", "F is left over from the block before"), ("F200", "F is left over from the block before"), ("F250", ""), ("G93 F200", "")],
)
def test_a_feed_is_left_over_only_where_the_block_before_has_the_same_of_the_same_mode(feed: str, cause: str) -> None:
    moves: list[dict[str, Any]] = [{"rapid": [-10, 5, 30]}, {"cut": [-10, 5, 18], "feed": 200}, {"cut": [-50, 5, 18], "feed": 600}]
    failure = proof_of(f"G0 A0\nX-10 Y5\nZ30\nG1 Z18 F200\n{feed} X-50\n", toolpath(moves)).failure
    assert failure is not None
    assert ("feed", cause) == (failure.kind, failure.cause)
