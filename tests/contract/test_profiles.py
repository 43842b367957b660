"""What every bundled profile has to keep. The profiles are found by themselves: a folder in controllers/ is a profile."""

from __future__ import annotations

import re
import tomllib
import typing
from pathlib import Path
from typing import Annotated, Any

import pytest
from jsonschema import Draft202012Validator

from steadyrest.profile import (
    Profile,
    bundled_folder,
    find_profiles,
    kept_key,
    load_profile,
    profile_digest,
    profile_schema,
    resolve,
    show_text,
)
from steadyrest.profile.axes import LinearAxis, Rotary
from steadyrest.profile.base import Settings
from steadyrest.profile.files import FILE_NAME
from steadyrest.profile.inheritance import built_in
from steadyrest.toml_text import lines_of_keys

NAMES = sorted(file.parent.name for file in bundled_folder().glob(f"*/{FILE_NAME}"))

NEVER_DIFFERENT = {
    "codes.trusted": "codes of a shop's own templates; no bundled template writes one",
    "rotary.*.leans": "a group: its two settings differ",
    "positions.turning": "so far the words of every program say where the axes go",
    "positions.planes": "the same",
    "delivery.folder": "a place in one shop, which no profile for everybody can know",
    "cycles.r_letter": "R in NISTIR 6556, the one published list of the words of cycles",
    "program.block_numbers.letter": "N in every published list",
    "tool.letter": "T in every published list",
}


def file_of(name: str) -> Path:
    return bundled_folder() / name / FILE_NAME


def stated_by(name: str) -> dict[str, Any]:
    return tomllib.loads(file_of(name).read_text(encoding="utf-8"))


def leaves(table: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict) and value:
            found |= leaves(value, f"{prefix}{key}.")
        else:
            found[f"{prefix}{key}"] = value
    return found


def general(key: str) -> str:
    """The setting whatever the letter or the kind of number: rotary.A.steps and rotary.B.steps are one, numbers.*.point too."""
    key = re.sub(r"^(rotary|linear|numbers\.by_letter)\.[A-Z]\.", r"\1.*.", key)
    return re.sub(r"^numbers\.(by_letter\.\*|length|angle|feed|inverse_feed|dwell|spindle)\.", "numbers.*.", key)


def test_more_than_ten_profiles_are_bundled() -> None:
    assert len(NAMES) > 10


def test_no_two_bundled_profiles_are_the_same() -> None:
    digests = {profile_digest(load_profile(file_of(name)).model_copy(update={"name": "", "speaks": "the same"})) for name in NAMES}
    assert len(NAMES) == len(digests)


def test_find_profiles_lists_every_bundled_folder_without_an_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    found = [each for each in find_profiles() if each.where == "bundled"]
    assert NAMES == [each.name for each in found]
    assert [""] * len(NAMES) == [each.error for each in found]


@pytest.mark.parametrize("name", NAMES)
class TestEveryBundledProfile:
    def test_it_loads_under_the_name_of_its_folder(self, name: str) -> None:
        assert name == load_profile(file_of(name)).name

    def test_its_name_is_made_of_small_letters_digits_and_hyphens(self, name: str) -> None:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)

    def test_it_says_of_itself_what_it_speaks(self, name: str) -> None:
        assert stated_by(name)["speaks"].endswith(".")

    def test_each_stated_setting_comes_from_its_own_file(self, name: str) -> None:
        resolved = resolve(file_of(name))
        stated = set(map(kept_key, leaves(stated_by(name)))) - {"extends", "drop"}
        assert {str(file_of(name))} == {resolved.origins[key] for key in stated}

    def test_each_setting_not_stated_has_the_value_of_the_parent(self, name: str) -> None:
        table = stated_by(name)
        parent = resolve(file_of(table["extends"])) if "extends" in table else None
        here = resolve(file_of(name))
        below = show_values(parent.profile) if parent else {key: value[0] if value else {} for key, value in leaves(built_in()).items()}
        different = {key for key, value in show_values(here.profile).items() if key in below and below[key] != value}
        unstated = {key for key in different if here.origins[key] != str(file_of(name))}
        assert set() == unstated

    def test_each_stated_setting_has_its_source_in_a_comment(self, name: str) -> None:
        lines = file_of(name).read_text(encoding="utf-8").splitlines()
        keys = lines_of_keys("\n".join(lines))
        without = []
        for key in leaves(stated_by(name)):
            if key in ("extends", "speaks"):
                continue
            line = keys[key]
            above = lines[line - 2] if line > 1 else ""
            if not re.search(r"#\s*\S.*\S", strings_out(lines[line - 1])) and not above.lstrip().startswith("# "):
                without.append(key)
        assert [] == without

    def test_what_controller_show_prints_is_the_same_profile(self, name: str, tmp_path: Path) -> None:
        resolved = resolve(file_of(name))
        folder = tmp_path / name
        folder.mkdir()
        (folder / FILE_NAME).write_text(show_text(resolved), encoding="utf-8")
        assert resolved.profile == load_profile(folder)

    def test_it_is_valid_by_the_json_schema(self, name: str) -> None:
        assert [] == [error.message for error in Draft202012Validator(profile_schema()).iter_errors(stated_by(name))]


def show_values(profile: Profile) -> dict[str, Any]:
    return leaves(profile.model_dump(by_alias=True, exclude={"name"}))


def strings_out(line: str) -> str:
    return re.sub(r"\"[^\"]*\"|'[^']*'", "", line)


def test_every_setting_differs_from_its_default_in_some_bundled_profile() -> None:
    profiles = [load_profile(file_of(name)) for name in NAMES]
    defaults = (
        {key: value[0] if value else {} for key, value in leaves(built_in()).items()}
        | group_defaults(Rotary, "rotary.A.")
        | group_defaults(LinearAxis, "linear.X.")
    )
    different = {
        general(key)
        for profile in profiles
        for key, value in show_values(profile).items()
        if value != defaults.get(re.sub(r"^rotary\.[BC]", "rotary.A", re.sub(r"^linear\.[YZ]", "linear.X", key)))
    }
    every = {general(key) for key in defaults} - {"rotary", "linear", "numbers.by_letter"}
    unused = every - different
    assert set(NEVER_DIFFERENT) == unused


def test_every_choice_of_every_setting_is_made_by_some_bundled_profile() -> None:
    made: set[tuple[str, Any]] = set()
    for name in NAMES:
        for key, value in show_values(load_profile(file_of(name))).items():
            made |= {(general(key), each) for each in (value if isinstance(value, tuple) else (value,)) if not isinstance(each, dict)}
    lacking = {(key, choice) for key, choice in choices(Profile, "") if (general(key), choice) not in made}
    # A rotary never takes the place of these: Z is the spindle's; X would do for one along Y, as Y does for one along X. The words of
    # every program so far say where the axes go.
    assert {
        ("rotary.A.replaces", "X"),
        ("rotary.A.replaces", "Z"),
        ("positions.turning", "tip_control"),
        ("positions.planes", "tilted"),
    } == lacking


def group_defaults(group: type[Settings], prefix: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, field in group.model_fields.items():
        default = field.default.model_dump(by_alias=True) if isinstance(field.default, Settings) else field.default
        found |= leaves({field.alias or name: default}, prefix)
    return found


def choices(group: type[Settings], prefix: str) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for name, field in group.model_fields.items():
        key = prefix + (field.alias or name)
        annotation = field.annotation
        origin = typing.get_origin(annotation)
        if origin is dict:
            inside = typing.get_args(annotation)[1]
            found += choices(inside, f"{key}.A.") if inside is Rotary else []
        elif isinstance(annotation, type) and origin is None and issubclass(annotation, Settings):
            found += choices(annotation, key + ".")
        elif annotation is bool:
            found += [(key, True), (key, False)]
        else:
            inner = typing.get_args(annotation)[0] if origin is tuple else annotation
            inner = typing.get_args(inner)[0] if typing.get_origin(inner) is Annotated else inner
            found += [(key, each) for each in typing.get_args(inner)] if typing.get_origin(inner) is typing.Literal else []
    return found


def test_the_schema_is_a_valid_json_schema() -> None:
    Draft202012Validator.check_schema(profile_schema())


@pytest.mark.parametrize(
    "wrong",
    [
        {"words": {"space": True}},
        {"numbers": {"length": {"decimals": "3"}}},
        {"rotary": {"D": {}}},
        {"arcs": {"form": "spiral"}},
        {"drop": "A"},
    ],
    ids=["unknown key", "wrong type", "unknown rotary", "value not allowed", "drop no list"],
)
def test_the_schema_refuses_what_the_models_refuse(wrong: dict[str, Any]) -> None:
    assert not Draft202012Validator(profile_schema()).is_valid(wrong)
