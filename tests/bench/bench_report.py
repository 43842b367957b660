"""A report of a long program: how large (100,000 lines: under 6 MB), how long to make, how long until a browser shows it.

Run: bench_report.py [LINES]. Before it the sizes of the reports of `demo/`, which are to be under 1 MB.

The browser's times come beside that of a loop of 100 million additions in the same page: only their ratio means anything elsewhere.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from long_toolpath import write_long_toolpath

from steadyrest.posting import post
from steadyrest.reporting import look_at, report_page
from steadyrest.request import Request

YARDSTICK = (
    "(() => { const t = performance.now(); let s = 0; for (let i = 0; i < 1e8; i++) s += i % 7; return performance.now() - t + 0 * s; })()"
)
DEMO = Path(__file__).parents[2] / "demo"
FLAGS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
]


def main() -> None:
    lines = int(float(sys.argv[1])) if len(sys.argv) > 1 else 100_000
    for part in (
        "lantern_cap/lantern_cap.job.toml",
        *(f"{name}/{name}.toolpath.json" for name in ("distributor", "coast_roller", "twisted_vane")),
    ):
        size = len(report_page(look_at(Request(DEMO / part, "rs274ngc")))) / 1e6
        print(f"{part}: {size:.2f} MB")
    with tempfile.TemporaryDirectory() as folder:
        toolpath, program, page = (Path(folder) / name for name in ("long.toolpath.json", "long.nc", "report.html"))
        write_long_toolpath(lines, toolpath)
        post(Request(toolpath, "rs274ngc", program))
        began = time.perf_counter()
        looked = look_at(Request(toolpath, "rs274ngc"), program)
        seen = time.perf_counter()
        page.write_bytes(report_page(looked))
        made = time.perf_counter()
        size = page.stat().st_size / 1e6
        print(f"{lines} lines: read, proved and cut in {seen - began:.2f} s, page made in {made - seen:.2f} s, {size:.1f} MB")
        _opened(page)


def _opened(page: Path) -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for _ in range(5):
            tab = browser.new_page(viewport={"width": 1500, "height": 1000})
            tab.goto(page.as_uri())
            tab.wait_for_selector('html[data-charts="yes"]', state="attached", timeout=120_000)
            marks = tab.evaluate("performance.getEntriesByType('mark').map((mark) => [mark.name, mark.startTime])")
            said = ", ".join(f"{name} after {at / 1000:.2f} s" for name, at in marks)
            print(f"  {said}; yardstick {tab.evaluate(YARDSTICK) / 1000:.2f} s")
            tab.close()
        browser.close()


if __name__ == "__main__":
    main()
