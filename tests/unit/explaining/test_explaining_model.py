"""Which file states a setting, and on which line."""

from __future__ import annotations

from pathlib import Path

from explaining_parts import keys, line_with, one, says, written

from steadyrest.explaining import explain
from steadyrest.request import Request


def test_a_setting_is_shown_with_the_file_that_states_it_and_its_line(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "M10", toolpath)
    (setting,) = next(word for word in line.words if word.word == "M10").settings
    assert ("rotary.A.clamp.on", "M10") == (setting.key, setting.value)
    stated = Path(setting.origin).read_text().splitlines()[(setting.line or 0) - 1]
    assert stated.startswith('clamp.on = "M10"')


def test_an_inherited_setting_is_shown_in_the_parents_file_and_a_default_as_such(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "G94 G1 X-30 F900", toolpath)
    assert {"numbers.length.decimals": "rs274ngc"} == keys(line, "X-30")
    assert {"codes.line": "built-in default"} == keys(line, "G1")


def test_a_setting_of_this_run_is_shown_as_such(tmp_path: Path) -> None:
    sets = ("rotary.A.chuck_faces=-X",)
    file, toolpath = written("indexed", "rs274ngc", tmp_path, sets)
    number = line_with(file, "A60")
    (line,) = explain(file, number, number, Request(toolpath, "rs274ngc", sets=sets)).lines
    assert "--set" == keys(line, "A60")["rotary.A.chuck_faces"]
    assert "right-hand about +X" in says(line, "A60")
    across = line_with(file, "X-5")
    (line,) = explain(file, across, across, Request(toolpath, "rs274ngc", sets=sets)).lines
    assert "the toolpath's X with its sign changed, because the job is turned end for end" in says(line, "X-5")
