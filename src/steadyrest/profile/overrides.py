"""What does `--set KEY=VALUE` say?"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import Any

from steadyrest.errors import Place, ProfileError
from steadyrest.profile.chain import SET, merge
from steadyrest.profile.stated import Table
from steadyrest.profile.wording import unknown_key
from steadyrest.toml_text import parse_toml


def override(stated: Table, sources: dict[str, str], sets: Sequence[str]) -> None:
    """Lay `KEY=VALUE` texts over what a profile states, in place. Keys are dotted; later ones win.

    A value is taken as TOML if it is TOML (`true`, `12.5`, `["XY"]`), else as text: `-X` needs no quotes.
    Raises ProfileError for a text without `=`, an empty key, and a key that lies below a value.
    """
    for said in sets:
        dotted, equals, text = said.partition("=")
        keys = [key.strip() for key in dotted.split(".")]
        if not equals or not all(keys):
            raise ProfileError(f"{said!r} is not KEY=VALUE", place=Place(file=SET), cure="for example --set rotary.A.chuck_faces=-X")
        if keys[0] in ("extends", "drop", "name"):
            raise ProfileError(
                f"{keys[0]} belongs to a profile's file and cannot be set for one run",
                place=Place(file=SET, key=keys[0]),
                cure="make a profile of your own for it",
            )
        table: Any = stated
        for key in keys[:-1]:
            table = table.get(key, {})
            if not isinstance(table, dict):
                wrong, cure = unknown_key(keys)
                raise ProfileError(wrong, place=Place(file=SET, key=".".join(keys)), cure=cure)
        nested: Table = {keys[-1]: _value(text)}
        for key in reversed(keys[:-1]):
            nested = {key: nested}
        merge(stated, nested, sources, SET)


def _value(text: str) -> Any:
    try:
        parsed = parse_toml(f"value = {text.strip()}")
    except tomllib.TOMLDecodeError:
        return text
    value = parsed["value"]
    return value if len(parsed) == 1 and isinstance(value, (bool, int, float, str, list, dict)) else text
