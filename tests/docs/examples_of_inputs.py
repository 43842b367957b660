"""Small files of every kind that `take` reads, for the command lines of the documents."""

FACES_CL = b"""PARTNO TWO FACES
UNITS/MM
LOADTL/1
SPINDL/5000,RPM,CLW
MULTAX/ON
RAPID
GOTO/-60,0,30,0,0,1
FEDRAT/400,MMPM
GOTO/-60,0,18,0,0,1
GOTO/-62,-9,15.588457,0,-0.5,0.8660254
RAPID
GOTO/-62,-18,31.176915,0,-0.5,0.8660254
FINI
"""

FACE_PROGRAM = b"""%
G21 G90 G17 G94 G40 G49 G80
G54
T1 M6
S5000 M3
G0 Z30
G0 X5 Y-10
Z17
G1 X-30 F500
G2 X-30 Y10 I0 J10
G1 X5
G0 Z30
M5
M30
%
"""

LETTERS_PROGRAM = b"""%
G21 G90 G17 G94 G40 G49 G80
G54
T2 M6
S9000 M3
G0 Z5
G0 X-40 Y0
G1 Z-0.3 F200
X-50 Y30 F400
X-40 Y60
G0 Z5
M5
M30
%
"""

JOB = b"""steadyrest_job = 1
name = "lantern cap"
stock = {shape = "round", diameter = 40, from = -90, to = 0}
tools = [{number = 1, shape = "flat", diameter = 6}]

[[inputs]]
file = "FACE.nc"
indexed = [0, 120, 240]

[post]
controller = "rs274ngc"
output = "cap.nc"
set = {rotary.A.chuck_faces = "-X"}
"""
