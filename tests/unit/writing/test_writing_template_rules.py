"""What a template may not do is an error that names the file and the line, before anything is written_in."""

from __future__ import annotations

from pathlib import Path

import pytest
from writing_parts import NOTE, profile, with_template

from steadyrest.errors import TemplateError
from steadyrest.profile import shared_templates_folder
from steadyrest.writing import write_program


@pytest.mark.parametrize(
    ("text", "line", "wrong"),
    [
        ("M100\n{% if %}\n", 2, "syntax error"),
        ("M100\n{{ words.nothing }}", 2, "unknown name 'words.nothing'"),
        ("{{ facts.nothing }}", 1, "unknown name 'facts.nothing'"),
        ("\n\n{{ nothing }}", 3, "unknown name 'nothing'"),
        ("{{ setting.nothing.more }}", 1, "unknown name"),
        ("\n{{ setting.spindle.nothing }}", 2, "unknown name"),
        ("S{{ 2 * 4000 }}", 1, "no arithmetic"),
        ("\nS{{ setting.spindle.largest_rpm / 2 }}", 2, "no arithmetic"),
        ("{{ -1 }}", 1, "no arithmetic"),
        ("{{ setting.spindle.largest_rpm | round }}", 1, "no filter 'round'"),
        ("{{ '%d' | format(3) }}", 1, "no filter 'format'"),
        ("{{ setting.spindle.largest_rpm }}", 1, "formats no numbers"),
        ("{{ 8000 }}", 1, "formats no numbers"),
        ("G4 P{{ 'a' ~ 3 }}", 1, "cannot use 'concat'"),
        ("{{ setting.name[0] }}", 1, "cannot use"),
        ("{{ facts.text }}", 1, "only be printed as comment"),
        ("{{ facts.text | default('x') }}", 1, "only be printed as comment"),
        ("{% set facts = words %}", 1, "gives 'facts' no other meaning"),
        ("{% set words_later = facts %}", 1, "no other meaning"),
        ("{% for comment in ['a'] %}{% endfor %}", 1, "no other meaning"),
        ("{% for one in facts.text %}{{ one }}{% endfor %}", 1, "only be printed as comment"),
        ("{% for one in [facts.text] %}{{ one }}{% endfor %}", 1, "only be printed as comment"),
        ("{{ facts.text if facts.text else 'x' }}", 1, "only be printed as comment"),
        ("{% include facts.text %}", 1, "only be printed as comment"),
        ("\n{{ setting.__class__ }}", 2, "Python's internals"),
        ("{{ comment.__globals__ }}", 1, "Python's internals"),
        ("{{ setting.model_dump() }}", 1, "calls nothing but"),
        ("{{ setting.copy }}", 1, "not allowed in a template|fails|formats no numbers"),
        ("{{ ''.join(['a']) }}", 1, "calls nothing but"),
        ("{% for i in range(9) %}M1\n{% endfor %}", 1, "calls nothing but"),
        ("{% macro m() %}M1{% endmacro %}", 1, "cannot use 'macro'"),
        ("{% import 'index.j2' as x %}", 1, "cannot use 'import'"),
        ("{% extends 'index.j2' %}", 1, "cannot use 'extends'"),
        ("M100\nM101 \u00e4", 2, "not ASCII"),
        ("{% include 'missing.j2' %}", 1, "there is no template 'missing.j2'"),
        ("{% include '../note.j2' %}", 1, "there is no template"),
        ("{{ comment(setting) }}", None, "takes text and whole numbers"),
        ("{{ '\u00e4' }}", None, "plain ASCII"),
        ("M1\tM2", None, "plain ASCII"),
        ("(" + "x" * 260 + ")", None, "has 262 characters, and the controller takes 250"),
    ],
)
def test_what_a_template_may_not_do_is_named_with_its_line(tmp_path: Path, text: str, line: int | None, wrong: str) -> None:
    with pytest.raises(TemplateError, match=wrong) as caught:
        with_template(tmp_path, "note", text, [NOTE])
    assert str(tmp_path / "note.j2") == caught.value.place.file or "missing" in wrong or "no template" in wrong
    if line is not None and "no template" not in wrong:
        assert line == caught.value.place.line


def test_mistakes_that_show_at_loading_stop_before_anything_is_written(tmp_path: Path) -> None:
    (tmp_path / "program_end.j2").write_text("{{ 1 + 1 }}")
    with pytest.raises(TemplateError, match=r"program_end\.j2:1"):
        write_program([], profile(), [tmp_path, shared_templates_folder()], inch=False, rotary_letters=["A"])


def test_a_syntax_error_in_an_included_template_names_that_file(tmp_path: Path) -> None:
    (tmp_path / "house.j2").write_text("M100\n{% if %}\n")
    with pytest.raises(TemplateError, match="syntax error") as caught:
        with_template(tmp_path, "note", "{% include 'house.j2' %}", [NOTE])
    assert (str(tmp_path / "house.j2"), 2) == (caught.value.place.file, caught.value.place.line)


def test_a_mistake_in_an_included_template_is_found_at_loading(tmp_path: Path) -> None:
    (tmp_path / "note.j2").write_text("{% include 'house.j2' %}")
    (tmp_path / "house.j2").write_text("M1\n{{ 1 + 1 }}")
    with pytest.raises(TemplateError, match=r"house\.j2:2"):
        write_program([], profile(), [tmp_path, shared_templates_folder()], inch=False, rotary_letters=["A"])
