"""Why a line is there: the rule of motion in a sentence, with its settings."""

from __future__ import annotations

from pathlib import Path

from explaining_parts import keys, line_with, one, says, written

from steadyrest.explaining import explain
from steadyrest.request import Request


def test_a_turn_that_overshoots_says_that_backlash_is_why(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "G0 A62", toolpath)
    assert "for the angle 60 of the toolpath (number 2 of 6); on the way to 60: it arrives from above, against backlash" in line.why
    assert "rotary.A.unwinding.between" in [setting.key for setting in line.why_settings]


def test_a_turn_back_names_the_travel_that_ends(tmp_path: Path) -> None:
    file, toolpath = written("wrapped", "limited-clamped", tmp_path)
    line = one(file, "ROTARY TURNED BACK", toolpath)
    assert "turn_back" == line.rule
    assert {"rotary.A.travel.from", "rotary.A.travel.to", "rotary.A.travel.when_exceeded"} == {each.key for each in line.why_settings}
    assert line.template is not None
    assert line.template.file.endswith("turn_back.j2")


def test_an_arc_that_the_controller_does_not_speak_names_the_settings_of_arcs(tmp_path: Path) -> None:
    sets = ("arcs.form=none",)
    file, toolpath = written("indexed", "rs274ngc", tmp_path, sets)
    number = line_with(file, "F600")
    (line,) = explain(file, number, number, Request(toolpath, "rs274ngc", sets=sets)).lines
    assert line.asked.startswith("arc clockwise in XY to X -30 Y 15 Z 17.5, centre X -30, Y 0")
    assert "the controller does not take this arc" in line.why
    assert ("arcs.form", "none", "--set") == (line.why_settings[0].key, line.why_settings[0].value, line.why_settings[0].origin)


def test_the_feed_mode_names_what_moves_and_the_setting_that_chooses_it(tmp_path: Path) -> None:
    file, toolpath = written("simultaneous", "rs274ngc", tmp_path)
    line = one(file, "G93", toolpath, "rs274ngc")
    assert "inverse time, because linear axes and the rotary move together in this block" == says(line, "G93")
    assert {"feed.inverse_code": "rs274ngc", "feed.combined": "rs274ngc"} == keys(line, "G93")


def test_a_cut_names_its_operation_and_move_and_what_the_toolpath_says(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "G94 G1 X-30 F900", toolpath)
    assert (1, "six flats", "indexed", 3) == (line.operation, line.operation_name, line.intent, line.move)
    assert "cut to X -30 Y -15 Z 17.5, feed 900" == line.asked
    assert "cut" == line.rule
    assert "for the angle 0 of the toolpath (number 1 of 6)" in line.why
