"""A shop with a thousand profiles: a name is looked up, never searched for among all, and thousands of keys cost what they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.profile import files as search
from steadyrest.profile import find_profiles, load_profile


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "steadyrest" / "controllers"
    for at in range(300):
        (folder / f"mill-{at}").mkdir(parents=True)
        text = f'extends = "rs274ngc"\nspeaks = "Mill {at} of a shop with many."\n'
        (folder / f"mill-{at}" / "controller.toml").write_text(text, encoding="utf-8")
    return folder


def test_listing_looks_at_each_profile_once(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[Path] = []
    holds = search._holds_profile
    monkeypatch.setattr(search, "_holds_profile", lambda folder: looked.append(folder) or holds(folder))
    found = find_profiles()
    assert 300 == sum(each.name.startswith("mill-") and not each.error for each in found)
    assert len(looked) < 10 * len(found)


def test_a_name_of_ones_own_goes_before_a_bundled_one(home: Path) -> None:
    (home / "rs274ngc").mkdir()
    (home / "rs274ngc" / "controller.toml").write_text('extends = "y-drives-rotary"\nspeaks = "Ours, under that name."\n', encoding="utf-8")
    assert "Ours, under that name." == load_profile("rs274ngc").speaks
