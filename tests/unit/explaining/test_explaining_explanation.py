"""Where the words of a line come from: every word of every program of the tour, and lines that a hand has changed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.errors import InputError, SteadyrestError
from steadyrest.explaining import Explained, Explanation, explain, explanation_data, explanation_text
from steadyrest.posting import begin
from steadyrest.profile import find_profiles, resolve
from steadyrest.request import Request
from steadyrest.toolpath import load_toolpath

TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))
NAMES = [found.name for found in find_profiles() if found.where == "bundled"]
UNKNOWN = ("no word that planning asks for", "a feed")


def written(toolpath: str, controller: str, tmp_path: Path, sets: tuple[str, ...] = ()) -> tuple[Path, Path]:
    """A program's file, and the toolpath it was written from."""
    path = next(each for each in TOUR if each.name.startswith(toolpath + "."))
    file = tmp_path / "part.nc"
    file.write_bytes(b"".join(begin(load_toolpath(path), resolve(controller, sets)).writing))
    return file, path


def line_with(file: Path, text: str, nth: int = 0) -> int:
    return [at for at, line in enumerate(file.read_text().splitlines(), 1) if text in line][nth]


def one(file: Path, text: str, toolpath: Path, controller: str = "limited-clamped", nth: int = 0) -> Explained:
    number = line_with(file, text, nth)
    (line,) = explain(file, number, number, Request(toolpath, controller)).lines
    return line


def keys(line: Explained, word: str) -> dict[str, str]:
    """The settings behind one word, each with the folder of its file."""
    (found,) = [each for each in line.words if each.word == word]
    return {each.key: Path(each.origin).parent.name if each.line else each.origin for each in found.settings}


def says(line: Explained, word: str) -> str:
    return next(each.says for each in line.words if each.word == word)


@pytest.mark.parametrize("name", NAMES)
def test_every_word_of_the_tour_is_explained_in_every_dialect(name: str, tmp_path: Path) -> None:
    explained = 0
    for path in TOUR:
        try:
            file, toolpath = written(path.name.partition(".")[0], name, tmp_path)
        except SteadyrestError:
            continue
        text = file.read_text()
        count = len(text.splitlines())
        found = explain(file, 1, count, Request(toolpath, name))
        assert (0, None, 0) == (found.changed, found.first, found.missing)
        for line in found.lines:
            assert line.same
            assert line.words or not line.text
            assert line.text.replace(" ", "") == "".join(word.word for word in line.words).replace(" ", "")
            assert [] == [word.word for word in line.words if word.says in UNKNOWN], line.text
            assert line.why
            explained += 1
    assert explained > 0


def test_a_cut_names_its_operation_and_move_and_what_the_toolpath_says(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "G94 G1 X-30 F900", toolpath)
    assert (1, "six flats", "indexed", 3) == (line.operation, line.operation_name, line.intent, line.move)
    assert "cut to X -30 Y -15 Z 17.5, feed 900" == line.asked
    assert "cut" == line.rule
    assert "for the angle 0 of the toolpath (number 1 of 6)" in line.why


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


def test_a_subdivided_move_says_which_of_its_lines_this_is_and_why(tmp_path: Path) -> None:
    file, toolpath = written("simultaneous", "rs274ngc", tmp_path)
    first = line_with(file, "G93")
    lines = explain(file, first, first + 3, Request(toolpath, "rs274ngc")).lines
    assert ["subdivision"] * 4 == [line.rule for line in lines]
    pieces = [line.why.partition("line ")[2].partition(" of this move")[0] for line in lines]
    total = pieces[0].partition(" of ")[2]
    assert [f"{piece} of {total}" for piece in (1, 2, 3, 4)] == pieces
    every = explain(file, first, len(file.read_text().splitlines()), Request(toolpath, "rs274ngc")).lines
    moves = [line for line in every if (line.operation, line.move) == (1, lines[0].move)]
    assert int(total) == len(moves)
    assert "moving evenly, the axes would take the tip off its line" in lines[0].why


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


def test_a_word_of_an_event_names_the_line_of_its_template(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    line = one(file, "T3 M6", toolpath, "rs274ngc")
    spots = {word.word: word.template for word in line.words}
    spot = spots["T3"]
    assert spot is not None
    assert spot.line is not None
    assert "{{ words.tool }} {{ setting.tool.change }}" == Path(spot.file).read_text().splitlines()[spot.line - 1]
    assert spots["M6"] == spot


def test_the_same_code_on_two_lines_of_a_template_is_told_apart(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    safe = one(file, "G17 G40 G49", toolpath, "rs274ngc")
    other = one(file, "G21 G90", toolpath, "rs274ngc")
    assert {"program.safe_start": "rs274ngc"} == keys(safe, "G17")
    assert {"codes.plane_xy": "built-in default"} == keys(other, "G17")


def test_block_numbers_stand_behind_the_mark_of_a_block_that_can_be_left_out(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    (folder / "templates").mkdir(parents=True)
    said = 'extends = "counts-numbered"\nspeaks = "A stop that can be left out."\n'
    (folder / "controller.toml").write_text(said, encoding="utf-8")
    (folder / "templates" / "spindle_stop.j2").write_text("/ {{ words.spindle }} ({{ words.spindle }} off)\n", encoding="utf-8")
    file, toolpath = written("indexed", str(folder), tmp_path)
    line = one(file, "/", toolpath, str(folder))
    assert ["stands in the template", "block number", "the spindle stops", "a comment for the operator"] == [
        each.says for each in line.words
    ]
    assert "/" == line.words[0].word
    assert "N" == line.words[1].word[0]


def test_a_template_of_the_profiles_own_is_named(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "Our own way to put a tool in."\n', encoding="utf-8")
    (folder / "templates" / "tool_change.j2").write_text(
        "M1\n{{ words.tool }}\n{{ setting.tool.change }}\nG43 {{ words.offset }}\n", encoding="utf-8"
    )
    file, toolpath = written("indexed", str(folder), tmp_path)
    line = one(file, "M1", toolpath, str(folder))
    assert "stands in the template" == says(line, "M1")
    (spot,) = [word.template for word in line.words]
    assert spot is not None
    assert (str(folder / "templates" / "tool_change.j2"), 1) == (spot.file, spot.line)


def test_the_words_of_a_cycle_are_those_of_its_hole(tmp_path: Path) -> None:
    file, toolpath = written("still", "rs274ngc", tmp_path)
    line = one(file, "G83", toolpath, "rs274ngc")
    assert line.asked.startswith("hole at X -50 Y 0, cycle peck")
    assert "the drilling cycle 'peck'" == says(line, "G83")
    assert says(line, "Q6").startswith("the step of a peck: 6")


@pytest.fixture
def changed(tmp_path: Path) -> tuple[Path, Path]:
    """A program with a line changed, a line put in, and a line taken out by hand."""
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    lines = file.read_text().splitlines()
    at = lines.index("G94 G1 X-30 F900")
    lines[at] = "G94 G1 X-30 F1200"
    lines.insert(at + 2, "M0 (look)")
    del lines[at + 10]
    file.write_text("\n".join(lines) + "\n")
    return file, toolpath


def test_a_changed_line_says_what_would_be_written_now_and_explains_that(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    line = one(file, "F1200", toolpath, "rs274ngc")
    assert not line.same
    assert "G94 G1 X-30 F900" == line.now
    text = explanation_text(explain(file, line.number, line.number, Request(toolpath, "rs274ngc")))
    assert "DIFFERS" in text
    assert "now it would be   G94 G1 X-30 F900" in text
    assert "not written by this toolpath and profile: F1200" in text


def test_a_line_that_was_put_in_is_said_to_answer_to_nothing(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    line = one(file, "M0 (look)", toolpath, "rs274ngc")
    assert line.now is None
    assert () == line.words


def test_lines_after_changes_are_still_matched_and_the_whole_file_is_counted(changed: tuple[Path, Path]) -> None:
    file, toolpath = changed
    count = len(file.read_text().splitlines())
    found = explain(file, 1, count, Request(toolpath, "rs274ngc"))
    assert (2, line_with(file, "F1200"), 1) == (found.changed, found.first, found.missing)
    assert 1 == sum(line.missing for line in found.lines)
    assert "CAUTION: 2 line(s) of part.nc differ from what would be written now" in explanation_text(found)


def test_a_line_that_the_program_does_not_have_is_refused_with_how_many_there_are(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    count = len(file.read_text().splitlines())
    with pytest.raises(InputError, match=f"ask for lines from 1 to {count}"):
        explain(file, count + 1, count + 1, Request(toolpath, "rs274ngc"))


def test_windows_line_ends_are_no_difference(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert 0 == explain(file, 1, 1, Request(toolpath, "rs274ngc")).changed


def test_the_command_prints_json_that_says_the_same(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    result = CliRunner().invoke(main, ["explain", f"{file}:7-9", "-t", str(toolpath), "--json"])
    assert 0 == result.exit_code
    found: Explanation = explain(file, 7, 9, Request(toolpath, "rs274ngc"))
    assert json.loads(json.dumps(explanation_data(found))) == json.loads(result.stdout)
    assert [7, 8, 9] == [line["number"] for line in json.loads(result.stdout)["lines"]]


@pytest.mark.parametrize("said", ["part.nc", "part.nc:0", "part.nc:5-3", "part.nc:x"])
def test_lines_that_are_not_named_are_a_usage_error(said: str) -> None:
    result = CliRunner().invoke(main, ["explain", said, "-t", str(TOUR[0])])
    assert 2 == result.exit_code


def test_a_program_that_is_not_there_is_an_input_error() -> None:
    result = CliRunner().invoke(main, ["explain", "nowhere.nc:1", "-t", str(TOUR[0])])
    assert 1 == result.exit_code
    assert "nowhere.nc: the program cannot be read" in result.stderr


def test_explaining_leaves_the_file_alone(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    before = file.stat().st_mtime_ns, file.read_bytes()
    explain(file, 1, 5, Request(toolpath, "rs274ngc"))
    assert before == (file.stat().st_mtime_ns, file.read_bytes())
