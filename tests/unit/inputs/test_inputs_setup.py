"""A job file keeps how it stands at the machine, and its program is the same with and without that."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import InputError
from steadyrest.inputs import load_job

DEMO = Path(__file__).parents[3] / "demo" / "lantern_cap" / "lantern_cap.job.toml"
SETUP = """
[setup]
place = "left-end"
reference = [["Y", -99.5]]
[setup.touches]
units = "inch"
diameter = 1.5755
top = [0.325]
sides = [["Y", -1.4757, 0.4935]]
end = [["+X", 1.378]]
"""


def with_setup(folder: Path, setup: str) -> Path:
    job = folder / "a.job.toml"
    job.write_text(DEMO.read_text().replace('file = "', f'file = "{DEMO.parent}/') + setup)
    return job


def test_touches_and_the_place_are_read_back_as_they_were_kept(tmp_path: Path) -> None:
    setup = load_job(with_setup(tmp_path, SETUP)).setup
    assert ("left-end", (("Y", -99.5),)) == (setup.place, setup.reference)
    assert setup.touches is not None
    assert ("inch", (("Y", -1.4757, 0.4935),), (("+X", 1.378),)) == (setup.touches.units, setup.touches.sides, setup.touches.end)


def test_the_toolpath_of_a_job_does_not_depend_on_how_it_stands_today(tmp_path: Path) -> None:
    """So neither does the digest in the program's head, nor the program."""
    plain = load_job(with_setup(tmp_path, "")).toolpath()
    assert plain.digest == load_job(with_setup(tmp_path, SETUP)).toolpath().digest


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ('touches = {units = "cm"}', "setup, touches, units"),
        ('touches = {units = "mm", diameter = 0}', "setup, touches, diameter"),
        ('touches = {units = "mm", sides = [["Y", 1]]}', "setup, touches, sides"),
        ('touches = {units = "mm", end = [["X", 1]]}', "setup, touches, end"),
        ('touches = {units = "mm", top = [nan]}', "setup, touches, top"),
        ('plcae = "left"', "plcae"),
        ('place = ""', "setup, place"),
    ],
)
def test_what_is_no_touch_is_refused_with_its_key(tmp_path: Path, wrong: str, told: str) -> None:
    with pytest.raises(InputError) as refused:
        load_job(with_setup(tmp_path, f"\n[setup]\n{wrong}\n"))
    assert told in str(refused.value)
