"""What every reader of inputs has to keep, bundled or from an installed package."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from steadyrest.contract import Broken, ReaderContract
from steadyrest.errors import InputError, PluginError, SteadyrestError
from steadyrest.inputs import InputOptions, PartOptions, Piece, Reader, find_readers
from steadyrest.inputs import readers as room

PARTS = Path(__file__).parent / "readers"
TOOLS = PartOptions.model_validate({"clearance": 100.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})


def reader_of(kind: str) -> Reader:
    return next(found.reader for found in find_readers() if found.reader is not None and found.reader.kind == kind)


class TestToolpath(ReaderContract):
    reader = reader_of("toolpath")
    samples = (PARTS / "wheel.toolpath.json",)


class TestJob(ReaderContract):
    reader = reader_of("job")
    samples = (PARTS / "wheel.job.toml",)


class TestClData(ReaderContract):
    reader = reader_of("cl")
    samples = (PARTS / "wheel.cl",)


class TestProgram(ReaderContract):
    reader = reader_of("program")
    samples = (PARTS / "wheel.nc",)
    part = TOOLS


def test_no_reader_that_is_installed_is_broken() -> None:
    assert [] == [f"{found.name} of {found.where}: {found.error}" for found in find_readers() if found.reader is None]


def test_kinds_are_unique_and_each_bundled_one_is_held_to_the_contract() -> None:
    kinds = [found.reader.kind for found in find_readers() if found.reader is not None]
    assert sorted(set(kinds)) == sorted(kinds)
    assert {each.reader.kind for each in (TestToolpath, TestJob, TestClData, TestProgram)} <= set(kinds)


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
    monkeypatch.setattr("steadyrest.inputs.readers.offered", lambda asked: found if asked == group else [])


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
    with pytest.raises(SteadyrestError, match="shows what kind of file this is"):
        load_input(tmp_path / "a.points", part=PartOptions(clearance=50.0))


def _takes_anything(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    try:
        return GOOD.read(path, options, part)
    except (IndexError, KeyError, ValueError, OSError):
        return Piece("", "mm", {}, ())


def _says_no_cure(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    raise InputError("no")


@pytest.mark.parametrize(
    ("broken", "fact", "told"),
    [
        (replace(GOOD, kind="Big"), "test_it_can_be_used", "not of small letters"),
        (replace(GOOD, speaks=" "), "test_it_can_be_used", "a sentence"),
        (replace(GOOD, read=_takes_anything), "test_files_of_no_kind_are_refused_in_the_users_words", "takes a file that is empty"),
        (replace(GOOD, read=_takes_anything), "test_a_missing_file_is_an_error_in_the_users_words", "takes a file that is not there"),
        (replace(GOOD, read=_says_no_cure), "test_files_of_no_kind_are_refused_in_the_users_words", "what can be done"),
        (replace(GOOD, read=_takes_anything), "test_a_file_that_is_cut_off_is_refused", "takes the first half of"),
        (replace(GOOD, endings=(), recognises=lambda _: False), "test_samples_are_recognised_or_told_by_their_ending", "not recognised"),
        (replace(GOOD, read=lambda *_: 3), "test_samples_become_toolpaths_and_the_same_ones_each_time", "becomes int"),  # type: ignore[arg-type,return-value]
    ],
)
def test_the_contract_tells_what_a_reader_breaks(broken: Reader, fact: str, told: str, tmp_path: Path) -> None:
    sample = tmp_path / "a.points"
    sample.write_text("points 1 2 3\n")
    contract = type("Contract", (ReaderContract,), {"reader": broken, "samples": (sample,)})()
    with pytest.raises(Broken, match=told):
        getattr(contract, fact)()
