"""A listener hears where each line comes from, and changes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from writing_parts import profile, rows, text_of, written

from steadyrest.columns import Ints
from steadyrest.errors import SteadyrestError, TemplateError
from steadyrest.motion import plan
from steadyrest.motion.model import Event, HoleRow, Motion, Quantity
from steadyrest.profile import Profile, find_profiles, resolve, shared_templates_folder
from steadyrest.toolpath import load_toolpath
from steadyrest.writing import write_program

TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))
NAMES = [found.name for found in find_profiles() if found.where == "bundled"]


class Heard:
    """Notes everything, in order."""

    def __init__(self) -> None:
        self.lines: dict[int, str] = {}
        self.moves: dict[int, int] = {}
        self.templates: list[str] = []
        self.event = ""

    def begins(self, event: Event, words: Mapping[str, str], template: str) -> None:
        self.event = event.name
        self.templates.append(Path(template).name)

    def line(self, number: int, source: str) -> None:
        assert number not in self.lines
        self.lines[number] = f"{self.event} {source}"

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        for at, row in enumerate(kept.tolist()):
            assert first_line + at not in self.lines
            self.lines[first_line + at] = f"{self.event} {run.rule}".strip()
            self.moves[first_line + at] = int(run.move[row])

    def ends(self) -> None:
        self.event = ""


def heard(items: list[Motion | Event], said: Profile) -> tuple[list[str], Heard]:
    listener = Heard()
    writing = write_program(items, said, [shared_templates_folder()], inch=False, rotary_letter="A", record=listener)
    return text_of(writing), listener


def test_every_line_of_events_and_motion_is_heard_once_and_in_order() -> None:
    turn = rows([(float("nan"), float("nan"), float("nan"), 90.0)], 0)
    items = [
        Event("spindle_start", 1, facts={"turns": "clockwise"}, words={"speed": Quantity("S", 800, "spindle")}),
        Event("index", 1, words={"angle": Quantity("", 90.0, "angle")}, motion=(turn,)),
        rows([(1.0, 2.0, 3.0, 90.0), (1.0, 2.0, 3.0, 90.0), (4.0, 2.0, 3.0, 90.0)]),
    ]
    lines, listener = heard(items, profile())
    assert ["S800 M3", "G0 A90", "G94 G1 X1 Y2 Z3 A90 F100", "X4"] == lines
    assert {1: "spindle_start template", 2: "index cut", 3: "cut", 4: "cut"} == listener.lines
    assert {2: 1, 3: 1, 4: 3} == listener.moves


def test_the_blocks_of_a_cycle_are_heard_as_such() -> None:
    words = {"z": Quantity("Z", -5.0, "length"), "r": Quantity("R", 2.0, "length"), "feed": Quantity("F", 80.0, "feed")}
    event = Event("cycle", 1, facts={"cycle": "drill"}, words=words, holes=HoleRow(np.array([[1.0, 2.0], [3.0, 2.0]]), np.array([1, 2])))
    lines, listener = heard([rows([(0.0, 0.0, 2.0, 0.0)], 0), event], profile())
    assert len(lines) == len(listener.lines)
    assert ["cycle cycle"] * 3 == [listener.lines[number] for number in (2, 3, 4)]


@pytest.mark.parametrize("name", NAMES)
def test_the_text_is_the_same_with_a_listener_and_every_line_is_heard(name: str) -> None:
    resolved = resolve(name)
    programs = 0
    for path in TOUR:
        texts = []
        listener = Heard()
        for record in (None, listener):
            try:
                planned = plan(load_toolpath(path), resolved.profile)
                writing = write_program(
                    planned.items,
                    resolved.profile,
                    resolved.template_folders,
                    inch=planned.inch,
                    rotary_letter=planned.letter,
                    record=record,
                )
                texts.append(b"".join(writing))
            except SteadyrestError as error:
                texts.append(str(error).encode())
                break
        else:
            programs += 1
            assert texts[0] == texts[1]
            assert list(range(1, texts[0].count(b"\n") + 1)) == sorted(listener.lines)
    assert programs > 0


def test_an_event_of_plain_lines_says_them_without_a_template() -> None:
    event = Event("lines", 1, "a plug-in", facts={"lines": ("M8", "  M9 ")}, added=True)
    assert ["M8", "M9"] == written([event], profile())


def test_after_plain_lines_every_modal_word_is_said_again() -> None:
    event = Event("lines", 1, "a plug-in", facts={"lines": ("M8",)}, added=True)
    lines = written([rows([(1.0, 0.0, 0.0, 0.0)]), event, rows([(2.0, 0.0, 0.0, 0.0)])], profile())
    assert lines[2].startswith("G94 G1 X2 Y0 Z0")


def test_a_plain_line_that_is_no_ascii_is_refused_and_names_who_says_it() -> None:
    with pytest.raises(TemplateError, match=r"plug-in x 1\.0.*plain ASCII"):
        written([Event("lines", 1, "plug-in x 1.0", facts={"lines": ("M8 ü",)}, added=True)], profile())
