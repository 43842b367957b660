"""The tour is found in a checkout and in an installed package, and it ships."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from steadyrest.errors import ProfileError
from steadyrest.profile_tools import tour, tour_folder

CHECKOUT = Path(__file__).parents[3]


def test_in_a_checkout_the_tour_is_that_of_the_golden_files() -> None:
    assert CHECKOUT / "tests" / "golden" / "tour" == tour_folder()


def test_installed_the_tour_lies_inside_the_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "tour").mkdir()
    monkeypatch.setattr("steadyrest.profile.files.CHECKOUT", tmp_path / "elsewhere")
    monkeypatch.setattr("steadyrest.profile.files.PACKAGE", tmp_path)
    assert tmp_path / "tour" == tour_folder()


def test_without_the_tour_the_installation_is_damaged(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("steadyrest.profile.files.CHECKOUT", tmp_path)
    monkeypatch.setattr("steadyrest.profile.files.PACKAGE", tmp_path)
    with pytest.raises(ProfileError, match="install steadyrest again"):
        tour_folder()


def test_the_wheel_takes_the_tour_along() -> None:
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "steadyrest/tour" == project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]["tests/golden/tour"]


def test_the_tour_has_every_intent_every_axis_and_both_units() -> None:
    toolpaths = tour().values()
    assert {"indexed", "wrapped", "simultaneous", "still"} == {op.rotary.intent for each in toolpaths for op in each.operations}
    assert ({"X", "Y", "Z"}, {"mm", "inch"}) == ({each.axis for each in toolpaths}, {each.units for each in toolpaths})
