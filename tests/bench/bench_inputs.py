"""How fast are inputs taken? Run by hand: python tests/bench/bench_inputs.py [MOVES]

Prints seconds and peak memory: CL data with tool axes against float() over the same numbers split by comma (the limit is three
times that), CL data in which every point has a statement of its own before it (a tenth of the moves), and a plain program against
the proof's reader alone, its rows thrown away or, as a toolpath's are, kept. Each stage runs in a process of its own, three times;
the middle one counts.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

LIMIT = 3.0
PROGRAM_LIMIT = 1.25
RUNS = 3
HEAD = "UNITS/MM\nLOADTL/1\nCUTTER/6\nSPINDL/8000,CLW\nFEDRAT/900\n"
START = "G21 G17 G90 G94 G40 G49 G80 G54\nT1 M6\nS8000 M3\nG0 X0 Y0 Z50\nF900\n"


def numbers(moves: int) -> np.ndarray:
    """(moves, 6): a spiral with the tool axis across X."""
    turn = np.linspace(0, 200 * np.pi, moves)
    axis = np.column_stack([np.zeros(moves), -np.sin(turn), np.cos(turn)])
    return np.hstack([np.linspace(0, -90, moves)[:, None], 20 * axis[:, 1:], axis])


def write(folder: Path, moves: int) -> None:
    rows = numbers(moves)
    (folder / "numbers.txt").write_text(",".join(f"{value:.6f}" for value in rows.ravel().tolist()))
    with (folder / "part.cl").open("w") as file:
        file.write(HEAD + "MULTAX/ON\nRAPID\n")
        file.writelines("GOTO/" + ",".join(f"{value:.6f}" for value in row) + "\n" for row in rows.tolist())
        file.write("FINI\n")
    with (folder / "mixed.cl").open("w") as file:
        file.write(HEAD)
        for at, row in enumerate(rows[: moves // 10].tolist()):
            file.write(
                ("RAPID\n" if at % 5 == 0 else f"FEDRAT/{100 + at % 7}\n") + "GOTO/" + ",".join(f"{value:.6f}" for value in row[:3]) + "\n"
            )
        file.write("FINI\n")
    with (folder / "part.nc").open("w") as file:
        file.write(START)
        file.writelines(f"G1 X{row[0]:.4f} Y{row[1]:.4f} Z{row[2]:.4f}\n" for row in rows.tolist())
        file.write("M2\n")


def floats(folder: Path) -> None:
    text = (folder / "numbers.txt").read_text()
    measured("float() over the numbers", lambda: [float(word) for word in text.split(",")])


def taken(folder: Path, name: str) -> None:
    from steadyrest.inputs import Input, PartOptions, find_readers, take

    find_readers()  # what readers import is not what is measured
    part = PartOptions.model_validate({"clearance": 100.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})
    measured(f"take {name}", lambda: take([Input(file=folder / name)], part))


def read_only(folder: Path, *, keep: bool) -> None:
    from steadyrest.profile import load_profile
    from steadyrest.reading import read_program

    profile = load_profile("rs274ngc")
    items = partial(read_program, folder / "part.nc", profile)
    if keep:
        measured("the proof's reader, kept", lambda: list(items()))
    else:
        measured("the proof's reader", lambda: sum(1 for _ in items()))


def measured(what: str, run: Callable[[], object]) -> None:
    began = time.perf_counter()
    run()
    seconds = time.perf_counter() - began
    peak_kb = next(int(line.split()[1]) for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
    print(f"{what:28} {seconds:7.2f} s {peak_kb / 1024:7.0f} MB", flush=True)


STAGES: dict[str, Callable[[Path], None]] = {
    "floats": floats,
    "cl": lambda folder: taken(folder, "part.cl"),
    "mixed": lambda folder: taken(folder, "mixed.cl"),
    "reader": partial(read_only, keep=False),
    "reader_kept": partial(read_only, keep=True),
    "program": lambda folder: taken(folder, "part.nc"),
}


def main() -> None:
    """All stages, one after the other; the limit checked."""
    moves = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder), moves)
        seconds = {}
        for stage in STAGES:
            command = [sys.executable, __file__, "--stage", stage, folder]
            said = [subprocess.run(command, check=True, capture_output=True, text=True).stdout for _ in range(RUNS)]
            runs = sorted((float(line.split(" s ")[0].split()[-1]), line) for line in said)
            seconds[stage], line = runs[RUNS // 2]
            print(line, end="")
    ratio, program = seconds["cl"] / seconds["floats"], seconds["program"] / seconds["reader_kept"]
    print(f"CL data over float(): {ratio:.2f}, at most {LIMIT:g}")
    print(f"program over reader that keeps its rows: {program:.2f}, at most {PROGRAM_LIMIT:g}")
    print(f"program over reader that throws its rows away: {seconds['program'] / seconds['reader']:.2f}")
    if ratio > LIMIT or program > PROGRAM_LIMIT:
        sys.exit(1)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--stage"]:
        STAGES[sys.argv[2]](Path(sys.argv[3]))
    else:
        main()
