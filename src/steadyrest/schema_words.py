"""What does a piece of JSON schema allow, in words? One way for settings, toolpaths, job files and mapping files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from steadyrest.profile import PATTERNS as PATTERNS_IN_WORDS

Schema = Mapping[str, Any]

_BOUNDS = (("exclusiveMinimum", "more than"), ("minimum", "at least"), ("exclusiveMaximum", "less than"), ("maximum", "at most"))
_KINDS = {"number": "a number", "integer": "a whole number", "boolean": "`true` or `false`", "object": "a table"}


def name_of(reference: str) -> str:
    """The definition that a `$ref` names."""
    return reference.rsplit("/", 1)[-1]


def anchor(prefix: str, definition: str) -> str:
    """The name of the place where a definition is explained."""
    return f"{prefix}-{definition.lower().strip('_')}"


def allowed(schema: Schema, prefix: str = "") -> str:
    """What a value may be, as Markdown.

    prefix   definitions that are referred to are linked to `prefix-NAME`; empty: only named
    """
    if "$ref" in schema:
        name = name_of(schema["$ref"])
        return f"[{name}](#{anchor(prefix, name)})" if prefix else f"a table {name}"
    for key in ("anyOf", "oneOf"):
        if key in schema:
            choices = [allowed(each, prefix) for each in schema[key] if each.get("type") != "null"]
            return ", or ".join(dict.fromkeys(choices))
    if "const" in schema:
        return _code(json.dumps(schema["const"]))
    if "enum" in schema:
        return ", ".join(_code(json.dumps(each)) for each in schema["enum"])
    if schema.get("type") == "array":
        return _list(schema, prefix)
    if schema.get("type") == "object" and isinstance(schema.get("additionalProperties"), Mapping):
        inside = allowed(schema["additionalProperties"], prefix)
        keys = ", ".join(_code(each) for each in schema.get("propertyNames", {}).get("enum", [])) or "names of your own"
        return f"a table of tables by name ({keys}), each {inside}"
    if schema.get("type") == "object" and schema.get("patternProperties"):
        return f"a table of tables by name, each {allowed(next(iter(schema['patternProperties'].values())), prefix)}"
    if schema.get("type") == "string":
        return _text(schema)
    bounds = [f"{words} {schema[key]:g}" for key, words in _BOUNDS if key in schema]
    return " ".join([_KINDS.get(str(schema.get("type")), "any value"), *([" and ".join(bounds)] if bounds else [])])


def _list(schema: Schema, prefix: str) -> str:
    if "prefixItems" in schema:
        kinds = [allowed(each, prefix) for each in schema["prefixItems"]]
        if len(set(kinds)) == 1:
            many = {"a number": "numbers"}.get(kinds[0], f"values, each {kinds[0]}")
            return f"a list of {len(kinds)} {many}"
        return "a list of " + ", then ".join(kinds)
    low, high = schema.get("minItems"), schema.get("maxItems")
    count = "" if low is None and high is None else f"{low}" if low == high else f"{low or 0} to {high}" if high else f"at least {low}"
    inside = allowed(schema.get("items", {}), prefix)
    return f"a list{' of ' + count if count else ''}; each: {inside}"


def _text(schema: Schema) -> str:
    pattern = schema.get("pattern")
    if pattern is not None:
        return PATTERNS_IN_WORDS.get(pattern, f"text such as {_code(pattern)} describes")
    if schema.get("format") == "path":
        return "the name of a file"
    low = schema.get("minLength")
    return f"text, at least {low} characters" if low and low > 1 else "text"


def default(schema: Schema) -> str:
    """The default as Markdown; empty where there is none."""
    if "default" not in schema:
        return ""
    value = schema["default"]
    if value is None or isinstance(value, Mapping):
        return "not set" if value is None else "as below"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return _code(json.dumps(value, ensure_ascii=False))


def _code(said: str) -> str:
    """Text as code, in a table too."""
    fence = "``" if "`" in said else "`"
    return f"{fence}{said}{fence}" if said else "(empty)"
