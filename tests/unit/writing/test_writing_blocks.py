"""Which words motion blocks say, which they leave out, in which order; and which F, in which mode, or why there can be none."""

from __future__ import annotations

import pytest
from writing_parts import NAN, in_steps, profile, rows, text_of, writing, written

from steadyrest.conventions import INVERSE, LINE, PER_MINUTE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Event


def test_words_that_do_not_change_are_left_out() -> None:
    run = rows([(0, 0, 5, 0), (1, 0, 5, 0), (1, 2, 5, 0), (1, 2, 5, 30)])
    assert ["G94 G1 X0 Y0 Z5 A0 F100", "X1", "Y2", "A30"] == written([run], profile())


def test_a_row_that_changes_nothing_is_left_out() -> None:
    run = rows([(0, 0, 5, 0), (0.0004, 0, 5, 0), (1, 0, 5, 0)])
    assert ["G94 G1 X0 Y0 Z5 A0 F100", "X1"] == written([run], profile())


def test_steps_below_the_least_increment_do_not_add_up() -> None:
    run = rows([(0.0004 * i, 0, 0, 0) for i in range(6)])
    assert ["G94 G1 X0 Y0 Z0 A0 F100", "X0.001", "X0.002"] == written([run], profile())


def test_incremental_steps_are_differences_of_rounded_places() -> None:
    run = rows([(0.0004 * i, 0, 0, 0) for i in range(1, 7)])
    assert ["G94 G1 X0 Y0 Z0 A0 F100", "X0.001", "X0.001"] == written([run], in_steps())


def test_an_incremental_step_from_an_unknown_place_is_refused() -> None:
    # The profile's checks ask for a start position, so it is taken away behind their back.
    said = in_steps()
    blind = said.model_copy(update={"program": said.program.model_copy(update={"start_position": None})})
    with pytest.raises(PlanError, match="an incremental X word starts from an unknown position"):
        written([rows([(1, 0, 0, 0)])], blind)


def test_an_axis_that_is_not_commanded_is_never_written_and_keeps_its_place() -> None:
    run = rows([(0, 0, 5, 0), (NAN, 1, NAN, NAN), (0, 1, 5, 0), (2, 1, 5, 0)])
    assert ["G94 G1 X0 Y0 Z5 A0 F100", "Y1", "X2"] == written([run], profile())


def test_rollover_with_the_shortest_way_stays_within_a_turn() -> None:
    said = profile({"travel": {"kind": "rollover"}})
    run = rows([(0, 0, 0, w) for w in (350, 365, 359.9996, 300, 150, 0, -100)])
    assert ["A350", "A5", "A0", "A300", "A150", "A0", "A260"] == [
        line.split()[-2] if " F" in line else line for line in written([run], said)
    ]


def test_half_a_turn_by_the_shortest_way_is_refused() -> None:
    with pytest.raises(PlanError, match="half a turn or more"):
        written([rows([(0, 0, 0, 0), (0, 0, 0, 180)])], profile({"travel": {"kind": "rollover"}}))


def test_rollover_with_the_sign_as_direction_says_minus_360_for_zero_from_above() -> None:
    said = profile({"travel": {"kind": "rollover", "rule": "sign"}})
    run = rows([(0, 0, 0, w) for w in (90, 0, -90, 0, 300, 360)])
    assert ["A90", "A-360", "A-270", "A0", "A300", "A0"] == [line.split()[-2] if " F" in line else line for line in written([run], said)]


def test_a_whole_turn_in_one_block_is_refused_at_rollover() -> None:
    said = profile({"travel": {"kind": "rollover", "rule": "sign"}})
    with pytest.raises(PlanError, match="a whole turn or more"):
        written([rows([(0, 0, 0, 0), (0, 0, 0, 360)])], said)


def test_unlimited_travel_counts_on() -> None:
    run = rows([(0, 0, 0, 0), (0, 0, 0, 3_600_000.0), (0, 0, 0, -72_000_000.5)])
    assert ["A3600000", "A-72000000.5"] == written([run], profile())[1:]


def test_a_line_too_long_for_the_controller_is_named() -> None:
    said = profile(program={"longest_line": 30, "comments": {"longest": 20}})
    run = rows([(0, 0, 0, 0), (-123.456, -234.567, -345.678, -1234.567)])
    with pytest.raises(
        PlanError, match=r"line 2, operation 1: the line would have 40 characters.*takes only 30: X-123.456 Y-234.567 Z-345.678 A-1234.567"
    ):
        written([run], said)


def test_the_number_of_an_operations_first_block_counts_in_its_length() -> None:
    start = Event("operation_start", 1, facts={"number": 1, "name": "", "intent": "still"})
    run = rows([(-123.456, -234.567, -345.678, 0)], RAPID, float("nan"))
    words = "G0 X-123.456 Y-234.567 Z-345.678 A0"
    program = {"comments": {"longest": 20}, "block_numbers": {"use": "operations"}}
    fits, one_less = (profile(program=program | {"longest_line": longest}) for longest in (39, 38))
    assert f"N10 {words}" == written([start, run], fits)[-1]
    with pytest.raises(PlanError, match=f"would have 39 characters.*takes only 38: N10 {words}"):
        written([start, run], one_less)


def test_lines_end_as_the_profile_says() -> None:
    one = writing([rows([(0, 0, 0, 0), (1, 0, 0, 0)])], profile(program={"line_ending": "crlf"}))
    assert b"G94 G1 X0 Y0 Z0 A0 F100\r\nX1\r\n" == b"".join(one)


def test_chunks_do_not_show_in_the_text() -> None:
    places = [(i * 0.01, -i * 0.02, 5, i * 0.7) for i in range(20_000)]
    whole = written([rows(places)], profile())
    parts = written([rows(places[low : low + 777]) for low in range(0, 20_000, 777)], profile())
    assert whole == parts


@pytest.mark.parametrize("bad", [float("inf"), 1e14])
def test_a_number_that_no_word_can_hold_is_refused(bad: float) -> None:
    with pytest.raises(PlanError, match="cannot be written as a number"):
        written([rows([(0, 0, 0, 0), (bad, 0, 0, 0)])], profile())


def test_inverse_time_says_f_in_every_block_and_per_minute_only_when_it_changes() -> None:
    run = rows([(i, 0, 0, 0) for i in range(6)], feed=[50, 50, 8, 8, 50, 50], mode=[0, 0, 1, 1, 0, 0])
    lines = ["G94 G1 X0 Y0 Z0 A0 F50", "X1", "G93 X2 F8", "X3 F8", "G94 X4 F50", "X5"]
    assert lines == written([run], profile())


def test_a_rapid_says_no_feed_and_does_not_change_the_mode() -> None:
    run = rows([(0, 0, 0, 0), (1, 0, 0, 0), (2, 0, 0, 0)], [LINE, RAPID, LINE], [8, NAN, 8], [INVERSE, PER_MINUTE, INVERSE])
    assert ["G93 G1 X0 Y0 Z0 A0 F8", "G0 X1", "G1 X2 F8"] == written([run], profile())


def test_inverse_time_without_a_code_is_refused() -> None:
    with pytest.raises(PlanError, match="no inverse-time feed"):
        written([rows([(0, 0, 0, 0)], mode=INVERSE)], profile(feed={"inverse_code": ""}))


def test_a_cut_without_a_feed_is_refused_and_named_by_its_operation() -> None:
    start = Event("operation_start", 1, facts={"number": 1, "name": "slot", "intent": "still"})
    with pytest.raises(PlanError, match=r"operation 1 'slot': a block moves at feed without a feed"):
        written([start, rows([(0, 0, 0, 0)], feed=NAN)], profile())


@pytest.mark.parametrize("feeds", [[100, 0], [0, 100], [100, NAN], [100, -1]])
def test_one_cut_without_a_feed_among_others_is_refused(feeds: list[float]) -> None:
    with pytest.raises(PlanError, match="a block moves at feed without a feed above zero"):
        written([rows([(0, 0, 0, 0), (1, 0, 0, 0)], feed=feeds)], profile())


def test_a_feed_never_rounds_to_zero_and_the_loss_is_told() -> None:
    said = profile(numbers={"inverse_feed": {"decimals": 1}})
    one = writing([rows([(0, 0, 0, 0), (1, 0, 0, 0)], feed=[0.01, 20], mode=INVERSE)], said)
    assert ["G93 G1 X0 Y0 Z0 A0 F0.1", "X1 F20"] == text_of(one)
    (notice,) = one.notices
    assert notice.kind == "FeedRounded"
    assert (1, pytest.approx(900)) == (notice.facts["moves"], notice.facts["worst_percent"])


def test_coarse_feeds_of_one_operation_are_one_notice_and_fine_ones_none() -> None:
    runs = [rows([(i, 0, 0, 0)], feed=4.04 + i, operation=2) for i in range(3)]
    one = writing([*runs, rows([(9, 0, 0, 0)], feed=1000.04, operation=3)], profile())
    text_of(one)
    assert [(2, 3)] == [(n.place.operation, n.facts["moves"]) for n in one.notices if n.kind == "FeedRounded"]


def test_a_feed_is_never_written_above_the_largest() -> None:
    said = profile(feed={"largest_mm": 1234.56, "inverse_code": "G93"})
    assert "F1234.5" == written([rows([(0, 0, 0, 0)], feed=1234.56)], said)[0].split()[-1]


def test_a_time_above_the_largest_f_is_refused_because_cutting_it_down_would_speed_up() -> None:
    said = profile(feed={"inverse_code": "G93", "inverse_is": "seconds", "largest_inverse": 99})
    with pytest.raises(PlanError, match="it would move too fast"):
        written([rows([(0, 0, 0, 0)], feed=100, mode=INVERSE)], said)
