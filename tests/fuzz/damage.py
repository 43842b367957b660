"""What is fed to the readers: small files that are right, and the ways in which they are damaged."""

from __future__ import annotations

import random
from pathlib import Path

ROOT = Path(__file__).parents[2]
TOUR = ROOT / "tests" / "golden" / "tour"
NUMBERS = (
    b"1e-320",
    b"1e308",
    b"-1e9",
    b"999999999",
    b"0",
    b"-0.0",
    b"1" * 400,
    b"0.0000001",
    b"NaN",
    b"true",
    b"null",
    b"L1000",
    b"Q0.001",
)
JOB = b"""steadyrest_job = 1
name = "drawn"
stock = { shape = "round", diameter = 40, from = -90, to = 0 }
[[tools]]
number = 3
shape = "flat"
diameter = 6
[[inputs]]
file = "indexed.toolpath.json"
[post]
controller = "rs274ngc"
set.rotary.A.chuck_faces = "-X"
"""
PROFILE = b"""extends = "rs274ngc"
speaks = "A mill that was drawn by lot."
[words]
spaces = false
[rotary.A]
chuck_faces = "-X"
travel = { kind = "limited", from = -360.0, to = 720.0 }
"""
TEMPLATE = b"""{% if facts.name %}{{ comment('operation', facts.number, facts.name) }}{% endif %}
{% for a in 'abc' %}{{ comment(a) }}
{% endfor %}
"""


def damaged(data: bytes, chance: random.Random) -> bytes:
    """One to four damages: bytes changed, pieces lost, doubled, moved, repeated many times, numbers made absurd."""
    for _ in range(chance.randint(1, 4)):
        at, length = chance.randrange(len(data) + 1), chance.choice((1, 1, 2, 5, 20, 100))
        piece = data[at : at + length]
        way = chance.randrange(8)
        if way == 0:
            data = data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]
        elif way == 1:
            data = data[:at] + data[at + length :]
        elif way == 2:
            data = data[:at] + piece + data[at:]
        elif way == 3:
            data = data[:at] + piece * chance.choice((10, 1_000, 20_000)) + data[at + length :]
        elif way == 4:
            to = chance.randrange(len(data) + 1)
            data = data[:to] + piece + data[to:]
        elif way == 5:
            data = (
                data[:at]
                + chance.choice((b" ", b"[", b"(", b"{", b"\x00", b"\xef\xbb\xbf", b"\r", b"9")) * chance.choice((1, 30_000))
                + data[at:]
            )
        elif way == 6:
            digits = [index for index, byte in enumerate(data) if 48 <= byte < 58]
            if digits:
                where = chance.choice(digits)
                data = data[:where] + chance.choice(NUMBERS) + data[where + 1 :]
        else:
            data = data[:at]
    return data
