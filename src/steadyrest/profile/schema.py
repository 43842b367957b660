"""The JSON schema of controller.toml: for editors, and for whoever wants to see every setting in one file."""

from __future__ import annotations

import json
from typing import Any

from steadyrest.profile.model import Profile


def profile_schema() -> dict[str, Any]:
    """The JSON schema of one controller.toml. Nothing is required: a profile states only what differs from its parent."""
    schema = Profile.model_json_schema(by_alias=True)
    for group in (schema, *schema["$defs"].values()):
        group.pop("required", None)
    properties = schema["properties"]
    del properties["name"]
    for each in properties.values():
        each.pop("default", None)  # the groups' own settings carry their defaults
    schema["properties"] = {
        "extends": {
            "type": "string",
            "minLength": 1,
            "description": "The parent: the name of a profile, or the path of its folder. Everything of it holds that is not stated here.",
        },
        "drop": {
            "type": "array",
            "items": {"type": "string"},
            "description": "Dotted keys of the parent that do not hold here, such as rotary.A; they go back to the built-in default.",
        },
        **properties,
    }
    schema["title"] = "steadyrest controller profile"
    schema["description"] = "controller.toml: one controller's dialect on one machine. Lengths in mm, angles in degrees."
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def schema_text() -> str:
    """The same as text, as it ships beside this module."""
    return json.dumps(profile_schema(), indent=2, ensure_ascii=False) + "\n"
