"""What installed packages offer is found wherever Python itself would find it, and Python is only asked where a package names the group."""

from __future__ import annotations

import importlib.metadata
import sys
import zipfile
from pathlib import Path

import pytest

from steadyrest.packages import offered, package_of

GROUP = "steadyrest.of-this-test"
METADATA = "Metadata-Version: 2.1\nName: inlay\nVersion: 1.2\n"
POINTS = f"[{GROUP}]\nlate = inlay.late\nearly = inlay.early\n"


@pytest.fixture(params=["folder", "egg", "archive", "finder"])
def inlay(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A package in one of the forms in which Python finds packages."""
    site = tmp_path / "inlay-1.2.egg" if request.param == "egg" else tmp_path / "site"
    info = site / "EGG-INFO" if request.param == "egg" else site / "Inlay-1.2.dist-info"
    info.mkdir(parents=True)
    (info / ("PKG-INFO" if request.param == "egg" else "METADATA")).write_text(METADATA)
    (info / "entry_points.txt").write_text(POINTS)
    if request.param == "archive":
        with zipfile.ZipFile(tmp_path / "site.zip", "w") as archive:
            for file in info.iterdir():
                archive.write(file, f"{info.name}/{file.name}")
        site = tmp_path / "site.zip"
    if request.param == "finder":

        class Finder(importlib.metadata.DistributionFinder):
            def find_spec(self, *asked: object) -> None:
                return None

            def find_distributions(self, context: object = None) -> list[importlib.metadata.Distribution]:  # type: ignore[override]
                return [importlib.metadata.PathDistribution(info)]

        monkeypatch.setattr(sys, "meta_path", [*sys.meta_path, Finder()])
    else:
        monkeypatch.syspath_prepend(str(site))


@pytest.mark.usefixtures("inlay")
def test_entry_points_are_found_in_every_form_of_a_package_and_ordered_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(tmp_path / "another path, so that it is asked anew"))
    assert [("early", "package inlay 1.2"), ("late", "package inlay 1.2")] == [(one.name, package_of(one)) for one in offered(GROUP)]


def test_where_no_package_names_the_group_python_is_not_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    info = tmp_path / "other-1.dist-info"
    info.mkdir()
    (info / "entry_points.txt").write_text("[console_scripts]\nother = other:main\n")
    monkeypatch.setattr(sys, "path", [str(tmp_path), str(tmp_path / "is not there")])
    monkeypatch.setattr("importlib.metadata.entry_points", None)
    assert () == offered(GROUP)
