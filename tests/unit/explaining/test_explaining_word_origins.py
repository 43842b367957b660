"""Where each word of a line comes from."""

from __future__ import annotations

from pathlib import Path

from explaining_parts import keys, one, says, written


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
