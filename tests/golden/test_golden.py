"""Every profile writes the tour as it did: one golden file a profile, refusals included.

`pytest tests/golden --update-goldens -k NAME` proves first, and writes only what passes; then read the diff as a machinist would.
"""

from __future__ import annotations

import difflib
import re
from pathlib import Path

import pytest

from steadyrest.errors import SteadyrestError
from steadyrest.posting import posted_text
from steadyrest.profile import find_profiles, load_profile
from steadyrest.profile_tools import tried_gauge_lengths
from steadyrest.toolpath import load_toolpath

HERE = Path(__file__).parent
TOUR = sorted((HERE / "tour").glob("*.toolpath.json"))
BUNDLED = sorted(found.name for found in find_profiles() if found.where == "bundled")


def as_written(name: str) -> str:
    """The whole tour in one profile's dialect; each program proved, or the words of its refusal."""
    parts = []
    for toolpath in TOUR:
        title = toolpath.name.removesuffix(".toolpath.json")
        try:
            text = posted_text(toolpath, name, gauge_lengths=tried_gauge_lengths(load_toolpath(toolpath), load_profile(name))).replace(
                "\r\n", "\n"
            )
        except SteadyrestError as error:
            text = f"{type(error).__name__}: {error}".replace(str(toolpath), toolpath.name) + "\n"
        parts.append(f"==== {title} ====\n{text}")
    return "\n".join(parts)


@pytest.mark.parametrize("name", BUNDLED)
def test_profile_writes_the_tour_as_it_did(name: str, request: pytest.FixtureRequest) -> None:
    golden = HERE / f"{name}.golden"
    written = as_written(name)
    assert "Refused: " not in written, f"{name}: a program of the tour is not proved:\n{written[written.index('Refused: ') :][:2000]}"
    if request.config.getoption("--update-goldens"):
        golden.write_text(written, encoding="utf-8")
        return
    assert golden.exists(), f"no golden file: run pytest tests/golden --update-goldens -k '{name}', and read it line by line"
    expected = golden.read_text(encoding="utf-8")
    difference = list(difflib.unified_diff(expected.splitlines(), written.splitlines(), golden.name, "written now", lineterm="", n=2))
    assert not difference, "\n".join(
        [*difference[:60], f"... to accept: pytest tests/golden --update-goldens -k '{name}', then read the diff"]
    )


def test_no_golden_is_left_of_a_profile_that_is_gone(request: pytest.FixtureRequest) -> None:
    left = sorted(golden.stem for golden in HERE.glob("*.golden") if golden.stem not in BUNDLED)
    if request.config.getoption("--update-goldens"):
        for name in left:
            (HERE / f"{name}.golden").unlink()
        return
    assert [] == left


@pytest.mark.parametrize("name", BUNDLED)
def test_every_program_begins_with_the_caution_of_the_first_run_where_the_controller_takes_comments(name: str) -> None:
    comments = load_profile(name).program.comments.style != "none"
    parts = re.split(r"==== \w+ ====\n", (HERE / f"{name}.golden").read_text(encoding="utf-8").lower())
    programs = [part for part in parts if "\n" in part.strip() and "error: " not in part]
    assert programs
    for program in programs:
        head = program.split("\n")[:16]
        assert comments == any("first run above the part, single block, hand on feed hold" in line for line in head)
