"""A shop's folder of profiles for each test, and no profile of whoever runs the tests."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from profile_tools_parts import MakeProfile, Repository


@pytest.fixture(autouse=True)
def _no_own_profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "config"))


@pytest.fixture
def make_profile(tmp_path: Path) -> MakeProfile:
    """Write a child of rs274ngc with these settings, and templates by their names; the profile's folder."""

    def make(settings: str = "", *, name: str = "shop-mill", extends: str = "rs274ngc", **templates: str) -> Path:
        folder = tmp_path / "shop" / "controllers" / name
        (folder / "templates").mkdir(parents=True, exist_ok=True)
        text = f'extends = "{extends}"\nspeaks = "A profile made for one test."\n{settings}\n'
        (folder / "controller.toml").write_text(text, encoding="utf-8")
        for event, template in templates.items():
            (folder / "templates" / f"{event}.j2").write_text(template, encoding="utf-8")
        return folder

    return make


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    """Make the shop's folder a git repository, or commit what has changed in it."""

    def commit(message: str) -> None:
        shop = tmp_path / "shop"
        who = ["-c", "user.name=A Machinist", "-c", "user.email=machinist@shop.example", "-c", "commit.gpgsign=false"]
        for arguments in (["init", "-q"], ["add", "-A"], [*who, "commit", "-q", "-m", message]):
            subprocess.run(["git", "-C", str(shop), *arguments], check=True, capture_output=True)

    return commit
