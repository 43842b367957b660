"""What this shop wants of its programs besides what every profile has to keep. The rest is tested by `pytest` alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from steadyrest import posted_text
from steadyrest.errors import PlanError
from steadyrest.testing import toolpaths
from steadyrest.toolpath import Toolpath

SHOP = Path(__file__).parents[1]
CORNER_MILL, LONG_BED = SHOP / "controllers" / "corner-mill", SHOP / "controllers" / "long-bed"
LANTERN_POST = SHOP / "toolpaths" / "lantern_post.toolpath.json"


def test_the_operator_confirms_every_tool_on_the_corner_mill() -> None:
    lines = posted_text(LANTERN_POST, CORNER_MILL).splitlines()
    changes = [at for at, line in enumerate(lines) if "M6" in line]
    assert ["M0"] * 3 == [lines[at + 1] for at in changes]


def test_the_corner_mill_turns_the_job_end_for_end_when_the_rotary_goes_back_to_the_left_end() -> None:
    right = posted_text(LANTERN_POST, CORNER_MILL)
    left = posted_text(LANTERN_POST, CORNER_MILL, sets=["rotary.A.chuck_faces=+X"])
    assert "G0 X-6 Y9\n" in right
    assert "G0 X6 Y-9\n" in left
    for program in (right, left):
        assert "G0 A122\nA120\n" in program


def test_the_long_bed_never_sees_a_drilling_cycle() -> None:
    assert "G83" not in posted_text(LANTERN_POST, LONG_BED)


@pytest.mark.parametrize("controller", [CORNER_MILL, LONG_BED], ids=lambda folder: folder.name)
@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(toolpath=toolpaths(axis="X", units="mm", centred=True, intents=("indexed", "still"), arcs=False, events=False, most_operations=2))
def test_any_sensible_toolpath_of_faces_is_proved_or_refused_in_words(controller: Path, toolpath: Toolpath) -> None:
    try:
        text = posted_text(toolpath, controller)
    except PlanError:
        return  # what a controller cannot do is refused in words, before anything is written
    assert max(len(line) for line in text.splitlines()) <= 250
