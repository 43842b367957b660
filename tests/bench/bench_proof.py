"""What the proof costs beside reading. By hand: python tests/bench/bench_proof.py [MOVES [CASE]]; a word of a case profiles it."""

from __future__ import annotations

import cProfile
import json
import pstats
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from bench_chain import write_dome

from steadyrest.motion import plan
from steadyrest.profile import resolve
from steadyrest.proof import prove
from steadyrest.reading import read_program
from steadyrest.toolpath import Table, Toolpath, parse_toolpath
from steadyrest.writing import write_program


def spiral(moves: int, per_turn: int) -> Table:
    """Around a twisted bar of our own: `per_turn` points a turn, the tool upright on the axis."""
    at = np.arange(moves)
    angle = at * 2 * np.pi / per_turn
    radius = 12 + 3 * np.cos(2 * angle)
    motion = np.ones(moves)
    motion[0] = 0
    return Table.from_columns(
        motion=motion,
        x=-at * 1e-4,
        y=radius * np.sin(angle),
        z=radius * np.cos(angle),
        i=np.zeros(moves),
        j=np.sin(angle),
        k=np.cos(angle),
        feed=np.full(moves, 600.0),
    )


def wave(moves: int) -> Table:
    """A wrapped wave: one block a move."""
    at = np.arange(moves)
    motion = np.ones(moves)
    motion[0] = 0
    return Table.from_columns(motion=motion, x=-at * 1e-4, y=0.3 * at, z=np.sin(at / 50), feed=np.full(moves, 600.0))


def part(intent: dict[str, object], table: Table) -> Toolpath:
    """One operation on a bar of 60."""
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 60, "from": -2000, "to": 0},
            "tools": [{"number": 1, "shape": "ball", "diameter": 6}],
            "operations": [{"tool": 1, "spindle": {"rpm": 8000, "turns": "clockwise"}, "rotary": intent, "table": table}],
        }
    )


def dome(moves: int, every: int = 1) -> Toolpath:
    """A spiral round a dome: two rotaries turn in each block; of its moves so many apart, each then goes into several blocks."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "dome.toolpath.json")
        write_dome(moves, path)
        data = json.loads(path.read_bytes())
    blocks = data["operations"][0]["table"]
    columns = {name: np.concatenate([block[name] for block in blocks])[::every] for name in blocks[0]}
    data["operations"][0]["table"] = Table.from_columns(**columns)
    return parse_toolpath(data)


def main() -> None:
    """Print a line for each case, then a profile of the first if asked."""
    moves = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    simultaneous = {"intent": "simultaneous"}
    cases = (
        ("simultaneous, one block a move", part(simultaneous, spiral(moves, 400)), "rs274ngc"),
        ("simultaneous, several blocks", part(simultaneous, spiral(moves // 3, 40)), "rs274ngc"),
        ("wrapped", part({"intent": "wrapped", "diameter": 60}, wave(moves)), "rs274ngc"),
        ("wrapped, F of linear axes", part({"intent": "wrapped", "diameter": 60}, wave(moves)), "linear-feed-only"),
        ("two rotaries, one block a move", dome(moves), "two-in-table"),
        ("two rotaries, several blocks", dome(moves, every=10), "two-in-table"),
    )
    for name, toolpath, controller in cases:
        resolved = resolve(controller)
        profile, templates = resolved.profile, resolved.template_folders
        planned = plan(toolpath, profile, head="")
        writing = write_program(planned.items, profile, templates, inch=planned.inch, rotary_letters=planned.letters)
        text = b"".join(writing)
        rows = text.count(b"\n")
        begun = time.process_time()
        items = list(read_program(text, profile, rotary_letter="A" if profile.chain is None else None))
        read = time.process_time() - begun
        seconds = []
        for _ in range(3):
            begun = time.process_time()
            verdict = prove(items, toolpath, profile)
            seconds.append(time.process_time() - begun)
        assert verdict.proved, verdict.text()
        print(f"{name:34} {rows:9} lines  read {read:5.2f} s  proof {min(seconds):6.3f} s  {min(seconds) / rows * 1e9:5.0f} ns a line")
        if len(sys.argv) > 2 and sys.argv[2] in name:
            profiler = cProfile.Profile()
            profiler.runcall(prove, items, toolpath, profile)
            pstats.Stats(profiler).sort_stats("tottime").print_stats(40)


if __name__ == "__main__":
    main()
