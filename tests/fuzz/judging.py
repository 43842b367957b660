"""What becomes of a damaged file: a result, or an error in the user's words; anything else is a find."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path

from damage import JOB, PROFILE, TEMPLATE, TOUR

from steadyrest.errors import SteadyrestError
from steadyrest.inputs import InputOptions, PartOptions, load_input
from steadyrest.posting import posted_text, prove
from steadyrest.request import Request
from steadyrest.toolpath import load_toolpath, parse_toolpath

ABOUT = InputOptions(tool=3, units="mm")
PART = PartOptions(
    stock={"shape": "round", "diameter": 40, "from": -90, "to": 0},  # type: ignore[arg-type]
    tools=tuple({"number": number, "shape": "flat", "diameter": 6} for number in (1, 2, 3, 7)),  # type: ignore[misc]
)
SMALL = parse_toolpath(json.loads((TOUR / "indexed.toolpath.json").read_text(encoding="utf-8")))
PROGRAM = posted_text(SMALL, "rs274ngc").encode("ascii")
CL = (
    b"PARTNO A\nUNITS/MM\nLOADTL/3\nCUTTER/6\nSPINDL/8000,CLW\nFEDRAT/600,PERMIN\n"
    b"MULTAX/ON\nFROM/0,0,80,0,0,1\nRAPID\nGOTO/-20,0,40,0,0,1\n"
    + (
        b"GOTO/-20,0,16,0,0,1\nGOTO/-21,-9,15.5884,0,-.5,.8660254\nCYCLE/DEEP,DEPTH,6,STEP,2,CLEAR,2,PERMIN,100\nGOTO/-30,0,20,0,0,1\n"
        b"CYCLE/OFF\nDELAY/2\nMULTAX/OFF\nFINI\n"
    )
)


def _toolpath(file: Path) -> None:
    posted_text(load_toolpath(file), "rs274ngc")


def _input(file: Path) -> None:
    load_input(file, ABOUT, PART)


def _program(file: Path) -> None:
    load_input(file, InputOptions(tool=3, language="rs274ngc"), PART)


def _job(file: Path) -> None:
    (file.parent / "indexed.toolpath.json").write_bytes((TOUR / "indexed.toolpath.json").read_bytes())
    load_input(file)


def _proof(file: Path) -> None:
    prove(file, Request(TOUR / "indexed.toolpath.json", "rs274ngc"))


def _profile(file: Path) -> None:
    posted_text(SMALL, file.parent)


def _template(file: Path) -> None:
    (file.parents[1] / "controller.toml").write_bytes(b'extends = "rs274ngc"\nspeaks = "A mill that was drawn by lot."\n')
    posted_text(SMALL, file.parents[1])


KINDS: dict[str, tuple[str, bytes, Callable[[Path], None]]] = {
    "toolpath": ("a.toolpath.json", (TOUR / "indexed.toolpath.json").read_bytes(), _toolpath),
    "wrapped": ("a.toolpath.json", (TOUR / "wrapped.toolpath.json").read_bytes(), _toolpath),
    "simultaneous": ("a.toolpath.json", (TOUR / "simultaneous.toolpath.json").read_bytes(), _toolpath),
    "cl": ("a.cl", CL, _input),
    "program": ("a.nc", PROGRAM, _program),
    "job": ("a.job.toml", JOB, _job),
    "proof": ("a.nc", PROGRAM, _proof),
    "profile": ("mill/controller.toml", PROFILE, _profile),
    "template": ("mill/templates/operation_start.j2", TEMPLATE, _template),
}
"""By kind: the file's name, what is right, and what is done with it."""


def judged(kind: str, data: bytes) -> str:
    """`taken` or `refused`; whatever else is raised is a find, and comes through."""
    name, _, run = KINDS[kind]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)
        try:
            run(file)
        except SteadyrestError as error:
            said = error
        else:
            return "taken"
    assert said.wrong, "an error without a sentence"
    assert len(said.alone()) < 8_000, "a message as long as its input"
    return "refused"
