"""Long work in a process of its own: how far it is, its end, and what it made. A reload, a second tab or a closed laptop lose none of it.

A task writes into a folder of its own; beside what it makes stands `state.json`, replaced in one step a few times a second. So whoever
asks, however often, reads a file, and neither waits for the other.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock
from typing import Any

from steadyrest.errors import SteadyrestError
from steadyrest.progress import Pace, Progress, left_text

EVERY_S = 0.2
"""Between two times that a task tells how far it is."""
ENDS = ("done", "failed", "cancelled")

TaskWork = Callable[[Path, dict[str, Any], Progress], dict[str, Any] | None]
"""What a task does: in this folder, with what was asked, telling how far it is; what it gives is in the state, as `result`."""


Task = tuple[str, dict[str, Any]]
"""Its key, and its state."""


@dataclass(slots=True)
class Tasks:
    """The tasks of this run of the page, by key; each has a folder below `folder`, and what is asked for again is not done again."""

    folder: Path
    _running: dict[str, BaseProcess] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def start(self, key: str, work: TaskWork, asked: dict[str, Any]) -> Path:
        """Begin, unless it is under way or done already; a task that failed or was cancelled begins anew.

        key      letters and digits: what decides the result, such as a digest of all that it is made from
        work     a function of a module, which the new process can import
        asked    what JSON can say
        returns  the folder of the task
        """
        inside = self.folder / key
        with self._lock:
            if self.state(key)["status"] in ("running", "done"):
                return inside
            inside.mkdir(parents=True, exist_ok=True)
            _say(inside, {"status": "running", "stage": "starting", "done": 0, "total": 0, "left": "", "began": time.time()})
            process = multiprocessing.get_context("spawn").Process(target=_run, args=(work, str(inside), asked), daemon=True)
            process.start()
            self._running[key] = process
        return inside

    def begun(self, key: str, work: TaskWork, asked: dict[str, Any], *, again: bool = False) -> Task:
        """A task, begun where nobody has asked for it yet; one that failed or was cancelled is begun anew only `again`."""
        state = self.state(key)
        if state["status"] == "unknown" or (again and state["status"] in ("failed", "cancelled")):
            self.start(key, work, asked)
            state = self.state(key)
        return key, state

    def state(self, key: str) -> dict[str, Any]:
        """How far a task is.

        status   unknown, running, done, failed or cancelled
        stage, done, total   what it is at; total 0: nobody knows yet how much there is
        left     how much longer the stage takes, in words; empty where nobody knows
        error    of one that failed: the same as a command prints as JSON
        result   of one that is done
        """
        said: dict[str, Any] = {"status": "unknown"}
        with suppress(OSError, ValueError):
            said = json.loads((self.folder / key / "state.json").read_text(encoding="utf-8"))
        process = self._running.get(key)
        if said["status"] == "running" and (process is None or not process.is_alive()):
            with suppress(OSError, ValueError):  # it may have said its last word just now
                said = json.loads((self.folder / key / "state.json").read_text(encoding="utf-8"))
            if said["status"] == "running":
                code = process.exitcode if process is not None else None
                said = {
                    **said,
                    "status": "failed",
                    "error": {"error": {"wrong": f"the work ended by itself (code {code})", "cure": "try again"}},
                }
        return said

    def cancel(self, key: str) -> None:
        """End a task that is under way; what it was about to put in place stays as it was."""
        process = self._running.get(key)
        if process is not None and process.is_alive():
            process.terminate()
            process.join(10)
            if process.is_alive():
                process.kill()
                process.join()
            state = self.state(key)
            if state["status"] not in ("done",):
                _say(self.folder / key, {**state, "status": "cancelled"})

    def forget(self, whose: str, *, but: str, kept: int) -> None:
        """Clean away the oldest tasks whose keys begin with `whose`: `kept` of them stay. One under way is ended, unless it is `but`."""
        with self._lock:
            alike = sorted((each for each in self.folder.glob(f"{whose}*") if each.name != but), key=lambda each: -each.stat().st_mtime)
            for at, each in enumerate(alike):
                if at >= kept - 1 or self.state(each.name)["status"] == "running":
                    self.cancel(each.name)
                    self._running.pop(each.name, None)
                    shutil.rmtree(each, ignore_errors=True)

    def end(self) -> None:
        """End them all, with the page."""
        for key in list(self._running):
            self.cancel(key)


def _say(inside: Path, state: dict[str, Any]) -> None:
    whole, part = inside / "state.json", inside / f"state.{os.getpid()}.part"
    part.write_text(json.dumps(state), encoding="utf-8")
    os.replace(part, whole)


def _run(work: TaskWork, folder: str, asked: dict[str, Any]) -> None:
    """In the process of the task."""
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
    with suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page itself ends its tasks
    inside, begun = Path(folder), time.time()
    said: dict[str, Any] = {"status": "running", "stage": "starting", "done": 0, "total": 0, "left": "", "began": begun}
    last, parent = 0.0, multiprocessing.parent_process()

    pace = Pace("")

    def progress(stage: str, done: int, total: int) -> None:
        nonlocal last, said, pace
        now = time.monotonic()
        if now - last < EVERY_S and stage == pace.stage:
            return
        if parent is not None and not parent.is_alive():
            sys.exit(1)  # nobody will look at it any more
        if stage != pace.stage:
            pace = Pace(stage)
        left = pace.left(done, total, now)
        said, last = {**said, "stage": stage, "done": done, "total": total, "left": "" if left is None else left_text(left)}, now
        _say(inside, said)

    try:
        result = work(inside, asked, progress)
        _say(inside, {**said, "status": "done", "result": result, "ended": time.time()})
    except SteadyrestError as error:
        _say(inside, {**said, "status": "failed", "error": error.as_json(), "text": str(error)})
    except MemoryError:
        wrong = {"wrong": "there is not enough memory for this", "cure": "close other programs, or cut the toolpath into parts"}
        _say(inside, {**said, "status": "failed", "error": {"error": wrong}})
    except Exception as error:  # the last net, as on the terminal: nobody is left with a page that waits for ever
        wrong = {
            "wrong": f"a mistake in steadyrest itself: {type(error).__name__}: {str(error)[:300]}",
            "cure": "keep the files and report them",
        }
        _say(inside, {**said, "status": "failed", "error": {"error": wrong}})
