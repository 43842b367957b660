"""A job and `take` say which end of the stock is held, and the toolpath that comes of them has it."""

from __future__ import annotations

from pathlib import Path

from steadyrest.inputs import load_job
from steadyrest.inputs.arguments import read_arguments
from steadyrest.inputs.assembly import assembled
from steadyrest.toolpath import Held, Toolpath

FACE = "G21 G90 G17\nS1000 M3\nG0 X-10 Y0 Z30\nG1 Z15 F200\nX-40\nG0 Z30\nM2\n"
JOB = """steadyrest_job = 1
stock = { shape = "round", diameter = 40, from = -90, to = 0, held = { at = "from", length = 20 } }
tools = [{ number = 1, shape = "flat", diameter = 6 }]
[[inputs]]
file = "face.nc"
tool = 1
indexed = [0, 90]
"""


def held_of(toolpath: Toolpath) -> Held | None:
    assert toolpath.stock is not None
    return toolpath.stock.held


def test_a_job_says_which_end_is_held(tmp_path: Path) -> None:
    (tmp_path / "face.nc").write_text(FACE, encoding="ascii")
    (tmp_path / "part.job.toml").write_text(JOB, encoding="utf-8")
    assert held_of(load_job(tmp_path / "part.job.toml").toolpath()) == Held(at="from", length=20)


def test_take_says_it_with_the_stock(tmp_path: Path) -> None:
    file = tmp_path / "face.nc"
    file.write_text(FACE, encoding="ascii")
    stock = "round,diameter=40,from=-90,to=0,held=to,held_length=12.5"
    inputs, part = read_arguments([str(file), "--tool", "1", "--indexed", "0,90", "--stock", stock, "--tool-shape", "1=flat,diameter=6"])
    assert held_of(assembled(inputs, part, [])) == Held(at="to", length=12.5)
