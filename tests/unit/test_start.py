"""What a command waits for before it begins, and how its process ends."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

PART = Path(__file__).parents[1] / "golden" / "tour" / "indexed.toolpath.json"


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "steadyrest", *words], capture_output=True, text=True, check=False)


def loaded_by(*words: str) -> set[str]:
    """The modules that a command loads."""
    found = subprocess.run([sys.executable, "-X", "importtime", "-m", "steadyrest", *words], capture_output=True, text=True, check=True)
    lines = [line for line in found.stderr.splitlines() if line.startswith("import time:")]
    return {line.rpartition("|")[2].strip() for line in lines}


def test_help_waits_for_no_library_but_that_of_the_command_line() -> None:
    found = loaded_by("--help")
    rooms = {name.split(".")[1] for name in found if name.startswith("steadyrest.")}
    assert rooms == {"cli", "conventions"}  # a few names, and a number as it is said at the machine
    assert not found & {"numpy", "pydantic", "jinja2", "tomllib", "dataclasses", "json", "traceback", "steadyrest.errors"}


def test_a_small_part_waits_for_nothing_that_it_does_not_use(tmp_path: Path) -> None:
    found = loaded_by("post", str(PART), "--no-simulation", "-o", str(tmp_path / "part.nc"))
    rooms = {".".join(name.split(".")[:2]) for name in found}
    assert not rooms & {f"steadyrest.{room}" for room in ("inputs", "simulation", "viewer", "sheet", "explaining", "centre", "delivery")}
    assert not found & {"numpy.ma", "lark", "numba", "simdjson", "pluggy", "matplotlib", "uplot", "tomlkit", "logging", "asyncio"}
    assert "platformdirs" not in found
    assert not found & {"steadyrest.proof.causes", "steadyrest.toolpath.dump"}


def test_the_end_of_the_process_loses_neither_output_nor_exit_code(tmp_path: Path) -> None:
    printed = run("schema", "toolpath")
    assert (printed.returncode, json.loads(printed.stdout)["title"]) == (0, "Toolpath")
    stopped = run("prove", str(PART), "-t", str(PART))
    assert stopped.returncode == 1
    assert "cure:" in stopped.stderr
    assert run("post").returncode == 2


def test_what_is_only_loaded_at_its_use_is_there_when_it_is_used() -> None:
    assert run("--version").stdout.startswith("steadyrest, version ")
