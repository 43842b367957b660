"""What other programs may rely on: `import steadyrest`, and what it holds."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import steadyrest
from steadyrest import InputError, Request

PART = Path(__file__).parents[2] / "tests" / "golden" / "tour" / "wrapped.toolpath.json"

NAMES = {
    "STAGES", "Cancelled", "Finding", "FoundProfile", "Input", "InputError", "Notice", "Outcome", "PartOptions", "Posted", "Profile",
    "Progress", "Refused", "Request", "ResolvedProfile", "SteadyrestError", "Toolpath", "Verdict", "load", "post", "post_to_memory",
    "posted_text", "profiles", "prove", "report", "resolve", "take",
}  # fmt: skip


def test_the_public_names_are_these_each_documented() -> None:
    """A name once here stays: others build on it."""
    assert set(steadyrest.__all__) == NAMES
    assert all(getattr(steadyrest, name).__doc__ for name in NAMES - {"Progress", "STAGES"})
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        steadyrest.nothing  # noqa: B018


def test_importing_it_costs_nothing() -> None:
    code = "import sys, steadyrest; print(sorted({'numpy', 'pydantic', 'jinja2', 'click', 'steadyrest.errors'} & set(sys.modules)))"
    assert "[]" == subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


def test_bytes_that_are_no_toolpath_are_told_with_their_place() -> None:
    with pytest.raises(InputError, match=r"line 2, column 3: broken JSON"):
        steadyrest.load(b'{"a": 1,\n  x}')
    with pytest.raises(InputError, match="given twice"):
        steadyrest.load(b'{"steadyrest_toolpath": 1, "steadyrest_toolpath": 1}')


def test_profiles_are_listed() -> None:
    assert "rs274ngc" in [profile.name for profile in steadyrest.profiles()]


def test_the_report_is_a_page(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    page = steadyrest.report(Request(PART))
    assert b"<html" in page[:200]
    assert b"posted to memory" in page


def test_inputs_are_taken_as_on_the_command_line() -> None:
    cap = PART.parents[3] / "demo" / "lantern_cap"
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    part = steadyrest.PartOptions.model_validate({"stock": stock, "tools": [{"number": 1, "shape": "flat", "diameter": 10}]})
    taken = steadyrest.take([steadyrest.Input(file=cap / "face.nc", indexed=(0, 120, 240))], part)
    assert [(0, 120, 240)] == [operation.rotary.angles for operation in taken.operations]
