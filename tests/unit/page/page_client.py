"""A browser's requests to the page without a server, for tests: the real application behind its real guard."""

from __future__ import annotations

import multiprocessing
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Timer
from typing import Any

from starlette.testclient import TestClient

from steadyrest.page.app import Page
from steadyrest.page.folder import Folder
from steadyrest.page.guard import Guard
from steadyrest.page.routes import make_app
from steadyrest.page.tasks import Tasks

JOB = "lantern_cap.job.toml"
TOKEN, PORT = "kept-to-ourselves", 4711
HOST = f"127.0.0.1:{PORT}"


def _with_environment(environment: dict[str, str], target: Callable[..., None], args: tuple[Any, ...]) -> None:
    os.environ.clear()
    os.environ.update(environment)
    target(*args)


def in_server(target: Callable[..., None], args: tuple[Any, ...], daemon: bool) -> Any:
    """A process as `multiprocessing` starts it from a server that has imported everything, in today's environment."""
    return multiprocessing.get_context("forkserver").Process(target=_with_environment, args=(dict(os.environ), target, args), daemon=daemon)


def client(folder: Path, work: Path, deliver_to: tuple[Path, ...] = ()) -> TestClient:
    """Asks as the page's own browser does: `get("look?job=a.job.toml")`, `post("part/new", data={...})`, addresses below the token's."""
    tasks = Tasks(work)
    app: Any = Guard(make_app(Page(Folder.given(folder), tasks, deliver_to)), TOKEN, PORT)
    app.tasks = tasks
    headers = {"origin": f"http://{HOST}", "sec-fetch-site": "same-origin"}
    return TestClient(app, f"http://{HOST}/{TOKEN}/", headers=headers, follow_redirects=False)


def ended(tasks: Tasks, key: str) -> dict[str, Any]:
    """The state of a task at its end, waited for."""
    process = tasks._running.get(key)
    if process is not None:
        process.join()
    return tasks.state(key)


def whole(page: TestClient, path: str) -> str:
    """The text of a page once the task that it shows, if any, has ended."""
    path = f"http://{HOST}{path}" if path.startswith("/") else path
    for _ in range(3):
        text = page.get(path).text
        task = re.search(r'data-task="([^"]+)"', text)
        if task is None:
            return text
        ended(page.app.tasks, task[1])  # type: ignore[attr-defined]
        if f'data-task="{task[1]}"' in (text := page.get(path).text) and "could not be done" in text:
            return text
    return text


def value_of(text: str, name: str) -> str:
    """What a hidden field of a page holds."""
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found is not None, name
    return found[1]


@contextmanager
def serving(folder: Path, *options: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The page as the command serves it: its address, and the process; ended at the end, and whatever goes wrong after five minutes."""
    command = [sys.executable, "-m", "steadyrest", "page", str(folder), "--no-browser", *options]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as running:
        late = Timer(300, running.kill)
        late.start()
        try:
            assert running.stderr is not None
            told = ""
            while "Ctrl-C" not in told:
                line = running.stderr.readline()
                assert line, told
                told += line
            found = re.search(r"http://127\.0\.0\.1:\d+/\S+/", told)
            assert found is not None
            yield found[0], running
        finally:
            running.terminate()
            running.wait(30)
            late.cancel()
