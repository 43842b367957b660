"""Texts, names and stops of a program: each once and at its place, also where the program is cut at several angles."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from steadyrest.inputs import Input, PartOptions, take
from steadyrest.posting import posted_text
from steadyrest.toolpath import Indexed, Toolpath

STOCK = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
TOOLS = [{"number": number, "shape": "flat", "diameter": 6} for number in (1, 2, 3)]
PART = PartOptions.model_validate({"stock": STOCK, "tools": TOOLS})
FACE = "G0 X-10 Y0 Z30\nG1 Z18 F100\nX-20\nG0 Z40\n"
HEAD = (
    "%\nO0042 (COVER)\n(SIDE WITH THE BOSS)\n(T1 - 6 MM END MILL)\n(T2 | 5MM DRILL | H2)\n(CLAMP ON 20 MM ONLY)\nN5 G21 G17 G90 G94 G54\n"
)
ANGLES = (0.0, 90.0, 180.0)


def taken(folder: Path, text: str, **options: Any) -> Toolpath:
    file = folder / "part.nc"
    file.write_text(text, encoding="ascii")
    return take([Input.model_validate({"file": file, **options})], PART)


def two_tools(between: str) -> str:
    return f"{HEAD}(POCKET)\nT1 M6\nS3000 M3\nM8\n{FACE}{between}(HOLES)\nT2 M6\nS900 M3\nM8\n{FACE}M9\nM5\nM30\n%\n"


def story(toolpath: Toolpath) -> list[tuple[str, int, float, str, tuple[float, ...], str]]:
    """Of each operation: name, tool, speed, coolant, angles, and how it goes on: c cut, r rapid, s stop, n note, d dwell."""
    found = []
    for operation in toolpath.operations:
        moves = "".join(next(iter(move.model_dump(exclude_none=True)))[0] for move in operation.moves or ())
        angles = operation.rotary.angles if isinstance(operation.rotary, Indexed) else ()
        found.append((operation.name, operation.tool, operation.spindle.rpm, operation.coolant, angles, moves))
    return found


POCKET = ("POCKET", 1, 3000, "flood", ANGLES, "rccr")
HOLES = ("HOLES", 2, 900, "flood", ANGLES, "rccr")
TEXTS = ("COVER", 1, 3000, "flood", (0.0,), "nn")


@pytest.mark.parametrize(
    "between",
    [
        "M5\nM0\n",
        "M9\nM5\nM0\n",
        "M5\nM9\nM0\n",
        "M0\nM5\n",
        "M0\nM9\nM5\n",
        "M0\n",
        "M5\nM0\nM0\n",
        "M1\nM5\nM0\n",
        "M0\nM9\nG53 G0 Z0\nM5\n",
        "G53 G0 Z0\nM5\nM0\n",
        "M5\nG4 P2\nM0\n",
        "G91 G28 Z0\nM5\nG90\nM0\n",
        "M9\nG0 Z60\nM0\nG0 X0 Y0\nM5\n",
    ],
)
def test_a_stop_before_a_tool_change_is_one_stop_once_at_its_place(between: str, tmp_path: Path) -> None:
    found = [each for each in story(taken(tmp_path, two_tools(between), indexed=ANGLES)) if each[5] != "nn"]
    stop = ("stop", 1, 0, "off", (180.0,), "s")
    assert [POCKET[:5], stop, HOLES] == [found[0][:5], *found[1:]]
    assert set(found[0][5]) == {"r", "c"}
    assert "rcc" == found[0][5][:3]


def test_an_optional_stop_stays_optional(tmp_path: Path) -> None:
    toolpath = taken(tmp_path, two_tools("M5\nM1\n"), indexed=ANGLES)
    stops = [move for operation in toolpath.operations for move in operation.moves or () if "stop" in move.model_dump(exclude_none=True)]
    assert [{"stop": {"optional": True}}] == [stop.model_dump(exclude_none=True) for stop in stops]


def test_a_stop_is_written_once_with_the_spindle_stopped(tmp_path: Path) -> None:
    text = posted_text(taken(tmp_path, two_tools("M9\nM5\n(turn the clamp)\nM0\n"), indexed=ANGLES), "rs274ngc")
    assert 1 == text.count("M0\n")
    assert 1 == text.count("turn the clamp)")
    before = text[: text.index("M0\n")]
    assert before.rindex("M5") > before.rindex("M3")
    assert before.rindex("G0 A180") > before.rindex("G0 A90")
    assert "A" not in text[text.index("M0\n") : text.index("T2 M6")]


def test_a_stop_between_cuts_of_one_tool_belongs_to_each_face(tmp_path: Path) -> None:
    found = story(taken(tmp_path, f"G21 G17 G90\nT1 M6\nS3000 M3\n{FACE}M0\n{FACE}M30\n", indexed=ANGLES))
    assert [("", 1, 3000, "off", ANGLES, "rccrsrccr")] == found


def test_a_stop_at_the_end_is_one_stop(tmp_path: Path) -> None:
    found = story(taken(tmp_path, two_tools("").replace("M9\nM5\nM30", "M9\nM5\nM1\nM30"), indexed=ANGLES))
    assert ("stop", 2, 0, "off", (180.0,), "s") == found[-1]


def test_a_stop_after_a_tool_change_is_one_stop(tmp_path: Path) -> None:
    found = story(taken(tmp_path, two_tools("").replace("S900 M3", "M0\nS900 M3"), indexed=ANGLES))
    assert [("HOLES", 2, 0, "off", (0.0,), "s"), HOLES] == found[-2:]


def test_a_still_program_keeps_its_stop_at_its_place(tmp_path: Path) -> None:
    assert "sr" in story(taken(tmp_path, two_tools("M1\nG0 Z60\n")))[0][5]
    assert [3000, 0, 900] == [each[2] for each in story(taken(tmp_path, two_tools("M5\nM1\nM0\n")))]
    assert "s" == story(taken(tmp_path, two_tools("M5\nM1\nM0\n")))[1][5]


def test_a_pause_while_the_spindle_stands_brings_no_tool_back(tmp_path: Path) -> None:
    for angles in (ANGLES, None):
        found = story(taken(tmp_path, two_tools("M5\nG4 P3\n"), indexed=angles))
        assert ["POCKET", "HOLES"] == [each[0] for each in found if each[5] != "nn"]
        assert not any("d" in each[5] for each in found)


def test_a_pause_after_the_spindle_has_started_is_said_once(tmp_path: Path) -> None:
    found = story(taken(tmp_path, two_tools("").replace("S900 M3", "S900 M3\nG4 P2"), indexed=ANGLES))
    assert 1 == sum(each[5].count("d") * max(1, len(each[4])) for each in found)
    assert HOLES == found[-1]


def test_a_pause_in_a_cut_stays_in_it(tmp_path: Path) -> None:
    found = story(taken(tmp_path, f"G21 G17 G90\nT1 M6\nS3000 M3\n{FACE.replace('X-20', 'G4 P1' + chr(10) + 'X-20')}M30\n", indexed=ANGLES))
    assert [("", 1, 3000, "off", ANGLES, "rcdcr")] == found


def test_texts_at_the_head_are_said_once(tmp_path: Path) -> None:
    toolpath = taken(tmp_path, two_tools(""), indexed=ANGLES)
    assert [TEXTS, POCKET, HOLES] == story(toolpath)
    text = posted_text(toolpath, "rs274ngc")
    assert [1, 1] == [text.count(each) for each in ("(SIDE WITH THE BOSS)", "(CLAMP ON 20 MM ONLY)")]


def test_at_one_angle_the_texts_stay_with_the_first_operation(tmp_path: Path) -> None:
    for options in ({}, {"indexed": (90.0,)}, {"wrap": {"diameter": 40}}):
        found = story(taken(tmp_path, two_tools(""), **options))
        assert [("POCKET", "nnnrccr"), ("HOLES", "rccr")] == [(each[0], each[5]) for each in found]


def test_a_comment_after_the_head_names_the_operation_and_else_the_first_of_the_head(tmp_path: Path) -> None:
    assert "COVER" == story(taken(tmp_path, two_tools("").replace("(POCKET)\n", "")))[0][0]
    before_the_cut = two_tools("").replace("(POCKET)\nT1 M6\n", "T1 M6\n(POCKET)\n")
    assert "POCKET" == story(taken(tmp_path, before_the_cut))[0][0]


@pytest.mark.parametrize(
    ("comment", "name"),
    [
        ("(T3 5MM DRILL)", "5MM DRILL"),
        ("(T03 - BALL MILL 6MM)", "BALL MILL 6MM"),
        ("(TOOL 3: 6 MM END MILL)", "6 MM END MILL"),
        ("(TOOL NO. 3 = SPOT DRILL)", "SPOT DRILL"),
        ("(T3 | 6MM FLAT | H3 | D3)", "6MM FLAT"),
        ("(T3, 1/4 INCH END MILL)", "1/4 INCH END MILL"),
        ("(MSG, T3 REAMER)", "REAMER"),
    ],
)
def test_a_comment_with_the_number_of_a_tool_names_it(comment: str, name: str, tmp_path: Path) -> None:
    toolpath = taken(tmp_path, f"{comment}\nG21 G17 G90\nT3 M6\nS3000 M3\n{FACE}M30\n", indexed=ANGLES)
    assert [(3, name)] == [(tool.number, tool.name) for tool in toolpath.tools]
    assert [("", 3, 3000, "off", ANGLES, "rccr")] == story(toolpath)


@pytest.mark.parametrize("line", ["T3 M6 (5MM DRILL)", "M6 T3 (5MM DRILL)", "T3 (5MM DRILL)\nM6"])
def test_a_comment_in_the_line_of_the_tool_names_it(line: str, tmp_path: Path) -> None:
    toolpath = taken(tmp_path, f"G21 G17 G90\n{line}\nS3000 M3\n{FACE}M30\n")
    assert "5MM DRILL" == toolpath.tools[0].name
    assert "" == toolpath.operations[0].name


@pytest.mark.parametrize("comment", ["(TOOL 6MM END MILL)", "(TAP M6)", "(T3)", "(TOOL 5 MM BALL)", "(TURN 3 FACES)", "(T9 NOT USED HERE)"])
def test_other_comments_name_no_tool(comment: str, tmp_path: Path) -> None:
    toolpath = taken(tmp_path, f"G21 G17 G90\n{comment}\nT3 M6\nS3000 M3\n{FACE}M30\n")
    assert "" == toolpath.tools[0].name
    assert toolpath.operations[0].name in (comment[1:-1], "")


def test_a_name_that_is_said_for_the_part_goes_before(tmp_path: Path) -> None:
    part = PartOptions.model_validate({"stock": STOCK, "tools": [TOOLS[1], {**TOOLS[0], "name": "the old one"}]})
    file = tmp_path / "part.nc"
    file.write_text(two_tools(""), encoding="ascii")
    assert ["the old one", "5MM DRILL"] == [tool.name for tool in take([Input(file=file)], part).tools]


def test_pprint_names_tools_of_cl_data(tmp_path: Path) -> None:
    file = tmp_path / "part.cl"
    file.write_text(
        "UNITS/MM\nPPRINT T3 - 6MM BALL\nPPRINT vane\nLOADTL/3\nCUTTER/6\n"
        "SPINDL/8000,CLW\nFEDRAT/900\nRAPID\nGOTO/0,0,30\nGOTO/0,0,18\nFINI\n"
    )
    toolpath = take([Input(file=file)], PartOptions.model_validate({"stock": STOCK}))
    assert ("6MM BALL", "vane") == (toolpath.tools[0].name, toolpath.operations[0].name)


def test_a_comment_beside_words_names_no_operation(tmp_path: Path) -> None:
    text = f"(LETTERS)\nG21 G17 G90 (metric)\nT1 M6\nS3000 M3 (spin up)\n{FACE.replace('X-20', 'X-20 (long side)')}M30\n"
    (operation,) = taken(tmp_path, text).operations
    notes = [move.model_dump(exclude_none=True).get("note") for move in operation.moves or ()]
    assert ("LETTERS", ["metric", "spin up", "long side"]) == (operation.name, [note for note in notes if note])
    assert "" == taken(tmp_path, text.replace("(LETTERS)\n", "")).operations[0].name


def test_a_single_text_at_the_head_is_called_a_text(tmp_path: Path) -> None:
    found = story(taken(tmp_path, f"(SIDE WITH THE BOSS)\nG21 G17 G90\n(POCKET)\nT1 M6\nS3000 M3\n{FACE}M30\n", indexed=ANGLES))
    assert [("text", 1, 3000, "off", (0.0,), "n"), ("POCKET", 1, 3000, "off", ANGLES, "rccr")] == found
