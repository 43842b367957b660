"""What is the JSON schema of a toolpath file?"""

from __future__ import annotations

from typing import Any

from steadyrest.toolpath.model import Toolpath


def toolpath_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of the toolpath file, version 1, with the meaning, unit and default of every key."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **Toolpath.model_json_schema(by_alias=True)}
