"""Whatever happens to a file's bytes, it is read as the plain JSON that it is, or refused in the user's words."""

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import ToolpathError
from steadyrest.testing import toolpath_data
from steadyrest.toolpath import Holes, MoveColumns, Toolpath, load_toolpath, parse_toolpath

PIECES = (
    b'"', b"\\", b"{", b"}", b"[", b"]", b",", b":", b" ", b"\n", b"0", b"1", b"-", b".", b"e9", b"e999", b"null", b"true", b"NaN",
    b'"table"', b'"table": ', b'"table": {"motion": [0]}', b'\\"table\\": [{', b'"x"', b'"feed": 1', b"\xff", b"\xc3\xa9", b"\\u0074",
)  # fmt: skip


class GivenTwice(Exception):
    """A key that plain reading would silently take the last of."""


def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(dict(pairs)) != len(pairs):
        raise GivenTwice
    return dict(pairs)


def plainly(raw: bytes) -> Toolpath | None:
    """What the standard library reads in these bytes, checked by the model; None if either refuses them."""
    try:
        return streamed(parse_toolpath(json.loads(raw.decode("utf-8"), object_pairs_hook=unique)))
    except (ValueError, GivenTwice, ToolpathError):
        return None


def streamed(toolpath: Toolpath) -> Toolpath:
    for operation in toolpath.operations:
        for _ in operation.stream():
            pass
    return toolpath


def from_file(path: Path) -> Toolpath | ToolpathError:
    try:
        return streamed(load_toolpath(path))
    except ToolpathError as error:
        return error


def columns(toolpath: Toolpath) -> list[Any]:
    return [
        (item.kind, item.end, item.feed, item.tool_axis)
        if isinstance(item, MoveColumns)
        else list(item)
        if isinstance(item, Holes)
        else item
        for operation in toolpath.operations
        for item in operation.stream()
    ]


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    data = draw(toolpath_data(arcs=False, most_operations=2))
    raw = json.dumps(data, indent=draw(st.sampled_from((None, 1)))).encode()
    near = [at for at in range(len(raw)) if raw.startswith(b'"table"', at)] or [0]
    for _ in range(draw(st.integers(0, 2))):
        # Half of the damage is done near a table, where the bytes are cut.
        start, length = draw(st.sampled_from(((0, len(raw)), (draw(st.sampled_from(near)), 40))))
        at = min(len(raw), start + draw(st.integers(0, length)))
        gone = draw(st.sampled_from((0, 0, 1, 1, 2, 9)))
        raw = raw[:at] + draw(st.sampled_from((*PIECES, b""))) + raw[at + gone :]
    return raw


@settings(max_examples=300, deadline=None)
@given(damaged())
def test_a_damaged_file_is_read_as_plain_json_reads_it_or_refused(raw: bytes) -> None:
    expected = plainly(raw)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toolpath.json"
        path.write_bytes(raw)
        actual = from_file(path)
        if isinstance(actual, ToolpathError):
            assert expected is None, f"refused: {actual}"
            assert str(path) == actual.place.file
            assert actual.wrong
            assert actual.cure
            return
        assert expected == actual
    assert expected is not None
    for one, other in zip(columns(expected), columns(actual), strict=True):
        if isinstance(one, tuple):
            for a, b in zip(one, other, strict=True):
                assert a is b is None or np.array_equal(a, b, equal_nan=True)
        else:
            assert one == other
