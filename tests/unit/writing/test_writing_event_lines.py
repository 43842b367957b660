"""How events come out of the shared templates, and what is refused where the controller has no code."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from writing_parts import NAN, profile, rows, text_of, writing, written

from steadyrest.conventions import INVERSE, PER_MINUTE, RAPID
from steadyrest.errors import PlanError, ProfileError
from steadyrest.motion import Event, HoleRow, Motion, Quantity
from steadyrest.profile import Profile, Program, load_profile, shared_templates_folder
from steadyrest.writing import write_program
from steadyrest.writing.event_lines import defused, number_word, program_name

START: dict[str, Any] = {
    "name": "lantern spindle",
    "units": "mm",
    "toolpath": "lantern.toolpath.json",
    "tools": ("T3 6 mm end mill",),
    "digest": "",
    "mounting": "rotary A along X",
    "turns": "A+ turns the chuck clockwise, looking at its face",
    "accepted": "",
    "rotaries": (),
    "assumed": (),
    "caution": "hand on feed hold",
    "held": "",
    "axis": "X",
}


def drilling(cycle: str = "drill", places: list[tuple[float, float]] | None = None, **words: Quantity) -> Event:
    spots = np.array(places or [(0, 0), (10, 0), (10, 5)], dtype=np.float64)
    asked = {"r": Quantity("R", 22, "length"), "z": Quantity("Z", 10, "length"), "feed": Quantity("F", 150, "feed")} | words
    return Event("cycle", 1, facts={"cycle": cycle}, words=asked, holes=HoleRow(spots, np.arange(1, len(spots) + 1)))


def test_a_program_starts_with_its_marks_comments_and_every_mode_it_depends_on() -> None:
    lines = [
        "%",
        "(lantern spindle)",
        "(toolpath lantern.toolpath.json)",
        "(rotary A along X)",
        "(A+ turns the chuck clockwise, looking at its face)",
        "(T3 6 mm end mill)",
        "(hand on feed hold)",
        "G17 G40 G49 G80",
        "G21 G90 G94 G17",
        "G54",
    ]
    assert lines == written([Event("program_start", facts=START)], profile())


def test_the_program_number_has_its_digits() -> None:
    said = profile(program={"number": {"letter": "O", "digits": 4, "default": 42}})
    assert "O0042" == written([Event("program_start", facts=START)], said)[1]
    assert "" == number_word(profile().program)


def test_marks_numbers_and_comments_are_no_blocks_and_get_no_number() -> None:
    said = profile(program={"number": {"letter": "O"}, "block_numbers": {"use": "every_block"}})
    lines = written([Event("program_start", facts=START), Event("program_end")], said)
    assert ["%", "O0001"] == lines[:2]
    assert all(line.startswith(("N", "(", "%", "O")) for line in lines)
    assert ["N40 M30", "%"] == lines[-2:]


def test_units_without_a_code_are_refused_unless_the_controller_knows_no_others() -> None:
    start = [Event("program_start", facts=START)]
    with pytest.raises(PlanError, match="no code for a program in inch"):
        written(start, profile(units={"inch": ""}), inch=True)
    assert "G90 G94 G17" in written(start, profile(units={"mm": "", "inch": "", "program": "mm"}))


@pytest.mark.parametrize(
    ("event", "lines"),
    [
        (Event("operation_start", 2, facts={"number": 2, "name": "cam groove", "intent": "wrapped"}), ["(operation 2 cam groove)"]),
        (
            Event(
                "tool_change",
                facts={"number": 3, "name": "end mill", "first": True},
                words={"tool": Quantity("T", 3, "count"), "offset": Quantity("H", 3, "count")},
            ),
            ["(tool 3 end mill)", "T3 M6", "G43 H3"],
        ),
        (Event("spindle_start", facts={"turns": "counterclockwise"}, words={"speed": Quantity("S", 8000, "spindle")}), ["S8000 M4"]),
        (Event("spindle_stop"), ["M5"]),
        (Event("coolant_on", facts={"coolant": "mist"}), ["M7"]),
        (Event("coolant_off"), ["M9"]),
        (Event("retract", facts={"form": "machine_zero"}, words={"machine_z": Quantity("Z", -1, "length")}), ["G53 G0 Z-1"]),
        (Event("retract", facts={"form": "reference"}), ["G91 G28 Z0", "G90"]),
        (Event("retract", facts={"form": "height"}, motion=(rows([(NAN, NAN, 30, NAN)], RAPID, NAN),)), ["G0 Z30"]),
        (Event("retract", facts={"form": "height"}), []),
        (Event("dwell", words={"time": Quantity("P", 0.5, "dwell")}), ["G4 P0.5"]),
        (Event("stop", facts={"optional": True}), ["M1"]),
        (Event("stop", facts={"optional": False}), ["M0"]),
        (Event("note", facts={"text": "turn the part round"}), ["(turn the part round)"]),
        (
            Event("turn_back", facts={"turns": -2}, motion=(rows([(NAN, NAN, NAN, -720)], RAPID, NAN),)),
            ["(rotary turned back -2 turns)", "G0 A-720"],
        ),
        (Event("program_end"), ["M30", "%"]),
    ],
    ids=lambda value: value.name if isinstance(value, Event) else "",
)
def test_events_look_like_this(event: Event, lines: list[str]) -> None:
    assert lines == written([event], profile())


def test_clamp_codes_are_those_of_the_rotary_with_their_pause() -> None:
    said = profile({"clamp": {"use": "indexing", "on": "M10", "off": "M11"}})
    pause = {"dwell": Quantity("P", 0.5, "dwell")}
    assert ["M11", "M10", "G4 P0.5"] == written([Event("unclamp"), Event("clamp", words=pause)], said)


def test_pauses_are_written_in_the_controllers_unit() -> None:
    said = profile(codes={"dwell_unit": "milliseconds"}, numbers={"dwell": {"decimals": 0}})
    assert ["G4 P500"] == written([Event("dwell", words={"time": Quantity("P", 0.5, "dwell")})], said)
    assert "P250" in written([drilling("dwell-drill", dwell=Quantity("P", 0.25, "dwell"))], said)[0].split()


def test_without_a_changer_the_operator_changes_the_tool_at_a_stop() -> None:
    words = {"tool": Quantity("T", 3, "count"), "offset": Quantity("H", 3, "count")}
    change = Event("tool_change", facts={"number": 3, "name": "end mill", "first": False}, words=words)
    assert ["(tool 3 end mill)", "M0"] == written([change], profile(tool={"change": "", "length_offset": "", "cancel_offset": ""}))


@pytest.mark.parametrize(
    ("event", "groups", "wrong"),
    [
        (Event("coolant_on", 1, facts={"coolant": "air"}), {}, "no code for coolant 'air'"),
        (Event("spindle_start", 1, facts={"turns": "counterclockwise"}), {"spindle": {"counterclockwise": ""}}, "turns counterclockwise"),
        (Event("stop", 1, facts={"optional": True}), {"stops": {"optional": ""}}, "no code for an optional stop"),
        (Event("clamp", 1), {}, "no code for clamping the rotary"),
        (drilling("chip-break"), {}, "no cycle for 'chip-break'"),
    ],
)
def test_what_the_controller_has_no_code_for_is_refused_with_its_operation(event: Event, groups: dict[str, Any], wrong: str) -> None:
    with pytest.raises(PlanError, match=wrong) as caught:
        written([event], profile(**groups))
    assert 1 == caught.value.place.operation


def with_c_carried_by_a() -> Profile:
    """Two rotaries in the table, each with a clamp of its own."""
    base = {"positive_turns_chuck": "clockwise"}
    a = {"along": "X", "chuck_faces": "+X", "clamp": {"use": "indexing", "on": "M10", "off": "M11", "dwell": 0.5}}
    c = {"along": "Z", "chuck_faces": "+Z", "clamp": {"use": "indexing", "on": "M12", "off": "M13"}}
    said = {"name": "two", "speaks": "two rotaries in the table", "chain": "part C A bed spindle", "rotary": {"A": base | a, "C": base | c}}
    return Profile.model_validate(said)


def test_each_of_two_rotaries_is_clamped_by_its_own_code() -> None:
    pause = {"dwell": Quantity("P", 0.5, "dwell")}
    events = [
        Event("unclamp", 1, facts={"rotary": "C"}),
        Event("unclamp", 1, facts={"rotary": "A"}, words=pause),
        Event("clamp", 1, facts={"rotary": "C"}),
        Event("clamp", 1, facts={"rotary": "A"}, words=pause),
    ]
    assert ["M13", "M11", "G4 P0.5", "M12", "M10", "G4 P0.5"] == written(events, with_c_carried_by_a(), letters="CA")


def test_an_index_of_two_rotaries_is_one_block_and_its_template_may_say_both_angles(tmp_path: Path) -> None:
    turned = Motion(
        np.array([RAPID], np.uint8), np.full((1, 3), NAN), np.array([[90.0, -30.0]]), np.full(1, NAN), np.ones(1, np.int64), np.zeros(1),
        np.full(1, PER_MINUTE, np.uint8), None, 1, "turn",
    )  # fmt: skip
    words = {"angle": Quantity("", 90.0, "angle"), "second_angle": Quantity("", -30.0, "angle")}
    event = Event("index", 1, "turn", words=words, motion=(turned,))
    assert ["G0 A-30 C90"] == written([event], with_c_carried_by_a(), letters="CA")
    (tmp_path / "index.j2").write_text("{{ comment('C', words.angle, 'A', words.second_angle) }}\n{{ motion }}\n", encoding="utf-8")
    lines = write_program([event], with_c_carried_by_a(), [tmp_path, shared_templates_folder()], inch=False, rotary_letters=["C", "A"])
    assert ["(C 90 A -30)", "G0 A-30 C90"] == text_of(lines)


def test_a_rotary_the_profile_does_not_have_is_refused() -> None:
    with pytest.raises(ProfileError, match="'trial' has no rotary B"):
        writing([], profile(), letters="B")


def test_a_cycle_says_everything_once_then_only_places_then_its_end() -> None:
    lines = ["G94 G17 G99 G81 X0 Y0 Z10 R22 F150", "X10", "Y5", "G80", "G0 X10 Y5 Z30"]
    assert lines == written([drilling(), rows([(10, 5, 30, NAN)], RAPID, NAN)], profile())


def test_the_same_hole_once_more_still_names_its_place() -> None:
    # NISTIR 6556 section 3.5.16: a cycle's block without any of X, Y, Z is an error.
    assert ["X0 Y0", "G80"] == written([drilling(places=[(0, 0), (0, 0)])], profile())[1:]


def test_a_cycle_goes_back_to_feed_per_minute_first() -> None:
    # NISTIR 6556 section 3.5.16: cycles are an error in inverse time.
    lines = written([rows([(0, 0, 0, 0)], feed=8, mode=INVERSE), drilling()], profile())
    assert ["G93", "G94"] == [line.split()[0] for line in lines[:2]]


def test_a_program_that_ends_in_inverse_time_goes_back_to_feed_per_minute() -> None:
    lines = written([rows([(0, 0, 0, 0)], feed=8, mode=INVERSE), Event("program_end")], profile())
    assert ["G94", "M30", "%"] == lines[-3:]


def test_a_coarse_feed_of_a_cycle_is_told() -> None:
    one = writing([drilling(feed=Quantity("F", 3.04, "feed"))], profile())
    assert "F3" == text_of(one)[0].split()[-1]
    assert [3] == [notice.facts["moves"] for notice in one.notices if notice.kind == "FeedRounded"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("x) G0 Z-99 (", "(x G0 Z-99)"),
        ("one\nG0 Z-99", "(one G0 Z-99)"),
        ("one\r\n%\rM30", "(one M30)"),
        ("M\u00fcller \u2013 \u00d8 6", "(Muller 6)"),
        ("MSG, look out", "(MSG look out)"),
        ("m s g ,, look out", "(m s g  look out)"),
        ("\u2474 (2)", "(1 2)"),
    ],
)
def test_text_from_outside_stays_a_comment(text: str, line: str) -> None:
    one = writing([Event("note", 1, facts={"text": text})], profile())
    assert [line.replace("  ", " ")] == [written_line.replace("  ", " ") for written_line in text_of(one)]
    assert all(notice.kind == "CommentCleaned" for notice in one.notices)
    assert one.notices


def test_text_that_needs_no_cleaning_gives_no_notice() -> None:
    one = writing([Event("note", 1, facts={"text": "  turn the part round "})], profile(program={"comments": {"upper_case": True}}))
    assert ["(TURN THE PART ROUND)"] == text_of(one)
    assert () == one.notices


def test_a_text_cleaned_many_times_is_told_once() -> None:
    one = writing([Event("note", 1, facts={"text": "\u00d8 6"})] * 5, profile())
    text_of(one)
    assert [("\u00d8 6", "6")] == [(n.facts["text"], n.facts["written"]) for n in one.notices if n.kind == "CommentCleaned"]


def comments(**settings: Any) -> Profile:
    return profile(program={"comments": settings})


def test_comments_follow_the_controllers_style() -> None:
    note = [Event("note", 1, facts={"text": "turn (it)"})]
    assert [";turn it"] == written(note, comments(style="semicolon"))
    assert [] == written(note, comments(style="none"))
    assert ["(TURN IT)"] == written(note, comments(characters="TURNI "))
    assert ["(turn it r)"] == written([Event("note", 1, facts={"text": "turn it round"})], comments(longest=9, characters="turn ir"))


def test_spaces_between_words_are_taken_out_of_events_and_left_in_comments() -> None:
    change = Event(
        "tool_change",
        facts={"number": 3, "name": "end mill", "first": True},
        words={"tool": Quantity("T", 3, "count"), "offset": Quantity("H", 3, "count")},
    )
    assert ["(tool 3 end mill)", "T3M6", "G43H3"] == written([change], profile(words={"spaces": False}))


def test_name_is_written_in_capitals_digits_and_hyphens() -> None:
    # ISO 6983-1, 3.6 (1982): the identification follows the program start directly
    assert "LANTERN-SPIN" == program_name(Program(name_letters=12), "lantern spindle, 2nd")


def test_name_that_holds_a_program_stays_a_name() -> None:
    assert "X-G0-Z-99" == program_name(Program(name_letters=20), "x) G0 Z-99 (\nM3")[:9]
    assert "\n" not in program_name(Program(name_letters=20), "x\nM3 S9000")


def test_no_name_is_written_unless_asked_for() -> None:
    assert "" == program_name(Program(), "lantern spindle")


def test_a_name_needs_a_mark_to_stand_after() -> None:
    with pytest.raises(ProfileError, match="the name comes after the start mark, but there is no start mark"):
        load_profile("rs274ngc", ["program.name_letters=8", 'program.start_mark=""'])


def test_a_text_that_a_controller_would_take_for_a_message_loses_the_comma_that_makes_it_one_and_no_other() -> None:
    assert "MSG a, b, c" == defused("MSG, a, b, c")
    assert "a, b" == defused("a, b")
