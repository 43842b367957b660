"""Programs of the tour and their explained lines; for the tests of explaining."""

from __future__ import annotations

from pathlib import Path

from steadyrest.explaining import Explained, explain
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.request import Request
from steadyrest.toolpath import load_toolpath

TOUR = sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))


def written(toolpath: str, controller: str, tmp_path: Path, sets: tuple[str, ...] = ()) -> tuple[Path, Path]:
    """A program's file, and the toolpath it was written from."""
    path = next(each for each in TOUR if each.name.startswith(toolpath + "."))
    file = tmp_path / "part.nc"
    file.write_bytes(b"".join(begin(load_toolpath(path), resolve(controller, sets))))
    return file, path


def line_with(file: Path, text: str, nth: int = 0) -> int:
    return [at for at, line in enumerate(file.read_text().splitlines(), 1) if text in line][nth]


def one(file: Path, text: str, toolpath: Path, controller: str = "limited-clamped", nth: int = 0) -> Explained:
    number = line_with(file, text, nth)
    (line,) = explain(file, number, number, Request(toolpath, controller)).lines
    return line


def keys(line: Explained, word: str) -> dict[str, str]:
    """The settings behind one word, each with the folder of its file."""
    (found,) = [each for each in line.words if each.word == word]
    return {each.key: Path(each.origin).parent.name if each.line else each.origin for each in found.settings}


def says(line: Explained, word: str) -> str:
    return next(each.says for each in line.words if each.word == word)
