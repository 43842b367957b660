"""A program is the same text however many items and blocks are written at once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from writing_parts import NAN, in_steps, profile, rows, written

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError, SteadyrestError
from steadyrest.motion import Event, Motion, Quantity, plan
from steadyrest.profile import find_profiles, resolve
from steadyrest.toolpath import load_toolpath
from steadyrest.writing import program, write_program

TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))
NAMES = [found.name for found in find_profiles() if found.where == "bundled"]


@pytest.mark.parametrize("name", NAMES)
def test_the_text_is_the_same_however_few_blocks_are_written_at_once(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    resolved = resolve(name)
    programs = 0
    for path in TOUR:
        try:
            planned = plan(load_toolpath(path), resolved.profile)
            items = list(planned.items)
        except SteadyrestError:
            continue
        texts = []
        for chunk in (8192, 5, 1):
            monkeypatch.setattr(program, "CHUNK", chunk)
            made = write_program(items, resolved.profile, resolved.template_folders, inch=planned.inch, rotary_letters=planned.letters)
            texts.append((b"".join(made), made.lines, made.notices))
        assert texts[0] == texts[1] == texts[2]
        programs += 1
    assert programs > 0


RETRACT = Event("retract", 1, facts={"form": "machine_zero"}, words={"machine_z": Quantity("Z", 0.0, "length")})


def test_between_blocks_that_are_written_together_words_are_said_again_where_the_controller_forgets() -> None:
    cut = rows([(1, 2, 3, 4)])
    stop = Event("stop", 1, facts={"optional": False})
    again = "G94 G1 X1 Y2 Z3 A4 F100"
    assert [again, "M0", again] == written([cut, cut, stop, cut, cut], profile())


def test_a_height_is_said_again_after_the_machine_has_moved_it_by_itself() -> None:
    lines = written([rows([(1, 2, 3, 0)]), RETRACT, rows([(1, 2, NAN, 0), (1, 2, 3, 0)], RAPID, NAN)], profile())
    assert ["G53 G0 Z0", "G0 X1 Y2 A0", "Z3"] == lines[1:]


def test_a_step_from_where_a_retract_has_left_the_height_is_refused_also_among_blocks_that_are_written_together() -> None:
    items: list[Motion | Event] = [rows([(1, 2, 3, 0)]), RETRACT, rows([(1, 2, 5, 0)], operation=2)]
    with pytest.raises(PlanError, match="an incremental Z word starts from an unknown position") as caught:
        written(items, in_steps())
    assert 2 == caught.value.place.operation


def test_events_that_are_alike_differ_in_their_numbers_and_comments() -> None:
    def started(number: int, name: str, rpm: float) -> Sequence[Event]:
        start = Event("operation_start", number, facts={"number": number, "name": name, "intent": "indexed"})
        return start, Event("spindle_start", number, facts={"turns": "clockwise"}, words={"speed": Quantity("S", rpm, "spindle")})

    lines = written([*started(1, "face", 800), *started(2, "", 900), *started(3, "bore", 900)], profile())
    assert ["(operation 1 face)", "S800 M3", "(operation 2)", "S900 M3", "(operation 3 bore)", "S900 M3"] == lines
