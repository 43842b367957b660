"""How an explanation looks as text and as data."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner
from explaining_parts import written

from steadyrest.cli import main
from steadyrest.explaining import Explanation, explain, explanation_data
from steadyrest.request import Request


def test_the_command_prints_json_that_says_the_same(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "rs274ngc", tmp_path)
    result = CliRunner().invoke(main, ["explain", f"{file}:7-9", "-t", str(toolpath), "--json"])
    assert 0 == result.exit_code
    found: Explanation = explain(file, 7, 9, Request(toolpath, "rs274ngc"))
    assert json.loads(json.dumps(explanation_data(found))) == json.loads(result.stdout)
    assert [7, 8, 9] == [line["number"] for line in json.loads(result.stdout)["lines"]]
