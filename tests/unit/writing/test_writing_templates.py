"""Templates say how an event looks; what they may not do is an error that names the file and the line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from writing_parts import NAN, NOTE, profile, rows, with_template

from steadyrest.conventions import RAPID
from steadyrest.errors import TemplateError
from steadyrest.motion import Event, HoleRow, Quantity
from steadyrest.profile import shared_templates_folder
from steadyrest.writing import write_program
from steadyrest.writing.templates import _find

TURN = Event("index", 1, words={"angle": Quantity("", 60, "angle")}, motion=(rows([(NAN, NAN, NAN, 60)], RAPID, NAN),))


def test_a_profiles_own_template_goes_before_the_shared_one(tmp_path: Path) -> None:
    assert ["M100", "(hold)"] == with_template(tmp_path, "note", "M100\n{{ comment(facts.text) }}\n", [NOTE])


def test_lines_that_end_up_empty_are_dropped_and_indents_taken_off(tmp_path: Path) -> None:
    text = "{% if facts.text == 'hold' %}\n    M100\n\n   \n{% endif %}\n{% if not facts.text %}\nM101\n{% endif %}"
    assert ["M100"] == with_template(tmp_path, "note", text, [NOTE])


@pytest.mark.parametrize("end", ["", "\n", "\n\n"])
def test_motion_is_never_glued_to_an_event(tmp_path: Path, end: str) -> None:
    lines = with_template(tmp_path, "index", "M100\n{{ motion }}\nM101" + end, [TURN, rows([(1, 2, 3, 60)])])
    assert ["M100", "G0 A60", "M101", "G94 G1 X1 Y2 Z3 A60 F100"] == lines


def test_a_template_can_include_another(tmp_path: Path) -> None:
    (tmp_path / "house.j2").write_text("M100\n")
    assert ["M100", "(hold)"] == with_template(tmp_path, "note", "{% include 'house.j2' %}\n{{ comment(facts.text) }}", [NOTE])


def test_a_template_under_the_former_name_of_an_event_is_refused_with_the_new_one(tmp_path: Path) -> None:
    (tmp_path / "rewind.j2").write_text("{{ motion }}")
    with pytest.raises(TemplateError, match=r"(?s)rewind\.j2: .*the event is now turn_back.*rename the file to turn_back\.j2"):
        write_program([], profile(), [tmp_path, shared_templates_folder()], inch=False, rotary_letters=["A"])


def test_a_template_edited_between_two_programs_counts_as_it_is_now(tmp_path: Path) -> None:
    (tmp_path / "house.j2").write_text("M100\n")
    include = "{% include 'house.j2' %}"
    assert ["M100"] == with_template(tmp_path, "note", include, [NOTE])
    (tmp_path / "house.j2").write_text("M101\n")
    assert ["M101"] == with_template(tmp_path, "note", include, [NOTE])
    for _ in range(2):  # a mistake is found every time
        with pytest.raises(TemplateError, match=r"note\.j2:1"):
            with_template(tmp_path, "note", "{{ 1 + 1 }}", [NOTE])
    assert ["M101"] == with_template(tmp_path, "note", include, [NOTE])


def test_a_template_that_is_no_text_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "note.j2").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TemplateError, match="cannot be read"):
        write_program([], profile(), [tmp_path, shared_templates_folder()], inch=False, rotary_letters=["A"])


def test_a_missing_template_is_an_error_that_names_the_folders(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match=rf"there is no template 'program_start\.j2' \(looked in: {re.escape(str(tmp_path))}\)"):
        write_program([], profile(), [tmp_path], inch=False, rotary_letters=["A"])


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("M100", r"index.j2 left out \{\{ motion \}\}"),
        ("{% if words.angle == 'x' %}{{ motion }}{% endif %}", "left out"),
        ("{{ motion }}\n{{ motion }}", "twice"),
        ("M100 {{ motion }}", "beside other text"),
    ],
)
def test_the_motion_of_an_event_is_never_lost_doubled_or_glued(tmp_path: Path, text: str, wrong: str) -> None:
    with pytest.raises(TemplateError, match=wrong):
        with_template(tmp_path, "index", text, [TURN])


def test_the_blocks_of_a_cycle_are_never_lost(tmp_path: Path) -> None:
    import numpy as np

    words = {"r": Quantity("R", 22, "length"), "z": Quantity("Z", 10, "length"), "feed": Quantity("F", 150, "feed")}
    cycle = Event("cycle", 1, facts={"cycle": "drill"}, words=words, holes=HoleRow(np.zeros((1, 2)), np.ones(1, np.int64)))
    with pytest.raises(TemplateError, match=r"left out \{\{ blocks \}\}"):
        with_template(tmp_path, "cycle", "M100", [cycle])


def test_comments_in_templates_may_hold_anything(tmp_path: Path) -> None:
    assert ["M100"] == with_template(tmp_path, "note", "{# \u00fcber alles #}\nM100", [NOTE])


@pytest.mark.parametrize(
    "text",
    [
        "{% if facts.text == 'hold' %}M100\n{% else %}M101\n{% endif %}",
        "{% if comment(facts.text) == '(hold)' %}M100\n{% else %}M101\n{% endif %}",
        "{% set said = comment(facts.text) %}{% if said == '(hold)' %}M100\n{% else %}M101\n{% endif %}",
        "{% set f = facts %}{% if f.text == 'hold' %}M100\n{% else %}M101\n{% endif %}",
        "{% for one in [facts.text] %}{% if one == 'hold' %}M100\n{% else %}M101\n{% endif %}{% endfor %}",
        "{% include 'house.j2' %}",
    ],
)
def test_a_template_that_decides_by_a_fact_does_so_for_each_event(tmp_path: Path, text: str) -> None:
    (tmp_path / "house.j2").write_text("{% if facts.text == 'hold' %}M100\n{% else %}M101\n{% endif %}")
    events = [Event("note", 1, facts={"text": said}) for said in ("hold", "go", "hold")]
    assert ["M100", "M101", "M100"] == with_template(tmp_path, "note", text, events)


def test_what_a_template_reads_in_one_branch_alone_decides_there_too(tmp_path: Path) -> None:
    text = "{% if facts.first %}M100\n{% elif facts.name == 'drill' %}M101\n{% else %}M102 {{ comment(facts.number) }}\n{% endif %}"
    met = [(True, "drill", 1), (False, "drill", 2), (False, "mill", 3), (True, "mill", 4), (False, "drill", 5), (False, "mill", 6)]
    events = [Event("tool_change", 1, facts={"first": first, "name": name, "number": number}) for first, name, number in met]
    assert ["M100", "M101", "M102 (3)", "M100", "M101", "M102 (6)"] == with_template(tmp_path, "tool_change", text, events)


def test_a_template_that_decides_by_a_word_does_so_for_each_event(tmp_path: Path) -> None:
    text = "{% if words.angle == 'A60' %}M100\n{% endif %}{{ words.angle }}\n"
    events = [Event("index", 1, words={"angle": Quantity("A", angle, "angle")}) for angle in (60, 70, 60)]
    assert ["M100", "A60", "A70", "M100", "A60"] == with_template(tmp_path, "index", text, events)


def test_a_comment_that_comes_out_empty_leaves_no_line_behind(tmp_path: Path) -> None:
    events = [Event("note", 1, facts={"text": said}) for said in ("hold", "", "go")]
    assert ["(hold)", "M1", "M1", "(go)", "M1"] == with_template(tmp_path, "note", "{{ comment(facts.text) }}\nM1", events)


@pytest.mark.parametrize("name", ["../outside.j2", "sub/inside.j2", "sub\\inside.j2", ".hidden.j2"])
def test_a_template_is_found_by_a_plain_name_in_its_folder_alone(tmp_path: Path, name: str) -> None:
    own = tmp_path / "templates"
    (own / "sub").mkdir(parents=True)
    for file in (tmp_path / "outside.j2", own / "sub" / "inside.j2", own / ".hidden.j2", own / "sub\\inside.j2", own / "plain.j2"):
        file.write_text("G4", encoding="utf-8")
    assert own / "plain.j2" == _find([own], "plain.j2")
    assert _find([own], name) is None
