"""A folder with the lantern cap, of which only the flats are cut, which is quick; and the page for it, with and without a server."""

from __future__ import annotations

import multiprocessing
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from page_client import JOB, client, in_server, serving
from starlette.testclient import TestClient

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
def page(parts: Path) -> Iterator[TestClient]:
    """Asks the page of that folder; programs may be delivered into the folder `machine` beside it."""
    made = client(parts, parts.parent / "work", deliver_to=(parts.parent / "machine",))
    yield made
    made.app.tasks.end()  # type: ignore[attr-defined]


@pytest.fixture
def address(parts: Path) -> Iterator[str]:
    """The address of the page as the command serves it."""
    with serving(parts, "--deliver-to", str(parts.parent / "machine")) as (found, _):
        yield found
