"""Real results of the commands that print JSON: which are run, on which parts, so that every key and every kind of value shows."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping, Sequence
from contextlib import chdir
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from click.testing import CliRunner

from making.stated import ROOT
from steadyrest.cli import main
from steadyrest.posting import post
from steadyrest.reporting import look_at
from steadyrest.request import Request

TOUR = ROOT / "tests" / "golden" / "tour"

PROFILE = """extends = "rs274ngc"
speaks = "The mill in the corner: another end of the program, one pipe for coolant."

[stops]
end = "M30"                           # as in every program that runs there

[coolant]
flood = "M7"                          # tried: the pump answers to this code only
mist = ""                             # there is one pipe

[rotary.A]
travel.kind = "rollover"
"""
"""A shop's profile: some settings with their source, one without."""

TOOL_CHANGE = """{{ comment("tool", facts.number, facts.name) }}
{{ words.tool }} {{ setting.tool.change }}
{% include "look.j2" %}
{{ setting.tool.length_offset }} {{ words.offset }}
"""
LOOK = "{{ setting.stops.program }} (BEFORE THE FIRST CUT)\n"

EXAMPLE = """%
(one flat)
G21 G90 G17 G40 G80
G54
T3 M6
S8000 M3
G0 G43 Z50. H3
G0 X5. Y-15.
G1 Z17.5 F600.
X-30.
G2 X-30. Y15. I0. J15. F400.
G0 Z50.
M5
M30
%
"""
"""A program as a shop may trust it."""


def _at(*found: float) -> tuple[str, ...]:
    """A ball found at an angle: that, X, Y and Z."""
    return ("--ball", *(f"{each:g}" for each in found))


BAR = ("--diameter", "40.018", "--top", "8.25", "--sides", "Y", "-37.482", "12.536")
FOUR_READINGS = ("--reading", "0", "0.046", "--reading", "90", "0.02", "--reading", "180", "-0.018", "--reading", "270", "0.01")
THREE_POINTS = ("--point", "10", "0", "--point", "-4.9", "8.7", "--point", "-5.1", "-8.6")

RUNS: Mapping[str, Sequence[tuple[int, Sequence[str]]]] = {
    "controller check": (
        (1, ("corner-mill", "--strict")),
        (1, ("wrong-mill",)),
    ),
    "controller compare": (
        (0, ("rs274ngc", "corner-mill", "tapping.toolpath.json")),
        (0, ("rs274ngc", "fixed-steps", "wrapped.toolpath.json")),
        (0, ("fixed-steps", "rs274ngc", "wrapped.toolpath.json")),
        (0, ("corner-mill", "counts-numbered", "tapping.toolpath.json")),
        (0, ("rs274ngc", "upright-c")),
        (0, ("upright-c", "rs274ngc")),
    ),
    "controller new": (
        (0, ("second-mill", "--by-example", "trusted.nc")),
        (0, ("third-mill",)),
    ),
    "explain": (
        (0, ("edited.nc:22-27", "-t", "indexed.toolpath.json", "-c", "rs274ngc")),
        (0, ("indexed.nc:1-42", "-t", "indexed.toolpath.json", "-c", "rs274ngc")),
        (0, ("wrapped.nc:1-42", "-t", "wrapped.toolpath.json", "-c", "rs274ngc")),
        (0, ("corner.nc:1-22", "-t", "indexed.toolpath.json", "-c", "corner-mill")),
    ),
    "centre find": (
        (0, (*BAR, *FOUR_READINGS, "-c", "rs274ngc")),
        (0, (*BAR, "--reading", "0", "0.046", "--reading", "180", "-0.018", "--remember", "left-end", "--reference", "Y", "-100")),
        (0, ("--end", "+X", "35", "--tool", "10", "--flat", "-12", "18.1", "--flat", "12", "18.4", "-c", "rs274ngc")),
        (3, (*BAR, "--tool", "10", *THREE_POINTS)),
        (0, (*BAR, "--job", "aside.job.toml")),
    ),
    "centre line": (
        (0, ("-c", "two-in-table", "--rotary", "C", *_at(0, -195, -50, -370), *_at(90, -180, -175, -370), *_at(180, -305, -190, -370))),
        (3, ("-c", "two-in-table", "--rotary", "C", *_at(0, -195, -50, -370), *_at(90, -180, -175, -370), *_at(180, -305, -189, -370))),
        (0, ("-c", "rs274ngc", "--rotary", "A", *_at(0, 0, 0, 50), *_at(30, 0, 25, 43.301), *_at(60, 0, 43.301, 25))),
    ),
    "centre place": (
        (0, ("left-end", "--reference", "Y", "-99.5")),
        (0, ("left-end", "--reference", "Y", "-99.5", "--job", "aside.job.toml")),
    ),
    "deliver": (
        (0, ("indexed.nc", "-t", "indexed.toolpath.json", "--to", "share", "--log", "deliveries.log")),
        (0, ("indexed.nc", "-t", "indexed.toolpath.json", "--to", "share", "--log", "deliveries.log")),
        (0, ("commented.nc", "-t", "indexed.toolpath.json", "--to", "share", "--name", "indexed.nc", "--log", "deliveries.log")),
    ),
}
"""Each command with the exit code and the arguments of its runs; they follow each other in one folder."""


@cache
def samples() -> Mapping[str, tuple[Any, ...]]:
    """What each command printed, by its name, with a shop's paths for those of this run; `report` stands for picture and setup-sheet."""
    with TemporaryDirectory() as folder, chdir(folder):
        here = Path(folder)
        _prepare(here)
        found = {command: tuple(_printed(here, command, code, said) for code, said in runs) for command, runs in RUNS.items()}
        found["report"] = tuple(_reports(here))
        return {command: tuple(_elsewhere(each, here) for each in results) for command, results in found.items()}


def strictly(text: str) -> Any:
    """JSON as RFC 8259 has it; ValueError for NaN and Infinity, which Python would take."""

    def refuse(word: str) -> None:
        raise ValueError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def _printed(here: Path, command: str, code: int, said: Sequence[str]) -> Any:
    """The JSON of one run of a command."""
    own = {"XDG_CONFIG_HOME": str(here / "config"), "APPDATA": str(here / "config")}
    state = {"XDG_STATE_HOME": str(here / "state"), "LOCALAPPDATA": str(here / "state")}
    done = CliRunner().invoke(main, [*command.split(), *said, "--json"], env=own | state)
    if code != done.exit_code:
        raise ValueError(f"{command} {' '.join(said)} ended with {done.exit_code} instead of {code}: {done.output}") from done.exception
    return strictly(done.stdout)


def _reports(here: Path) -> list[Any]:
    """What `report` and `picture` print, without making page or picture: proved, refused, and without a stock to cut."""
    cells = (24, 48)
    looked = [
        look_at(Request(here / "wrapped.toolpath.json", "rs274ngc"), cells=cells),
        look_at(Request(here / "indexed.toolpath.json", "rs274ngc"), here / "edited.nc", cells=cells),
        look_at(Request(here / "no-stock.toolpath.json", "rs274ngc"), cells=cells),
    ]
    return [strictly(json.dumps(each.posted.as_json())) for each in looked]


def _prepare(here: Path) -> None:
    """Parts, programs, one of them edited by hand, and a profile of the shop's own."""
    for name in ("indexed", "wrapped", "tapping"):
        shutil.copy(TOUR / f"{name}.toolpath.json", here)
    bare = json.loads((here / "indexed.toolpath.json").read_text(encoding="utf-8"))
    (here / "no-stock.toolpath.json").write_text(json.dumps({**bare, "stock": None, "clearance": 30}), encoding="utf-8")
    (here / "aside.toolpath.json").write_text(json.dumps({**bare, "centre": [0, 3, 0]}), encoding="utf-8")
    (here / "aside.job.toml").write_text(
        'steadyrest_job = 1\n[[inputs]]\nfile = "aside.toolpath.json"\n[post]\ncontroller = "rs274ngc"\n', encoding="utf-8"
    )
    for name in ("indexed", "wrapped"):
        post(Request(here / f"{name}.toolpath.json", "rs274ngc", here / f"{name}.nc"))
    written = (here / "indexed.nc").read_text(encoding="ascii")
    edited = written.replace("F900\n", "F1200\nM0 (look)\n", 1).replace("G0 A60\n", "", 1)
    (here / "edited.nc").write_text(edited, encoding="ascii")
    (here / "commented.nc").write_text(written.replace("G0 A60\n", "(the second face)\nG0 A60\n", 1), encoding="ascii")
    (here / "trusted.nc").write_text(EXAMPLE, encoding="ascii")
    (here / "share").mkdir()
    shop = here / "corner-mill"
    (shop / "templates").mkdir(parents=True)
    (shop / "controller.toml").write_text(PROFILE, encoding="utf-8")
    (shop / "templates" / "tool_change.j2").write_text(TOOL_CHANGE, encoding="utf-8")
    (shop / "templates" / "look.j2").write_text(LOOK, encoding="utf-8")
    post(Request(here / "indexed.toolpath.json", str(shop), here / "corner.nc"))
    (here / "wrong-mill").mkdir()
    (here / "wrong-mill" / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "One word is wrong."\n\n[words]\nspace = true\n')


def _elsewhere(value: Any, here: Path) -> Any:
    """The same, with the folder of this run called /shop, and the checkout /steadyrest."""
    if isinstance(value, str):
        return value.replace(str(here), "/shop").replace(str(ROOT), "/steadyrest")
    if isinstance(value, Mapping):
        return {key: _elsewhere(inner, here) for key, inner in value.items()}
    return [_elsewhere(each, here) for each in value] if isinstance(value, list) else value
