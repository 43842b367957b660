"""How long does posting take, whole processes, and how much memory? Ratios to json.loads of the same file in the same run.

Run: bench_post.py [MOVES ...], by default 1e6; 1e7 takes about a minute and 700 MB of disk.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from long_toolpath import write_long_toolpath

BASELINE = """
import gc, json, sys, time
text = open(sys.argv[1]).read()
gc.disable()
start = time.perf_counter(); json.loads(text); print(time.perf_counter() - start)
"""
WRITE = """
import resource, sys, time
from pathlib import Path
from steadyrest.motion import plan
from steadyrest.profile import resolve
from steadyrest.toolpath import load_toolpath
from steadyrest.writing import put_in_place, write_program
start = time.perf_counter()
toolpath, resolved = load_toolpath(Path(sys.argv[1])), resolve("rs274ngc")
planned = plan(toolpath, resolved.profile)
text = write_program(planned.items, resolved.profile, resolved.template_folders, inch=planned.inch, rotary_letters=planned.letters)
with put_in_place(text, Path(sys.argv[2])) as placed: placed.commit()
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""
PROVE = """
import resource, sys, time
from pathlib import Path
from steadyrest.profile import load_profile
from steadyrest.proof import prove
from steadyrest.toolpath import load_toolpath
start = time.perf_counter()
verdict = prove(Path(sys.argv[2]), load_toolpath(Path(sys.argv[1])), load_profile("rs274ngc"))
assert verdict.proved, verdict.text()
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def run(code: str, *args: str) -> list[float]:
    """The numbers that a fresh process prints."""
    done = subprocess.run([sys.executable, "-c", code, *args], check=True, capture_output=True, text=True)
    return [float(word) for word in done.stdout.split()]


def whole(*args: str) -> tuple[float, float]:
    """Seconds and MB of a whole process."""
    start = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-m", "steadyrest", *args], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    assert status == 0, args
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def main() -> None:
    """Print a table for each size."""
    with tempfile.TemporaryDirectory() as folder:
        small = Path(__file__).parents[1] / "golden" / "tour" / "indexed.toolpath.json"
        output = str(Path(folder) / "program.nc")
        for name, words in (("--help", ["--help"]), ("a small part", ["post", str(small), "-o", output, "--no-simulation"])):
            print(f"{name:<20} {min(whole(*words)[0] for _ in range(5)):7.3f} s, whole process")
        for moves in [int(float(word)) for word in sys.argv[1:]] or [1_000_000]:
            toolpath = Path(folder) / f"long{moves}.toolpath.json"
            write_long_toolpath(moves, toolpath)
            size = toolpath.stat().st_size / 1e6
            base = min(run(BASELINE, str(toolpath))[0] for _ in range(3)) if moves <= 2_000_000 else None
            print(f"{moves:,} moves, {size:.0f} MB" + (f"; json.loads {base:.2f} s" if base else ""))
            for name, code in (("read to in place", WRITE), ("prove", PROVE), ("post, whole process", "")):
                measured = partial(run, code, str(toolpath), output) if code else partial(whole, "post", str(toolpath), "-o", output)
                runs = [measured() for _ in range(3 if base else 1)]
                seconds = min(row[0] for row in runs)
                ratio = f", {seconds / base:.2f} of json.loads" if base else ""
                print(f"  {name:<19} {seconds:7.2f} s{ratio}, peak {runs[0][1]:.0f} MB")
            toolpath.unlink()


if __name__ == "__main__":
    main()
