"""Take the pictures of the documentation anew: `python docs/take_pictures.py [NAME...]`, all of them unless some are named.

Each is a screen of the product itself in a real browser, in the light and in the dark colours: the page as somebody new goes through it
with the latch pin, from a dropped file to a delivered program, and the report, the sheet and the charts of the demo parts. They are kept in
docs/pictures and belong to the repository: the site can be built where there is no browser. Look at each of them after it was taken.

Needs the extras `page` and `browser`, and a Chromium (named in STEADYREST_BROWSER, or on the path).
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import chdir, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from making.twins import DARK, LIGHT

ROOT = Path(__file__).parents[1]
PICTURES = Path(__file__).parent / "pictures"
SIZE, FIRST_SCREEN, PHONE = (1080, 700), (1366, 768), (390, 1000)
MOST_BYTES = 60_000
FLAGS = ["--no-sandbox", "--no-first-run", "--disable-background-networking", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
SETTLED_MS = 900
"""After a change of colours, or of what is in sight, until the picture is drawn anew."""
PIN = "latch_pin.job.toml"
WAIT_MS = 180_000
TOOLS = (
    (1, "flat", {"diameter": "10"}),
    (2, "flat", {"diameter": "6"}),
    (3, "drill", {"diameter": "5", "point_angle": "118"}),
)
STOCK = {"diameter": "30", "from": "-80", "to": "0", "held.length": "20"}
SHOWN_INSTEAD = """(told) => {
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) walk.currentNode.data = walk.currentNode.data.replaceAll(told[0], told[1]);
  for (const one of document.querySelectorAll("input")) if (one.value.includes(told[0])) one.value = one.value.replaceAll(told[0], told[1]);
}"""


def compressed(png: bytes) -> bytes:
    """A screen as WebP: without loss where that is small enough, else as good as fits."""
    from PIL import Image

    image = Image.open(io.BytesIO(png)).convert("RGB")
    if image.width > SIZE[0]:  # as wide as the site shows it
        image = image.resize((SIZE[0], round(image.height * SIZE[0] / image.width)), Image.Resampling.LANCZOS)
    for options in ({"lossless": True}, *({"quality": quality} for quality in (90, 80, 70, 60, 50, 40, 30))):
        out = io.BytesIO()
        image.save(out, "WEBP", method=6, **options)
        if out.tell() < MOST_BYTES:
            return out.getvalue()
    raise ValueError("a picture is too large: show less of the screen")


@dataclass(slots=True)
class Camera:
    """Takes what is asked for, in both colours. `wanted`: names; all where it is empty. `folder`: shown as if it were the reader's own."""

    page: Any
    wanted: frozenset[str]
    folder: str

    def take(self, name: str, *, at: str = "", only: str = "", size: tuple[int, int] = SIZE, paper: bool = False) -> None:
        """One picture: a window of that size, scrolled to `at`, or the element `only` as a whole. Paper has no dark one."""
        if self.wanted and name not in self.wanted:
            return
        page = self.page
        page.set_viewport_size({"width": size[0], "height": size[1]})
        for scheme, ending in (("light", ".webp"),) if paper else (("light", LIGHT), ("dark", DARK)):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            page.evaluate(SHOWN_INSTEAD, [self.folder, "/home/you"])
            page.evaluate("(at) => at ? document.querySelector(at).scrollIntoView() : scrollTo(0, 0)", at)
            page.wait_for_timeout(SETTLED_MS)
            shot = page.locator(only).first.screenshot() if only else page.screenshot()
            (PICTURES / f"{name}{ending}").write_bytes(compressed(shot))
        page.emulate_media(color_scheme="light")
        print(name)


def through_the_page(camera: Camera, address: str, folder: Path) -> None:
    """The whole job of somebody new, then what a stopped program looks like, and a changed setting."""
    page = camera.page
    page.goto(address)
    camera.take("page-first", size=(SIZE[0], 520))
    page.set_input_files("#dropped", str(ROOT / "demo" / "latch_pin" / "latch_pin.cl"))
    page.get_by_role("button", name="Begin").click()
    page.locator("#tools-name").wait_for()
    camera.take("page-missing")
    for number, shape, sizes in TOOLS:
        page.locator(f"[name='tool.{number}.shape'][value={shape}]").check()
        for key, value in sizes.items():
            page.locator(f"[name='tool.{number}.{key}']:enabled").fill(value)
    page.locator("#stock-shape").select_option("round")
    for key, value in STOCK.items():
        page.locator(f"[name='stock.{key}']:enabled").fill(value)
    page.locator("[name='stock.held.at']:enabled").select_option("from")
    page.get_by_role("button", name="Keep").click()
    page.get_by_text("The part is whole").wait_for()
    camera.take("page-part", at="[aria-labelledby=stock-name]")
    camera.take("page-operations", only="[aria-labelledby=operations-name]")
    step(page, "How it stands today")
    page.locator("form[action*='/today?'] input[name=chuck_faces][value='+X']").check()
    page.locator("input[name=turns][value=clockwise]").check()
    camera.take("page-today", at="#mounting")
    page.get_by_role("button", name="Keep for this job").click()
    page.get_by_text("the chuck faces +X").first.wait_for()
    step(page, "Look")
    looked(page)
    camera.take("page-look", size=FIRST_SCREEN)
    at_time(page, 1)
    camera.take("page-pin", only="#stage", size=FIRST_SCREEN)
    camera.take("page-record", only="#run-record")
    camera.take("page-phone", size=PHONE)
    step(page, "Program")
    page.locator("#parts button").first.wait_for(timeout=WAIT_MS)
    page.locator("#find-text").fill("A90")
    page.get_by_role("button", name="Find").click()
    page.locator("#listing").focus()
    page.keyboard.press("ArrowRight")
    page.locator("#explained", has_text="A90").wait_for()
    camera.take("page-program")
    step(page, "Profile")
    page.locator("#settings").wait_for()
    camera.take("page-profile")
    changed_setting(camera)
    step(page, "Deliver")
    page.get_by_role("button", name="Deliver").click()
    page.get_by_role("heading", name="Delivered, and read back").wait_for(timeout=WAIT_MS)
    camera.take("page-deliver")
    stopped(camera, address, folder)


def changed_setting(camera: Camera) -> None:
    """One setting by itself, and the step Profile after it was changed and tried."""
    page = camera.page
    page.goto(page.url + "&key=words.spaces")
    field = page.locator("[id='f.words.spaces']")
    field.wait_for()
    camera.take("page-setting", only=".setting[data-key='words.spaces']")
    field.select_option("false")
    page.get_by_role("button", name="Try the changes").first.click()
    page.get_by_text("This part's program:").wait_for(timeout=WAIT_MS)
    page.locator("#tour-name").wait_for(timeout=WAIT_MS)
    camera.take("page-tried")


def stopped(camera: Camera, address: str, folder: Path) -> None:
    """A cut in the jaws: 45 mm of the pin are held instead of 20."""
    page = camera.page
    job = folder / PIN
    job.write_text(re.sub(r"length = 20(\.0)?\b", "length = 45", job.read_text(encoding="utf-8")), encoding="utf-8")
    page.goto(f"{address}look?job={PIN}")
    looked(page)
    camera.take("page-stop", size=FIRST_SCREEN)


def step(page: Any, name: str) -> None:
    """To another step of the job."""
    page.get_by_label("Steps of this job").get_by_role("link", name=name, exact=True).click()


def looked(page: Any) -> None:
    """Until the program was made and its picture is drawn."""
    page.locator("#verdict").wait_for(timeout=WAIT_MS)
    page.wait_for_selector("html[data-charts]", timeout=WAIT_MS)
    at_time(page, 0.72)


def at_time(page: Any, share: float) -> None:
    """Move the slider to this share of the program's time."""
    moved = "(one, share) => { one.value = share * one.max; one.dispatchEvent(new Event('input', {bubbles: true})); }"
    page.locator("#scrub").evaluate(moved, share)


def reports(camera: Camera) -> None:
    """Pages that commands write: report, sheet, and the report of a refused program."""
    page = camera.page
    with TemporaryDirectory() as made, chdir(made):
        shutil.copytree(ROOT / "demo", "demo")
        pin = Path("demo/latch_pin") / PIN
        pin.write_text(job_of_the_page(), encoding="utf-8")
        for name, part in (
            ("pin", pin),
            ("cap", "demo/lantern_cap/lantern_cap.job.toml"),
            ("distributor", "demo/distributor/distributor.toolpath.json"),
        ):
            run("report", str(part), "-o", f"{name}.html")
        run("report", "demo/helm_boss/helm_boss.toolpath.json", "-c", "two-in-table", "-o", "boss.html")
        run("setup-sheet", str(pin), "-o", "sheet.html")
        run("post", str(pin))
        program = pin.with_name("latch_pin.nc")
        Path("edited.nc").write_text(program.read_text().replace("A90", "A-90"))
        run("report", "edited.nc", "--toolpath", str(pin), "-o", "refused.html", ends=3)

        def show(name: str) -> None:
            page.goto((Path(made) / f"{name}.html").as_uri())

        show("pin")
        looked(page)
        camera.take("report", size=FIRST_SCREEN)
        show("distributor")
        looked(page)
        at_time(page, 1)
        for name in ("show-cut", "show-rapid"):
            page.locator(f"#{name}").uncheck()
        camera.take("distributor", only="#stage", size=FIRST_SCREEN)
        show("boss")
        looked(page)
        at_time(page, 1)
        page.locator("#show-rapid").uncheck()
        camera.take("two-rotaries", only="#stage", size=FIRST_SCREEN)
        show("cap")
        looked(page)
        page.locator("input[name=view][value=flat]").check()
        page.wait_for_selector("#flat canvas[data-drawn]", state="attached")
        camera.take("unrolled", only="#stage")
        page.goto((Path(made) / "cap.html").as_uri() + "#over-time")
        page.wait_for_selector("#charts[data-drawn]", state="attached")
        camera.take("over-time", only="#charts")
        show("refused")
        looked(page)
        page.locator(".verdict [data-line]").first.click()
        camera.take("refused", size=FIRST_SCREEN)
        show("sheet")
        camera.take("sheet", paper=True)


def job_of_the_page() -> str:
    """The job file that the page on the first part shows."""
    text = (ROOT / "docs" / "getting-started.md").read_text(encoding="utf-8")
    return re.findall(r"^```toml\n(.*?)^```", text, re.MULTILINE | re.DOTALL)[0]


def run(*words: str, ends: int = 0) -> None:
    """A command of the product, in a process of its own."""
    done = subprocess.run([sys.executable, "-m", "steadyrest", *words], capture_output=True, text=True, check=False)
    if done.returncode != ends:
        raise ValueError(f"steadyrest {' '.join(words)} ended with {done.returncode}: {done.stderr}")


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of the page for a folder."""
    command = [sys.executable, "-m", "steadyrest", "page", "parts", "--no-browser", "--deliver-to", "machine"]
    own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_STATE_HOME", "APPDATA", "LOCALAPPDATA"), str(folder / ".local" / "state"))
    with subprocess.Popen(command, cwd=folder, stderr=subprocess.PIPE, text=True, env={**os.environ, **own}) as running:
        try:
            assert running.stderr is not None
            told = ""
            while "Ctrl-C" not in told and running.poll() is None:
                told += running.stderr.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+/\S+/", told)
            assert found is not None, told
            yield found[0]
        finally:
            running.terminate()
            running.wait(30)


def main(wanted: frozenset[str]) -> None:
    """Take them."""
    from playwright.sync_api import sync_playwright

    path = os.environ.get("STEADYREST_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
    PICTURES.mkdir(exist_ok=True)
    with TemporaryDirectory() as temporary, sync_playwright() as playwright:
        folder = Path(temporary).resolve()
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        camera = Camera(browser.new_page(viewport={"width": SIZE[0], "height": SIZE[1]}), wanted, str(folder))
        if not wanted or not all(name.startswith("page-") for name in wanted):
            reports(camera)
        if not wanted or any(name.startswith("page-") for name in wanted):
            page_of(camera, folder)
        browser.close()


def page_of(camera: Camera, folder: Path) -> None:
    """The page, served for a fresh folder."""
    for name in ("parts", "machine"):
        (folder / name).mkdir()
    with served(folder) as address:
        through_the_page(camera, address, folder / "parts")


if __name__ == "__main__":
    main(frozenset(sys.argv[1:]))
