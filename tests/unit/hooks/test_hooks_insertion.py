"""What plug-ins may add around the events of a plan, and what stops the post."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from hooks_parts import STILL, TOUR, Install, added

from steadyrest.cli import main
from steadyrest.errors import PluginError
from steadyrest.hooks import Hooks, find_hooks, hooked
from steadyrest.motion.model import Event, Quantity
from steadyrest.posting import posted_text
from steadyrest.profile import load_profile

INDEXED = TOUR / "indexed.toolpath.json"


def test_without_plug_ins_the_items_pass_untouched() -> None:
    items = iter([Event("note")])
    assert items is hooked(items, Hooks(), load_profile("rs274ngc"))


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
