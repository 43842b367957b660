"""What a simultaneous path costs to plan on two rotaries, against one as long on one; run by hand: bench_chain.py [MOVES]."""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from long_toolpath import HEAD, write_long_toolpath

from steadyrest.motion import Motion, plan
from steadyrest.profile import Profile, load_profile
from steadyrest.toolpath import load_toolpath


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


def machine() -> Profile:
    """C carried by A, which else speaks as the reference does."""
    turns = {"positive_turns_chuck": "clockwise"}
    travel = {"kind": "limited", "from": -120, "to": 120}
    rotary = {"C": turns | {"along": "Z", "chuck_faces": "+Z"}, "A": turns | {"along": "X", "chuck_faces": "+X", "travel": travel}}
    spoken = load_profile("rs274ngc").model_dump(by_alias=True)
    return Profile.model_validate(spoken | {"name": "hand", "chain": "part C A bed spindle", "rotary": rotary})


def planned(path: Path, profile: Profile) -> tuple[float, int]:
    """CPU seconds of planning, its file read included, and the blocks made."""
    begin = time.process_time()
    blocks = sum(len(item) for item in plan(load_toolpath(path), profile).items if isinstance(item, Motion))
    return time.process_time() - begin, blocks


def main() -> None:
    """Plans both and prints what each took."""
    moves = int(float(sys.argv[1])) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        bar, dome = Path(folder, "bar.toolpath.json"), Path(folder, "dome.toolpath.json")
        write_long_toolpath(moves, bar)
        write_dome(moves, dome)
        seconds = []
        for name, path, profile in (("one rotary", bar, load_profile("rs274ngc")), ("two rotaries", dome, machine())):
            took, blocks = min(planned(path, profile) for _ in range(3))
            seconds.append(took)
            print(f"{name:14s} {took:7.2f} s CPU, {blocks:,} blocks of {moves:,} moves")
        print(f"two take {seconds[1] / seconds[0]:.2f} times what one takes")


if __name__ == "__main__":
    main()
