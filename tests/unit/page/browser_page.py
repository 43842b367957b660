"""A page in a real browser, for tests; skipped with the reason where there is none. What it complains of fails the test."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

FLAGS = ["--no-sandbox", "--no-first-run", "--disable-background-networking", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


def _complains(said: Any) -> bool:
    """Whether a line of the console is an error; that an answer refuses what was typed (422) is none, the page itself says it."""
    return said.type == "error" and "status of 422" not in said.text


@contextmanager
def opened(width: int, height: int, *, refused: bool = False, **more: Any) -> Iterator[Any]:
    """A window of that size. Errors of scripts, and what the policy stops, fail the test at the end; `refused`: a lost answer does not."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install 'steadyrest[browser]'")
    path = os.environ.get("STEADYREST_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no browser: install Debian's chromium, or name one in STEADYREST_BROWSER")
    complaints: list[str] = []
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        page = browser.new_context(viewport={"width": width, "height": height}, **more).new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console", lambda said: complaints.append(said.text) if _complains(said) and not (refused and "net::ERR" in said.text) else None
        )
        yield page
        browser.close()
    assert [] == complaints


def accessible(page: Any) -> list[tuple[str, list[tuple[str, str]]]]:
    """What axe-core, the reference checker of the W3C's accessibility guidelines (WCAG 2), finds wrong: rule and places."""
    from axe_core_python.sync_playwright import Axe

    return [
        (one["id"], [(node["html"][:160], node["failureSummary"][-300:]) for node in one["nodes"]]) for one in Axe().run(page)["violations"]
    ]
