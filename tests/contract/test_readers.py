"""What every reader of inputs has to keep, bundled or from an installed package."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from steadyrest.errors import PluginError, SteadyrestError
from steadyrest.inputs import InputOptions, PartOptions, Piece, Reader, find_readers
from steadyrest.inputs import readers as room

READERS = [found.reader for found in find_readers() if found.reader is not None]
each_reader = pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.kind)
BROKEN = {
    "empty": b"",
    "blank": b" \n\n",
    "binary": bytes(range(256)) * 8,
    "UTF-16": "GOTO/1,2,3\nFINI\n".encode("utf-16"),
    "half a word": b"GOT",
    "half an object": b'{"steadyrest_toolpath": 1, "units": "mm", "operations": [',
    "half a program": b"%\nG21 G90\nG0 X1",
    "prose": b"This is a letter, and no toolpath.\n",
}


def test_no_reader_that_is_installed_is_broken() -> None:
    assert [] == [f"{found.name} of {found.where}: {found.error}" for found in find_readers() if found.reader is None]


def test_kinds_are_unique() -> None:
    kinds = [reader.kind for reader in READERS]
    assert sorted(set(kinds)) == sorted(kinds)


@each_reader
def test_it_says_what_it_reads(reader: Reader) -> None:
    assert reader.speaks.strip(), f"give the reader {reader.kind} a sentence that says what it reads, with the source of its rules"
    assert all(ending.startswith(".") and ending == ending.lower() for ending in reader.endings)


@each_reader
@pytest.mark.parametrize("data", BROKEN.values(), ids=BROKEN.keys())
def test_broken_files_are_errors_in_the_users_words(reader: Reader, data: bytes, tmp_path: Path) -> None:
    assert reader.recognises(data) in (True, False)
    file = tmp_path / "broken"
    file.write_bytes(data)
    with pytest.raises(SteadyrestError) as caught:
        reader.read(file, InputOptions(), PartOptions())
    assert str(file) == caught.value.place.file or caught.value.place.file is None
    assert caught.value.cure, f"say in the error of the reader {reader.kind} what can be done about it: {caught.value}"


@each_reader
def test_a_missing_file_is_an_error_in_the_users_words(reader: Reader, tmp_path: Path) -> None:
    with pytest.raises(SteadyrestError):
        reader.read(tmp_path / "nowhere", InputOptions(), PartOptions())


GOOD = Reader(
    kind="points",
    speaks="numbers, three a line; of this test",
    endings=(".points",),
    recognises=lambda head: head.startswith(b"points"),
    read=lambda path, options, part: Piece(
        name="",
        units="mm",
        tools={1: {"number": 1, "shape": "flat", "diameter": 6.0}},
        operations=(
            {
                "tool": 1,
                "spindle": {"rpm": 100.0, "turns": "clockwise"},
                "rotary": {"intent": "still"},
                "moves": [{"rapid": [float(word) for word in path.read_text().split()[1:4]]}],
            },
        ),
    ),
)


def points(group: str, monkeypatch: pytest.MonkeyPatch, **values: Any) -> None:
    """Let the installed packages have these entry points in the group; a value is what loading gives, or raises."""

    def load(value: Any) -> Any:
        if isinstance(value, Exception):
            raise value
        return value

    found = [
        SimpleNamespace(name=name, value=name, dist=SimpleNamespace(name="inlay", version="1.2"), load=lambda value=value: load(value))
        for name, value in values.items()
    ]
    monkeypatch.setattr("importlib.metadata.entry_points", lambda **asked: found if asked == {"group": group} else [])


def test_a_reader_of_a_package_is_found_by_its_content(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from steadyrest.inputs import load_input

    points(room.GROUP, monkeypatch, points=lambda: GOOD)
    file = tmp_path / "a.points"
    file.write_text("points 1 2 3")
    (operation,) = load_input(file, part=PartOptions(clearance=50.0)).operations
    assert "still" == operation.rotary.intent


@pytest.mark.parametrize(
    ("value", "error"),
    [
        (ImportError("no module named lathe"), "ImportError: no module named lathe"),
        (lambda: 1 / 0, "ZeroDivisionError"),
        (42, "it gives int, not a steadyrest.inputs.Reader"),
        (Reader("cl", "x", (), GOOD.recognises, GOOD.read), "there is a reader of the kind 'cl' already"),
        (Reader("Big Kind", "x", (), GOOD.recognises, GOOD.read), "not of small letters"),
        (Reader("dots", "x", ("dots",), GOOD.recognises, GOOD.read), "each with its point"),
    ],
)
def test_a_broken_reader_is_named_and_takes_nothing_down(value: Any, error: str, monkeypatch: pytest.MonkeyPatch) -> None:
    points(room.GROUP, monkeypatch, bad=value, good=GOOD)
    found = find_readers()
    (broken,) = (each for each in found if each.reader is None)
    assert ("bad", "package inlay 1.2") == (broken.name, broken.where)
    assert error in broken.error
    assert {"toolpath", "job", "cl", "program", "points"} == {each.reader.kind for each in found if each.reader is not None}


def test_a_broken_reader_is_named_where_a_file_finds_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from steadyrest.inputs import load_input

    points(room.GROUP, monkeypatch, bad=ImportError("no module named lathe"))
    (tmp_path / "a.points").write_text("points 1 2 3")
    with pytest.raises(SteadyrestError, match=r"the reader bad of package inlay 1\.2 cannot be used: ImportError"):
        load_input(tmp_path / "a.points", part=PartOptions(clearance=50.0))


class Odd(BaseException):
    """What nobody expects a package to raise."""


@pytest.mark.parametrize("error", [Odd("boo"), SystemExit(7), ZeroDivisionError("1/0"), GeneratorExit()])
def test_a_reader_that_raises_anything_is_named_with_its_file(
    error: BaseException, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from steadyrest.inputs import load_input

    def fails(*_: object) -> Any:
        raise error

    (tmp_path / "a.points").write_text("points 1 2 3")
    for broken in (Reader("points", "x", (), GOOD.recognises, fails), Reader("points", "x", (), GOOD.recognises, lambda *_: 3)):  # type: ignore[arg-type,return-value]
        points(room.GROUP, monkeypatch, points=lambda broken=broken: broken)
        with pytest.raises(PluginError, match="the reader 'points' of an installed package fails: ") as caught:
            load_input(tmp_path / "a.points", part=PartOptions(clearance=50.0))
        assert str(tmp_path / "a.points") == caught.value.place.file
    points(room.GROUP, monkeypatch, points=lambda: Reader("points", "x", (), fails, GOOD.read))
    with pytest.raises(SteadyrestError, match="what kind of file this is cannot be told"):
        load_input(tmp_path / "a.points", part=PartOptions(clearance=50.0))
