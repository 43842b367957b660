"""Plug-ins of installed packages at the events of a plan: what they may do, and what becomes of broken ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from hooks_parts import STILL, Install, added

from steadyrest.errors import Refused, TemplateError
from steadyrest.hooks import find_hooks, hooked
from steadyrest.motion.model import Event
from steadyrest.posting import post, posted_text
from steadyrest.profile import load_profile
from steadyrest.request import Request


def test_plain_lines_are_written_as_they_are_and_proved(install: Install) -> None:
    plain = posted_text(STILL, "rs274ngc")
    install("""
        @hook
        def steadyrest_event(event):
            if event.name == "program_end":
                return Around(before=[lines("M48", "(our own end)")])
    """)
    assert ["M48", "(our own end)"] == added(STILL, plain)


def test_a_line_that_moves_the_tool_into_the_part_is_refused_by_the_proof(install: Install, tmp_path: Path) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            if event.name == "operation_start":
                return Around(after=[lines("G0 X0 Y0 Z-50")])
    """)
    output = tmp_path / "part.nc"
    output.write_text("the old one", encoding="utf-8")
    with pytest.raises(Refused, match="not proved"):
        post(Request(STILL, "rs274ngc", output))
    assert "the old one" == output.read_text(encoding="utf-8")


def test_a_line_that_shifts_the_coordinates_is_refused(install: Install) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            if event.name == "tool_change":
                return Around(after=[lines("G92 Z5")])
    """)
    with pytest.raises(Exception, match="shifting the coordinates"):
        posted_text(STILL, "rs274ngc")


def test_an_event_of_its_own_is_written_by_its_own_template(install: Install) -> None:
    plain = posted_text(STILL, "rs274ngc")
    folder = install("""
        from pathlib import Path

        @hook
        def steadyrest_templates():
            return Path(__file__).parent / "templates"

        @hook
        def steadyrest_event(event):
            if event.name == "program_end":
                return Around(before=[templated("look_again", facts={"text": "measure ) M3"})])
    """)
    (folder / "templates").mkdir()
    (folder / "templates" / "look_again.j2").write_text("{{ setting.stops.optional }}\n{{ comment(facts.text) }}\n", encoding="utf-8")
    assert ["M1", "(measure M3)"] == added(STILL, plain)


def test_an_event_of_its_own_without_a_template_is_an_error_that_names_the_template(install: Install) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            return Around(after=[templated("look_again")]) if event.name == "tool_change" else None
    """)
    with pytest.raises(TemplateError, match=r"there is no template 'look_again\.j2'"):
        posted_text(STILL, "rs274ngc")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("raise RuntimeError('no licence today')", "RuntimeError: no licence today"),
        ("raise SystemExit(3)", "SystemExit: 3"),
        ("raise BaseException('boo')", "BaseException: boo"),
        ("import not_there_at_all", "ModuleNotFoundError"),
        ("x = 1", "has no hook in it"),
        ("@hook\ndef steadyrest_evnt(event): pass", "there is no hook steadyrest_evnt"),
        ("@hook\ndef steadyrest_event(event, machine): pass", "machine"),
        ("@hook\ndef steadyrest_templates(): return '/nowhere/at/all'", "/nowhere/at/all"),
    ],
)
def test_a_broken_plug_in_is_left_out_and_told_and_the_others_are_called(install: Install, body: str, said: str, tmp_path: Path) -> None:
    install(body, package="brokenhooks", version="0.9", point="aaa")
    install("""
        @hook
        def steadyrest_event(event):
            return Around(before=[note("called")]) if event.name == "program_end" else None
    """)
    output = tmp_path / "part.nc"
    posted = post(Request(STILL, "rs274ngc", output))
    assert "(called)" in output.read_text(encoding="ascii")
    told = [notice.sentence() for notice in posted.notices if "plug-in" in notice.sentence()]
    assert 1 == len(told)
    assert told[0].startswith("plug-in 'aaa' of package brokenhooks 0.9 is broken and was left out: ")
    assert said in told[0]
    assert "plug-in" in [one.name for one in posted.outcome.findings]
    assert told[0] in [one.sentence for one in posted.outcome.findings]
    assert told == [changed["sentence"] for changed in posted.as_json()["changed"] if changed["kind"] == "PluginNotLoaded"]


def test_several_plug_ins_are_called_in_the_order_of_their_names(install: Install) -> None:
    for point in ("bbb", "aaa"):
        install(
            f"""
            @hook
            def steadyrest_event(event):
                return Around(before=[note("{point}")]) if event.name == "program_end" else None
            """,
            package=f"hooks_{point}",
            point=point,
        )
    text = posted_text(STILL, "rs274ngc")
    assert text.index("(aaa)") < text.index("(bbb)")


def test_a_plug_in_that_only_has_templates_is_no_reason_to_look_at_events(install: Install) -> None:
    folder = install("""
        from pathlib import Path

        @hook
        def steadyrest_templates():
            return Path(__file__).parent
    """)
    hooks = find_hooks()
    assert (folder,) == hooks.template_folders
    items = iter([Event("note")])
    assert items is hooked(items, hooks, load_profile("rs274ngc"))
