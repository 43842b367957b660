"""The turn check goes clear, stops, turns a little, stops, turns back; read back, it does nothing else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from steadyrest.errors import PlanError, ProfileError, Refused
from steadyrest.profile import bundled_folder, has_one_in_table, load_profile, resolve
from steadyrest.reading import EventRead, MotionRead, read_program
from steadyrest.turn_check import turn_check
from steadyrest.turn_check.program import check_read_back

NAMES = sorted(folder.name for folder in bundled_folder().iterdir() if has_one_in_table(load_profile(folder)))


def read(name: str, *sets: str) -> tuple[list[EventRead], list[MotionRead]]:
    folder = bundled_folder() / name
    check = turn_check(resolve(folder, sets))
    items = list(read_program(check.program, load_profile(folder, sets), rotary_letter=check.letter))
    return [item for item in items if isinstance(item, EventRead)], [item for item in items if isinstance(item, MotionRead)]


@pytest.mark.parametrize("name", NAMES)
class TestEveryBundledProfile:
    def test_no_axis_but_the_rotary_is_commanded_outside_the_retract(self, name: str) -> None:
        _, runs = read(name)
        profile = load_profile(bundled_folder() / name)
        start = profile.program.start_position or (np.nan,) * 3
        replaced = {rotary.replaces for rotary in profile.rotary.values()}
        expected = [0.0 if axis in replaced else where for axis, where in zip("XYZ", start, strict=False)]
        known = np.vstack([run.end_mm for run in runs])
        assert np.array_equal(np.tile(expected, (len(known), 1)), known, equal_nan=True)

    def test_the_rotary_turns_fifteen_degrees_in_the_positive_direction_and_back(self, name: str) -> None:
        _, runs = read(name)
        angles = np.concatenate([run.rotary_deg[:, 0] for run in runs if not np.isnan(run.rotary_deg).any()])
        assert pytest.approx([0, 15, 0], abs=0.01) == angles[-3:]

    def test_it_waits_for_the_operator_before_each_of_three_turns(self, name: str) -> None:
        events, _ = read(name)
        assert 3 == sum(event.kind == "stop" for event in events)

    def test_the_turn_takes_as_long_as_two_turns_in_six_minutes_or_goes_at_rapid(self, name: str) -> None:
        _, runs = read(name)
        rotary = next(iter(load_profile(bundled_folder() / name).rotary.values()))
        minutes = np.concatenate([run.minutes for run in runs])[-2:]
        counts_tip = load_profile(bundled_folder() / name).feed.per_minute_counts == "tip"
        expected = [15 / 120] * 2 if rotary.turns_while_cutting and not counts_tip else [np.nan] * 2
        assert pytest.approx(expected, rel=2e-3, nan_ok=True) == minutes.tolist()

    def test_messages_are_whole_and_not_cut_off(self, name: str) -> None:
        events, _ = read(name)
        said = [event.text.lower() for event in events if event.kind == "comment"]
        comments = load_profile(bundled_folder() / name).program.comments.style
        assert (comments == "none") == (not said)
        assert comments == "none" or "no tool, nothing in the chuck that can catch, hand on feed hold" in said
        assert [] == [text for text in said if text.startswith("which") and not text.endswith("turns back")]
        assert [] == [text for text in said if " next" in text and "side" in text and not text.endswith(("spindle", "you"))]

    def test_no_spindle_coolant_or_tool_is_named(self, name: str) -> None:
        events, _ = read(name)
        assert set() == {event.kind for event in events if event.kind in ("tool_change", "tool_selected", "spindle", "coolant", "cycle")}


def test_a_clamp_is_released_before_the_first_turn_and_set_at_the_end() -> None:
    events, _ = read("limited-clamped")
    assert ["unclamp", "clamp"] == [event.kind for event in events if event.kind in ("clamp", "unclamp")]


def test_the_tool_is_clear_in_machine_coordinates_while_the_rotary_turns() -> None:
    _, runs = read("rs274ngc")
    turning = [run for run in runs if not np.isnan(run.rotary_deg).any()]
    assert all(run.clear.all() for run in turning)


def test_where_the_profile_knows_no_retract_of_its_own_the_first_message_asks_for_a_hand() -> None:
    events, _ = read("iso6983-degrees-in-f")
    comments = [event.text for event in events if event.kind == "comment"]
    assert "raise the tool clear by hand. next A goes to 0 at rapid" in comments


def test_a_head_with_fixed_steps_turns_by_whole_steps() -> None:
    assert 20 == turn_check(resolve("fixed-steps", ["rotary.A.steps=10", "rotary.A.travel.to=350"])).turn_deg


def test_a_travel_that_ends_at_zero_is_turned_from_below() -> None:
    check = turn_check(resolve("limited-clamped", ["rotary.A.travel.to=0"]))
    assert (-15, 15) == (check.start_deg, check.turn_deg)


@pytest.mark.parametrize(
    ("controller", "sets", "letter", "wrong"),
    [
        ("rs274ngc", ["stops.program="], None, "no code for a program stop"),
        ("fixed-steps", ["rotary.A.steps=180", "rotary.A.travel.to=180"], None, "too large to see"),
        ("limited-clamped", ["rotary.A.travel.from=-5", "rotary.A.travel.to=5"], None, "no room for a turn"),
    ],
)
def test_a_rotary_that_cannot_be_checked_so_is_refused(controller: str, sets: list[str], letter: str | None, wrong: str) -> None:
    with pytest.raises(PlanError, match=wrong):
        turn_check(resolve(controller, sets), letter)


def test_of_two_rotaries_one_has_to_be_named() -> None:
    two = ["rotary.B.along=Y", "rotary.B.chuck_faces=+Y", "rotary.B.positive_turns_chuck=clockwise"]
    with pytest.raises(ProfileError, match="2 rotaries: A along X, B along Y"):
        turn_check(resolve("rs274ngc", two))
    assert "B" == turn_check(resolve("rs274ngc", two), "B").letter


def test_a_rotary_that_is_not_there_is_refused() -> None:
    with pytest.raises(ProfileError, match="has no rotary C"):
        turn_check(resolve("rs274ngc"), "C")


GOOD = "%\nG21 G90 G94 G17\nG53 G0 Z0\nM0\nG0 A0\nM0\nG93 G1 A15 F8\nM0\nG93 G1 A0 F8\nG94\nM2\n%\n"


def test_a_turn_check_written_by_hand_passes() -> None:
    check_read_back(GOOD.encode(), load_profile("rs274ngc"), "A", 0, 15)


@pytest.mark.parametrize(
    ("old", "new", "wrong"),
    [
        ("M0\nG93 G1 A15", "G93 G1 A15", "without waiting"),
        ("A15 F8\nM0", "A15 F8", "without waiting"),
        ("A15", "A-15", "turns the rotary to"),
        ("A15", "A150", "turns the rotary to"),
        ("G93 G1 A0 F8\n", "", "turns the rotary to"),
        ("G53 G0 Z0\n", "", "before the tool is clear"),
        ("G0 A0", "G0 A0 Z10", "moves X, Y or Z"),
        ("G0 A0\n", "G0 X0 Y0\nG0 A0\n", "moves X, Y or Z"),
        ("M0\nG0 A0", "M3 S100\nM0\nG0 A0", "has a spindle word"),
        ("M0\nG0 A0", "T1 M6\nM0\nG0 A0", "names a tool"),
    ],
)
def test_a_template_of_a_shop_that_does_more_is_found_in_reading_back(old: str, new: str, wrong: str) -> None:
    assert old in GOOD
    with pytest.raises(Refused, match=wrong):
        check_read_back(GOOD.replace(old, new, 1).encode(), load_profile("rs274ngc"), "A", 0, 15)


def test_turning_with_the_clamp_on_is_found_in_reading_back() -> None:
    clamped = ["rotary.A.clamp.use=indexing", "rotary.A.clamp.on=M10", "rotary.A.clamp.off=M11"]
    with pytest.raises(Refused, match="with the clamp on"):
        check_read_back(GOOD.encode(), load_profile("rs274ngc", clamped), "A", 0, 15)


def test_a_shops_template_that_moves_an_axis_is_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / "templates").mkdir()
    (tmp_path / "controller.toml").write_text('extends = "rs274ngc"\n')
    (tmp_path / "templates" / "stop.j2").write_text("G0 X0 Y0\n{{ words.stop }}\n")
    with pytest.raises(Refused, match="moves X, Y or Z"):
        turn_check(resolve(str(tmp_path) + "/"))
