"""What writing costs, in nanoseconds a row. Run by hand: python tests/bench/bench_writing.py [ROWS]."""

from __future__ import annotations

import statistics
import sys
import time
import tracemalloc
from collections.abc import Iterator

import numpy as np

from steadyrest.conventions import INVERSE, LINE, PER_MINUTE
from steadyrest.motion.model import Event, Motion, motion
from steadyrest.profile import resolve, shared_templates_folder
from steadyrest.writing import write_program

BLOCK = 50_000


def simultaneous(rows: int, mode: int, *, still_z: bool = False) -> Iterator[Motion | Event]:
    """A twisted path of our own: X creeps, Y and Z swing, A winds on; every row changes every word."""
    for low in range(0, rows, BLOCK):
        t = np.arange(low, min(low + BLOCK, rows), dtype=np.float64)
        z = np.full(len(t), 12.0) if still_z else 18 + 1.5 * np.sin(t / 700)
        yield motion(
            LINE,
            np.column_stack([-90 + (t * 0.00873) % 80, 9 * np.cos(t / 311), z]),
            t[:, None] * 0.37134,
            operation=1,
            rule="cut",
            feed_mode=mode,
            feed=900 + 400 * np.sin(t / 97) if mode == INVERSE else np.full(len(t), 600.0),
            move=t.astype(np.int64) + 1,
        )


def seconds_of(rows: int, mode: int, name: str, *, still_z: bool = False) -> tuple[float, int]:
    """Seconds of processor time for writing so many rows, the making of the rows not counted, and the bytes written."""
    profile = resolve(name).profile
    runs = list(simultaneous(rows, mode, still_z=still_z))
    begun = time.process_time()
    size = sum(map(len, write_program(runs, profile, [shared_templates_folder()], inch=False, rotary_letters=["A"])))
    return time.process_time() - begun, size


def main() -> None:
    """Print a line for each case."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    for label, mode, name, still_z in (
        ("X Y Z A F, inverse time", INVERSE, "rs274ngc", False),
        ("X Y A F, inverse time, Z still", INVERSE, "rs274ngc", True),
        ("X Y Z A, per minute", PER_MINUTE, "rs274ngc", False),
        ("whole counts, numbered", PER_MINUTE, "counts-numbered", False),
        ("incremental", PER_MINUTE, "incremental", False),
        ("rollover, sign", PER_MINUTE, "rollover-sign", False),
    ):
        runs = [seconds_of(rows, mode, name, still_z=still_z) for _ in range(5)]
        seconds = statistics.median(one for one, _ in runs)
        print(f"{label:32} {seconds / rows * 1e9:6.0f} ns a row   {runs[0][1] / rows:5.1f} bytes a row")
    tracemalloc.start()
    profile = resolve("rs274ngc").profile
    for _ in write_program(simultaneous(rows, INVERSE), profile, [shared_templates_folder()], inch=False, rotary_letters=["A"]):
        pass
    print(f"peak of memory while writing {rows} rows: {tracemalloc.get_traced_memory()[1] / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
