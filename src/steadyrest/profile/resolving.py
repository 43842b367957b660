"""What is a profile once its parents and the overrides of this run are taken together?"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from steadyrest.profile.chain import Inherited, inherit, over_defaults
from steadyrest.profile.model import Profile
from steadyrest.profile.overrides import override
from steadyrest.profile.places import shared_templates_folder
from steadyrest.profile.search import folder_of
from steadyrest.profile.wording import profile_error

BUILT_IN = "built-in default"


@dataclass(frozen=True, slots=True)
class ResolvedProfile:
    """A profile, and where everything in it comes from.

    profile            the settings
    origins            dotted key of every setting -> the file that stated it, "--set", or "built-in default"
    chain              folders, the profile's own first, then its parent, the parent's parent and so on
    template_folders   where templates are looked for, in this order: own, parents', shared
    """

    profile: Profile
    origins: Mapping[str, str]
    chain: tuple[Path, ...]
    template_folders: tuple[Path, ...]


def load_profile(name_or_path: str | Path, sets: Sequence[str] = ()) -> Profile:
    """The profile of that name or path, with `KEY=VALUE` texts laid over it.

    Raises ProfileError, which names file and key, for everything that is wrong with it.
    """
    return _profile(_stated(name_or_path, sets))


def resolve(name_or_path: str | Path, sets: Sequence[str] = ()) -> ResolvedProfile:
    """The same as `load_profile`, with the origin of every setting and the folders of its templates. Raises ProfileError."""
    inherited = _stated(name_or_path, sets)
    profile = _profile(inherited)
    origins = {key: _origin(key, inherited.sources) for key in flat(profile)}
    own = [folder / "templates" for folder in inherited.chain if (folder / "templates").is_dir()]
    return ResolvedProfile(profile, origins, inherited.chain, (*own, shared_templates_folder()))


def flat(profile: Profile) -> dict[str, Any]:
    """Every setting by its dotted key, as spelled in TOML; the name is no setting."""
    values: dict[str, Any] = {}

    def walk(table: Mapping[str, Any], prefix: str) -> None:
        for key, value in table.items():
            if isinstance(value, dict) and value:
                walk(value, f"{prefix}{key}.")
            else:
                values[f"{prefix}{key}"] = value

    walk(profile.model_dump(by_alias=True, exclude={"name"}), "")
    return values


def profile_digest(profile: Profile) -> str:
    """SHA-256, in hexadecimal, over the settings that are not the default: equal for equal profiles, whatever files they came from.

    A setting that a later version adds, at its default, leaves the digests of programs that are years old as they are.
    Where a program is delivered to says nothing of what is in it, so `delivery` is left out.
    """
    stated = profile.model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude={"delivery"})
    text = json.dumps(stated, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _stated(name_or_path: str | Path, sets: Sequence[str]) -> Inherited:
    said = str(name_or_path) if isinstance(name_or_path, str) else str(name_or_path.absolute())
    inherited = inherit(folder_of(said))
    override(inherited.stated, inherited.sources, sets)
    return inherited


def _profile(inherited: Inherited) -> Profile:
    folder = inherited.chain[0]
    table = _with_tuples(over_defaults(inherited.stated))
    try:
        return Profile.model_validate({"name": folder.name, **table}, strict=True)
    except ValidationError as error:
        raise profile_error(error, folder, inherited.sources) from None


def _origin(key: str, sources: Mapping[str, str]) -> str:
    return sources.get(key, BUILT_IN)


def _with_tuples(value: Any) -> Any:
    # Validation is strict, so that "3" is no number and 1 is no truth value; TOML's lists are the models' tuples.
    if isinstance(value, dict):
        return {key: _with_tuples(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return tuple(_with_tuples(inner) for inner in value)
    return value
