"""A shop's folder of profiles for each test, and no profile of whoever runs the tests."""

from __future__ import annotations

from pathlib import Path

import pytest
from profile_parts import SPEAKS, MakeProfile, Refusal

from steadyrest.errors import ProfileError
from steadyrest.profile import load_profile


@pytest.fixture(autouse=True)
def _no_own_profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "config"))


@pytest.fixture
def make_profile(tmp_path: Path) -> MakeProfile:
    """Write NAME/controller.toml, in the shop's folder unless another is given, and return the profile's folder."""

    def make(name: str, text: str = SPEAKS, inside: Path | None = None) -> Path:
        folder = (inside if inside is not None else tmp_path / "shop") / name
        folder.mkdir(parents=True)
        (folder / "controller.toml").write_text(text, encoding="utf-8")
        return folder

    return make


@pytest.fixture
def refusal(make_profile: MakeProfile) -> Refusal:
    """The error for a child of rs274ngc with this text, or for rs274ngc with these overrides."""

    def refuse(text: str = "", *, sets: tuple[str, ...] = ()) -> ProfileError:
        folder = make_profile("child", f'extends = "rs274ngc"\n{text}\n')
        with pytest.raises(ProfileError) as caught:
            load_profile(folder, sets)
        return caught.value

    return refuse
