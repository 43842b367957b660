"""Long lists of moves are read from their file some at a time, and mean what they mean where the models read all of them at once."""

import copy
import json
import tempfile
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.columns import take
from steadyrest.errors import ToolpathError
from steadyrest.testing import toolpath_data
from steadyrest.toolpath import ArcColumns, Holes, MoveColumns, Toolpath, load_toolpath, scan, toolpath_text
from steadyrest.toolpath.moves import MovesInFile

WRONG: tuple[Any, ...] = (
    None, True, -1, 0, 1e12, 10**30, "x", "", "}]", '"}, {', [], [1], [1, 2, 3], [1, 2, 3, 4], [0, 0, "1"], {}, {"optional": 1}, "drill",
    "tap", "clockwise", "XZ",
)  # fmt: skip
KEYS = ("rapid", "cut", "arc", "hole", "feed", "fed", "note", "dwell", "stop", "retract", "peck", "cycle", "centre", "moves", "table")


def in_pieces(text: str) -> Any:
    """All lists of moves are read in pieces, whose length the text decides."""
    return patch.multiple(scan, LONG_FILE=0, LONG_MOVES=0, PIECE=200 + len(text) % 1000)


def outcome(path: Path) -> Toolpath | ToolpathError:
    try:
        toolpath = load_toolpath(path)
        for operation in toolpath.operations:
            for _ in operation.stream():
                pass
        return toolpath
    except ToolpathError as error:
        return error


def assert_same(one: Any, other: Any) -> None:
    """Two values or columns, to the last digit."""
    assert type(one) is type(other)
    if isinstance(one, MoveColumns | Holes | ArcColumns):
        for name in one.__dataclass_fields__:
            assert_same(getattr(one, name), getattr(other, name))
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other)
    else:
        assert one == other


def assert_read_alike(text: str, *, exactly: bool) -> None:
    """Both ways give the same motion; or the same sentence about the same place, `exactly`, where only one thing is wrong."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toolpath.json"
        path.write_text(text, encoding="utf-8")
        whole = outcome(path)
        with in_pieces(text):
            found = outcome(path)
            if isinstance(whole, ToolpathError) or isinstance(found, ToolpathError):
                assert isinstance(whole, ToolpathError), f"refused only where it is read in pieces: {found}"
                assert isinstance(found, ToolpathError), f"refused only where it is read at once: {whole}"
                if exactly:
                    assert str(whole) == str(found)
                return
            assert found == whole
            for one, other in zip(whole.operations, found.operations, strict=True):
                for expected, item in zip(one.stream(), other.stream(), strict=True):
                    assert_same(expected, item)


@st.composite
def changed(draw: st.DrawFn) -> str:
    """A toolpath in which one value or key of one move is another."""
    data = copy.deepcopy(draw(toolpath_data(most_operations=2)))
    for operation in data["operations"]:
        if "moves" in operation:
            moves = operation["moves"]
            moves.insert(draw(st.integers(0, len(moves))), {"note": draw(st.sampled_from(('"', "}]", "}, {", "\\", 'say "table": [{')))})
    moves = draw(st.sampled_from(data["operations"])).get("moves")
    if moves:
        at = draw(st.integers(0, len(moves) - 1))
        key = draw(st.sampled_from((*moves[at], *KEYS)))
        moves[at] = {**moves[at], key: draw(st.sampled_from(WRONG))} if draw(st.booleans()) else draw(st.sampled_from(WRONG))
    return json.dumps(data, indent=draw(st.sampled_from((None, 1))), ensure_ascii=draw(st.booleans()))


@settings(max_examples=2 * settings.default.max_examples, deadline=None)
@given(changed())
def test_one_wrong_move_is_refused_in_the_same_words_at_the_same_place(text: str) -> None:
    assert_read_alike(text, exactly=True)


@settings(max_examples=settings.default.max_examples, deadline=None)
@given(changed(), st.data())
def test_a_damaged_text_is_read_alike_or_refused(text: str, draws: st.DataObject) -> None:
    at = draws.draw(st.integers(0, len(text)))
    put = draws.draw(st.sampled_from(('"', "{", "}", "[", "]", ",", ":", "\\", "1", "NaN", "1e999", "}]", '"moves": [{', "\x00", "\u00e9")))
    assert_read_alike(text[:at] + put + text[at + draws.draw(st.integers(0, 2)) :], exactly=False)


def many(count: int) -> str:
    rows = [{"hole": [-1.0 - at % 80, 0.5], "retract": 22.0, "bottom": 15.0, "feed": 100.0} for at in range(count)]
    operation = {"tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}, "rotary": {"intent": "still"}, "moves": rows}
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    tool = {"number": 3, "shape": "drill", "diameter": 3, "point_angle": 118}
    return json.dumps({"steadyrest_toolpath": 1, "units": "mm", "stock": stock, "tools": [tool], "operations": [operation]})


def test_a_long_list_stays_in_its_file_and_is_dumped_whole(tmp_path: Path) -> None:
    path, again = tmp_path / "part.toolpath.json", tmp_path / "again.toolpath.json"
    path.write_text(many(20_000))
    toolpath = load_toolpath(path)
    assert isinstance(toolpath.operations[0].moves, MovesInFile)
    (holes,) = toolpath.operations[0].stream()
    assert isinstance(holes, Holes)
    assert len(holes) == 20_000
    assert list(take(holes, slice(7, 8))) == [holes.hole(7)]
    again.write_text("".join(toolpath_text(toolpath)), encoding="utf-8")
    assert load_toolpath(again) == toolpath


def test_a_file_that_changed_since_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "part.toolpath.json"
    path.write_text(many(20_000))
    moves = load_toolpath(path).operations[0].moves
    path.write_text(many(20_001))
    with pytest.raises(ToolpathError, match="changed while it was being read"):
        list(moves or ())
