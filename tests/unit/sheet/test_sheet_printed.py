"""The sheet as it comes out of a printer: one page of A4. Skipped, with the reason, where there is no browser to print with."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from steadyrest.posting import post
from steadyrest.request import Request
from steadyrest.sheet import setup_sheet, setup_sheet_page

pytestmark = pytest.mark.browser
A4_POINTS = (595, 842)
"""ISO 216: 210 mm by 297 mm, in points of 1/72 inch."""


def toolpath(tools: int) -> dict[str, Any]:
    """A job with that many tools, each with a long name and three operations."""
    operations = [
        {
            "name": f"{what} {tool}, the whole length",
            "tool": tool,
            "spindle": {"rpm": 8000, "turns": "counterclockwise"},
            "coolant": "flood",
            "rotary": {"intent": "indexed", "angles": [0, 60, 120, 180, 240, 300]},
            "moves": [{"rapid": [5, 0, 60]}, {"cut": [5, 0, 18], "feed": 500}, {"cut": [-30, 0, 18]}],
        }
        for tool in range(1, tools + 1)
        for what in ("roughing flats", "finishing flats", "breaking edges")
    ]
    return {
        "steadyrest_toolpath": 1,
        "name": "lantern post with a long name, second clamping",
        "units": "mm",
        "stock": {"shape": "rectangular", "across": [40, 30], "from": -90, "to": 0, "offset": [1, 2], "held": {"at": "from", "length": 20}},
        "tools": [
            {
                "number": tool,
                "name": f"{2 * tool} mm rounded end mill, long",
                "shape": "bullnose",
                "diameter": 2 * tool,
                "corner_radius": 0.5,
                "flutes": 4,
                "cutting_length": 30,
            }
            for tool in range(1, tools + 1)
        ],
        "operations": operations,
    }


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install 'steadyrest[browser]'")
    path = os.environ.get("STEADYREST_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no browser: install Debian's chromium, or name one in STEADYREST_BROWSER")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


def printed(browser: Any, page: str) -> list[tuple[int, int]]:
    """The sizes of the pages that come out, in points."""
    it = browser.new_page()
    it.set_content(page)
    pdf = it.pdf(prefer_css_page_size=True, print_background=True)
    it.close()
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", pdf)
    return [(round(float(wide)), round(float(high))) for wide, high in boxes]


@pytest.mark.parametrize(
    ("controller", "sets"),
    [
        ("rs274ngc", ()),
        ("limited-clamped", ("rotary.A.chuck_faces=-X",)),
        ("y-drives-rotary", ()),
        ("incremental", ("program.start_position=[0,0,90,0]",)),
    ],
)
def test_the_sheet_of_eight_tools_is_one_page_of_a4(browser: Any, tmp_path: Path, controller: str, sets: tuple[str, ...]) -> None:
    file = tmp_path / "lantern_post.toolpath.json"
    file.write_text(json.dumps(toolpath(8)), encoding="utf-8")
    post(Request(file, controller, tmp_path / "lantern_post.nc", sets=sets))
    facts = setup_sheet(Request(file, controller, sets=sets), tmp_path / "lantern_post.nc")
    assert 8 == len(facts.tools)
    (size,) = printed(browser, setup_sheet_page(facts))
    assert A4_POINTS == pytest.approx(size, abs=1)


@pytest.mark.long
@pytest.mark.parametrize(
    ("controller", "lengths"), [("leaning-table", {}), ("leaning-head", {3: 120.0, 7: 90.5}), ("head-and-table", {3: 120.0, 7: 90.5})]
)
def test_the_sheet_of_a_chain_with_its_drawing_is_one_page_of_a4(browser: Any, controller: str, lengths: dict[int, float]) -> None:
    part = Path(__file__).parents[2] / "golden" / "tour" / "tilted_planes.toolpath.json"
    facts = setup_sheet(Request(part, controller, gauge_lengths=lengths, simulate=False))
    assert 2 == len(facts.drawings)
    (size,) = printed(browser, setup_sheet_page(facts))
    assert A4_POINTS == pytest.approx(size, abs=1)


def test_more_tools_go_on_to_a_second_page_and_on_a_screen_the_cells_of_a_row_stand_side_by_side(browser: Any, tmp_path: Path) -> None:
    file = tmp_path / "lantern_post.toolpath.json"
    file.write_text(json.dumps(toolpath(24)), encoding="utf-8")
    page = setup_sheet_page(setup_sheet(Request(file, "rs274ngc")))
    assert 1 < len(printed(browser, page))
    screen = browser.new_page()
    screen.set_content(page)
    apart = (
        "rows => rows.filter(row => new Set(Array.from(row.cells, cell => Math.round(cell.getBoundingClientRect().top))).size > 1).length"
    )
    assert 24 < screen.locator("tr").count()
    assert 0 == screen.eval_on_selector_all("tr", apart)
    screen.close()
