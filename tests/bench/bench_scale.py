"""How long do a million holes, a hundred thousand operations and a thousand profiles take, and how much memory? Run by hand.

.venv/bin/python tests/bench/bench_scale.py [holes] [operations] [profiles]
"""

from __future__ import annotations

import json
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any


def toolpath(operations: list[dict[str, Any]]) -> dict[str, Any]:
    """A part with these operations of tool 3."""
    common = {"tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}}
    return {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": {"at": "from", "length": 5}},
        "tools": [{"number": 3, "shape": "drill", "diameter": 3, "point_angle": 118}],
        "operations": [common | operation for operation in operations],
    }


def holes(count: int) -> dict[str, Any]:
    """So many like holes in one operation."""
    drilled = [{"hole": [-1.0 - at % 80, -10.0 + at // 80 % 200 * 0.1], "retract": 22.0, "bottom": 15.0} for at in range(count)]
    drilled[0]["feed"] = 100.0
    return toolpath([{"rotary": {"intent": "indexed", "angles": [0]}, "moves": [{"rapid": [-5, -5, 30]}, *drilled]}])


def operations(count: int) -> dict[str, Any]:
    """So many operations of one short cut, each at another angle than the one before."""
    moves = [{"rapid": [-5, -15, 21]}, {"cut": [-30, -15, 17.5], "feed": 900}, {"cut": [-30, 15, 17.5]}]
    return toolpath([{"rotary": {"intent": "indexed", "angles": [15 * at % 360]}, "moves": moves} for at in range(count)])


def write(file: Path, make: Callable[[int], dict[str, Any]], count: int) -> None:
    file.write_text(json.dumps(make(count)), encoding="utf-8")


def timed(what: str, said: list[str], home: Path) -> None:
    """One command, its time and the most memory that a command has taken so far."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "steadyrest", *said], capture_output=True, check=False, env=os.environ | {"XDG_CONFIG_HOME": str(home)}
    )
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{what:<24}{time.perf_counter() - begun:>8.1f} s{most:>8.0f} MB at most so far, exit code {done.returncode}", flush=True)


def main() -> None:
    """The three, the smallest first."""
    many = [int(float(each)) for each in sys.argv[1:]] or [1_000_000, 100_000, 1_000]
    drilled, cut, profiles = (*many, 100_000, 1_000)[:3]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for at in range(profiles):
            own = folder / "steadyrest" / "controllers" / f"mill-{at:05d}"
            own.mkdir(parents=True)
            text = f'extends = "rs274ngc"\nspeaks = "Mill {at} of a shop with many."\n[rotary.A]\nchuck_faces = "-X"\n'
            (own / "controller.toml").write_text(text, encoding="utf-8")
        timed(f"list of {profiles} profiles", ["controller", "list"], folder)
        file = folder / "part.toolpath.json"
        for what, count, make in (("operations", cut, operations), ("holes", drilled, holes)):
            # In a process of its own: what this one has held counts as the memory of the commands that it starts.
            writer = multiprocessing.get_context("spawn").Process(target=write, args=(file, make, count))
            writer.start()
            writer.join()
            timed(f"{count} {what}", ["post", str(file), "-o", str(folder / "part.nc")], folder)


if __name__ == "__main__":
    main()
