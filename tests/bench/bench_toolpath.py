"""How long does a million-move table take to load and stream, and how much memory do ten million take?

Run with `python tests/bench/bench_toolpath.py [--millions N]`; every figure is a process of its own, the speed is
given as a ratio to `json.loads` (garbage collector off) of the same file. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import gc
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np


def table_text(first: int, n: int) -> str:
    """One block of n simultaneous moves: a ripple round a bar, seven numbers and the motion."""
    s = np.arange(first, first + n)
    angle = s * 0.0007
    radius = 18 + np.sin(s * 0.011)
    columns = {
        "motion": np.where(s % 5000 == 0, 0, 1),
        "x": np.round(-s * 1e-4, 4),
        "y": np.round(-radius * np.sin(angle), 4),
        "z": np.round(radius * np.cos(angle), 4),
        "i": np.zeros(n),
        "j": np.round(-np.sin(angle), 7),
        "k": np.round(np.cos(angle), 7),
        "feed": np.round(500 + 100 * np.cos(s * 0.01), 1),
    }
    return json.dumps({name: column.tolist() for name, column in columns.items()})


def write_file(path: Path, moves: int, block: int) -> None:
    """A toolpath of one simultaneous operation, its table in blocks (or one table if block >= moves)."""
    head = {
        "steadyrest_toolpath": 1,
        "name": "ripple",
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -2000, "to": 0},
        "tools": [{"number": 1, "name": "6 mm ball", "shape": "ball", "diameter": 6}],
    }
    operation = {
        "name": "ripple",
        "tool": 1,
        "spindle": {"rpm": 12000, "turns": "clockwise"},
        "rotary": {"intent": "simultaneous"},
    }
    with path.open("w") as file:
        file.write(json.dumps(head)[:-1] + ', "operations": [' + json.dumps(operation)[:-1] + ', "table": ')
        if block >= moves:
            file.write(table_text(0, moves))
        else:
            file.write("[")
            for first in range(0, moves, block):
                file.write((",\n" if first else "") + table_text(first, min(block, moves - first)))
            file.write("]")
        file.write("}]}\n")


def stream(path: Path) -> None:
    """Load and stream all columns, then once more; print seconds and peak memory."""
    started = time.perf_counter()
    from steadyrest.toolpath import load_toolpath

    imported = time.perf_counter()
    toolpath = load_toolpath(path)
    loaded = time.perf_counter()
    rows = sum(len(run) for operation in toolpath.operations for run in operation.stream())  # type: ignore[arg-type]
    streamed = time.perf_counter()
    sum(len(run) for operation in toolpath.operations for run in operation.stream())  # type: ignore[arg-type]
    again = time.perf_counter()
    # Not ru_maxrss: on Linux that begins with what the process that started this one held.
    status = Path("/proc/self/status").read_text()
    peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
    print(
        f"{rows:>10} moves: import {imported - started:.3f} s, load {loaded - imported:.3f} s, "
        f"stream {streamed - loaded:.3f} s (together {streamed - imported:.3f} s), "
        f"second pass {again - streamed:.3f} s, peak {peak:.0f} MB"
    )


def baseline(path: Path) -> None:
    """json.loads of the same file with the garbage collector off; print seconds."""
    raw = path.read_bytes()
    gc.disable()
    started = time.perf_counter()
    json.loads(raw)
    print(f"    json.loads: {time.perf_counter() - started:.3f} s")


def objects(path: Path, moves: int) -> None:
    """A file of `moves` as objects, not a table."""
    write_file(path, 2, 2)
    data = json.loads(path.read_text())
    del data["operations"][0]["table"]
    data["operations"][0]["moves"] = [{"cut": [-n * 1e-4, 0.0, 18.0], "tool_axis": [0.0, 0.0, 1.0], "feed": 500.0} for n in range(moves)]
    path.write_text(json.dumps(data))


def main() -> None:
    """All figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--millions", type=int, default=1, help="millions of moves in the file that tests memory")
    parser.add_argument("--stream", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--baseline", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.stream:
        return stream(given.stream)
    if given.baseline:
        return baseline(given.baseline)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toolpath.json"

        def run(option: str) -> None:
            subprocess.run([sys.executable, __file__, option, str(path)], check=True)

        print("100,000 moves as objects")
        objects(path, 100_000)
        run("--stream")
        for title, block in (("one table", 10**9), ("blocks of 50,000", 50_000)):
            write_file(path, 1_000_000, block)
            print(f"{title}, {path.stat().st_size / 1e6:.0f} MB")
            run("--stream")
            run("--baseline")
        if given.millions > 1:
            write_file(path, given.millions * 1_000_000, 50_000)
            print(f"blocks of 50,000, {path.stat().st_size / 1e6:.0f} MB")
            run("--stream")


if __name__ == "__main__":
    main()
