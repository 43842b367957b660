"""The parts of the demo post and prove, in mm and in inch."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from steadyrest.errors import PlanError, ToolpathError
from steadyrest.posting import post
from steadyrest.request import Request

ALL = sorted((Path(__file__).parents[2] / "demo").glob("*/*.toolpath.json"))
FOR_TWO = [part for part in ALL if part.parent.name == "helm_boss"]
"""Of two rotary axes; the others take one."""
PARTS = [part for part in ALL if part not in FOR_TWO]


@pytest.mark.parametrize("part", ALL, ids=lambda part: part.name.removesuffix(".toolpath.json"))
def test_demo_part_is_proved_within_tolerance(part: Path, tmp_path: Path) -> None:
    posted = post(Request(part, "two-in-table" if part in FOR_TWO else "rs274ngc", tmp_path / "part.nc"))
    assert posted.verdict.proved
    assert all(one.tip_off_path <= one.limit and one.path_off_tip <= one.limit for one in posted.verdict.operations)
    for one in posted.verdict.operations:
        if one.name == "dome, finish":  # beside the pole it goes straight past, and nowhere farther off than is allowed
            assert 0.5 < one.axis_off_deg <= 2.0
            assert 0 <= one.faster_percent <= 1.0
    # All lines count, the mark after the end too.
    lines = (tmp_path / "part.nc").read_bytes().splitlines()
    assert ([b"M2", b"%"], len(lines)) == (lines[-2:], posted.verdict.whole.lines)


def test_there_are_parts_in_mm_and_in_inch() -> None:
    assert {part.name.removesuffix("-inch.toolpath.json") for part in ALL if "-inch" in part.name} == {
        part.name.removesuffix(".toolpath.json") for part in ALL if "-inch" not in part.name
    }


@pytest.mark.parametrize("part", FOR_TWO, ids=lambda part: part.name.removesuffix(".toolpath.json"))
def test_a_part_for_two_rotary_axes_is_refused_for_one(part: Path, tmp_path: Path) -> None:
    wrong = r"operation 9 'dome, finish', rotary, intent: intent simultaneous is not possible .* along Z"
    for controller in ("rs274ngc", "upright-c"):
        with pytest.raises(ToolpathError, match=wrong):
            post(Request(part, controller, tmp_path / "part.nc"))
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("controller", ["head-and-table", "leaning-table"])
def test_where_the_travels_end_at_the_pole_the_part_for_two_is_cut_with_withdrawals_there(controller: str, tmp_path: Path) -> None:
    lengths = dict(zip(range(1, 6), (100, 90, 80, 95, 85), strict=True))
    asked = Request(FOR_TWO[1], controller, tmp_path / "part.nc", gauge_lengths=lengths, simulate=False)
    with pytest.raises(PlanError, match="here the cut passes the axis of C and cannot go on within the travels") as refused:
        post(asked)
    assert 'set reorient.inside_a_cut = "withdraw"' in str(refused.value)
    posted = post(replace(asked, sets=("reorient.inside_a_cut=withdraw",)))
    assert posted.verdict.proved
    assert 3 == [notice.kind for notice in posted.notices].count("Reoriented")


def test_rotary_at_the_other_end_of_the_table_changes_the_signs_of_x_y_i_and_j_and_nothing_else(tmp_path: Path) -> None:
    """A half turn about Z: what lies along Z, and what turns with the part and with the chuck, stays."""
    part = next(part for part in PARTS if part.name == "distributor.toolpath.json")
    post(Request(part, "rs274ngc", tmp_path / "left.nc"))
    post(Request(part, "rs274ngc", tmp_path / "right.nc", sets=["rotary.A.chuck_faces=-X"]))
    left, right = ((tmp_path / name).read_text(encoding="ascii").splitlines() for name in ("left.nc", "right.nc"))
    assert len(left) == len(right)
    differing = [(one, other) for one, other in zip(left, right, strict=True) if one != other]
    turned = [(one, other) for one, other in differing if not one.startswith("(")]
    assert turned
    for one, other in turned:
        assert re.sub(r"([XYIJ])(-?)(?!0(?![.0-9]))", lambda word: word[1] + ("" if word[2] else "-"), one) == other
