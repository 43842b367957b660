"""The JSON schema is that of the model, says what every key means, and takes the example of the contract."""

import json
from pathlib import Path
from typing import Any

import pytest
from toolpath_parts import table, toolpath, with_table

import steadyrest.toolpath
from steadyrest.toolpath import toolpath_schema

SHIPPED = Path(steadyrest.toolpath.__file__).parent / "toolpath.schema.json"
EXAMPLE = Path(__file__).parent / "lantern_spindle.toolpath.json"


def valid(data: Any) -> bool:
    jsonschema = pytest.importorskip("jsonschema")
    schema = toolpath_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return bool(jsonschema.Draft202012Validator(schema).is_valid(data))


def test_the_shipped_schema_is_that_of_the_model() -> None:
    cure = "write toolpath_schema() to toolpath.schema.json again"
    assert json.loads(SHIPPED.read_text(encoding="utf-8")) == toolpath_schema(), cure


def test_every_key_has_a_description() -> None:
    bare = []

    def walk(node: Any, path: str) -> None:
        if isinstance(node, dict):
            for name, key in node.get("properties", {}).items():
                if "description" not in key:
                    bare.append(f"{path}/{name}")
            for name, value in node.items():
                walk(value, f"{path}/{name}")
        elif isinstance(node, list):
            for value in node:
                walk(value, path)

    walk(toolpath_schema(), "")
    assert [] == bare


def test_the_example_is_valid_under_the_schema() -> None:
    assert valid(json.loads(EXAMPLE.read_text(encoding="utf-8")))


@pytest.mark.parametrize("value", [table(), [table(), table()]], ids=["one table", "blocks"])
def test_tables_are_valid_under_the_schema(value: Any) -> None:
    assert valid(with_table(value))


def test_a_dwelling_hole_is_valid_under_the_schema() -> None:
    hole = {"hole": [0, 0], "cycle": "dwell-drill", "retract": 2, "bottom": -3, "dwell": 1, "feed": 10}
    assert valid(toolpath([hole]))


@pytest.mark.parametrize(
    "data",
    [toolpath(extra=1), toolpath([{"cut": [0, 0]}]), with_table(table(motion=[0, 1, 2])), with_table([])],
    ids=["an unknown key", "a point of two numbers", "motion 2", "no blocks"],
)
def test_what_the_model_refuses_is_not_valid_under_the_schema(data: Any) -> None:
    assert not valid(data)
