"""The worked example of a shop's repository does what its README says, in a copy, with nothing but `pytest`."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "shop"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    copy = tmp_path / "shop"
    shutil.copytree(EXAMPLE, copy, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis", ".pytest_cache"))
    return copy


def run(shop: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """`pytest` as a shop runs it: in the repository's folder, in a process of its own."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST_", "STEADYREST_"))}
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *arguments]
    return subprocess.run(command, cwd=shop, env=environment, capture_output=True, text=True, timeout=300, check=False)


def test_the_example_passes_as_it_is(shop: Path) -> None:
    result = run(shop)
    assert 0 == result.returncode, result.stdout + "\nto accept what is written now: cd examples/shop && pytest --update-goldens\n"


def test_updating_the_goldens_of_the_example_changes_nothing(shop: Path) -> None:
    before = {file: file.read_bytes() for file in sorted(shop.rglob("*.golden"))}
    result = run(shop, "--update-goldens", "controllers")
    assert 0 == result.returncode, result.stdout
    assert before == {file: file.read_bytes() for file in sorted(shop.rglob("*.golden"))}
    assert "written:" not in result.stdout


def test_an_edit_of_a_profile_is_shown_by_pytest_and_accepted_with_the_command_it_prints(shop: Path) -> None:
    profile = shop / "controllers" / "corner-mill" / "controller.toml"
    profile.write_text(profile.read_text().replace("clamp.dwell = 0.8", "clamp.dwell = 0.9"), encoding="utf-8")
    only = ("controllers/corner-mill", "-k", "lantern_post")
    result = run(shop, *only)
    assert 1 == result.returncode
    assert "-G4 P0.8" in result.stdout
    assert "+G4 P0.9" in result.stdout
    command = next(line for line in result.stdout.splitlines() if line.startswith("to accept it: pytest "))
    *_, option, node = command.replace("'", "").split()
    accepted = run(shop, option, node)
    assert 0 == accepted.returncode, accepted.stdout
    assert "written: controllers/corner-mill/goldens/toolpaths/lantern_post.golden" in accepted.stdout
    assert 0 == run(shop, *only).returncode
