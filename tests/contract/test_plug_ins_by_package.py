"""One installed package brings a profile, its templates and hooks at events: found, used, proved, explained; and broken ones told."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.explaining import explain
from steadyrest.request import Request

TOUR = Path(__file__).parents[1] / "golden" / "tour"
INDEXED = TOUR / "indexed.toolpath.json"

EVENTS = """
from steadyrest.hooks import Around, hook, lines

@hook
def steadyrest_event(event, controller):
    if controller == "maple-mill" and event.name == "operation_start":
        return Around(after=[lines("M48", "(overrides on)")])
"""


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A distribution `mapleshop` 3.1 on the path, as an installer would put it there."""
    site = tmp_path / "site"
    profile = site / "mapleshop" / "controllers" / "maple-mill"
    (profile / "templates").mkdir(parents=True)
    for folder in (site / "mapleshop", site / "mapleshop" / "controllers"):
        (folder / "__init__.py").write_text("", encoding="utf-8")
    (site / "mapleshop" / "events.py").write_text(EVENTS, encoding="utf-8")
    (profile / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "A mill out of a package."\n', encoding="utf-8")
    (profile / "templates" / "note.j2").write_text('{{ comment("maple", facts.text) }}\n', encoding="utf-8")
    (profile / "templates" / "coolant_on.j2").write_text('{{ comment("maple coolant") }}\n{{ words.coolant }}\n', encoding="utf-8")
    info = site / "mapleshop-3.1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: mapleshop\nVersion: 3.1\n", encoding="utf-8")
    points = "[steadyrest.controllers]\nmaple = mapleshop.controllers\n\n[steadyrest.events]\nmaple = mapleshop.events\n"
    (info / "entry_points.txt").write_text(points, encoding="utf-8")
    monkeypatch.syspath_prepend(str(site))
    yield site
    for module in [name for name in sys.modules if name.partition(".")[0] == "mapleshop"]:
        del sys.modules[module]


def test_profile_templates_and_hooks_of_a_package_are_used_and_the_program_is_proved(package: Path, tmp_path: Path) -> None:
    output = tmp_path / "part.nc"
    result = CliRunner().invoke(main, ["post", str(INDEXED), "-c", "maple-mill", "-o", str(output)])
    assert 0 == result.exit_code, result.stderr
    lines = output.read_text(encoding="ascii").splitlines()
    assert "(maple coolant)" in lines
    assert 2 == lines.count("(overrides on)")


def test_hooks_that_are_for_another_controller_leave_its_program_alone(package: Path, tmp_path: Path) -> None:
    output = tmp_path / "part.nc"
    result = CliRunner().invoke(main, ["post", str(INDEXED), "-c", "rs274ngc", "-o", str(output)])
    assert 0 == result.exit_code, result.stderr
    assert "overrides" not in output.read_text(encoding="ascii")


def test_a_line_of_a_plug_in_is_explained_by_the_plug_ins_name(package: Path, tmp_path: Path) -> None:
    output = tmp_path / "part.nc"
    CliRunner().invoke(main, ["post", str(INDEXED), "-c", "maple-mill", "-o", str(output)])
    number = output.read_text(encoding="ascii").splitlines().index("M48") + 1
    found = explain(output, number, number, Request(INDEXED, "maple-mill"))
    assert (0, 0) == (found.changed, found.missing)
    (line,) = found.lines
    assert "added by plug-in 'maple' of package mapleshop 3.1" == line.why
    assert ["said as it stands by plug-in 'maple' of package mapleshop 3.1"] == [word.says for word in line.words]


def test_a_template_of_a_package_is_explained_by_its_file(package: Path, tmp_path: Path) -> None:
    output = tmp_path / "part.nc"
    CliRunner().invoke(main, ["post", str(INDEXED), "-c", "maple-mill", "-o", str(output)])
    number = output.read_text(encoding="ascii").splitlines().index("(maple coolant)") + 1
    (line,) = explain(output, number, number, Request(INDEXED, "maple-mill")).lines
    assert line.template is not None
    assert str(package / "mapleshop" / "controllers" / "maple-mill" / "templates" / "coolant_on.j2") == line.template.file


def test_a_broken_hook_is_told_in_the_summary_and_the_rest_of_its_package_still_works(package: Path, tmp_path: Path) -> None:
    (package / "mapleshop" / "events.py").write_text("raise RuntimeError('no licence today')\n", encoding="utf-8")
    output = tmp_path / "part.nc"
    result = CliRunner().invoke(main, ["post", str(INDEXED), "-c", "maple-mill", "-o", str(output)])
    assert 0 == result.exit_code, result.stderr
    assert "plug-in 'maple' of package mapleshop 3.1 is broken and was left out: RuntimeError: no licence today" in " ".join(
        result.stderr.split()
    )
    assert "(maple coolant)" in output.read_text(encoding="ascii")
