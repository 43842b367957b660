"""A folder with the lantern cap, of which only the flats are cut, which is quick; and the page for it, with and without a server."""

from __future__ import annotations

import multiprocessing
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from page_client import JOB, client, in_server, serving
from starlette.testclient import TestClient

from steadyrest.page.tasks import Tasks, TaskWork

DEMO = Path(__file__).parents[3] / "demo" / "lantern_cap"

PRELOADED = ["steadyrest.page.made", "steadyrest.page.program", "steadyrest.page.trial", "steadyrest.reporting", "matplotlib.pyplot"]


@pytest.fixture(autouse=True)
def _quick_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Processes of the page's work that need not import everything anew; as the page begins them they are in the tests with a server."""
    if sys.platform == "linux":
        multiprocessing.set_forkserver_preload(PRELOADED)
        context = SimpleNamespace(Process=in_server)
        monkeypatch.setattr("steadyrest.page.tasks.multiprocessing", SimpleNamespace(get_context=lambda how: context))


@pytest.fixture
def tmp_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same folder for each test, empty: what was made of a job is known by the names of its files too."""
    folder = tmp_path_factory.getbasetemp() / "page"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    return folder


KEPT = ("made-*", "tour*", "effect*")


@pytest.fixture
def begun_anew() -> None:
    """For a test that has to see work begin: nothing is there from before."""


@pytest.fixture
def made_before(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Callable[[Tasks], None]:
    """What one test had made of a job, or tried of a profile, is there for the next at once; to be called with the tasks of a test at its
    end.

    The tests of making itself, and those with a server, have tasks of their own.
    """
    kept, start = tmp_path_factory.getbasetemp() / "made before", Tasks.start

    def starting(tasks: Tasks, key: str, work: TaskWork, asked: dict[str, Any]) -> Path:
        if (kept / key).is_dir() and "begun_anew" not in request.fixturenames and tasks.state(key)["status"] == "unknown":
            shutil.copytree(kept / key, tasks.folder / key)
        return start(tasks, key, work, asked)

    def keep(tasks: Tasks) -> None:
        for folder in (each for pattern in KEPT for each in tasks.folder.glob(pattern)):
            if tasks.state(folder.name)["status"] == "done" and not (kept / folder.name).exists():
                shutil.copytree(folder, kept / folder.name)

    monkeypatch.setattr(Tasks, "start", starting)
    return keep


@pytest.fixture
def parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder; deliveries are logged beside it."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folder = tmp_path / "parts"
    shutil.copytree(DEMO, folder)
    job = folder / JOB
    job.write_text(job.read_text().replace('output = "lantern_cap.nc"', 'output = "lantern_cap.nc"\noperations = [1]'))
    (tmp_path / "machine").mkdir()
    return folder


@pytest.fixture
def page(parts: Path, made_before: Callable[[Tasks], None]) -> Iterator[TestClient]:
    """Asks the page of that folder; programs may be delivered into the folder `machine` beside it."""
    made = client(parts, parts.parent / "work", deliver_to=(parts.parent / "machine",))
    yield made
    made_before(made.app.tasks)  # type: ignore[attr-defined]
    made.app.tasks.end()  # type: ignore[attr-defined]


@pytest.fixture
def address(parts: Path) -> Iterator[str]:
    """The address of the page as the command serves it."""
    with serving(parts, "--deliver-to", str(parts.parent / "machine")) as (found, _):
        yield found
