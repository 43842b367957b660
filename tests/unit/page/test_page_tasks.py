"""Long work goes on whoever looks, ends when it is told to, and says why where it fails."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import Refused
from steadyrest.page.tasks import Tasks
from steadyrest.progress import Progress


def counts(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    progress("counting", 1, 4)
    (inside / "made.txt").write_text(str(asked["to"]), encoding="utf-8")
    return {"counted": asked["to"]}


def refuses(inside: Path, asked: dict[str, Any], progress: Progress) -> None:
    raise Refused("stop: the tool would hit the chuck", cure="use longer stock")


def fails(inside: Path, asked: dict[str, Any], progress: Progress) -> None:
    raise ZeroDivisionError("by nothing")


def waits(inside: Path, asked: dict[str, Any], progress: Progress) -> None:
    progress("waiting", 0, 0)
    time.sleep(60)


def says_its_end(inside: Path, asked: dict[str, Any], progress: Progress) -> None:
    try:
        while True:
            progress("going on", 0, 0)
            time.sleep(0.02)
    finally:
        (inside / "ended.txt").write_text("by itself", encoding="utf-8")


def dies(inside: Path, asked: dict[str, Any], progress: Progress) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.fixture
def tasks(tmp_path: Path) -> Iterator[Tasks]:
    made = Tasks(tmp_path)
    yield made
    made.end()


def until(tasks: Tasks, key: str, right: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    for _ in range(600):
        if right(state := tasks.state(key)):
            return state
        time.sleep(0.05)
    raise AssertionError(state)


def ended(state: dict[str, Any]) -> bool:
    return bool(state["status"] != "running")


def test_what_is_done_is_not_done_again_and_its_files_stay(tasks: Tasks) -> None:
    inside = tasks.start("a", counts, {"to": 7})
    state = until(tasks, "a", ended)
    assert ("done", {"counted": 7}, "counting") == (state["status"], state["result"], state["stage"])
    tasks.start("a", counts, {"to": 8})
    assert "7" == (inside / "made.txt").read_text(encoding="utf-8")
    assert {"counted": 7} == tasks.state("a")["result"]


def test_what_is_under_way_is_begun_once(tasks: Tasks) -> None:
    tasks.start("b", waits, {})
    until(tasks, "b", lambda state: state["stage"] == "waiting")
    began = tasks.state("b")["began"]
    tasks.start("b", waits, {})
    assert began == tasks.state("b")["began"]


def test_a_task_that_is_cancelled_ends_and_may_begin_anew(tasks: Tasks) -> None:
    tasks.start("c", waits, {})
    until(tasks, "c", lambda state: state["stage"] == "waiting")
    tasks.cancel("c")
    assert "cancelled" == tasks.state("c")["status"]
    tasks.start("c", counts, {"to": 1})
    assert "done" == until(tasks, "c", ended)["status"]


@pytest.mark.parametrize(
    ("work", "words"), [(refuses, "the tool would hit the chuck"), (fails, "ZeroDivisionError"), (dies, "ended by itself")]
)
def test_one_that_fails_says_why_with_a_cure(tasks: Tasks, work: Any, words: str) -> None:
    tasks.start("d", work, {})
    state = until(tasks, "d", ended)
    assert "failed" == state["status"]
    assert words in state["error"]["error"]["wrong"]
    assert state["error"]["error"]["cure"]


def test_one_ends_when_the_page_that_began_it_was_killed(tmp_path: Path) -> None:
    code = "import pathlib, sys, test_page_tasks as t; "
    code += "t.Tasks(pathlib.Path(sys.argv[1])).start('k', t.says_its_end, {}); sys.stdin.read()"
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdin=subprocess.PIPE, cwd=Path(__file__).parent) as other:
        state = tmp_path / "k" / "state.json"
        for _ in range(600):
            if state.is_file() and "going on" in state.read_text(encoding="utf-8"):
                break
            time.sleep(0.05)
        other.kill()
    for _ in range(600):
        if (tmp_path / "k" / "ended.txt").is_file():
            return
        time.sleep(0.05)
    raise AssertionError("it goes on for nobody")


def test_one_that_nobody_began_is_not_known_and_cancelling_it_does_nothing(tasks: Tasks) -> None:
    tasks.cancel("e")
    assert {"status": "unknown"} == tasks.state("e")
