"""A listener hears where each line comes from, and changes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from writing_parts import profile, rows, text_of, written

from steadyrest.errors import SteadyrestError, TemplateError
from steadyrest.motion import Event, HoleRow, Motion, Quantity, plan
from steadyrest.profile import Profile, find_profiles, resolve, shared_templates_folder
from steadyrest.toolpath import load_toolpath
from steadyrest.writing import write_program
from steadyrest.writing.recording import Origin, Printed

TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))
NAMES = [found.name for found in find_profiles() if found.where == "bundled"]


class Heard:
    """Notes everything, in order."""

    def __init__(self) -> None:
        self.lines: dict[int, str] = {}
        self.moves: dict[int, int] = {}
        self.events: list[str] = []
        self.printed: list[Sequence[Printed]] = []

    def __call__(self, origin: Origin) -> None:
        event = origin.event.name if origin.event is not None else ""
        assert origin.first_line not in self.lines
        if origin.said is not None:
            source, printed = origin.said
            self.lines[origin.first_line] = f"{event} {source}"
            self.printed.append(printed)
        elif origin.blocks is not None:
            run, kept = origin.blocks
            for at, row in enumerate(kept.tolist()):
                assert origin.first_line + at not in self.lines
                self.lines[origin.first_line + at] = f"{event} {run.rule}".strip()
                self.moves[origin.first_line + at] = int(run.move[row])
        else:
            self.events.append(event)


def heard(items: list[Motion | Event], said: Profile) -> tuple[list[str], Heard]:
    listener = Heard()
    writing = write_program(items, said, [shared_templates_folder()], inch=False, rotary_letters=["A"], record=listener)
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
    assert ["spindle_start", "index"] == listener.events


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
                    rotary_letters=planned.letters,
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


def pieces_of(folder: Path, text: str, event: Event, said: Profile | None = None) -> list[list[tuple[str, str, int]]]:
    """What each line that a template prints is made of: the text, its name, and the line of its template."""
    (folder / f"{event.name}.j2").write_text(text, encoding="utf-8")
    listener = Heard()
    folders = [folder, shared_templates_folder()]
    b"".join(write_program([event], said or profile(), folders, inch=False, rotary_letters=["A"], record=listener))
    return [[(one.text, one.name, one.line) for one in line if one.text.strip()] for line in listener.printed]


SPINDLE = Event("spindle_start", facts={"turns": "clockwise"}, words={"speed": Quantity("S", 800, "spindle")})
NOTE = Event("note", facts={"text": "hold"})


def test_each_piece_of_a_line_says_what_it_is_and_which_line_of_the_template_printed_it(tmp_path: Path) -> None:
    text = "M100\n{% if facts.turns == 'clockwise' %}\n{{ words.speed }} M101 {{ words.spindle }}\n{% endif %}\n{{ setting.stops.end }}"
    speed = [("S800", "words.speed", 3), (" M101 ", "", 3), ("M3", "words.spindle", 3)]
    assert [[("M100", "", 1)], speed, [("M30", "setting.stops.end", 5)]] == pieces_of(tmp_path, text, SPINDLE)


def test_a_piece_keeps_its_name_through_set_for_and_a_choice(tmp_path: Path) -> None:
    text = (
        "{% set code = words.speed %}\n{{ code }}\n{% for block in setting.program.safe_start %}\n{{ block }}\n{% endfor %}\n"
        "{{ words.spindle if facts.turns == 'counterclockwise' else setting.spindle.stop }}"
    )
    got = pieces_of(tmp_path, text, SPINDLE, profile(program={"safe_start": ["G17", "G40"]}))
    assert [[("S800", "words.speed", 2)], [("G17", "setting.program.safe_start", 4)], [("G40", "setting.program.safe_start", 4)]] == got[
        :-1
    ]
    assert [("M5", "setting.spindle.stop", 6)] == got[-1]


def test_a_comment_says_the_facts_it_is_made_of_and_an_included_template_its_own_file(tmp_path: Path) -> None:
    (tmp_path / "house.j2").write_text("\n{{ comment('please', facts.text) }}")
    (tmp_path / "note.j2").write_text("{% include 'house.j2' %}")
    listener = Heard()
    folders = [tmp_path, shared_templates_folder()]
    b"".join(write_program([NOTE], profile(), folders, inch=False, rotary_letters=["A"], record=listener))
    (line,) = listener.printed
    one = next(one for one in line if one.text.strip())
    assert Printed("(please hold)", "comment", ("text",), str(tmp_path / "house.j2"), 2) == one


@pytest.mark.parametrize(
    "text", ["{{ facts.text }}", "{{ setting.spindle.largest_rpm }}", "{{ words.nothing }}", "{{ setting.nothing.at }}"]
)
def test_with_a_listener_the_same_templates_are_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(TemplateError, match=r"note\.j2:1"):
        pieces_of(tmp_path, text, NOTE)


def test_the_words_of_a_cycle_are_named() -> None:
    words = {"z": Quantity("Z", -5.0, "length"), "r": Quantity("R", 2.0, "length"), "feed": Quantity("F", 80.0, "feed")}
    event = Event("cycle", 1, facts={"cycle": "drill"}, words=words, holes=HoleRow(np.array([[1.0, 2.0], [3.0, 2.0]]), np.array([1, 2])))
    listener = Heard()
    b"".join(write_program([event], profile(), [shared_templates_folder()], inch=False, rotary_letters=["A"], record=listener))
    assert {("", 0)} == {(piece.file, piece.line) for line in listener.printed for piece in line}  # no template printed them
    first, second, last = ([(one.text, one.name) for one in line] for line in listener.printed)
    assert [("G94", "feed_mode"), ("G17", "plane"), ("G99", "return_to_r"), ("G81", "cycle"), ("X1", "X"), ("Y2", "Y")] == first[:6]
    assert {("Z-5", "z"), ("R2", "r"), ("F80", "feed")} == set(first[6:])
    assert ([("X3", "X")], [("G80", "cancel")]) == (second, last)
