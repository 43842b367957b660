"""What a simultaneous path costs on two rotaries, against one as long on one; run by hand: bench_chain.py [MOVES ...], by default 1e6.

Planning by itself in processor time, then posting and proving as a whole process, without simulation, with the most memory that it takes.
1e7 moves are posted once, which takes about a minute and 1.8 GB of disk; planning by itself is left out there.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from long_toolpath import HEAD, write_long_toolpath

from steadyrest.motion import Motion, plan
from steadyrest.profile import load_profile
from steadyrest.toolpath import load_toolpath

MOST_PLANNED = 2_000_000
"""More moves are only posted, and once."""


def write_dome(moves: int, path: Path, block: int = 50_000) -> None:
    """A spiral round a dome, as densely set as the spiral round a bar: the tool leans by 23 to 35 degrees from Z, all round."""
    head = HEAD | {"axis": "Z", "stock": {"shape": "round", "diameter": 60, "from": -60, "to": 30}}
    before, after = json.dumps(head).split('"@"')
    with path.open("w", encoding="utf-8") as file:
        file.write(before + "[")
        for start in range(0, moves, block):
            k = np.arange(start, min(moves, start + block))
            turn, lean = k * 0.02, 0.5 + 0.1 * np.sin(0.06 * k)
            radius = 15.0 * (k == 0) + 30
            axis = np.column_stack([np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), np.cos(lean)])
            tip = axis * radius[:, None] + [0, 0, 0.2] * np.sin(0.1 * k)[:, None]
            columns = {"motion": (k > 0).astype(int).tolist(), "feed": [900] * len(k)}
            columns |= {name: column.round(4).tolist() for name, column in zip("xyz", tip.T, strict=True)}
            columns |= {name: column.round(7).tolist() for name, column in zip("ijk", axis.T, strict=True)}
            file.write(("," if start else "") + json.dumps(columns))
        file.write("]" + after)


def planned(path: Path, controller: str) -> tuple[float, int]:
    """CPU seconds of planning, its file read included, and the blocks made."""
    begin = time.process_time()
    blocks = sum(len(item) for item in plan(load_toolpath(path), load_profile(controller)).items if isinstance(item, Motion))
    return time.process_time() - begin, blocks


def posted(path: Path, controller: str) -> tuple[float, float]:
    """CPU seconds and MB of a whole process that posts and proves."""
    words = ["post", str(path), "-c", controller, "-o", str(path.with_suffix(".nc")), "--no-simulation"]
    process = subprocess.Popen([sys.executable, "-m", "steadyrest", *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    assert status == 0, words
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main() -> None:
    """A table for each number of moves."""
    for moves in [int(float(word)) for word in sys.argv[1:]] or [1_000_000]:
        seconds = []
        for name, write, controller in (("one rotary", write_long_toolpath, "rs274ngc"), ("two rotaries", write_dome, "two-in-table")):
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder, "part.toolpath.json")
                # In a process of its own, and posted first: what this one has held counts as the memory of those that it starts.
                writer = multiprocessing.get_context("spawn").Process(target=write, args=(moves, path))
                writer.start()
                writer.join()
                took, most = min(posted(path, controller) for _ in range(3 if moves <= MOST_PLANNED else 1))
                print(f"{name:14s} {moves:,} moves posted and proved: {took:7.2f} s CPU, {most:.0f} MB")
                seconds.append([took])
                if moves <= MOST_PLANNED:
                    took, blocks = min(planned(path, controller) for _ in range(3))
                    print(f"{name:14s} planned: {took:7.2f} s CPU, {blocks:,} blocks")
                    seconds[-1].append(took)
        for what, one, two in zip(("posting and proving", "planning"), *seconds, strict=False):
            print(f"{what} takes {two / one:.2f} times on two what it takes on one")


if __name__ == "__main__":
    main()
