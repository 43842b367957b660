"""Damaged inputs: a toolpath that is whole, or an error in the user's words; never anything else."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import SteadyrestError
from steadyrest.inputs import InputOptions, PartOptions, load_input
from steadyrest.toolpath import Toolpath

CL = b"""PARTNO spindle
UNITS/MM
LOADTL/3,LENGTH,50
CUTTER/6,1,2,1,0,0,20
SPINDL/8000,RPM,CLW
COOLNT/FLOOD
FEDRAT/600,PERMIN
FROM/0,0,80
ROTABL/ATANGL,60,CLW
RAPID
GOTO/-20,-15,40
GOTO/-20,-15,16
CIRCLE/-20,-10,16,0,0,1,5
GOTO/-20,-5,16
CYCLE/DEEP,DEPTH,6,STEP,2,CLEAR,2,PERMIN,100
GOTO/-30,0,20
CYCLE/OFF
DELAY/2,REV
TLAXIS/0,0,1
MULTAX/ON
RAPID
GOTO/-70,0,40,0,0,1
GOTO/-71,-9,15.5884,0,-.5,.8660254 $$ tip
GODLTA/1,$
2,3
PPRINT done
MULTAX/OFF
TLAXIS/0,-1,0
TRANS/1,2,3
RAPID
GOTO/-70,-40,0
INSERT M77
FINI
"""
NC = b"""%
(FACE)
G21 G17 G90 G94 G40 G49 G80 G54 G99
T3 M6
G43 H3
S3000 M3
M8
G0 X0 Y0 Z5
G1 Z-1 F100
G3 X10 Y10 I0 J10
G18 G2 X20 Z-1 R8
G17 G83 X30 Y10 Z-4 R2 Q1.5
G80
G4 P1
G53 G0 Z0
M30
%
"""
ELSEWHERE = b"""%
:250 (LEVER (REV 2) \xc3\x98)
G69 G80 G40 G17 G20 G90 ; begin
N100 G91 G28 Z0.
G64 G90
m06 t3
M03 S3000
N1234567 G54 G00 X0. Y0.
M08
Z1. G43 H03
M41
G09 G1 Z-.05 F10.
G2 X1. Y0. R.5
G0 Z1.
G81 X2. Y0. Z-.2 R.1 F8.
X3.
G80
X4.
M05
G53 G0 Z-.1
G91 G28 X0. Y0.
M30
%
"""
JOB = b"""steadyrest_job = 1
name = "spindle"
stock = { shape = "round", diameter = 40, from = -90, to = 0 }
[[tools]]
number = 3
shape = "flat"
diameter = 6
[[inputs]]
file = "part.nc"
wrap = { diameter = 40 }
[[inputs]]
file = "part.cl"
insert = "note"
words = "words.toml"
[post.set]
rotary.A.chuck_faces = "-X"
"""
WORDS = b'steadyrest_words = 1\n[words.TINT]\nmeans = "ignore"\n[words.FETCH]\nmeans = "LOADTL/{1}"\n'
FILES = {"part.cl": CL, "part.nc": NC, "other.nc": ELSEWHERE, "part.job.toml": JOB, "words.toml": WORDS}
PART = PartOptions.model_validate({"clearance": 100.0, "tools": [{"number": 3, "shape": "flat", "diameter": 6.0}]})


def outcome(files: dict[str, bytes], name: str) -> Toolpath | SteadyrestError:
    with tempfile.TemporaryDirectory() as folder:
        for each, data in files.items():
            (Path(folder) / each).write_bytes(data)
        options = {"part.cl": InputOptions(insert="note"), "other.nc": InputOptions(leave_out=("G9", "M41"))}.get(name, InputOptions())
        try:
            return load_input(Path(folder) / name, options, PartOptions() if name == "part.job.toml" else PART)
        except SteadyrestError as error:
            return error


@pytest.mark.parametrize("name", ["part.cl", "part.nc", "other.nc", "part.job.toml"])
def test_undamaged_they_are_taken(name: str) -> None:
    assert isinstance(outcome(FILES, name), Toolpath)


@pytest.mark.parametrize("damaged", sorted(FILES))
@given(data=st.data())
def test_changed_bytes_give_a_toolpath_or_an_error(damaged: str, data: st.DataObject) -> None:
    text = bytearray(FILES[damaged])
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text) - 1))
        kind = data.draw(st.sampled_from(["change", "drop", "double", "insert", "line"]))
        if kind == "change":
            text[at] = data.draw(st.sampled_from(b"0123456789-+.,/$()=[]{}\"' \nEGXZMABFINOTS\x00\xff"))
        elif kind == "drop":
            del text[at : at + data.draw(st.integers(1, 6))]
        elif kind == "double":
            text[at:at] = text[at : at + 20]
        elif kind == "insert":
            text[at:at] = data.draw(
                st.sampled_from(
                    [
                        b"RAPID\n",
                        b"MULTAX/OFF\n",
                        b"MULTAX/ON\n",
                        b"CYCLE/ON\n",
                        b"GOHOME\n",
                        b"STOP\n",
                        b"UNLOAD\n",
                        b"$",
                        b"(",
                        b"G0 ",
                        b"G80 ",
                        b"G28 ",
                        b"M98 ",
                        b"CLRSRF/60\n",
                        b"RETRCT\n",
                        b"COOLNT/TAPKUL\n",
                        b"TLAXIS/0,-1,0\n",
                        b"ROTABL/ATANGL,90\n",
                        b"M0\n",
                        b"G2 I3\n",
                        b"G69 ",
                        b"G55\n",
                        b"(T3 - END MILL)\n",
                    ]
                )
            )
        else:
            lines = bytes(text).split(b"\n")
            one, other = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
            lines[one], lines[other] = lines[other], lines[one]
            text = bytearray(b"\n".join(lines))
        if not text:
            text = bytearray(b"\n")
    name = damaged if damaged in ("part.cl", "part.nc", "other.nc") else "part.job.toml"
    found = outcome({**FILES, damaged: bytes(text)}, name)
    assert isinstance(found, Toolpath) or found.cure or found.place.file
