"""Packages with plug-ins, installed for one test."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent

import pytest
from hooks_parts import IMPORTS, Install


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Put packages with an entry point in `steadyrest.events` on the path, as an installer would."""
    packages: list[str] = []

    def make(body: str, *, package: str = "shophooks", version: str = "1.4", point: str = "shop") -> Path:
        site = tmp_path / f"site_{package}"
        folder = site / package
        folder.mkdir(parents=True)
        (folder / "__init__.py").write_text("", encoding="utf-8")
        (folder / "events.py").write_text(IMPORTS + dedent(body), encoding="utf-8")
        info = site / f"{package}-{version}.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: {version}\n", encoding="utf-8")
        (info / "entry_points.txt").write_text(f"[steadyrest.events]\n{point} = {package}.events\n", encoding="utf-8")
        monkeypatch.syspath_prepend(str(site))
        packages.append(package)
        return folder

    yield make
    for module in [name for name in sys.modules if name.partition(".")[0] in packages]:
        del sys.modules[module]
