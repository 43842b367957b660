"""What the terminal shows of some commands, drawn: for pages that are tables, where it would be lost as text."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import textwrap
from functools import cache
from html import escape
from pathlib import Path

from making.drawings import STYLE, svg
from making.screens import fresh

WIDE, HIGH, COLUMNS = 9, 20, 82
TERMINALS = {
    "post": ("steadyrest post demo/latch_pin/latch_pin.toolpath.json -o latch_pin.nc", 0),
    "no-stock": ("steadyrest post demo/latch_pin/latch_pin.cl -o latch_pin.nc", 1),
    "wrong-setting": ("steadyrest post demo/latch_pin/latch_pin.toolpath.json -o latch_pin.nc --set words.space=no", 1),
    "unknown-word": ("steadyrest take demo/latch_pin/told.cl -o told.toolpath.json", 1),
    "other-end": ("steadyrest post demo/latch_pin/latch_pin.toolpath.json -o latch_pin.nc --set rotary.A.chuck_faces=-X", 0),
    "json": ("steadyrest centre find --diameter 40.018 --top 8.25 --sides Y -37.482 12.536 --json", 0),
    "refused": ("steadyrest prove edited.nc --toolpath demo/latch_pin/latch_pin.toolpath.json", 3),
}
"""Of each drawing the command, and its exit code. `told.cl` holds a word that nobody knows, `edited.nc` a changed angle."""

_SHAPES = "--tool-shape 1=flat,diameter=10 --tool-shape 2=flat,diameter=6 --tool-shape 3=drill,diameter=5,point_angle=118"
_STOCK = "--stock round,diameter=30,from=-80,to=0,held=from,held_length=20"


def pages() -> dict[str, str]:
    """The drawings."""
    return {f"drawings/terminal-{name}.svg": drawing(TERMINALS[name][0], said) for name, said in shown().items()}


@cache
def shown() -> dict[str, str]:
    """What each command shows."""
    with fresh() as here:
        pin = here / "demo" / "latch_pin"
        _run(f"steadyrest take demo/latch_pin/latch_pin.cl {_SHAPES} {_STOCK} -o demo/latch_pin/latch_pin.toolpath.json", 0, here)
        (pin / "told.cl").write_text(
            (pin / "latch_pin.cl").read_text(encoding="utf-8").replace("MULTAX/ON", "MULTAX/ON\nTELL/COUNTER,ON"), encoding="utf-8"
        )
        found = {}
        for name, (line, ends) in TERMINALS.items():
            found[name] = _run(line, ends, here)
            if name == "post":
                program = (here / "latch_pin.nc").read_text(encoding="ascii")
                (here / "edited.nc").write_text(program.replace("A90", "A-90"), encoding="ascii")
        return found


def _run(line: str, ends: int, here: Path) -> str:
    own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_STATE_HOME", "APPDATA", "LOCALAPPDATA"), str(here / ".local" / "state")) | {
        "COLUMNS": "80"
    }
    command = [sys.executable, "-m", "steadyrest", *shlex.split(line)[1:]]
    done = subprocess.run(
        command, cwd=here, env={**os.environ, **own}, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False
    )
    if done.returncode != ends:
        raise ValueError(f"{line} ended with {done.returncode}: {done.stdout}")
    return done.stdout.replace(str(here), "/home/you").rstrip()


def alt(name: str) -> str:
    """What is to be seen: the command, and the first lines of what it shows."""
    said = " ".join(" ".join(shown()[name].split()[:28]).replace("[", "(").replace("]", ")").replace("`", "").split())
    return f"On the terminal {TERMINALS[name][0].split(' --')[0]}: {said}"


def picture(name: str) -> str:
    """As Markdown, for a page in the folder of the generated ones."""
    return f"![{alt(name)}](drawings/terminal-{name}.svg)"


def drawing(command: str, said: str) -> str:
    """A terminal with a command and what it shows; the first word of the answer is bold."""
    lines = textwrap.wrap(f"$ {command}", COLUMNS, subsequent_indent="    ", break_on_hyphens=False)
    asked = len(lines)
    for line in said.splitlines():
        indent = " " * (len(line) - len(line.lstrip()))
        lines += (
            textwrap.wrap(line, COLUMNS, subsequent_indent=indent, break_on_hyphens=False, drop_whitespace=True)
            if len(line) > COLUMNS
            else [line]
        )
    parts = []
    for at, line in enumerate(lines):
        kind = "asked" if at < asked else "first" if at == asked else "line"
        parts.append(f'<text class="{kind}" x="16" y="{HIGH * (at + 1) + 6}" xml:space="preserve">{escape(line)}</text>')
    style = STYLE.replace(
        "</style>",
        "text { font: 14.95px ui-monospace, 'DejaVu Sans Mono', 'Liberation Mono', Consolas, monospace; white-space: pre }\n"
        ".asked { fill: var(--act) }\n.first { font-weight: bold }\n</style>",
    )
    wide, high = 32 + WIDE * COLUMNS, HIGH * len(lines) + 24
    return svg(wide, high, escape(command), style + "".join(parts))
