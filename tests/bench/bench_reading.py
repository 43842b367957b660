"""How long does a million-line program take to read back, dense, sparse and full of arcs, and how much memory do ten million take?

Run with `python tests/bench/bench_reading.py [--millions N]`; the speed is given as a ratio to `json.loads` (garbage collector
off) of the same moves in columns, in the same run. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import gc
import json
import resource
import time
from collections.abc import Iterator

import numpy as np

from steadyrest.profile import load_profile
from steadyrest.reading import MotionRead, read_program

HEAD = b"%\nG17 G21 G90 G94\nG1 X0 Y0 Z50 A0 F500\n"
TAIL = b"M2\n%\n"
BLOCK = 50_000


def columns(first: int, n: int) -> dict[str, np.ndarray]:
    """n simultaneous moves: a ripple round a bar."""
    s = np.arange(first, first + n)
    angle = s * 0.0007
    radius = 18 + np.sin(s * 0.011)
    return {
        "x": np.round(-s * 1e-4, 4),
        "y": np.round(-radius * np.sin(angle), 4),
        "z": np.round(radius * np.cos(angle), 4),
        "a": np.round(np.degrees(angle), 4),
        "f": np.round(500 + 100 * np.cos(s * 0.01), 1),
        "i": np.zeros(n),
        "j": np.round(-np.sin(angle), 7),
        "k": np.round(np.cos(angle), 7),
    }


def dense(first: int, n: int) -> bytes:
    """Every word in every line."""
    table = columns(first, n)
    rows = zip(*(table[name].tolist() for name in "xyzaf"), strict=True)
    return "".join(f"X{x:.4f} Y{y:.4f} Z{z:.4f} A{a:.4f} F{f:.1f}\n" for x, y, z, a, f in rows).encode()


def sparse(first: int, n: int) -> bytes:
    """A line in three with X alone, F in one of ten, a note in one of a hundred."""
    table = columns(first, n)
    lines = []
    for s, x, y, z, a, f in zip(range(n), *(table[name].tolist() for name in "xyzaf"), strict=True):
        line = f"X{x:.4f}" if s % 3 == 0 else f"X{x:.4f} Y{y:.4f} Z{z:.4f} A{a:.4f}"
        lines.append(line + (f" F{f:.1f}" if s % 10 == 0 else "") + (" (note)" if s % 100 == 0 else ""))
    return ("\n".join(lines) + "\n").encode()


def arcs(first: int, n: int) -> bytes:
    """Nothing but arcs: each line by itself."""
    return "".join(f"G{2 + s % 2} X{(s % 2) * 3} Y0 I{1.5 if s % 2 else -1.5}\n" for s in range(first + 1, first + n + 1)).encode()


def read_time(pieces: list[bytes]) -> tuple[float, int]:
    profile = load_profile("rs274ngc")
    start = time.perf_counter()
    rows = sum(len(item) for item in read_program([HEAD, *pieces, TAIL], profile) if isinstance(item, MotionRead))
    return time.perf_counter() - start, rows - 1


def json_time(n: int) -> float:
    text = json.dumps({name: column.tolist() for name, column in columns(0, n).items()})
    gc.disable()
    start = time.perf_counter()
    json.loads(text)
    took = time.perf_counter() - start
    gc.enable()
    return took


def streamed(n: int) -> Iterator[bytes]:
    yield HEAD
    for first in range(0, n, BLOCK):
        yield dense(first, BLOCK)
    yield TAIL


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--millions", type=int, default=0, help="also stream that many million lines and tell the memory")
    millions = parser.parse_args().millions
    n = 1_000_000
    against = min(json_time(n) for _ in range(3))
    print(f"json.loads of {n} moves: {against:.3f} s")
    for name, make, lines in (("dense", dense, n), ("sparse", sparse, n), ("arcs", arcs, n // 20)):
        pieces = [make(first, BLOCK) for first in range(0, lines, BLOCK)]
        took, rows = min(read_time(pieces) for _ in range(3))
        assert rows == lines, (rows, lines)
        print(f"{name}: {took * n / lines:.3f} s per million lines, {took * n / lines / against:.2f} of json.loads")
    if millions:
        rows = sum(len(item) for item in read_program(streamed(millions * n), load_profile("rs274ngc")) if isinstance(item, MotionRead))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{rows} rows streamed, peak memory {peak:.0f} MB (with the text of the rest of this run)")


if __name__ == "__main__":
    main()
