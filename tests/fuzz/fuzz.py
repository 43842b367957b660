"""Runs damaged files through every reader, proof, profiles and templates, and kills posts, for FUZZ_SECONDS; prints seed and counts.

A find is kept in tests/fuzz/found, where the tests run it ever after. FUZZ_SEED repeats a run.
"""

from __future__ import annotations

import hashlib
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from damage import ROOT, TOUR, damaged
from judging import KINDS, judged

FOUND = Path(__file__).parent / "found"
EACH_SECONDS = 30
MOST_BYTES = 4_000_000_000


def main() -> int:
    """The run; 1 where something was found."""
    seconds, seed = float(os.environ.get("FUZZ_SECONDS", "60")), int(os.environ.get("FUZZ_SEED") or time.time_ns() % 2**32)
    print(f"seed {seed}, {seconds:g} seconds", flush=True)
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, resource.getrlimit(resource.RLIMIT_AS)[1]))
    signal.signal(signal.SIGALRM, _late)
    chance, counts, finds = random.Random(seed), Counter[tuple[str, str]](), 0
    until, number = time.monotonic() + seconds, 0
    while time.monotonic() < until:
        number += 1
        if number % 500 == 0:
            for way in ("killed", "full disk"):
                counts[("post", way)] += 1
                finds += _post(way, chance)
            continue
        kind = chance.choice(list(KINDS))
        data = damaged(KINDS[kind][1], chance)
        signal.alarm(EACH_SECONDS)
        try:
            counts[(kind, judged(kind, data))] += 1
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            finds += 1
            file = FOUND / f"{kind}-{hashlib.sha256(data).hexdigest()[:12]}"
            file.write_bytes(data)
            print(f"FOUND {type(error).__name__}: {error!s:.200} -> {file.relative_to(ROOT)}", flush=True)
        finally:
            signal.alarm(0)
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.strip()
    print(f"{sum(counts.values()):,} inputs, {finds} found; seed {seed}, commit {commit or 'unknown'}, {datetime.now(UTC):%Y-%m-%d}")
    for (kind, what), count in sorted(counts.items()):
        print(f"  {kind:<14}{what:<10}{count:>9,}")
    return 1 if finds else 0


def _late(number: int, frame: object) -> None:
    raise TimeoutError(f"more than {EACH_SECONDS} seconds")


def _post(way: str, chance: random.Random) -> int:
    """A post that is killed, or that finds the disk full: the old program stands as it was, or the new one whole. 1 for a find."""
    with tempfile.TemporaryDirectory() as folder:
        output = Path(folder) / "a.nc"
        output.write_bytes(b"old\n")
        command = [sys.executable, "-m", "steadyrest", "post", str(TOUR / "indexed.toolpath.json"), "-o", str(output)]
        full = chance.randrange(0, 2_000) if way == "full disk" else None
        limit = None if full is None else lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (full, full))
        other = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, preexec_fn=limit)  # noqa: PLW1509
        if way == "killed":
            time.sleep(chance.uniform(0.0, 1.5))
            other.send_signal(chance.choice((signal.SIGKILL, signal.SIGTERM, signal.SIGINT)))
        _, said = other.communicate()
        now = output.read_bytes()
        good = now == b"old\n" or now.rstrip().endswith(b"%")
        if not good or (b"Traceback" in said and way == "full disk"):
            print(f"FOUND after {way}: {now[-60:]!r} {said[-300:]!r}", flush=True)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
