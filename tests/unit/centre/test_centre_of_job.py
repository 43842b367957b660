"""Touches that a job keeps give the same centre as on the command line, and the work offset of that part as it stands."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from centre_parts import centre

from steadyrest.centre import Touches, touches_kept
from steadyrest.inputs import Touched

TOUCHES = 'units = "mm"\ndiameter = 40\ntop = [8]\nsides = [["Y", -15, 45]]\ntool = 20\nend = [["{end}", 210]]\n'


def a_job(folder: Path, faces: str = "+X", end: str = "+X", held: str = "from") -> str:
    """Stock from X -90 to 10, the axis of rotation at Y 3, Z -20 of the part, held where it begins."""
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 10, "held": {"at": held}}
    moves = [{"rapid": [0, 0, 50]}, {"cut": [0, 0, 30], "feed": 100}]
    cut = {"name": "a", "tool": 1, "spindle": {"rpm": 100, "turns": "clockwise"}, "coolant": "off", "rotary": {"intent": "still"}}
    said = {"steadyrest_toolpath": 1, "name": "p", "units": "mm", "centre": [0, 3, -20], "stock": stock}
    said |= {"tools": [{"number": 1, "shape": "flat", "diameter": 6}], "operations": [{**cut, "moves": moves}]}
    (folder / "p.toolpath.json").write_text(json.dumps(said))
    text = 'steadyrest_job = 1\n[[inputs]]\nfile = "p.toolpath.json"\n[post.set]\nrotary.A.chuck_faces = "{faces}"\n[setup.touches]\n'
    (folder / "p.job.toml").write_text(text.format(faces=faces) + TOUCHES.format(end=end))
    return str(folder / "p.job.toml")


def test_the_touches_of_a_job_are_worked_out_with_the_work_offset_of_its_part(tmp_path: Path) -> None:
    """By hand. Sides -15 and 45: the axis at Y 15. Top 8 of a bar of 40: Z -12. In the part the axis is at Y 3, Z -20, so its 0
    is at Y 15 - 3 = 12, Z -12 + 20 = 8. The end that looks to +X, touched at 210 with a tool of 20, is at 200, and at 10 in the part:
    X 190.
    """
    assert "enter into the work offset (G54): Y 12.0000, Z 8.0000, X 190.0000" in centre("find", "--job", a_job(tmp_path)).output
    found = json.loads(centre("find", "--job", a_job(tmp_path), "--json").stdout)
    assert {"Y": 12, "Z": 8, "X": 190} == pytest.approx({axis: each["value"] for axis, each in found["work_offset"].items()})
    assert found["centre"]["Y"]["value"] == pytest.approx(15)
    assert "found at 15.0000; the axis of rotation is at Y 3 mm" in found["work_offset"]["Y"]["how"]


def test_as_data_there_is_no_work_offset_without_a_job_or_where_touches_do_not_agree(tmp_path: Path) -> None:
    assert json.loads(centre("find", "--sides", "Y", "0", "20", "--json").stdout)["work_offset"] is None
    told = centre("find", "--job", a_job(tmp_path), "--sides", "Y", "0", "20", "--flip", "Y", "0", "90", "--json")
    assert 3 == told.exit_code
    assert json.loads(told.stdout)["work_offset"] is None


def test_at_the_other_end_of_the_table_it_is_that_of_the_turned_part(tmp_path: Path) -> None:
    """By hand. Turned by half a turn about Z the axis is at Y -3 of the part, and the stock lies from X -10 to 90; its free end looks to -X
    and is at -10. Touched at 210 from there with a tool of 20 it is at 220: Y 15 + 3 = 18, X 220 + 10 = 230.
    """
    told = centre("find", "--job", a_job(tmp_path, "-X", "-X")).output
    assert "enter into the work offset (G54): Y 18.0000, Z 8.0000, X 230.0000" in told


def test_touches_on_the_command_line_go_before_those_of_the_job(tmp_path: Path) -> None:
    assert "enter into the work offset (G54): Y 7.0000" in centre("find", "--job", a_job(tmp_path), "--sides", "Y", "0", "20").output


def test_the_axis_of_rotation_is_that_of_the_job(tmp_path: Path) -> None:
    assert 2 == centre("find", "--job", a_job(tmp_path), "--along", "Y").exit_code
    assert 1 == centre("find", "--job", str(tmp_path / "none.job.toml")).exit_code


def test_a_remembered_place_gives_the_work_offset_of_the_part_and_no_zero_along_it(tmp_path: Path) -> None:
    """By hand: the axis 112 behind the hole, which is at -97 today, is at Y 15; the part's 0 is 3 before it. The face of the chuck is no
    place of the part.
    """
    centre("find", "--sides", "Y", "0", "24", "--chuck-face", "+X", "50", "--tool", "20", "--reference", "Y", "-100", "--remember", "left")
    told = centre("place", "left", "--reference", "Y", "-97", "--job", a_job(tmp_path)).output
    assert "  Y 12.0000 mm" in told
    assert "X is that of the face of the chuck that looks to +X, which is no place of the part: touch the end of the stock for X" in told
    assert "  X 4" not in told.partition("enter into")[2]
    found = json.loads(centre("place", "left", "--reference", "Y", "-97", "--job", a_job(tmp_path), "--json").stdout)
    assert {"Y": pytest.approx(12)} == {axis: each["value"] for axis, each in found["work_offset"].items()}
    assert json.loads(centre("place", "left", "--reference", "Y", "-97", "--json").stdout)["work_offset"] is None


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_what_is_kept_is_what_the_command_line_takes(units: str) -> None:
    kept = Touched.model_validate({"units": units, "diameter": 40, "top": [8], "at": 90, "indicator": "-Z", "touch_error": 0.5})
    plain = 1.0 if units == "mm" else 25.4
    wanted = Touches(diameter=40, top=(8,), at_deg=90, indicator="-Z", sense=-1, uncertainty=0.5)
    given = touches_kept(kept, "X", -1)
    assert replace(wanted, reading_uncertainty=given.reading_uncertainty, size_uncertainty=given.size_uncertainty) == given
    assert pytest.approx(0.003) == given.reading_uncertainty * plain


def test_runout_from_a_mounting_that_only_a_bundled_profile_assumes_is_told(tmp_path: Path) -> None:
    """It is worked out as the profile is named on purpose, and the result says on what it rests."""
    read = [part for angle, value in ((0, 0.0), (90, 0.05), (180, 0.0)) for part in ("--reading", str(angle), str(value))]
    told = "assumes, not seen at this machine"
    assert told in centre("find", "--sides", "Y", "0", "20", *read, "-c", "rs274ngc").output
    assert told not in centre("find", "--sides", "Y", "0", "20", "-c", "rs274ngc").output
    sets = ["--set", "rotary.A.chuck_faces=+X", "--set", "rotary.A.positive_turns_chuck=clockwise"]
    assert told not in centre("find", "--sides", "Y", "0", "20", *read, "-c", "rs274ngc", *sets).output
