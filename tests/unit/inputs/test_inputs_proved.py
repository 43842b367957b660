"""What is taken can be posted: the program is written and proved."""

from pathlib import Path

import pytest

from steadyrest.inputs import Input, PartOptions, load_job, take
from steadyrest.posting import posted_text

CL = """PARTNO test spindle
UNITS/MM
PPRINT faces
LOADTL/3
CUTTER/6
SPINDL/8000,RPM,CLW
FEDRAT/600,PERMIN
ROTABL/ATANGL,0
RAPID
GOTO/-20,-15,40
GOTO/-20,-15,16
GOTO/-40,-15,16
COOLNT/ON
GOTO/-40,15,16
CIRCLE/-40,10,16,0,0,1,5
GOTO/-40,5,16
RAPID
GOTO/-40,5,40
STOP
ROTABL/INCR,90,CLW
CYCLE/DEEP,DEPTH,6,STEP,2,CLEAR,2,PERMIN,100
GOTO/-30,0,20
GOTO/-50,0,20
CYCLE/OFF
PPRINT vane
TLAXIS/0,0,1
MULTAX/ON
RAPID
GOTO/-70,0,40,0,0,1
GOTO/-70,0,18
GOTO/-71,-9,15.5884,0,-.5,.8660254
GOTO/-72,-15.5884,9,0,-.8660254,.5
RAPID
GOTO/-72,-34.6,20,0,-.8660254,.5
FINI
"""
NC = """G21 G17 G90 G94 G40 G49 G80 G54
T3 M6
S3000 M3
G0 X-60 Y0 Z5
G1 Z-1 F100
G1 X-40 Y20 F600
G3 X-40 Y40 I0 J10
G1 Y130
G0 Z5
G99 G83 X-30 Y10 Z-4 R2 Q1.5 F80
G80
M2
"""
JOB = """steadyrest_job = 1
stock = { shape = "round", diameter = 40, from = -90, to = 0 }
[[inputs]]
file = "part.cl"
[[inputs]]
file = "part.nc"
wrap = { diameter = 40, start_angle = 30 }
[[inputs]]
file = "part.nc"
wrap = { diameter = 40, z_from = "axis", developed = "X" }
[post]
[post.set]
rotary.A.chuck_faces = "+X"
"""


def test_cl_data_is_proved(tmp_path: Path) -> None:
    (tmp_path / "part.cl").write_text(CL)
    part = PartOptions.model_validate({"stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0}})
    text = posted_text(take([Input(file=tmp_path / "part.cl")], part), "rs274ngc")
    assert "A90" in text
    assert "G83" in text
    assert "G3 X-40 Y5 I0 J-5" in text


@pytest.mark.parametrize(("faces", "word"), [("+X", "A90"), ("-X", "A-90")])
def test_a_job_is_proved_with_the_rotary_at_either_end(faces: str, word: str, tmp_path: Path) -> None:
    (tmp_path / "part.cl").write_text(CL)
    (tmp_path / "part.nc").write_text(NC)
    (tmp_path / "part.job.toml").write_text(JOB.replace("+X", faces).replace('z_from = "axis", ', ""))
    job = load_job(tmp_path / "part.job.toml")
    text = posted_text(job.toolpath(), job.post.controller, sets=job.post.sets(), tolerance=job.post.tolerance)
    assert f"\nG0 {word}\n" in text
