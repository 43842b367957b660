"""A browser's requests to the page without a server, for tests: the real application behind its real guard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from steadyrest.page.app import Page, make_app
from steadyrest.page.folder import Folder
from steadyrest.page.guard import Guard
from steadyrest.page.tasks import Tasks

TOKEN, PORT = "kept-to-ourselves", 4711
HOST = f"127.0.0.1:{PORT}"


def client(folder: Path, work: Path) -> TestClient:
    """Asks as the page's own browser does: `get("look?job=a.job.toml")`, `post("part/new", data={...})`, addresses below the token's."""
    app: Any = Guard(make_app(Page(Folder.given(folder), Tasks(work))), TOKEN, PORT)
    headers = {"origin": f"http://{HOST}", "sec-fetch-site": "same-origin"}
    return TestClient(app, f"http://{HOST}/{TOKEN}/", headers=headers, follow_redirects=False)
