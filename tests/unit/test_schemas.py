"""The schemas that editors use: printed, written into a file, valid, with a meaning at every key, and as strict as the models."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from steadyrest.cli import main
from steadyrest.cli.programs import SCHEMAS

ROOT = Path(__file__).parents[2]
SHIPPED = {"toolpath": "toolpath/toolpath", "job": "inputs/job"}
CONTROLLERS = sorted([*ROOT.glob("controllers/*/controller.toml"), *ROOT.glob("examples/*/controllers/*/controller.toml")])
TOOLPATHS = sorted([*ROOT.glob("tests/golden/tour/*.toolpath.json"), *ROOT.glob("examples/*/toolpaths/*.toolpath.json")])


def printed(what: str) -> dict[str, Any]:
    done = CliRunner().invoke(main, ["schema", what])
    assert 0 == done.exit_code
    schema: dict[str, Any] = json.loads(done.stdout)
    return schema


def test_there_is_a_schema_of_each_kind_of_file_that_people_write() -> None:
    assert {"toolpath", "controller", "job"} == set(SCHEMAS)


@pytest.mark.parametrize("what", SHIPPED)
def test_what_is_printed_is_what_ships(what: str) -> None:
    shipped = ROOT / "src" / "steadyrest" / f"{SHIPPED[what]}.schema.json"
    assert json.loads(shipped.read_text(encoding="utf-8")) == printed(what)


@pytest.mark.parametrize("what", SCHEMAS)
def test_a_schema_is_written_into_a_file(what: str, tmp_path: Path) -> None:
    file = tmp_path / "written.json"
    done = CliRunner().invoke(main, ["schema", what, "--output", str(file)])
    assert (0, "") == (done.exit_code, done.stdout)
    assert printed(what) == json.loads(file.read_text(encoding="ascii"))


def test_a_schema_is_not_written_where_there_is_no_folder(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["schema", "job", "--output", str(tmp_path / "none" / "job.json")])
    assert 1 == done.exit_code
    assert "does not exist" in done.stderr


@pytest.mark.parametrize("what", SCHEMAS)
def test_a_schema_is_valid_and_says_what_each_key_means(what: str) -> None:
    schema = printed(what)
    Draft202012Validator.check_schema(schema)
    groups = {"": schema, **schema["$defs"]}
    bare = [
        f"{name}.{key}"
        for name, group in groups.items()
        for key, each in group.get("properties", {}).items()
        if not (each.get("description") or schema["$defs"].get(each.get("$ref", "").rsplit("/", 1)[-1], {}).get("description"))
    ]
    assert [] == bare


@pytest.mark.parametrize("what", SCHEMAS)
def test_a_schema_knows_no_other_keys(what: str) -> None:
    schema = printed(what)
    groups = [schema, *schema["$defs"].values()]
    assert [] == [group.get("title") for group in groups if "properties" in group and group.get("additionalProperties") is not False]


@pytest.mark.parametrize("file", CONTROLLERS, ids=lambda file: file.parent.name)
def test_controllers_are_valid_and_a_misspelt_key_is_not(file: Path) -> None:
    validator = Draft202012Validator(printed("controller"))
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    validator.validate(table)
    assert not validator.is_valid({**table, "word": {"spaces": True}})


@pytest.mark.parametrize("file", TOOLPATHS, ids=lambda file: file.name)
def test_toolpaths_are_valid_and_a_misspelt_key_is_not(file: Path) -> None:
    validator = Draft202012Validator(printed("toolpath"))
    data = json.loads(file.read_text(encoding="utf-8"))
    validator.validate(data)
    data["operations"][0]["coolent"] = "off"
    assert not validator.is_valid(data)
