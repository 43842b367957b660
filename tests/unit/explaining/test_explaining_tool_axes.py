"""Words of two rotaries explained: which rotary turns what, where the tool then points, how else it could, in which plane."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.conventions import LINE, PER_MINUTE
from steadyrest.explaining.line_origins import LineOrigin, Row
from steadyrest.explaining.model import Settings
from steadyrest.explaining.reasons import why
from steadyrest.explaining.tool_axes import place_in_words, tool_axis_in_words, turn_in_words
from steadyrest.explaining.word_origins import event_words, motion_words
from steadyrest.motion import Event, Motion
from steadyrest.profile import resolve
from steadyrest.toolpath import Indexed, Operation
from steadyrest.writing import Printed, word_format

C = 'rotary.C={along = "Z", chuck_faces = "+Z", positive_turns_chuck = "clockwise"}'
B = 'rotary.B={along = "Y", chuck_faces = "+Y", positive_turns_chuck = "counterclockwise", pivot = [0, 0, 150]}'
LEANING = (
    'rotary.B={along = "Z", chuck_faces = "+Z", positive_turns_chuck = "counterclockwise", pivot = [0, 0, 145], '
    'leans = {towards = "-Y", by = 45}}'
)
TABLE = ('chain="part C A bed spindle"', C)


def settings_of(*sets: str, axis: str = "X") -> Settings:
    resolved = resolve("rs274ngc" if "A" in sets[0] else "upright-c", sets)
    letters = [word for word in resolved.profile.chain.split() if len(word) == 1]
    return Settings(resolved, word_format(resolved.profile, inch=False, rotary_letters=letters), axis=axis)


def run_of(*places: tuple[float, ...], rule: str = "cut") -> Motion:
    table = np.array(places, dtype=float)
    n = len(table)
    kind, mode = np.full(n, LINE, np.uint8), np.full(n, PER_MINUTE, np.uint8)
    return Motion(kind, table[:, :3], table[:, 3:], np.full(n, 100.0), np.arange(1, n + 1), np.zeros(n), mode, None, 1, rule)


def row_of(*after: float, before: tuple[float, float] = (0.0, 0.0), rule: str = "cut") -> Row:
    return Row(run_of(after, rule=rule), np.zeros(3), np.array(before))


def said_of(settings: Settings, line: str, row: Row) -> dict[str, str]:
    return {word.word[0]: word.says for word in motion_words(line, row, settings)}


def test_each_word_says_which_rotary_turns_what_and_where_the_tool_then_points() -> None:
    settings = settings_of(*TABLE)
    said = said_of(settings, "G1 X1 A-30 C370 F100", row_of(1, 0, 0, 370, -30))
    assert said["C"].startswith("C to 370 degrees (10 and +1 whole turn): the part is turned 370 degrees left-hand about +Z; the tool axis")
    assert said["A"].startswith("A to -30 degrees: the part is turned 30 degrees right-hand about +X; the tool axis in the part is (")
    (word,) = motion_words("A-30", row_of(1, 0, 0, 370, -30), settings)
    assert {"chain", "rotary.A.chuck_faces", "numbers.angle.decimals"} <= {each.key for each in word.settings}
    assert not any("rotary.C" in each.key for each in word.settings)


def test_the_tool_axis_is_that_of_the_trade_and_the_other_solution_gives_the_same() -> None:
    """ISO 841: C then A, both clockwise seen from their + ends: at A90 the tool looks along -Y of the part, turned on by C."""
    settings = settings_of(*TABLE)
    assert "the tool axis in the part is (1, 0, 0), by one of two solutions; the other is C -90, A -90" == tool_axis_in_words(
        np.array([90.0, 90.0]), settings
    )
    assert "(1, 0, 0)" in tool_axis_in_words(np.array([-90.0, -90.0]), settings)


def test_at_a_pole_the_first_rotary_is_free_and_a_place_that_is_not_known_says_nothing() -> None:
    settings = settings_of(*TABLE)
    assert tool_axis_in_words(np.array([17.0, 0.0]), settings).endswith("(0, 0, 1), along the line of C: at this pole C is free")
    assert "" == tool_axis_in_words(np.array([17.0, np.nan]), settings)


@pytest.mark.parametrize(
    ("b", "says"),
    [
        (B, "the tool is turned 30 degrees right-hand about +Y"),
        (LEANING, "the tool is turned 30 degrees right-hand about + of an axis along Z that leans by 45 degrees towards -Y"),
    ],
)
def test_a_head_turns_the_tool(b: str, says: str) -> None:
    assert says == turn_in_words("B", settings_of('chain="part C bed B spindle"', b), 30.0)


def test_an_operations_planes_and_angles_are_known_by_their_tool_axis() -> None:
    settings = settings_of(*TABLE)
    planes = [{"origin": [0, 0, 0], "z": z} for z in ([0, 0, 1], [1, 0, 0], [0, -1, 0], [2, 0, 0])]
    indexed = Indexed.model_validate({"intent": "indexed", "planes": planes})
    assert ", in plane 2 or 4 of 4" == place_in_words(np.array([90.0, 90.0]), indexed, settings)
    assert ", in plane 3 of 4" == place_in_words(np.array([360.0, 90.0]), indexed, settings)
    assert "" == place_in_words(np.array([45.0, 90.0]), indexed, settings)
    turned = Indexed.model_validate({"intent": "indexed", "angles": [0, 90]})
    assert ", for the angle 90 (number 2 of 2) of the toolpath" == place_in_words(np.array([0.0, 90.0]), turned, settings)
    about_y = settings_of(*TABLE, axis="Y")
    assert ", for the angle 90 (number 2 of 2) of the toolpath" == place_in_words(np.array([90.0, 90.0]), turned, about_y)


def test_a_turn_to_a_plane_says_which_and_which_rotary_is_still_on_its_way() -> None:
    settings = settings_of(*TABLE)
    plane = {"origin": [0, 0, 0], "z": [1, 0, 0]}
    said = {
        "name": "side",
        "tool": 1,
        "spindle": {"rpm": 1, "turns": "clockwise"},
        "coolant": "off",
        "moves": [{"cut": [0, 0, 0], "feed": 1}],
    }
    operation = Operation.model_validate(said | {"rotary": {"intent": "indexed", "planes": [plane]}})
    nan = float("nan")
    event = Event("index", 1, "turn", motion=(run_of((nan, nan, nan, 85.0, 90.0), (nan, nan, nan, 90.0, nan), rule="turn"),))
    rule, says, keys = why(LineOrigin(1, 0, event, row=row_of(nan, nan, nan, 85.0, 90.0, rule="turn")), operation, "", settings, None)
    assert "turn" == rule
    assert ", in plane 1 of 1; on the way to C 90: no single turn" in says
    assert {"rotary.C.unwinding.between", "rotary.A.unwinding.between"} <= {each.key for each in keys}
    _, says, _ = why(LineOrigin(1, 0, event), operation, "", settings, None)
    assert says.endswith(", in plane 1 of 1")


@pytest.mark.parametrize(
    ("after", "says"),
    [
        ((0, 0, 0, 5, 5), "C and A move, and no linear axis"),
        ((0, 0, 0, 0, 5), "A moves alone"),
        ((1, 0, 0, 5, 5), "linear axes and C and A move together"),
        ((1, 0, 0, 0, 0), "only linear axes move"),
    ],
)
def test_the_mode_of_f_says_what_moves(after: tuple[float, ...], says: str) -> None:
    assert says in said_of(settings_of(*TABLE), "G94 F100", row_of(*after))["G"]


def test_a_clamp_is_explained_by_the_rotary_that_it_is_of() -> None:
    settings = settings_of(*TABLE, 'rotary.A.clamp={use = "indexing", on = "M10", off = "M11"}')
    event = Event("clamp", 1, "turn", facts={"rotary": "A"})
    origin = LineOrigin(1, 0, event, "clamp.j2", [Printed("M10", "words.clamp", "clamp.j2", 1)])
    _, _, keys = why(origin, None, "", settings, None)
    assert ["rotary.A.clamp.use"] == [each.key for each in keys]
    (word,) = event_words("M10", origin, settings)
    assert "A: the clamp on" == word.says
    assert ["rotary.A.clamp.on"] == [each.key for each in word.settings]


def test_a_position_with_the_head_turned_says_that_pivot_and_gauge_length_are_worked_in() -> None:
    settings = settings_of('chain="part C bed B spindle"', B)
    (word,) = motion_words("X10", row_of(10, 0, 0, 90, 30), settings)
    assert "there the tip would be with B at 0, pivot and gauge length are worked in" in word.says
    assert "rotary.B.pivot" in {each.key for each in word.settings}
    (word,) = motion_words("X10", row_of(10, 0, 0, 90, 0), settings)
    assert "pivot" not in word.says


def test_an_arc_with_the_head_turned_became_straight_because_it_lies_in_no_plane_of_the_axes() -> None:
    said = {
        "name": "side",
        "tool": 1,
        "spindle": {"rpm": 1, "turns": "clockwise"},
        "coolant": "off",
        "moves": [{"cut": [0, 0, 0], "feed": 1}],
    }
    operation = Operation.model_validate(said | {"rotary": {"intent": "indexed", "angles": [0]}})
    row = row_of(10, 0, 0, 90, 30)
    row.pieces = 5
    rule, says, _ = why(LineOrigin(1, 1, None, row=row), operation, "arc to X 1", settings_of('chain="part C bed B spindle"', B), None)
    assert "subdivision" == rule
    assert "with B turned it lies in no plane of the axes" in says


def test_a_simultaneous_cut_of_two_rotaries_was_cut_up_for_tip_and_tool_axis() -> None:
    said = {
        "name": "bowl",
        "tool": 1,
        "spindle": {"rpm": 1, "turns": "clockwise"},
        "moves": [{"cut": [0, 0, 0], "tool_axis": [0, 0, 1], "feed": 1}],
    }
    operation = Operation.model_validate(said | {"rotary": {"intent": "simultaneous"}})
    row = row_of(10, 0, 0, 90, 30)
    row.pieces = 5
    _, says, _ = why(LineOrigin(1, 1, None, row=row), operation, "cut to X 1", settings_of(*TABLE), None)
    assert "would take tip and tool axis off their ways" in says


def test_a_drawing_gone_round_by_a_head_was_cut_up_because_no_rotary_by_itself_goes_round() -> None:
    drawn = {"intent": "wrapped", "diameter": 40}
    said = {"name": "letters", "tool": 1, "spindle": {"rpm": 1, "turns": "clockwise"}, "moves": [{"cut": [0, 0, 0], "feed": 1}]}
    operation = Operation.model_validate(said | {"rotary": drawn})
    row = row_of(10, 0, 0, 90, 30)
    row.pieces = 5
    _, says, _ = why(LineOrigin(1, 1, None, row=row), operation, "cut to X 1", settings_of('chain="part C bed B spindle"', B), None)
    assert "no rotary by itself goes round the part as the drawing does" in says
    _, says, _ = why(LineOrigin(1, 1, None, row=row), operation, "cut to X 1", settings_of(*TABLE), None)
    assert "goes round" not in says
