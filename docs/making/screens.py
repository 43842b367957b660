"""What commands of the hand-written pages show on the screen, taken from real runs when the site is built."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Mapping
from contextlib import chdir
from pathlib import Path
from tempfile import TemporaryDirectory

from click.testing import CliRunner

from making.stated import ROOT
from steadyrest.cli import main

SCREENS: Mapping[str, str] = {
    "take": "steadyrest take demo/lantern_cap/face.nc --indexed 0,120,240 demo/lantern_cap/letters.nc --wrap 40 "
    "--stock round,diameter=40,from=-90,to=0,held=from,held_length=20 "
    "--tool-shape 1=flat,diameter=10 --tool-shape 2=ball,diameter=1 -o cap.toolpath.json",
    "turn-check": "steadyrest turn-check --controller rs274ngc --output turn.nc",
    "centre": "steadyrest centre find --diameter 40.018 --top 8.25 --sides Y -37.482 12.536",
    "by-example": "steadyrest controller new old-mill --by-example demo/lantern_cap/face.nc",
}
"""By the name of the sample, the command line as its page prints it."""


def pages() -> dict[str, str]:
    """One text file each."""
    return {f"samples/{name}.txt": _screen(line) for name, line in SCREENS.items()}


def _screen(line: str) -> str:
    with TemporaryDirectory() as folder, chdir(folder):
        shutil.copytree(ROOT / "demo", Path(folder) / "demo")
        own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_STATE_HOME", "APPDATA", "LOCALAPPDATA"), str(Path(folder) / "own"))
        done = CliRunner().invoke(main, shlex.split(line)[1:], env=own)
        if done.exit_code != 0:
            raise ValueError(f"{line} ended with {done.exit_code}: {done.output}") from done.exception
        return done.output.rstrip() + "\n"
