"""The table of events: what is not in it is a mistake of ours, and a row with a template is all that a new event takes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from steadyrest import posting
from steadyrest.events import EVENTS, EventRow, EventWord
from steadyrest.explaining import explain
from steadyrest.motion.model import Event, Motion, Quantity
from steadyrest.profile import resolve, shared_templates_folder
from steadyrest.request import Request
from steadyrest.toolpath import load_toolpath

ROOT = Path(__file__).parents[2]
TOOLPATH = ROOT / "tests" / "golden" / "tour" / "still.toolpath.json"
PROBE = EventRow(
    when="Where the probe comes out.",
    why="the probe comes out before the holes",
    why_settings=("coolant.air",),
    facts={"side": "`left` or `right`"},
    words={
        "out": EventWord("the code that lets the probe out", "the probe, on the {side}", "stops.{stop}", needs="a probe on the {side}"),
        "depth": EventWord("how deep it goes", "how deep the probe goes"),
    },
    forgets=True,
)


def test_an_event_without_a_row_is_an_error_where_it_is_planned() -> None:
    with pytest.raises(ValueError, match=r"no event is called 'probe': give it a row in steadyrest\.events"):
        Event("probe")


def test_a_fact_or_word_that_the_row_does_not_have_is_an_error_too() -> None:
    with pytest.raises(ValueError, match="'stop' has no colour: say in its row"):
        Event("stop", facts={"optional": True, "colour": "red"})
    with pytest.raises(ValueError, match="'index' has no tilt"):
        Event("index", words={"angle": Quantity("", 60, "angle"), "tilt": Quantity("", 5, "angle")})


def test_only_a_plug_in_brings_events_that_have_no_row() -> None:
    assert "probe" == Event("probe", facts={"anything": "at all"}, added=True).name


def test_after_these_events_every_modal_word_is_said_again() -> None:
    forgetting = {"program_start", "tool_change", "retract", "stop", "cycle", "index", "clamp", "unclamp", "turn_back", "reorient"}
    assert forgetting == {name for name, row in EVENTS.items() if row.forgets}


def test_every_event_has_a_shared_template_and_every_shared_template_an_event() -> None:
    assert sorted(EVENTS) == sorted(path.stem for path in shared_templates_folder().glob("*.j2"))


def test_a_new_event_takes_its_row_and_its_template_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(EVENTS, "probe", PROBE)  # type: ignore[arg-type]
    folder = tmp_path / "mine"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "A probe of our own."\n', encoding="utf-8")
    template = folder / "templates" / "probe.j2"
    template.write_text("{{ comment('probe', facts.side) }}\nG31 {{ words.depth }} {{ words.out }}\n", encoding="utf-8")
    probe = Event("probe", 1, facts={"side": "left"}, words={"depth": Quantity("Z", -5, "length")})

    def with_probe(items: Iterator[Motion | Event], *_: Any) -> Iterator[Motion | Event]:
        for item in items:
            yield item
            if isinstance(item, Event) and item.name == "spindle_start":
                yield probe

    monkeypatch.setattr(posting, "hooked", with_probe)
    program = tmp_path / "part.nc"
    program.write_bytes(b"".join(posting.begin(load_toolpath(TOOLPATH), resolve(str(folder)))))
    lines = program.read_text().splitlines()
    number = lines.index("G31 Z-5 M0") + 1
    assert "(probe left)" == lines[number - 2]
    (line,) = explain(program, number, number, Request(TOOLPATH, str(folder))).lines
    assert ("probe", PROBE.why, "coolant.air") == (line.rule, line.why, line.why_settings[0].key)
    said = {word.word: (word.says, [setting.key for setting in word.settings]) for word in line.words}
    assert ("the probe, on the left", ["stops.program"]) == said["M0"]
    assert "how deep the probe goes" == said["Z-5"][0]
    assert "stands in the template" == said["G31"][0]


def test_its_page_of_the_documentation_is_made_from_the_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "docs"))
    from making import events

    events.pages()  # its picture shows programs, which nobody writes once there is an event without a template
    monkeypatch.setitem(EVENTS, "probe", PROBE)  # type: ignore[arg-type]
    page = events.pages()["events.md"]
    assert [] == events.undescribed()
    for text in (PROBE.when, *PROBE.facts.values(), *(word.meaning for word in PROBE.words.values())):
        assert text in page
    monkeypatch.setitem(EVENTS, "probe", EventRow(when="", why="so"))  # type: ignore[arg-type]
    assert ["probe"] == events.undescribed()
