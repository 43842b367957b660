"""The reader of the documentation's page, installed as a package: found, used, and held to the contract as the page says."""

import re
from pathlib import Path

import pytest

from steadyrest.inputs import Input, PartOptions, find_readers, take

pytest_plugins = ["pytester"]
PAGE = Path(__file__).parents[2] / "docs" / "readers.md"
PLATE = "HOLES 3\n10 0 2.5\n20 0 4\nEND\n"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A distribution `plateshop` 1.0 on the path, as an installer would put it there."""
    (tmp_path / "points_reader.py").write_text(blocks("python")[0], encoding="utf-8")
    info = tmp_path / "plateshop-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: plateshop\nVersion: 1.0\n", encoding="utf-8")
    (point,) = re.findall(r'holes = "(.*)"', blocks("toml")[0])
    (info / "entry_points.txt").write_text(f"[steadyrest.readers]\nholes = {point}\n", encoding="utf-8")
    (tmp_path / "plate.holes").write_text(PLATE, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    return tmp_path


def test_a_reader_of_a_package_is_found_and_its_file_becomes_a_toolpath(package: Path) -> None:
    assert ("holes", "package plateshop 1.0", "") in [(each.name, each.where, each.error) for each in find_readers()]
    part = PartOptions.model_validate({"clearance": 50, "tools": [{"number": 3, "shape": "drill", "diameter": 5, "point_angle": 118}]})
    (operation,) = take([Input(file=package / "plate.holes")], part).operations
    assert operation.moves is not None
    assert [(10, 0, 17.5), (20, 0, 16)] == [(*move.hole, move.bottom) for move in operation.moves]  # type: ignore[union-attr]


@pytest.mark.parametrize(("text", "failed"), [(PLATE, 0), (PLATE.replace("END\n", "") + "30 0 1\n", 1)])
def test_the_tests_of_the_page_hold_the_reader_to_the_contract(
    text: str, failed: int, package: Path, pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytester.makepyfile(test_holes=blocks("python")[1])
    (pytester.mkdir("tests") / "plate.holes").write_text(text, encoding="utf-8")
    result = pytester.runpytest_inprocess("-p", "no:randomly", "-p", "no:cacheprovider")
    result.assert_outcomes(passed=6 - failed, failed=failed)
