"""What is wrong with a profile, in words: where it stands, what was found, what is allowed, the cure."""

from __future__ import annotations

import typing
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import Style, keys_of, nearest, spot_of, told, unwrapped
from steadyrest.profile.base import PATTERNS, Settings
from steadyrest.profile.files import FILE_NAME, line_of, said_names
from steadyrest.profile.model import Profile

MOST_TOLD = 9
"""Besides the first."""

_STYLE = Style(
    table="a table of settings",
    guess="did you mean {}",
    sentences={
        "missing": ("{key} is missing", "state it"),
        "entry": ("there are only {key} values in the list", "give all the numbers"),
        "choice": ("{found} is not allowed; allowed: {expected}", "write one of those"),
        "bound": ("{found} is not allowed: it has to be {allowed}", "correct the number"),
        "type": ("{found} is not {allowed}", "write {allowed}"),
        "short": ("{found} is too short: at least {allowed} are needed", "add what is missing"),
        "long": ("{found} is too long: at most {allowed} are allowed", "take out what is too much"),
        "other": ("{found} is not allowed here", "compare with the list of settings"),
    },
    patterns=PATTERNS,
)


def profile_error(error: ValidationError, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    """All that is wrong, as one error: the first, with the others beside it; each names the file that stated the value."""
    found = [_one_error(each, folder, sources) for each in error.errors(include_url=False)]
    found.sort(key=lambda each: (each.place.file or "", each.place.line or 0))
    first, also = found[0], found[1:]
    if len(also) > MOST_TOLD:
        also = [*also[:MOST_TOLD], ProfileError(f"{len(also) - MOST_TOLD} more", cure="correct these first")]
    return ProfileError(first.wrong, place=first.place, cure=first.cure, also=also)


def _one_error(detail: ErrorDetails, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    spot = spot_of(Profile, detail["loc"])
    keys = [str(key) for key in spot.keys]
    if detail["type"] == "combination":
        context = detail["ctx"]
        keys += [part for part in str(context["key"]).split(".") if part]
        wrong, cure = str(context["sentence"]), str(context["cure"])
    elif detail["type"] == "extra_forbidden":
        wrong, cure = unknown_key(keys)
    elif detail["type"] == "literal_error" and keys[:-1] in (["rotary"], ["linear"]):
        what, cure = ("rotary", "its table's name is its letter: [rotary.A]") if keys[0] == "rotary" else ("linear axis", "")
        wrong = f"a {what} cannot be called {keys[-1]}; allowed: {detail['ctx']['expected']}"
    else:
        wrong, cure = told(detail, spot, _STYLE)
    source = _source(keys, sources)
    if source is None:
        source = "--set" if "--set" in sources.values() else str(folder / FILE_NAME)
    line = line_of(Path(source), ".".join(keys)) if source != "--set" else None
    return ProfileError(wrong, place=Place(file=source, line=line, key=".".join(keys)), cure=cure)


def unknown_key(keys: list[str]) -> tuple[str, str]:
    """The sentence and the cure for a key that nobody knows: the nearest names, what is allowed here."""
    wrong = f"there is no setting {'.'.join(keys)}"
    if len(keys) > 1 and keys[-1] in Profile.model_fields:
        heading = ".".join(keys[:-1])
        return (
            wrong,
            f"it is under the heading [{heading}]: put the line above all headings, or leave out the part that the heading gives already",
        )
    group = spot_of(Profile, keys).group
    allowed = sorted(keys_of(group))
    if group is Profile:
        allowed = sorted([*allowed, "extends", "drop"])
        allowed.remove("name")
    close = nearest(keys[-1], allowed)
    if not close:
        every = all_keys()
        close = [key for key in every if key.rsplit(".", 1)[-1] == keys[-1]][:3] or nearest(".".join(keys), every)
    guess = said_names("did you mean", close)
    listed = f"allowed here: {', '.join(allowed)}" if allowed else ""
    return wrong, "; ".join(filter(None, [guess, listed]))


@cache
def all_keys() -> tuple[str, ...]:
    """The dotted names of all settings; K stands for any letter."""
    return tuple(key for key in _keys_in(Profile, "") if key != "name")


def _keys_in(annotation: Any, prefix: str) -> Iterator[str]:
    bare = unwrapped(annotation)
    if isinstance(bare, type) and issubclass(bare, Settings):
        for name, field in bare.model_fields.items():
            yield from _keys_in(field.annotation, f"{prefix}.{field.alias or name}".removeprefix("."))
    elif typing.get_origin(bare) is dict:
        letters, group = typing.get_args(bare)
        for letter in typing.get_args(unwrapped(letters)) or ("K",):
            yield from _keys_in(group, f"{prefix}.{letter}")
    else:
        yield prefix


def _source(keys: list[str], sources: Mapping[str, str]) -> str | None:
    """Who stated the key, or something inside it, or the value that it is a part of (a list's second entry)."""
    dotted = ".".join(keys)
    inside = (source for key, source in sources.items() if key == dotted or key.startswith(dotted + "."))
    around = (sources[head] for length in range(len(keys) - 1, 0, -1) if (head := ".".join(keys[:length])) in sources)
    return next(inside, None) or next(around, None)
