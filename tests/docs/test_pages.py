"""What the hand-written pages show is so: figures, example files, templates, code."""

from __future__ import annotations

import json
import math
import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from steadyrest.inputs import job_schema, load_job
from steadyrest.posting import posted_text
from steadyrest.profile import load_profile, profile_schema
from steadyrest.toolpath import parse_toolpath

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PART = ROOT / "tests" / "golden" / "tour" / "indexed.toolpath.json"


def blocks(page: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", (DOCS / page).read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def rows(page: str, first_cell: str) -> list[list[str]]:
    """The rows of the table whose head begins with this cell."""
    text = (DOCS / page).read_text(encoding="utf-8")
    table = next(part for part in text.split("\n\n") if part.startswith(f"| {first_cell}"))
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]


def test_feeds_of_the_table_are_those_of_the_geometry() -> None:
    table = rows("feed.md", "along the axis, mm")
    assert 5 == len(table)
    for row in table:
        along, turn_deg, radius, speed = map(float, row[:4])
        length = math.hypot(along, radius * math.radians(turn_deg))
        per_minute = speed * along / length if along else speed * turn_deg / length
        expected = (length, speed / length, 60 * length / speed, per_minute)
        assert expected == pytest.approx([float(cell.split()[0]) for cell in row[4:]], rel=1e-6, abs=1e-6)


def test_one_cut_has_the_six_feeds_of_the_page() -> None:
    length = math.hypot(10, 20 * math.pi / 2)
    minutes = length / 300
    expected = [1 / minutes, 1 / (60 * minutes), 60 * minutes, 10 / minutes, math.hypot(10, 90) / minutes, 300]
    said = [float(row[2]) for row in rows("feed.md", "the controller")]
    assert said == pytest.approx(expected, rel=5e-5)
    naive = length / (10 / 300)  # F 300 where F counts the linear axis alone
    assert "at 989 mm per minute" in (DOCS / "feed.md").read_text(encoding="utf-8")
    assert 989 == round(naive)


def test_the_test_at_the_machine_tells_the_two_ways_of_counting_apart() -> None:
    seconds = [60 * 10 / 100, 60 * math.hypot(10, 90) / 100]
    assert [6.0, 54.3] == [round(each, 1) for each in seconds]
    text = (DOCS / "feed.md").read_text(encoding="utf-8")
    assert "After 6 s it counted linear axes only, after 54.3 s all of them" in text


def test_the_profile_of_the_page_works_with_the_template_of_the_page(tmp_path: Path) -> None:
    folder = tmp_path / "corner-mill"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text(blocks("own-profile.md", "toml")[0], encoding="utf-8")
    (folder / "templates" / "tool_change.j2").write_text(blocks("own-profile.md", "text")[0], encoding="utf-8")
    rotary = load_profile(folder).rotary["A"]
    assert ("-X", "counterclockwise", "limited") == (rotary.chuck_faces, rotary.positive_turns_chuck, rotary.travel.kind)
    assert "(MSG, LOOK AT TOOL 3)\nM0\n" in posted_text(PART, folder)


def test_the_test_of_the_page_passes_in_the_example_of_a_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(ROOT / "examples" / "shop", tmp_path / "shop")
    monkeypatch.chdir(tmp_path / "shop")
    names: dict[str, Any] = {}
    exec(compile(blocks("testing.md", "python")[0], "testing.md", "exec"), names)
    names["test_every_program_ends_with_m30"]()


def test_the_program_of_the_page_on_python_posts_a_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    shutil.copy(PART, tmp_path / "lantern.toolpath.json")
    monkeypatch.chdir(tmp_path)
    exec(compile(blocks("from-python.md", "python")[0], "from-python.md", "exec"), {})
    assert (tmp_path / "lantern.nc").is_file()
    assert capsys.readouterr().out.splitlines()[-2].split()[0] == "look"


def test_every_public_name_of_the_page_is_one() -> None:
    import steadyrest

    named = {match for line in rows("from-python.md", "name") for match in re.findall(r"`([A-Za-z_]+)", line[0])}
    assert {"load", "post", "prove", "take", "profiles"} <= named <= set(steadyrest.__all__)


def test_the_mountings_of_the_page_turn_the_part_as_it_says() -> None:
    import sys

    sys.path.insert(0, str(DOCS))
    from making.drawings import MOUNTINGS

    table = rows("mounting.md", "|")
    assert 4 == len(table)
    for row in table:
        faces, turns = re.findall(r"`([^`]+)`", row[0])
        # Contract: facing + and counterclockwise is right-hand; each of the two, changed, flips it. The operator stands at -Y, so a part
        # that turns right-hand about +X brings its top, at +Z, towards -Y: X x Z = -Y.
        sigma = (1 if faces[0] == "+" else -1) * (1 if turns == "counterclockwise" else -1)
        assert sigma == MOUNTINGS[faces, turns]
        assert ("right-hand" if sigma == 1 else "left-hand") in row[3]
        assert ("towards you" if sigma == 1 else "away from you") in row[3]
        side = "right" if faces == "+X" else "left"
        assert [f"{side}-{turns}-front.svg", f"{side}-{turns}-face.svg"] == [Path(cell.split("(")[1].rstrip(")")).name for cell in row[1:3]]


def test_the_toml_of_the_pages_is_valid_under_the_shipped_schema() -> None:
    for page in ("own-profile.md", "editors.md"):
        for block in blocks(page, "toml"):
            Draft202012Validator(profile_schema()).validate(tomllib.loads(block))


def test_the_job_file_of_the_reference_is_one(tmp_path: Path) -> None:
    import sys

    sys.path.insert(0, str(DOCS))
    from making import files

    text = re.findall(r"```toml\n(.*?)```", files.pages()["job.md"], re.DOTALL)[0]
    Draft202012Validator(job_schema()).validate(tomllib.loads(text))
    (tmp_path / "lantern_spindle.job.toml").write_text(text, encoding="utf-8")
    assert 2 == len(load_job(tmp_path / "lantern_spindle.job.toml").inputs)


@pytest.mark.parametrize(
    "page",
    [
        "README.md",
        "docs/mounting.md",
        "docs/getting-started.md",
        "docs/first-part.md",
        "docs/just-run.md",
        "docs/feed.md",
        "docs/own-profile.md",
        "docs/cautions.md",
    ],
)
def test_a_page_that_sends_somebody_to_the_machine_cautions_there(page: str) -> None:
    text = " ".join((ROOT / page).read_text(encoding="utf-8").split())
    assert "hand on feed hold" in text
    if "touch" in text:
        assert "spindle stopped" in text.lower()


def test_the_planes_of_the_page_are_planes_that_one_rotary_reaches() -> None:
    (rotary,) = [json.loads(block) for block in blocks("from-cam.md", "json")]
    moves = [{"rapid": [0, 0, 30]}, {"cut": [0, 0, -1], "feed": 100}, {"cut": [5, 2, -1]}, {"rapid": [5, 2, 30]}]
    operation = {"tool": 1, "spindle": {"rpm": 900, "turns": "clockwise"}, "rotary": rotary, "moves": moves}
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    said = {"steadyrest_toolpath": 1, "units": "mm", "stock": stock, "tools": tools, "operations": [operation]}
    text = posted_text(parse_toolpath(said), "rs274ngc")
    assert "A90" in text
    assert "A0" in text
