"""Where profiles are found, which one a name means, and what becomes of broken ones."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

import pytest
from profile_parts import SPEAKS, MakeProfile

from steadyrest.errors import ProfileError
from steadyrest.profile import FoundProfile, files, find_profiles, list_text, load_profile, resolve, show_text
from steadyrest.profile.files import own_folder, shipped_folder, user_folder


def found(name: str) -> list[FoundProfile]:
    return [each for each in find_profiles() if each.name == name]


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make_profile: MakeProfile) -> Iterator[Callable[..., None]]:
    """Put a package `shopparts` with a profile folder and an entry point on the path, as an installer would."""

    def make(*, profile: str = "packaged", text: str = SPEAKS, module: str = "shopparts.controllers", init: str = "") -> None:
        site = tmp_path / "site"
        package = site / "shopparts"
        package.mkdir(parents=True)
        (package / "__init__.py").write_text(init, encoding="utf-8")
        (package / "controllers").mkdir()
        (package / "controllers" / "__init__.py").write_text("", encoding="utf-8")
        make_profile(profile, text, inside=package / "controllers")
        info = site / "shopparts-2.5.dist-info"
        info.mkdir()
        (info / "METADATA").write_text("Metadata-Version: 2.1\nName: shopparts\nVersion: 2.5\n", encoding="utf-8")
        (info / "entry_points.txt").write_text(f"[steadyrest.controllers]\nshop = {module}\n", encoding="utf-8")
        monkeypatch.syspath_prepend(str(site))

    yield make
    for module in [name for name in sys.modules if name.partition(".")[0] == "shopparts"]:
        del sys.modules[module]


def test_a_profile_is_found_by_the_path_of_its_folder(make_profile: MakeProfile) -> None:
    assert "mine" == load_profile(str(make_profile("mine"))).name


def test_a_profile_is_found_by_the_path_of_its_file(make_profile: MakeProfile) -> None:
    assert "mine" == load_profile(make_profile("mine") / "controller.toml").name


def test_a_folder_in_the_current_directory_is_found_when_no_profile_has_the_name(
    make_profile: MakeProfile, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(make_profile("mine").parent)
    assert "mine" == load_profile("mine").name


def test_a_folder_in_the_current_directory_never_takes_the_name_of_a_profile(
    make_profile: MakeProfile, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(make_profile("rs274ngc").parent)
    assert ["A"] == list(load_profile("rs274ngc").rotary)


def test_a_profile_of_the_users_folder_is_found_by_name(make_profile: MakeProfile) -> None:
    make_profile("mine", inside=user_folder())
    assert "mine" == load_profile("mine").name
    assert ["user configuration"] == [each.where for each in found("mine")]


def test_the_users_own_profile_wins_over_a_bundled_one_and_the_list_says_so(make_profile: MakeProfile) -> None:
    make_profile("rs274ngc", inside=user_folder())
    assert {} == load_profile("rs274ngc").rotary
    assert {"user configuration": "", "bundled": "user configuration"} == {each.where: each.hidden_by for each in found("rs274ngc")}
    assert "hidden by the profile of the same name from the user configuration" in list_text(find_profiles())


def test_a_bundled_child_keeps_its_bundled_parent_whatever_the_user_calls_rs274ngc(make_profile: MakeProfile) -> None:
    make_profile("rs274ngc", inside=user_folder())
    assert "G93" == load_profile("rs274ngc-b").feed.inverse_code


def test_a_profile_of_an_installed_package_is_found_by_name_and_named_with_its_version(install: Callable[..., None]) -> None:
    install()
    assert "packaged" == load_profile("packaged").name
    assert ["package shopparts 2.5"] == [each.where for each in found("packaged")]


def test_a_bundled_profile_wins_over_one_of_a_package(install: Callable[..., None]) -> None:
    install(profile="rs274ngc")
    assert ["A"] == list(load_profile("rs274ngc").rotary)
    assert {"bundled": "", "package shopparts 2.5": "bundled"} == {each.where: each.hidden_by for each in found("rs274ngc")}


def test_a_broken_profile_of_a_package_is_listed_with_its_cause_and_the_others_stay(install: Callable[..., None]) -> None:
    install(text=SPEAKS + "words.space = true\n")
    assert "there is no setting words.space" in found("packaged")[0].error
    assert [""] == [each.error for each in found("rs274ngc")]
    assert "broken: " in list_text(find_profiles())


def test_a_package_that_cannot_be_imported_is_listed_with_its_cause_and_the_others_stay(install: Callable[..., None]) -> None:
    install(init="raise RuntimeError('no licence today')\n")
    assert ["module shopparts.controllers cannot be used: RuntimeError: no licence today"] == [each.error for each in found("shop")]
    assert [""] == [each.error for each in found("rs274ngc")]


def test_an_entry_point_to_a_missing_module_is_listed_with_its_cause(install: Callable[..., None]) -> None:
    install(module="shopparts.nowhere")
    assert ["module shopparts.nowhere is not there"] == [each.error for each in found("shop")]


def test_a_broken_profile_that_is_asked_for_is_an_error_with_its_cause(install: Callable[..., None]) -> None:
    install(text=SPEAKS + "words.space = true\n")
    with pytest.raises(ProfileError, match=r"there is no setting words\.space"):
        load_profile("packaged")


def test_an_unknown_name_is_refused_with_the_nearest_and_all_names() -> None:
    with pytest.raises(ProfileError, match="no profile called 'rollover-sing'") as caught:
        load_profile("rollover-sing")
    assert caught.value.cure.startswith("did you mean rollover-sign")
    assert "y-drives-rotary" in caught.value.cure


def test_a_path_that_leads_nowhere_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="there is no folder"):
        load_profile(str(tmp_path / "nothing"))


def test_a_folder_without_the_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=r"there is no controller\.toml in"):
        load_profile(str(tmp_path))


def test_in_a_checkout_the_folders_of_the_checkout_count_even_when_a_copy_is_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("checkout/controllers", "package/controllers"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "checkout" / "pyproject.toml").touch()
    monkeypatch.setattr(files, "CHECKOUT", tmp_path / "checkout")
    monkeypatch.setattr(files, "PACKAGE", tmp_path / "package")
    assert tmp_path / "checkout" / "controllers" == shipped_folder("controllers")


def test_installed_the_folders_inside_the_package_count(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "package" / "templates").mkdir(parents=True)
    monkeypatch.setattr(files, "CHECKOUT", tmp_path / "site")
    monkeypatch.setattr(files, "PACKAGE", tmp_path / "package")
    assert tmp_path / "package" / "templates" == shipped_folder("templates")


def test_a_damaged_installation_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "CHECKOUT", tmp_path)
    monkeypatch.setattr(files, "PACKAGE", tmp_path)
    with pytest.raises(ProfileError, match="the folder controllers is missing"):
        shipped_folder("controllers")


def test_controller_show_names_the_file_behind_each_value(make_profile: MakeProfile) -> None:
    folder = make_profile("mine", 'extends = "rs274ngc"\nwords.spaces = false\n')
    lines = show_text(resolve(folder, ["rotary.A.chuck_faces=-X"])).splitlines()
    by_key = {line.split(" = ")[0]: line.split("  # ")[-1] for line in lines if " = " in line}
    assert ["mine/controller.toml", "rs274ngc/controller.toml", "--set", "built-in default"] == [
        by_key[key] for key in ("spaces", "inverse_code", "chuck_faces", "overshoot")
    ]


@pytest.mark.parametrize("said", ["", " ", "a" * 5000, "nul\0l", "~nobody-of-that-name/x", "/" + "a" * 5000])
def test_strange_names_are_refused_like_any_other(said: str) -> None:
    with pytest.raises(ProfileError, match="there is no"):
        load_profile(said)


def test_a_linked_folder_has_the_name_of_the_link(make_profile: MakeProfile, tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "today").symlink_to(make_profile("mounted-left", inside=tmp_path / "elsewhere"))
    assert "today" == load_profile(tmp_path / "shop" / "today").name


@pytest.mark.parametrize("kind", ["config", "state"])
@pytest.mark.parametrize("stated", ["", "not/absolute"])
def test_without_a_stated_place_the_systems_own_is_meant_and_the_former_one_where_only_that_is_there(
    kind: Literal["config", "state"], stated: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, stated)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setattr("sys.platform", "darwin")
    library = tmp_path / "Library"
    monkeypatch.setattr("platformdirs.user_config_path", lambda *_, **__: library)
    monkeypatch.setattr("platformdirs.user_state_path", lambda *_, **__: library)
    assert library == own_folder(kind)
    former = tmp_path / (".config" if kind == "config" else ".local/state") / "steadyrest"
    former.mkdir(parents=True)
    assert former == own_folder(kind)
    library.mkdir()
    assert library == own_folder(kind)


def test_a_stated_place_is_meant_whatever_else_is_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "stated"))
    assert tmp_path / "stated" / "steadyrest" / "controllers" == user_folder()
