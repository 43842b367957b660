"""Plug-ins of installed packages at the events of a plan: what they may say, what stops the post, and what becomes of broken ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from hooks_parts import STILL, TOUR, Install, added

from steadyrest.cli import main
from steadyrest.errors import PluginError, Refused, TemplateError
from steadyrest.hooks import Hooks, find_hooks, hooked
from steadyrest.motion.model import Event, Quantity
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


def test_a_plug_in_that_only_has_templates_changes_no_event(install: Install) -> None:
    folder = install("""
        from pathlib import Path

        @hook
        def steadyrest_templates():
            return Path(__file__).parent
    """)
    hooks = find_hooks()
    assert (folder,) == hooks.template_folders
    event = Event("note")
    (passed,) = hooked(iter([event]), hooks, load_profile("rs274ngc"))
    assert event is passed


INDEXED = TOUR / "indexed.toolpath.json"


def test_without_plug_ins_the_items_pass_untouched() -> None:
    event = Event("note")
    (passed,) = hooked(iter([event]), Hooks(), load_profile("rs274ngc"))
    assert event is passed


def test_a_hook_adds_events_before_and_after_the_one_it_saw(install: Install) -> None:
    plain = posted_text(STILL, "rs274ngc")
    install("""
        @hook
        def steadyrest_event(event):
            if event.name == "program_end":
                return Around(before=[note("measure the bore"), stop(optional=True)])
            if event.name == "tool_change":
                return Around(after=[note("check the collet")])
    """)
    assert ["(check the collet)", "(check the collet)", "(measure the bore)", "M1"] == added(STILL, plain)


def test_a_pause_gets_the_letter_of_the_profile_and_the_operation_it_stands_in(install: Install) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            return Around(after=[dwell(1.5)])
    """)
    profile = load_profile("absolute-centres")
    _, pause = hooked(iter([Event("spindle_start", 3)]), find_hooks(), profile)
    assert isinstance(pause, Event)
    assert ("dwell", 3, "plug-in 'shop' of package shophooks 1.4") == (pause.name, pause.operation, pause.rule)
    assert {"time": Quantity("U", 1.5, "dwell")} == pause.words


def test_a_hook_is_told_the_profile(install: Install) -> None:
    install("""
        @hook
        def steadyrest_event(event, controller):
            if event.name == "program_end":
                return Around(before=[note("for " + controller)])
    """)
    assert "(for radius-arcs)" in posted_text(STILL, "radius-arcs")


def test_a_hook_refuses_and_the_post_stops_with_exit_code_1_and_names_it(install: Install, tmp_path: Path) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            if event.name == "tool_change":
                raise Refusal("that tool is lent out", cure="use another one")
    """)
    output = tmp_path / "part.nc"
    output.write_text("the old one", encoding="utf-8")
    result = CliRunner().invoke(main, ["post", str(STILL), "-o", str(output)])
    assert 1 == result.exit_code
    assert "operation 1 " in result.stderr
    assert "plug-in 'shop' of package shophooks 1.4 refuses: that tool is lent out" in result.stderr
    assert "cure: use another one" in result.stderr
    assert "the old one" == output.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("raise KeyError('depth')", "KeyError: 'depth'"),
        ("raise SystemExit(0)", "SystemExit: 0"),
        ("raise GeneratorExit", "GeneratorExit"),
        ("return 'M8'", "returned 'M8'"),
        ("return Around(after=['M8'])", "'M8' is no event"),
        ("return Around(after=[templated('clamp')])", "may not add the event 'clamp'"),
        ("return Around(after=[templated('../x')])", "no name of an event"),
        ("return Around(after=[event])", "may not add the event"),
        ("return Around(after=[lines('M8\\nG0 X0')])", "is no line of a program"),
        ("return Around(after=[dwell(float('nan'))])", "takes no nan seconds"),
        ("event.facts['name'] = 'another'", "TypeError"),
    ],
)
def test_a_hook_that_fails_stops_the_post_and_is_named_with_package_and_version(install: Install, body: str, said: str) -> None:
    install(f"""
        @hook
        def steadyrest_event(event):
            if event.name == "operation_start":
                {body!s}
    """)
    with pytest.raises(PluginError) as caught:
        posted_text(STILL, "rs274ngc")
    assert "plug-in 'shop' of package shophooks 1.4 fails at the event operation_start" in str(caught.value)
    assert said in str(caught.value)


@pytest.mark.parametrize(("event", "side"), [("program_start", "before"), ("program_end", "after")])
def test_nothing_is_said_outside_of_the_program(install: Install, event: str, side: str) -> None:
    install(f"""
        @hook
        def steadyrest_event(event):
            return Around({side}=[note("hello")]) if event.name == "{event}" else None
    """)
    with pytest.raises(PluginError, match="outside the program"):
        posted_text(STILL, "rs274ngc")


def test_a_hook_cannot_change_the_motion_of_an_event(install: Install) -> None:
    install("""
        @hook
        def steadyrest_event(event):
            for run in event.motion:
                run.rotary_deg[:] = 77
    """)
    with pytest.raises(PluginError, match="read-only"):
        posted_text(INDEXED, "rs274ngc")
