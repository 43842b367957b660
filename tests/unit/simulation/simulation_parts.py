"""Programs that touch, and what is found of them; for the tests of the simulation."""

from __future__ import annotations

from typing import Any

from simulated import BAR, END_MILL, part, reference
from steadyrest.reading import pieces, read_program
from steadyrest.simulation import Hazards, Simulation, Watch

HEAD = "G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nG43 H1\nF100\n"
BLOCK = {"shape": "rectangular", "across": [30, 20], "from": 0, "to": 40}


def quick(program: str, tool: dict[str, Any] = END_MILL, stock: dict[str, Any] = BAR, seconds: float = 60.0, **more: Any) -> Hazards:
    profile, job = reference(), part([tool], stock, **more)
    text = f"{HEAD}{program}\nM2\n".encode()
    watch = Watch(job, profile, "A")
    for piece in pieces(read_program(text, profile)):
        watch.look(piece)
    return watch.hazards(lambda: read_program(text, profile), seconds)


def whole(program: str, tool: dict[str, Any] = END_MILL, stock: dict[str, Any] = BAR) -> Hazards:
    profile = reference()
    text = f"{HEAD}{program}\nM2\n".encode()
    return Hazards.of(Simulation(part([tool], stock), profile, along=200, around=720).of(read_program(text, profile)))
