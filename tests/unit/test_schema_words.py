"""What a piece of JSON schema allows is said in words, with what is to be typed as code."""

from __future__ import annotations

from typing import Any

import pytest

from steadyrest.profile import profile_schema
from steadyrest.profile_tools import groups
from steadyrest.schema_words import allowed, default

CASES: list[tuple[dict[str, Any], str]] = [
    ({"enum": ["a", "b"]}, '`"a"`, `"b"`'),
    ({"const": 1}, "`1`"),
    ({"type": "boolean"}, "`true` or `false`"),
    ({"type": "number", "exclusiveMinimum": 0, "maximum": 360}, "a number more than 0 and at most 360"),
    ({"anyOf": [{"type": "integer", "minimum": 0}, {"type": "null"}]}, "a whole number at least 0"),
    ({"type": "array", "items": {"type": "string"}}, "a list; each: text"),
    ({"type": "array", "prefixItems": [{"type": "number"}] * 4}, "a list of 4 numbers"),
    ({"type": "string", "pattern": r"^[A-Z]$"}, "one capital letter"),
    ({"type": "string", "minLength": 8}, "text, at least 8 characters"),
    ({"type": "string", "format": "path"}, "the name of a file"),
]


@pytest.mark.parametrize(("schema", "words"), CASES)
def test_each_kind_is_said(schema: dict[str, Any], words: str) -> None:
    assert words == allowed(schema)


def test_no_setting_of_a_profile_shows_a_pattern_instead_of_words() -> None:
    assert [] == [each.key for group in groups() for each in group.settings if "such as `^" in allowed(each.schema)]
    assert "a table" in allowed(profile_schema()["properties"]["rotary"])


@pytest.mark.parametrize(
    ("schema", "words"), [({}, ""), ({"default": 5.0}, "`5`"), ({"default": None}, "not set"), ({"default": {}}, "as below")]
)
def test_a_default_is_said_as_it_is_typed(schema: dict[str, Any], words: str) -> None:
    assert words == default(schema)
