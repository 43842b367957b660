"""The page in a real browser. Skipped, with the reason, where there is none: a Chromium, and the package playwright to drive it."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from viewer_parts import (
    ALL_MOUNTINGS,
    C_ON_A,
    CONTROLLERS,
    FLATS,
    LETTER,
    MILL,
    looked,
    mounted,
    over_the_pole,
    part,
    program_of,
    shank_in_stock,
    slot_and_letter,
    three_sides,
)

from steadyrest.reporting import look_at, report_page
from steadyrest.request import Request
from steadyrest.viewer import Looked, write_page
from steadyrest.viewer.views import rgb
from steadyrest.viewer.where_it_cuts import passed

pytestmark = pytest.mark.browser

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
WINDOW = {"width": 1400, "height": 1000}


def about(axis: str, *more: str) -> Any:
    """A case about an axis: X in every check, the others with the long tests."""
    return pytest.param(axis, *more, marks=() if axis == "X" else pytest.mark.long)


HOSTILE = "</script><script>window.hit=1</script><img src=x onerror=window.hit=1>{{ 7*7 }}"


@pytest.fixture(scope="module")
def start() -> Iterator[Callable[[list[str]], Any]]:
    """Starts a browser with more flags; skips with the reason where there is none."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install 'steadyrest[browser]'")
    path = os.environ.get("STEADYREST_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no browser: install Debian's chromium, or name one in STEADYREST_BROWSER")
    with sync_api.sync_playwright() as playwright:
        started = []

        def launch(more: list[str]) -> Any:
            started.append(playwright.chromium.launch(executable_path=path, args=[*FLAGS, *more]))
            return started[-1]

        yield launch
        for each in started:
            each.close()


@pytest.fixture(scope="module")
def browser(start: Callable[[list[str]], Any]) -> Any:
    return start([])


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("page") / "report.html"
    file.write_bytes(report_page(looked()))
    return file


class Opened:
    """A page that is open, with all that it complained of and asked for."""

    def __init__(self, browser: Any, file: Path, *, unfold: bool = True, anchor: str = "", **options: Any) -> None:
        self.context = browser.new_context(**{"viewport": WINDOW, **options})
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.complaints.append(message.text) if message.type in ("error", "warning") else None)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(file.as_uri() + anchor)
        self.page.wait_for_selector('html[data-charts="yes"]', state="attached")
        if unfold:
            self.unfold()

    def unfold(self) -> None:
        """Open all that is folded, the charts drawn."""
        self.page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        self.page.wait_for_selector("#charts[data-drawn]", state="attached")

    def folded(self) -> set[str]:
        """The names of what is folded away."""
        return set(self.page.locator("details:not([open])").evaluate_all("all => all.map(one => one.id)"))

    def text(self, name: str) -> str:
        """A figure of the readout."""
        group = self.page.locator("#readout > div").filter(has=self.page.locator("dt").get_by_text(name, exact=True))
        return str(group.locator("dd").inner_text())

    def unrolled(self) -> None:
        """Show the map."""
        self.page.locator("input[value=flat]").check()
        self.page.wait_for_selector("#flat canvas[data-drawn]", state="attached")

    def begin(self) -> Opened:
        """As it was opened: the part from its corner with all that is drawn, at the first line."""
        self.page.set_viewport_size(WINDOW)
        self.unfold()
        self.page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
        self.page.locator("input[value=part]").check()
        for each in self.page.locator("#show-cut, #show-rapid").all():
            each.check()
        self.page.locator("button[data-face=corner]").click()
        self.page.evaluate("steadyrest.picture.eye.zoom = 1")
        self.page.locator("#to-start").click()
        self.page.evaluate("document.activeElement.blur()")
        return self

    def close(self) -> None:
        self.context.close()


@pytest.fixture(scope="module")
def one_page(browser: Any, page_file: Path) -> Iterator[Opened]:
    it = Opened(browser, page_file)
    yield it
    it.close()


@pytest.fixture
def opened(one_page: Opened) -> Opened:
    """The page of the small part. To open it takes seconds, so it stays open for all tests that leave nothing behind in it."""
    return one_page.begin()


@pytest.fixture(scope="module")
def dark_page(browser: Any, page_file: Path) -> Iterator[Opened]:
    it = Opened(browser, page_file, color_scheme="dark")
    yield it
    it.close()


@pytest.fixture(scope="module")
def page_of(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., tuple[Opened, Looked]]]:
    """The page of `slot_and_letter` in a mounting, and what was looked at; each opened once."""
    kept: dict[tuple[str, ...], tuple[Opened, Looked]] = {}

    def of(axis: str, face: str = "+", turns: str = "clockwise") -> tuple[Opened, Looked]:
        if (mounting := (axis, face, turns)) not in kept:
            seen = looked(slot_and_letter(axis), None, *mounted(*mounting), controller=CONTROLLERS[axis], cells=(120, 360))
            file = tmp_path_factory.mktemp("mounting") / "report.html"
            file.write_bytes(write_page(seen))
            kept[mounting] = Opened(browser, file), seen
        it, seen = kept[mounting]
        return it.begin(), seen

    yield of
    for it, _ in kept.values():
        it.close()


def line_with(words: str) -> int:
    """The first line of the small program that holds these words."""
    lines = looked_lines()
    return next(at for at, line in enumerate(lines, start=1) if words in line)


def looked_lines() -> list[str]:
    return program_of(part()).decode().splitlines()


def test_it_opens_without_a_network_and_without_complaints(opened: Opened, page_file: Path) -> None:
    opened.unrolled()
    assert [page_file.as_uri()] == [url for url in opened.asked if not url.startswith(("data:", "blob:"))]
    assert [] == [each for each in opened.complaints if "GPU stall" not in each and "GL Driver Message" not in each]


BUTTONS = (
    r"Start|‹ Line|Play|Pause|Line ›|Go|Theme: .*|Light or dark|Front.*|Top.*|Right|.[XYZ] end|Corner|line \d+|show( ◆\d+)?"
    r"|◆\d+|[\d.,]+|\d  .*|Zoom in|Zoom out|[+−]|Whole map|All of it"
    r"|\d+ to \d+|Print the charts|[XYZA]|speed of A|tip at feed|tip at rapid|highest feed in the toolpath"
)
"""What the buttons of the page may be called; none of them leads away."""


def test_no_button_and_no_address_leaves_the_page(browser: Any, page_file: Path) -> None:
    opened = Opened(browser, page_file)
    addresses = """() => [...document.querySelectorAll("*")].flatMap((one) => [...one.attributes]
        .filter((a) => /^(href|src|srcset|action|formaction|data|poster|ping|xlink:href)$/.test(a.name)).map((a) => a.value))"""
    names = """() => [...document.querySelectorAll("button, [role=button], input[type=submit]")].map((one) => one.textContent.trim())"""
    opened.page.evaluate(
        """window.left = []; window.open = (...to) => { left.push(to); return null; };
        navigator.sendBeacon = window.open; window.print = () => {}; 0"""
    )
    opened.unrolled()
    assert [] == [to for to in opened.page.evaluate(addresses) if not to.startswith(("#", "data:,", "data:image/png;base64,"))]
    found = opened.page.evaluate(names)
    assert {"Zoom in", "Whole map", "All of it", "Play"} <= set(found)
    assert [] == [name for name in found if not re.fullmatch(BUTTONS, name)]
    # Each is pressed; nothing is opened and nothing asked for.
    opened.page.evaluate("""() => { for (const one of document.querySelectorAll("button")) one.click(); }""")
    opened.page.wait_for_timeout(300)
    assert [] == opened.page.evaluate("window.left")
    assert 1 == len(opened.context.pages)
    assert page_file.as_uri() == opened.page.url.split("#")[0]
    assert [page_file.as_uri()] == [url for url in opened.asked if not url.startswith(("data:", "blob:"))]
    opened.close()


@pytest.mark.long
@pytest.mark.parametrize(
    ("axis", "names"),
    [
        ("X", ["Front", "Top", "+X end", "−X end", "Corner"]),
        # the profile of Y stands on a horizontal spindle: Y goes up
        pytest.param("Y", ["Front", "Top, +Y end", "Right", "−Y end", "Corner"], marks=pytest.mark.long),
        pytest.param("Z", ["Front", "Top, +Z end", "Right", "−Z end", "Corner"], marks=pytest.mark.long),
    ],
)
def test_the_buttons_are_named_for_the_axis_and_look_from_there(
    page_of: Callable[..., tuple[Opened, Looked]], axis: str, names: list[str]
) -> None:
    it, _ = page_of(axis)
    assert names == it.page.locator("#faces button").all_inner_texts()
    titles = [button.get_attribute("title") for button in it.page.locator("#faces button").all()]
    assert f"from the - end of {axis}, the axis of rotation" in str(titles[3])
    it.page.locator("#faces button").nth(3).click()
    low, high = it.page.evaluate(
        "(way) => [-10, 10].map((far) => steadyrest.picture.project(way.map((part) => far * part))[2])",
        [float(name == axis) for name in "XYZ"],
    )
    assert pytest.approx(20) == high - low  # the + end lies farther from the eye
    it.page.locator("#faces button").nth(0).click()
    up = "Y" if axis == "Y" else "Z"
    here, there = it.page.evaluate("(way) => [[0, 0, 0], way].map(steadyrest.picture.project)", [float(name == up) for name in "XYZ"])
    assert there[1] < here[1] - 1


def test_a_line_that_is_clicked_is_marked_and_its_words_are_where_the_picture_stands(opened: Opened) -> None:
    line = line_with("X-20")
    opened.page.locator(f"#line-{line}").click()
    assert str(line) == opened.text("line")
    assert "-20.000" == opened.text("X")
    assert "18.000" == opened.text("Z")
    assert "true" == opened.page.locator(f"#line-{line}").get_attribute("aria-selected")


def test_a_line_that_does_not_move_can_be_chosen_as_well(opened: Opened) -> None:
    line = line_with("(operation 2 letter)")
    opened.page.fill("#goto-line", str(line))
    opened.page.click("#goto button")
    assert str(line) == opened.text("line")
    assert opened.page.locator(f"#line-{line}.now").is_visible()


def test_scrubbing_goes_through_the_program_and_marks_its_lines(opened: Opened) -> None:
    seen = []
    for share in (0.0, 0.3, 0.6, 1.0):
        opened.page.evaluate(
            "(share) => { const s = document.getElementById('scrub'); s.value = share * s.max; s.dispatchEvent(new Event('input')); }",
            share,
        )
        line = int(opened.text("line"))
        assert opened.page.locator(f"#line-{line}.now").is_visible()
        seen.append(line)
    assert sorted(seen) == seen
    assert len(set(seen)) == len(seen)


def test_the_slider_is_moved_by_keys(opened: Opened) -> None:
    opened.page.focus("#scrub")
    opened.page.keyboard.press("End")
    whole = opened.page.evaluate("steadyrest.track.whole")
    assert pytest.approx(whole, rel=1e-6) == opened.page.evaluate("steadyrest.place.state.minutes")


@pytest.mark.parametrize("view", ["part", "machine"])
def test_the_path_that_is_clicked_in_the_picture_leads_to_its_line(opened: Opened, view: str) -> None:
    line = line_with("X-20")
    opened.page.locator(f"input[value={view}]").check()
    opened.page.locator("button[data-face=front]").click()
    opened.page.locator("#show-rapid").uncheck()
    x, y = opened.page.evaluate(
        """([line, view]) => {
            const t = steadyrest.track, k = t.placeOfLine(line), points = t[view];
            const middle = [0, 1, 2].map((axis) => (points[3 * k + axis] + points[3 * k - 3 + axis]) / 2);
            const box = document.getElementById("space").getBoundingClientRect(), at = steadyrest.picture.project(middle);
            return [box.x + at[0], box.y + at[1]];
        }""",
        [line, view],
    )
    opened.page.mouse.click(x, y)
    assert str(line) == opened.text("line")


def test_the_map_that_is_clicked_leads_to_its_line(opened: Opened) -> None:
    opened.unrolled()
    line = next(at for at, words in enumerate(looked_lines(), start=1) if "X-42" in words)
    x, y = opened.page.evaluate(
        """(line) => {
            const at = steadyrest.flat.screen(steadyrest.track.placeOfLine(line));
            const map = document.getElementById("flat");
            // The map may be taller than the window.
            window.scrollBy({ top: map.getBoundingClientRect().y + at[1] - window.innerHeight / 2, behavior: "instant" });
            const box = map.getBoundingClientRect();
            return [box.x + at[0], box.y + at[1]];
        }""",
        line,
    )
    opened.page.mouse.click(x, y)
    assert "-42.000" == opened.text("X")


def test_a_letter_stands_on_the_map_and_on_the_part_as_it_was_drawn(opened: Opened) -> None:
    # The letter F: the end of its long arm lies to the right of the stem's top, and the stem's top above its foot.
    opened.unrolled()
    places = """() => { const t = steadyrest.track, cut = [...Array(t.count).keys()].filter((k) => t.operation[k] === 2 && !t.isRapid(k));
        const foot = cut[0], arm = cut.find((k) => Math.abs(t.x[k] + 42) < 1e-6), top = arm - 1;
        return [foot, top, arm].map((k) => [steadyrest.flat.screen(k), [t.part[3 * k], t.part[3 * k + 1], t.part[3 * k + 2]]]); }"""
    foot, top, arm = opened.page.evaluate(places)
    # One scale along and around: the arm is 8 mm long, the stem 12 mm high. The foot may be drawn a turn further, past the map's seam.
    millimetre = (arm[0][0] - top[0][0]) / 8
    assert millimetre > 1
    assert pytest.approx(12 * millimetre, rel=0.02) == (foot[0][1] - top[0][1]) % (2 * np.pi * 20 * millimetre)
    # On the part, seen from outside straight above it: the same, to the right is +X and upwards is +Y.
    assert arm[1][0] > top[1][0]
    assert top[1][1] > foot[1][1]


@pytest.mark.parametrize(
    ("axis", "face", "turns"),
    [pytest.param(*one, marks=() if one[:2] == ("X", "+") else pytest.mark.long) for one in ALL_MOUNTINGS if one[2] == "clockwise"],
)
def test_the_map_has_surface_path_and_scale_in_one_place(
    page_of: Callable[..., tuple[Opened, Looked]], axis: str, face: str, turns: str
) -> None:
    it, seen = page_of(axis, face, turns)
    it.unrolled()
    # Where the path is drawn in the middle of the slot and on the stem of the F, the surface has the colour of the operation.
    it.page.locator("#show-cut").uncheck()
    it.page.locator("#show-rapid").uncheck()
    it.page.evaluate("steadyrest.flat.show('numbers', false); steadyrest.flat.draw()")
    slot, stem, beside = it.page.evaluate(
        """() => { const t = steadyrest.track, canvas = document.querySelector("#flat canvas"), pen = canvas.getContext("2d");
            const cuts = (number) => [...Array(t.count).keys()].filter((k) => t.operation[k] === number && !t.isRapid(k));
            const scale = canvas.width / canvas.clientWidth;
            const between = (a, b, share) => [0, 1].map((at) => a[at] + share * (b[at] - a[at]));
            const seen = ([x, y]) => ({ place: [x, y], colour: [...pen.getImageData(x * scale, y * scale, 1, 1).data] });
            const [first] = cuts(1), letter = cuts(2), screen = steadyrest.flat.screen;
            const slot = between(screen(first - 1), screen(first), 0.7), foot = screen(letter[0]);
            return [slot, foot, [2 * slot[0] - foot[0], 2 * slot[1] - foot[1]]].map(seen); }"""
    )
    it.page.evaluate("steadyrest.flat.show('numbers', true)")
    assert [1, 2] == [int(np.argmin(_apart(one["colour"], seen.colours))) for one in (slot, stem)]
    assert 0 == int(np.argmin(_apart(beside["colour"], seen.colours))) or beside["colour"][3] == 0
    # The mark of the scale that stands beside the slot's middle: 90 degrees, or X 0 about Z.
    ticks, at = ("y", 1) if axis == "X" else ("x", 0)
    text, mark = min(it.page.evaluate("(ticks) => steadyrest.flat.marks()[ticks]", ticks), key=lambda one: abs(one[1] - slot["place"][at]))
    assert ("0" if axis == "Z" else "90°") == text
    assert abs(mark - slot["place"][at]) < 3


def _apart(colour: list[int], colours: tuple[str, ...]) -> list[float]:
    """How far a lit colour is from each colour of the operations, in direction."""
    seen = np.array(colour[:3], dtype=float)
    return [1 - float(seen @ one / max(np.linalg.norm(seen) * np.linalg.norm(one), 1e-9)) for one in rgb(colours)]


@pytest.mark.long
@pytest.mark.parametrize("axis", [about("X"), about("Y"), about("Z")])
def test_the_map_has_true_lengths_zoomed_and_in_every_window(page_of: Callable[..., tuple[Opened, Looked]], axis: str) -> None:
    it, seen = page_of(axis)
    it.unrolled()
    # Both arms of the F run along one coordinate of the map and its stem along the other: 8 mm and 12 mm, at the outside of the stock.
    measured = """() => { const t = steadyrest.track, cut = [...Array(t.count).keys()].filter((k) => t.operation[k] === 2 && !t.isRapid(k));
        const far = (a, b) => Math.hypot(...[0, 1].map((at) => steadyrest.flat.screen(a)[at] - steadyrest.flat.screen(b)[at]));
        const top = cut.findIndex((k, at) => at > 0 && t.line[cut[at + 1]] > t.line[k] && t.line[k] > t.line[cut[0]]);
        const whole = cut.filter((k) => t.line[k] <= t.line[cut[top]] + 1);
        return [steadyrest.flat.mapping().scale, far(cut[0], cut[top]), far(cut[top], whole.at(-1))]; }"""
    for act in (
        lambda: None,
        lambda: it.page.click("[data-zoom='+']"),
        lambda: it.page.set_viewport_size({"width": 700, "height": 900}),
    ):
        act()
        scale, stem, arm = it.page.evaluate(measured)
        stem = stem % (2 * np.pi * 20 * scale) if axis != "Z" else stem  # it may be drawn over the map's seam
        assert pytest.approx((12 * scale, 8 * scale), rel=0.01) == (stem, arm)
    assert len(seen.colours) == 3
    it.page.click("[data-zoom=Home]")


@pytest.mark.long
def test_the_map_is_moved_by_mouse_and_keys_and_shown_whole_again(opened: Opened) -> None:
    opened.unrolled()
    state = "() => { const at = steadyrest.flat.mapping(); return [at.scale, at.x(0), at.y(0)]; }"
    whole = opened.page.evaluate(state)
    box = opened.page.locator("#map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    opened.page.mouse.move(x, y)
    opened.page.mouse.wheel(0, -600)
    opened.page.wait_for_function("(before) => steadyrest.flat.mapping().scale > 2 * before", arg=whole[0])
    opened.page.mouse.down()
    before = opened.page.evaluate(state)
    opened.page.mouse.move(x + 30, y + 20, steps=3)
    opened.page.mouse.up()
    scale, right, down = opened.page.evaluate(state)
    assert pytest.approx((before[0], 30, 20), abs=6) == (scale, right - before[1], down - before[2])
    opened.page.dblclick("#map")
    assert pytest.approx(whole) == opened.page.evaluate(state)
    opened.page.focus("#map")
    opened.page.keyboard.press("+")
    opened.page.keyboard.press("ArrowLeft")
    scale, right, _ = opened.page.evaluate(state)
    assert scale > whole[0]
    opened.page.keyboard.press("Home")
    assert pytest.approx(whole) == opened.page.evaluate(state)


@pytest.mark.parametrize("axis", [about("X"), about("Y"), about("Z")])
def test_each_operation_has_its_number_on_what_it_cut_and_the_pointer_reads_it(
    page_of: Callable[..., tuple[Opened, Looked]], axis: str
) -> None:
    it, _ = page_of(axis)
    it.unrolled()
    it.page.locator("#map").scroll_into_view_if_needed()
    found = it.page.evaluate("steadyrest.flat.numbers()")
    assert [1, 2] == [number for number, _, _ in found]
    box = it.page.locator("#map").bounding_box()
    for number, x, y in found:
        it.page.mouse.move(box["x"] + x, box["y"] + y)
        name = "one slot" if number == 1 else "letter"
        assert f"cut by {number} {name}" in it.page.locator(".reading").inner_text()
    assert {"1 one slot", "2 letter"} <= set(it.page.locator("#legend button").all_inner_texts())


def test_the_part_turns_with_the_mouse_and_with_keys(opened: Opened) -> None:
    box = opened.page.locator("#space").bounding_box()
    before = opened.page.evaluate("[steadyrest.picture.eye.azimuth, steadyrest.picture.eye.elevation]")
    opened.page.mouse.move(box["x"] + 200, box["y"] + 200)
    opened.page.mouse.down()
    opened.page.mouse.move(box["x"] + 300, box["y"] + 240, steps=4)
    opened.page.mouse.up()
    after = opened.page.evaluate("[steadyrest.picture.eye.azimuth, steadyrest.picture.eye.elevation]")
    assert before[0] > after[0]
    assert before[1] < after[1]
    opened.page.focus("#space")
    opened.page.keyboard.press("ArrowLeft")
    assert opened.page.evaluate("steadyrest.picture.eye.azimuth") > after[0]
    opened.page.keyboard.press("t")
    assert pytest.approx(90) == opened.page.evaluate("steadyrest.picture.eye.elevation * 180 / Math.PI")
    opened.page.keyboard.press("+")
    assert opened.page.evaluate("steadyrest.picture.eye.zoom") > 1


@pytest.mark.long
def test_two_fingers_zoom_and_one_turns(browser: Any, page_file: Path) -> None:
    it = Opened(browser, page_file, has_touch=True, viewport={"width": 420, "height": 900})
    finger = """([kind, id, x, y]) => {
        const about = { pointerId: id, pointerType: "touch", clientX: x, clientY: y, bubbles: true, isPrimary: id === 1 };
        document.getElementById("space").dispatchEvent(new PointerEvent(kind, about));
    }"""
    it.page.evaluate("HTMLElement.prototype.setPointerCapture = () => {}")  # made-up pointers cannot be captured
    box = it.page.locator("#space").bounding_box()
    x, y = box["x"] + 100, box["y"] + 100
    before = it.page.evaluate("steadyrest.picture.eye.azimuth")
    for event in (["pointerdown", 1, x, y], ["pointermove", 1, x + 40, y], ["pointerup", 1, x + 40, y]):
        it.page.evaluate(finger, event)
    assert it.page.evaluate("steadyrest.picture.eye.azimuth") < before
    for event in (["pointerdown", 1, x, y], ["pointerdown", 2, x + 40, y], ["pointermove", 2, x + 50, y], ["pointermove", 2, x + 120, y]):
        it.page.evaluate(finger, event)
    assert it.page.evaluate("steadyrest.picture.eye.zoom") > 1.5
    it.close()


def test_playing_goes_on_by_itself_and_stops_when_told(opened: Opened) -> None:
    opened.page.select_option("#speed", "1")
    opened.page.click("#play")
    assert "true" == opened.page.locator("#play").get_attribute("aria-pressed")
    opened.page.wait_for_timeout(700)
    opened.page.click("#play")
    reached = opened.page.evaluate("steadyrest.place.state.minutes")
    assert 0 < reached < opened.page.evaluate("steadyrest.track.whole")
    opened.page.wait_for_timeout(200)
    assert reached == opened.page.evaluate("steadyrest.place.state.minutes")


@pytest.mark.long
def test_lines_are_gone_through_one_by_one(opened: Opened) -> None:
    first = int(opened.text("line"))
    opened.page.click("#forth")
    opened.page.click("#forth")
    second = int(opened.text("line"))
    assert second > first
    opened.page.click("#back")
    assert first < int(opened.text("line")) < second or int(opened.text("line")) == first
    opened.page.focus("#lines")
    opened.page.keyboard.press("ArrowDown")
    opened.page.keyboard.press("End")
    assert str(len(looked_lines())) == opened.text("line")


def over_the_charts(it: Opened, panel: int = 0) -> tuple[float, float, float]:
    """Left end, width and middle height of a panel's lines, in pixels of the window."""
    lines = it.page.locator("#charts .u-over").nth(panel)
    lines.scroll_into_view_if_needed()
    box = lines.bounding_box()
    return box["x"], box["width"], box["y"] + box["height"] / 2


RANGE = "steadyrest.charts.range"


@pytest.mark.long
def test_a_click_in_the_charts_goes_to_that_time_and_the_playhead_stands_there(opened: Opened) -> None:
    left, wide, middle = over_the_charts(opened, 2)
    opened.page.mouse.click(left + wide / 2, middle)
    whole = opened.page.evaluate("steadyrest.track.whole")
    assert pytest.approx(whole / 2, rel=0.02) == opened.page.evaluate("steadyrest.place.state.minutes")
    heads = opened.page.locator(".playhead").evaluate_all("all => all.map((one) => one.getBoundingClientRect().x + 1)")
    assert pytest.approx([left + wide / 2] * 4, abs=1.5) == heads


@pytest.mark.long
def test_dragging_in_a_chart_zooms_all_of_them_and_a_double_click_shows_all(opened: Opened) -> None:
    left, wide, middle = over_the_charts(opened, 1)
    whole = 60 * opened.page.evaluate("steadyrest.track.whole")
    place = opened.page.evaluate("steadyrest.place.place")
    opened.page.mouse.move(left + 0.25 * wide, middle)
    opened.page.mouse.down()
    opened.page.mouse.move(left + 0.75 * wide, middle, steps=5)
    opened.page.mouse.up()
    assert pytest.approx([0.25 * whole, 0.75 * whole], rel=0.02) == opened.page.evaluate(RANGE)
    scales = "steadyrest.charts.panels.map(({ plot }) => [plot.scales.x.min, plot.scales.x.max])"
    assert [opened.page.evaluate(RANGE)] * 4 == opened.page.evaluate(scales)
    assert place == opened.page.evaluate("steadyrest.place.place")  # a drag is no click
    opened.page.mouse.dblclick(left + 0.5 * wide, middle)
    assert [0, whole] == opened.page.evaluate(RANGE)


@pytest.mark.long
def test_the_charts_go_by_keys_and_buttons(opened: Opened) -> None:
    whole = 60 * opened.page.evaluate("steadyrest.track.whole")
    opened.page.focus("#charts")
    opened.page.keyboard.press("+")
    assert pytest.approx([0, whole / 1.5]) == opened.page.evaluate(RANGE)  # about the playhead, at the start
    opened.page.keyboard.press("ArrowRight")
    assert pytest.approx([0.1 * whole / 1.5, 1.1 * whole / 1.5]) == opened.page.evaluate(RANGE)
    opened.page.keyboard.press("Home")
    assert [0, whole] == opened.page.evaluate(RANGE)
    opened.page.click("[data-charts='+']")
    opened.page.click("[data-charts='-']")
    assert pytest.approx([0, whole]) == opened.page.evaluate(RANGE)


def test_every_series_and_limit_is_named_and_its_dashes_are_drawn_beside_its_name(opened: Opened) -> None:
    heads = opened.page.locator("#charts h3").all_inner_texts()
    assert ["X Y Z, mm", "A, °", "speed of A, °/min", "speed of the tip, mm/min"] == heads
    names = """() => [...document.querySelectorAll(".panel-head li")].map((one) =>
        [one.querySelector("span").textContent, one.querySelector("line").getAttribute("stroke-dasharray")])"""
    dashes = dict(opened.page.evaluate(names))
    assert {"X", "Y", "Z", "A", "speed of A", "tip at feed", "tip at rapid", "highest feed in the toolpath"} <= set(dashes)
    (slowest,) = [name for name in dashes if re.fullmatch(r"rapid of the slowest axis, \d+ mm/min", name)]
    assert "limit of A, 7200 °/min" in dashes
    assert 3 == len({dashes[name] for name in "XYZ"})
    tip = ["tip at feed", "tip at rapid", "highest feed in the toolpath", slowest]
    assert 4 == len({dashes[name] for name in tip})
    drawn = "steadyrest.charts.panels.flatMap(({ plot }) => plot.series.slice(1).map((one) => (one.dash || []).join(' ')))"
    assert [dash for name, dash in dashes.items() if " of " not in name or name == "speed of A"] == opened.page.evaluate(drawn)


def test_rapids_do_not_press_the_feeds_flat(opened: Opened) -> None:
    assert [0, 750] == opened.page.evaluate("(({ min, max }) => [min, max])(steadyrest.charts.panels[3].plot.scales.y)")  # 600 mm/min


def test_the_charts_say_the_values_at_the_place_and_where_they_are_pointed_at(opened: Opened) -> None:
    values = """() => Object.fromEntries([...document.querySelectorAll(".panel-head li")].filter((one) => one.querySelector("output"))
        .map((one) => [one.querySelector("span").textContent, one.querySelector("output").textContent]))"""
    opened.page.locator(f"#line-{line_with('X-20')}").click()
    said = opened.page.evaluate(values)
    assert ("-20.000", "18.000", "600", "", "600") == tuple(
        said[name] for name in ("X", "Z", "tip at feed", "tip at rapid", "highest feed in the toolpath")
    )
    left, wide, middle = over_the_charts(opened)
    opened.page.mouse.move(left + wide - 1, middle)
    assert "400" == opened.page.evaluate(values)["highest feed in the toolpath"]
    opened.page.mouse.move(5, 5)


@pytest.mark.long
def test_a_series_can_be_left_out_of_its_chart(opened: Opened) -> None:
    button = opened.page.locator(".panel-head button").filter(has_text="Y")
    button.click()
    assert "false" == button.get_attribute("aria-pressed")
    assert [True, False, True] == opened.page.evaluate("steadyrest.charts.panels[0].plot.series.slice(1).map((one) => one.show)")
    button.click()


def test_the_charts_are_there_in_numbers_and_lead_to_the_line_of_the_largest(opened: Opened) -> None:
    opened.page.wait_for_selector("#charts-table tbody tr")
    rows = [row.split("\t") for row in opened.page.locator("#charts-table tbody tr").all_inner_texts()]
    assert ["1 two flats", "X, mm", "-20.000", "5.000", "show"] in rows
    assert ["1 two flats", "tip at feed, mm/min", "600", "600", "show"] in rows
    assert ["2 letter", "tip at feed, mm/min", "200", "400", "show"] in rows
    assert {"1 two flats", "2 letter"} == {row[0] for row in rows}
    at = rows.index(next(row for row in rows if row[:2] == ["2 letter", "X, mm"]))
    opened.page.locator("#charts-table tbody tr").nth(at).locator("button").click()
    assert rows[at][3] == opened.text("X")


@pytest.mark.long
def test_what_stands_out_for_an_instant_is_drawn_however_long_the_program_is(browser: Any, tmp_path: Path) -> None:
    moves: list[dict[str, Any]] = [{"rapid": [-50, 0, 5]}, {"cut": [-50, 0, -0.2], "feed": 300}]
    moves += [{"cut": [-50 + (at % 2) / 10, 0, -1.7 if at == 4001 else -0.2]} for at in range(9000)]
    file = tmp_path / "long.html"
    file.write_bytes(write_page(looked(part(LETTER | {"moves": [*moves, {"rapid": [-50, 0, 5]}]}))))
    it = Opened(browser, file)
    drawn = "steadyrest.charts.panels[0].plot.data"
    lowest = f"Math.min(...{drawn}[3])"
    assert it.page.evaluate(f"{drawn}[0].length") < 0.7 * it.page.evaluate("steadyrest.track.count")
    assert pytest.approx(18.3) == it.page.evaluate(lowest)
    # Zoomed in, each position is drawn; where that one is not in sight, it is left out.
    it.page.evaluate("steadyrest.charts.zoom(0, 6 * steadyrest.track.whole)")
    assert pytest.approx(19.8) == it.page.evaluate(lowest)
    it.close()


@pytest.mark.long
def test_the_charts_are_printed_whole_and_light_on_one_page(browser: Any, page_file: Path) -> None:
    it = Opened(browser, page_file, color_scheme="dark")
    dark = it.page.evaluate("getComputedStyle(document.body).backgroundColor")
    it.page.evaluate("window.print = () => { window.printed = true; }")
    it.page.click("#print-charts")
    it.page.wait_for_function("window.printed")
    it.page.emulate_media(media="print")
    for shown in (".panel", "h1", ".about"):
        assert it.page.locator(shown).first.is_visible()
    assert not it.page.locator("#verdict").is_visible()
    ink = """() => { const canvas = document.querySelector("#charts canvas"), pen = canvas.getContext("2d");
        const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
        let dark = 0, light = 0;
        for (let at = 0; at < data.length; at += 4) {
            const sum = data[at] + data[at + 1] + data[at + 2];
            if (data[at + 3] > 200 && sum < 150) dark++;
            if (data[at + 3] > 200 && sum > 690) light++;
        }
        return [dark, light, canvas.clientWidth]; }"""
    dark_pixels, light_pixels, wide = it.page.evaluate(ink)
    assert dark_pixels > 100 > light_pixels  # the text is dark: the theme is the light one
    assert wide <= 720
    for paper in PAPERS:  # to print ends what was set up for it
        it.page.emulate_media(media="null")
        it.page.click("#print-charts")
        it.page.wait_for_function("document.documentElement.dataset.printed")
        assert 1 == pages_of(it.page.pdf(format=paper, print_background=True))
        assert dark == it.page.evaluate("getComputedStyle(document.body).backgroundColor")
    it.close()


def test_what_was_cut_has_the_colour_of_its_operation(opened: Opened) -> None:
    opened.page.locator("#show-cut").uncheck()
    opened.page.locator("#show-rapid").uncheck()
    opened.page.locator("button[data-face=top]").click()
    opened.page.evaluate("steadyrest.place.set(steadyrest.track.count - 1)")
    red, green, blue, _ = opened.page.evaluate(COLOUR, [-10, 0, 18])
    # Operation 1 is blue, #0072b2: no red, and blue above green.
    assert red < 20 < green < blue
    red, green, blue, _ = opened.page.evaluate(COLOUR, [-30, 5, 19])
    assert max(red, green, blue) - min(red, green, blue) < 25


COLOUR = """([x, y, z]) => { const s = steadyrest, gl = document.getElementById("space").getContext("webgl2"); s.picture.draw();
    const at = s.picture.project([x, y, z]), scale = gl.drawingBufferWidth / gl.canvas.clientWidth, out = new Uint8Array(4);
    gl.readPixels(at[0] * scale, gl.drawingBufferHeight - at[1] * scale, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, out); return [...out]; }"""
"""What stands in the picture at a place."""


@pytest.mark.long
@pytest.mark.parametrize(("face", "end", "outwards"), [("+", -60, -1), ("-", 0, 1)])
def test_the_picture_shows_the_part_as_cut_so_far_and_turned_and_the_chuck_at_its_end(
    page_of: Callable[..., tuple[Opened, Looked]], face: str, end: int, outwards: int
) -> None:
    """One slot at 90 degrees, nothing else like it: seen from the front before, and from the top when the rotary has turned it up."""
    page = page_of("X", face)[0].page
    address = page.url.split("#")[0]  # without the line and the view that were shown last
    page.goto("about:blank")
    page.goto(address)
    page.wait_for_selector('html[data-charts="yes"]', state="attached")
    assert page.locator("input[value=machine]").is_checked()
    assert page.evaluate("steadyrest.place.place === steadyrest.track.count - 1")  # it opens at the program's end
    for name in ("cut", "rapid"):
        page.locator(f"#show-{name}").uncheck()

    def blue(at: list[float]) -> bool:
        red, green, blue, _ = page.evaluate(COLOUR, at)
        return bool(blue > red + 40 and blue > green > red)

    page.locator("input[value=part]").check()
    page.locator("button[data-face=front]").click()
    slot = [-10, -18, 0]
    assert blue(slot)
    page.evaluate("steadyrest.place.set(0)")
    assert not blue(slot)
    page.evaluate("steadyrest.place.set(steadyrest.track.placeOfLine(steadyrest.facts.operations[1].line) - 1)")
    assert blue(slot)
    page.locator("input[value=machine]").check()
    assert not blue(slot)
    page.locator("button[data-face=top]").click()
    assert blue([-10, 0, 18])
    # The chuck has a colour beside the part at the end that it holds; beside the other end there is nothing.
    table = page.evaluate(COLOUR, [-30, 24, 0])
    page.locator("input[value=part]").check()
    stage = page.evaluate(COLOUR, [-30, 24, 0])
    assert stage != table  # it is there at the machine alone
    assert stage != page.evaluate(COLOUR, [end + 5 * outwards, 22, 0])
    assert stage == page.evaluate(COLOUR, [-60 - end - 5 * outwards, 22, 0])
    long, units = str(page.locator("#space").get_attribute("data-scale")).split()
    assert units == "mm"
    share = """long => { const [one, other] = [long, 0].map((x) => steadyrest.picture.project([x, 0, 0])[0]);
        return (one - other) / document.getElementById("space").clientWidth; }"""
    assert 0.07 < page.evaluate(share, float(long)) <= 0.2
    assert f"holds the stock at X {end}" in page.locator("#hint").inner_text()


@pytest.mark.long
def test_the_colours_follow_the_switch_and_the_system(dark_page: Opened) -> None:
    paper = "getComputedStyle(document.body).backgroundColor"
    dark = dark_page.page.evaluate(paper)
    dark_page.page.click("#theme")
    light = dark_page.page.evaluate(paper)
    assert dark != light
    dark_page.page.click("#theme")
    assert dark == dark_page.page.evaluate(paper)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(opened: Opened, dark_page: Opened, scheme: str) -> None:
    # W3C, Web Content Accessibility Guidelines 2.1, success criterion 1.4.3: at least 4.5 to 1, relative luminance as defined there.
    it = {"light": opened, "dark": dark_page}[scheme]
    used = "ink paper, ink card, soft paper, soft card, act card, act paper, act-ink act, bad card, good card, mark-ink mark, soft stage"
    names = [pair.split() for pair in used.split(", ")]
    get = "(names) => names.map((name) => getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim())"
    pairs = [it.page.evaluate(get, pair) for pair in names]

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [each / 12.92 if each <= 0.03928 else ((each + 0.055) / 1.055) ** 2.4 for each in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for one, other in pairs:
        lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (one, other)


@pytest.mark.long
def test_nothing_sticks_out_sideways_however_wide_the_window_is_or_becomes(browser: Any, page_file: Path) -> None:
    it = Opened(browser, page_file, viewport={"width": 340, "height": 900})
    assert 340 >= it.page.evaluate("document.documentElement.scrollWidth")
    for width in (800, 1400, 2400, 340):
        it.page.set_viewport_size({"width": width, "height": 900})
        # The charts follow a little later.
        it.page.wait_for_function("width => innerWidth === width && width >= document.documentElement.scrollWidth", arg=width)
    it.close()


def test_everything_that_can_be_used_is_reached_by_the_tab_key_and_has_a_name(opened: Opened) -> None:
    reached = set()
    for _ in range(120):
        opened.page.keyboard.press("Tab")
        reached.add(opened.page.evaluate("document.activeElement.id || document.activeElement.textContent.trim().slice(0, 20)"))
    assert {"theme", "space", "to-start", "play", "speed", "scrub", "goto-line", "lines"} <= reached
    nameless = opened.page.evaluate(
        """() => {
            const said = (one) => one && (one.getAttribute("aria-label") || one.textContent.trim());
            const named = (one) => said(one) || [...(one.labels || [])].some(said);
            const used = [...document.querySelectorAll("button, input, select, [tabindex='0'], [role=img]")];
            return used.filter((one) => !named(one)).map((one) => one.outerHTML);
        }"""
    )
    assert [] == nameless


def test_hostile_names_stay_text(browser: Any, tmp_path: Path) -> None:
    toolpath = part(
        FLATS | {"name": HOSTILE}, LETTER, name=HOSTILE, tools=[MILL | {"name": HOSTILE}, {"number": 2, "shape": "ball", "diameter": 3}]
    )
    text = program_of(toolpath).replace(b"M2", b"(<img src=x onerror=window.hit=1></script>)\nM2")
    file = tmp_path / "report.html"
    file.write_bytes(write_page(looked(toolpath, text)))
    it = Opened(browser, file)
    it.page.focus("#lines")
    it.page.keyboard.press("End")
    assert HOSTILE == it.page.locator("h1").first.inner_text()
    assert it.page.evaluate("window.hit === undefined")
    assert 0 == it.page.locator("img[src=x]").count()
    assert it.page.locator("#legend").get_by_text(HOSTILE).count() == 1
    it.close()


@pytest.mark.long
def test_a_refused_program_shows_where(browser: Any, tmp_path: Path) -> None:
    seen = looked(text=program_of(part()).replace(b"X-20", b"X-21", 1))
    file = tmp_path / "report.html"
    file.write_bytes(report_page(seen))
    it = Opened(browser, file)
    assert "Stop" in it.page.locator("#verdict").inner_text()
    it.page.locator("#findings [data-line]").first.click()
    assert seen.posted.verdict.failure is not None
    assert str(seen.posted.verdict.failure.place.line) == it.text("line")
    it.close()


@pytest.mark.long
def test_every_axis_of_rotation_can_be_shown(browser: Any, tmp_path: Path) -> None:
    moves = [{"rapid": [0, 0, 40]}, {"cut": [0, 0, 18], "feed": 100}, {"cut": [5, 5, 18]}, {"rapid": [5, 5, 40]}]
    for axis, controller in (("Y", "rs274ngc-b"), ("Z", "upright-c")):
        stock = {"shape": "round", "diameter": 40, "from": -20, "to": 20}
        seen = looked(part(FLATS | {"rotary": {"intent": "still"}, "moves": moves}, axis=axis, stock=stock), controller=controller)
        file = tmp_path / f"{axis}.html"
        file.write_bytes(write_page(seen))
        it = Opened(browser, file)
        it.unrolled()
        assert [] == [each for each in it.complaints if "GPU stall" not in each and "GL Driver Message" not in each]
        it.close()


@pytest.mark.long
def test_without_a_graphics_card_the_unrolled_surface_is_shown_instead(start: Callable[[list[str]], Any], page_file: Path) -> None:
    it = Opened(start(["--disable-3d-apis"]), page_file)
    it.page.wait_for_selector("#flat canvas[data-drawn]", state="attached")
    assert it.page.locator("#flat").is_visible()
    assert "cannot draw in 3D" in it.page.locator("#thinned").inner_text()
    line = line_with("X-20")
    it.page.locator(f"#line-{line}").click()
    assert str(line) == it.text("line")
    it.close()


FOLDS = {"listing", "over-time", "charts-table", "changed", "figures", "setup-sheet", "made-of", "not-seen"}
DEMOS = ["lantern_cap/lantern_cap.job.toml", "distributor/distributor.toolpath.json"]
EACH_DEMO = [DEMOS[0], pytest.param(DEMOS[1], marks=pytest.mark.long)]
PAPERS = ["A4", "Letter"]
EACH_PAPER = ["A4", pytest.param("Letter", marks=pytest.mark.long)]
WIDTHS = [(1366, 768, "light"), (390, 844, "dark"), pytest.param(1920, 1080, "dark", marks=pytest.mark.long)]


@pytest.fixture(scope="module")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The report of a part of `demo/`, on a coarse field; each made once."""
    folder, demos = tmp_path_factory.mktemp("demo"), Path(__file__).parents[3] / "demo"

    @cache
    def of(part: str) -> Path:
        file = folder / f"{Path(part).parent.name}.html"
        file.write_bytes(report_page(look_at(Request(demos / part, "rs274ngc"), cells=(120, 180)), made="2026-11-29"))
        return file

    return of


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("demo", EACH_DEMO)
def test_the_first_screen_holds_what_has_to_be_known_and_the_rest_is_folded(
    browser: Any, demo_page: Callable[[str], Path], demo: str
) -> None:
    it = Opened(browser, demo_page(demo), unfold=False, viewport={"width": 1366, "height": 768})
    for name in ("#verdict", "#times", "#stage", "#findings", "#stick-out", "#mounting .drawings", "#mounting .stands", "#mounting .stock"):
        box = it.page.locator(name).bounding_box()
        assert box is not None, name
        assert min(box["width"], box["height"]) > 20, (name, box)
        assert 0 <= box["x"] <= 1366 - box["width"], (name, box)
        assert 0 <= box["y"] <= 768 - box["height"], (name, box)
    # Nothing that must be looked at is behind the edge of the list.
    assert 0 >= it.page.locator(".findings").evaluate("one => one.scrollHeight - one.clientHeight - 1")
    assert it.folded() == FOLDS - ({"changed"} if "distributor" in demo else set())
    it.close()


@pytest.mark.parametrize("paper", EACH_PAPER)
@pytest.mark.parametrize("demo", EACH_DEMO)
def test_a_report_is_printed_on_one_page(browser: Any, demo_page: Callable[[str], Path], demo: str, paper: str) -> None:
    it = Opened(browser, demo_page(demo), unfold=False)
    assert 1 == pages_of(it.page.pdf(format=paper, print_background=True))
    # What was unfolded before is not printed either.
    it.unfold()
    assert 1 == pages_of(it.page.pdf(format=paper, print_background=True))
    it.close()


@pytest.mark.long
def test_printed_the_first_screen_is_light_and_whole_on_a_dark_screen(browser: Any, demo_page: Callable[[str], Path]) -> None:
    it = Opened(browser, demo_page(DEMOS[1]), unfold=False, color_scheme="dark", viewport={"width": 730, "height": 1000})
    it.page.evaluate("document.documentElement.dataset.theme = 'dark'")
    it.page.emulate_media(media="print", color_scheme="dark")
    style = "getComputedStyle(document.body)"
    assert ["rgb(255, 255, 255)", "rgb(20, 23, 26)"] == it.page.evaluate(f"[{style}.backgroundColor, {style}.color]")
    for name in ("#verdict", "#times", ".printed img", ".findings", "#mounting .drawings", "#stick-out", "#tools table", ".about"):
        assert it.page.locator(name).is_visible(), name
    for name in ("#stage", ".player", ".ways", "#theme", *(f"#{one}" for one in FOLDS - {"changed"})):
        assert not it.page.locator(name).is_visible(), name
    drawn = it.page.locator(".printed img").evaluate("one => [one.naturalWidth / one.naturalHeight, getComputedStyle(one).objectFit]")
    assert [pytest.approx(3.0, abs=0.01), "contain"] == drawn
    assert "2026-11-29" in it.page.locator(".about").inner_text()
    wide = "all => all.map(one => [one.scrollWidth - one.clientWidth, getComputedStyle(one).overflowX])"
    for over, overflow in it.page.locator("#tools .wide").evaluate_all(wide):
        assert over <= 1
        assert overflow == "visible"
    it.close()


@pytest.mark.long
def test_many_tools_go_on_to_a_second_page_and_no_further(browser: Any, tmp_path: Path) -> None:
    tools = [MILL | {"number": number, "name": f"end mill {number}"} for number in range(1, 31)]
    file = tmp_path / "report.html"
    file.write_bytes(report_page(looked(part(*(FLATS | {"tool": one["number"]} for one in tools), tools=tools))))
    it = Opened(browser, file, unfold=False)
    assert 2 == pages_of(it.page.pdf(format="A4"))
    it.page.emulate_media(media="print")
    assert {"avoid"} == set(it.page.locator("#tools tr").evaluate_all("all => all.map(one => getComputedStyle(one).breakInside)"))
    it.close()


@pytest.mark.long
def test_show_opens_the_listing_at_its_line_beside_the_picture(browser: Any, demo_page: Callable[[str], Path]) -> None:
    it = Opened(browser, demo_page(DEMOS[1]), unfold=False, viewport={"width": 1366, "height": 768}, reduced_motion="reduce")
    show = it.page.locator("#findings [data-line]").first
    line = str(show.get_attribute("data-line"))
    show.focus()
    it.page.keyboard.press("Enter")
    assert "listing" not in it.folded()
    it.page.wait_for_selector(f"#line-{line}.now")
    for name in (f"#line-{line}", "#stage"):
        box = it.page.locator(name).bounding_box()
        assert box is not None
        assert -box["height"] < box["y"] < 768, (name, box)
    assert "lines" == it.page.evaluate("document.activeElement.id")
    it.close()


@pytest.mark.long
def test_links_addresses_and_keys_open_what_is_folded(browser: Any, page_file: Path) -> None:
    it = Opened(browser, page_file, unfold=False, anchor="#over-time")
    it.page.wait_for_selector("#charts[data-drawn]")
    assert it.folded() == FOLDS - {"over-time", "changed"}
    for _ in range(2):  # also where the address ends in its name already, and it was folded again
        it.page.click(".ways a[href='#figures']")
        it.page.wait_for_selector("#figures[open]")
        it.page.locator("#figures > summary").click()
        it.page.wait_for_selector("#figures:not([open])", state="attached")
    it.page.focus("#setup-sheet > summary")
    it.page.keyboard.press("Enter")
    it.page.wait_for_selector("#setup-sheet[open]")
    line = line_with("X-20")
    it.page.evaluate(f"location.hash = '#line-{line}'")
    it.page.wait_for_selector(f"#line-{line}.now")
    it.close()


@pytest.fixture(scope="module")
def refused_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("refused") / "report.html"
    file.write_bytes(report_page(looked(text=program_of(part()).replace(b"X-20", b"X-21", 1)), made="2026-11-29"))
    return file


@pytest.mark.parametrize(
    ("wide", "tall", "scheme"),
    [(1366, 768, "light"), *(pytest.param(*one, "dark", marks=pytest.mark.long) for one in ((390, 844), (1920, 1080)))],
)
def test_a_refused_program_begins_with_both_sides_of_its_first_difference(
    browser: Any, refused_page: Path, wide: int, tall: int, scheme: str
) -> None:
    it = Opened(browser, refused_page, unfold=False, viewport={"width": wide, "height": tall}, color_scheme=scheme)
    asked, found = (one.bounding_box() for one in it.page.locator(".side-by-side").all())
    assert asked["width"] == pytest.approx(found["width"], abs=1)
    assert asked["height"] == pytest.approx(found["height"], abs=1)
    assert wide == it.page.evaluate("document.documentElement.scrollWidth")
    if wide > 700:  # beside each other on the first screen, with their figures and what to check
        assert asked["y"] == pytest.approx(found["y"], abs=1)
        for name in ("#difference", "#verdict", "#findings", "#stick-out"):
            box = it.page.locator(name).bounding_box()
            assert box is not None, name
            assert box["y"] + box["height"] <= tall, (name, box)
    else:
        assert found["y"] > asked["y"] + asked["height"]
        assert asked["width"] > 300
    told = it.page.evaluate("""() => {
      const style = (name) => getComputedStyle(document.querySelector(`.side-by-side ${name}`));
      return [style(".way.cut.asked").strokeDasharray, style(".way.cut.found").strokeDasharray, style("text").fill,
              style(".way.asked").stroke, style(".way.found").stroke];
    }""")
    assert told[0] != "none" == told[1]  # which is which is not said by colour alone
    assert len(set(told[2:])) == 3
    it.page.locator("#difference [data-line]").first.click()
    line = it.page.locator("#difference [data-line]").first.get_attribute("data-line")
    it.page.wait_for_selector(f"#line-{line}.now")
    if wide > 700:
        for paper in PAPERS:
            assert 1 == pages_of(it.page.pdf(format=paper, print_background=True))
    assert [] == it.complaints
    it.close()


def test_a_finding_is_marked_in_space_on_the_slider_and_in_the_listing_and_an_address_leads_to_it(browser: Any, tmp_path: Path) -> None:
    seen = looked(
        part(
            FLATS
            | {"moves": [{"rapid": [5, 0, 30]}, {"rapid": [-10, 0, 18]}, {"cut": [-20, 0, 18], "feed": 600}, {"rapid": [-20, 0, 30]}]},
            LETTER,
        )
    )
    line = next(one.line for one in seen.posted.outcome.findings if one.line)
    (tmp_path / "report.html").write_bytes(write_page(seen))
    it = Opened(browser, tmp_path / "report.html", anchor=f"#at-{line}-part")
    page = it.page
    assert page.locator("input[value=part]").is_checked()
    assert str(line) == it.text("line")
    mark = page.locator("#marks button").first
    assert "◆1" == mark.inner_text()
    assert "now" in str(mark.get_attribute("class"))
    assert "◆1" in page.locator("#findings li.now").inner_text()
    assert "◆1" == page.locator(f"#line-{line} b").get_attribute("data-mark")
    red = """() => { const s = steadyrest, over = document.getElementById("over"); s.place.set(0); s.picture.draw();
        const one = s.facts.marked[0], at = s.picture.project(s.track.state(one.place).part), scale = over.width / over.clientWidth;
        const seen = [...over.getContext("2d").getImageData((at[0] - 6) * scale, at[1] * scale, 1, 1).data];
        s.listing.go(one.line);
        return seen; }"""
    r, g, b, a = page.evaluate(red)
    assert a > 200
    assert r > 1.5 * max(g, b)
    # The same mark lies on the map and stands in each chart, lit where the program stands in that line.
    it.unrolled()
    on_map = """() => { const s = steadyrest, canvas = document.getElementById("map"), one = s.facts.marked[0];
        s.place.set(0); s.flat.draw();
        const [x, y] = s.flat.screen(Math.ceil(one.place)), scale = canvas.width / canvas.clientWidth;
        const inwards = y < canvas.clientHeight / 2 ? 2 : -2; // it may lie on the seam
        const seen = [...canvas.getContext("2d").getImageData((x - 4) * scale, (y + inwards) * scale, 1, 1).data];
        s.listing.go(one.line);
        return seen; }"""
    r, g, b, a = page.evaluate(on_map)
    assert r > 1.5 * max(g, b)
    assert ["◆1"] * 4 == page.locator(".found-here.now").all_inner_texts()
    page.locator("input[value=part]").check()
    # Lines of the same operation are lit with it; the address says what is shown.
    page.evaluate("steadyrest.listing.go(steadyrest.facts.operations[1].line)")
    borders = page.evaluate("[...document.querySelectorAll('#tall b')].map((one) => one.style.borderLeftColor !== '')")
    assert {True, False} == set(borders)
    page.evaluate("line => steadyrest.listing.go(line)", line)
    page.locator("input[value=machine]").check()
    page.wait_for_function("line => location.hash === `#at-${line}-machine`", arg=line)
    assert it.complaints == []
    it.close()


def test_the_operation_that_is_shown_is_lit_on_the_slider_and_in_every_chart(opened: Opened) -> None:
    spans = """() => { const s = steadyrest, whole = s.track.whole;
        const of = (one) => { const a = one.getBoundingClientRect(), b = one.parentElement.getBoundingClientRect();
        return [(a.left - b.left) / b.width, (a.right - b.left) / b.width]; };
        return [s.track.stretchOf(s.place.state.operation).map((k) => s.track.minutes[k] / whole), of(document.getElementById("stretch")),
          ...[...document.querySelectorAll(".panel .stretch")].map(of)]; }"""
    for share in (0.1, 0.95):
        opened.page.evaluate("share => steadyrest.place.set(steadyrest.track.placeAt(share * steadyrest.track.whole))", share)
        asked, *shown = opened.page.evaluate(spans)
        assert asked[0] <= share <= asked[1]
        assert len(shown) == 5
        for each in shown:
            assert each == pytest.approx(asked, abs=0.02)


def test_operations_are_told_by_hatching_as_well_as_by_colour(opened: Opened) -> None:
    dark = """() => [...document.querySelectorAll("#legend canvas")].map((one) => {
        const { data } = one.getContext("2d").getImageData(0, 0, one.width, one.height);
        const light = Math.max(...data.filter((_, k) => k % 4 === 1));
        return [...Array(data.length / 4).keys()].map((k) => (data[4 * k + 1] < 0.9 * light ? 1 : 0)).join(""); })"""
    first, second, nothing = opened.page.evaluate(dark)
    assert len({first, second, nothing}) == 3
    assert "1" not in nothing
    # What operation 1 has cut is lighter and darker by turns, in space and on the map; what nothing has cut is even.
    opened.page.evaluate("steadyrest.place.set(steadyrest.track.count - 1)")
    for name in ("cut", "rapid"):
        opened.page.locator(f"#show-{name}").uncheck()
    opened.page.locator("button[data-face=top]").click()
    row = """([x, y, z]) => { const gl = document.getElementById("space").getContext("webgl2"), out = new Uint8Array(64);
        steadyrest.picture.draw();
        const at = steadyrest.picture.project([x, y, z]), scale = gl.drawingBufferWidth / gl.canvas.clientWidth;
        gl.readPixels(at[0] * scale, gl.drawingBufferHeight - at[1] * scale, 16, 1, gl.RGBA, gl.UNSIGNED_BYTE, out);
        const blues = [...Array(16).keys()].map((k) => out[4 * k + 2]); return Math.min(...blues) / Math.max(...blues); }"""
    assert opened.page.evaluate(row, [-12, 1, 18]) < 0.85
    assert opened.page.evaluate(row, [-40, 3, 19]) > 0.9
    opened.unrolled()
    opened.page.evaluate("steadyrest.flat.show('numbers', false); steadyrest.flat.draw()")
    seen = opened.page.evaluate(
        """() => { const s = steadyrest, canvas = document.getElementById("map"), scale = canvas.width / canvas.clientWidth;
            const cut = [...Array(s.track.count).keys()].find((k) => s.track.operation[k] === 1 && !s.track.isRapid(k));
            const [x, y] = s.flat.screen(cut), { data } = canvas.getContext("2d").getImageData((x + 2) * scale, (y + 4) * scale, 16, 1);
            const blues = [...Array(16).keys()].map((k) => data[4 * k + 2]); return Math.min(...blues) / Math.max(...blues); }"""
    )
    opened.page.evaluate("steadyrest.flat.show('numbers', true)")
    assert seen < 0.85


@pytest.mark.long
def test_from_the_picture_one_is_led_to_the_same_in_numbers(browser: Any, page_file: Path) -> None:
    it = Opened(browser, page_file, unfold=False)
    assert ["where", "where"] == it.page.locator("#space, #map").evaluate_all("all => all.map(one => one.getAttribute('aria-details'))")
    it.page.click("#in-numbers a")
    it.page.wait_for_selector("#figures[open] #where", state="visible")
    button = it.page.locator("#where tbody tr").first.locator("button")
    button.click()
    assert button.get_attribute("data-line") == it.text("line") == button.inner_text().split()[0]
    it.close()


OBLIQUE = FLATS | {
    "name": "oblique slot and hole",
    "rotary": {"intent": "indexed", "angles": [0]},
    "moves": [
        *({"rapid": place} for place in ([-30.04, -7, 30], [-30.04, -7, 14.9])),
        *({"cut": place, "feed": 600} for place in ([-30.04, -7, 14.9], [-16, 7.04, 14.9])),
        *({"rapid": place} for place in ([-16, 7.04, 30], [-8.07, 0.1, 30])),
        *({"cut": [-8.07, 0.1, z], "feed": 600} for z in (30, 14.9)),
        {"rapid": [-8.07, 0.1, 30]},
        {"rapid": [20, 0.1, 30]},
    ],
}
"""A slot at 45 degrees to the axis and a hole, both of a 6 mm end mill, on a bar of 40 mm."""


@pytest.mark.long
def test_the_walls_that_are_drawn_stand_within_a_small_part_of_a_cell_of_their_place(browser: Any, tmp_path: Path) -> None:
    """Seen from above and very near, along lines square to a wall: where the colour of the cut begins."""
    (tmp_path / "report.html").write_bytes(write_page(looked(part(OBLIQUE), cells=(600, 1024))))
    opened = Opened(browser, tmp_path / "report.html", unfold=False)
    opened.page.locator("input[value=part]").check()
    for each in opened.page.locator("#show-cut, #show-rapid").all():
        each.uncheck()
    opened.page.locator("button[data-face=top]").click()
    slope, cell_mm = 2**-0.5, 0.1
    walls = [((-23 + k * slope / 4, k * slope / 4), (-slope, slope)) for k in (-4, 1, 3)]
    hole = [(np.cos(angle), np.sin(angle)) for angle in (0.1, 1.2, 2.3, 3.9, 5.3)]
    places = [((x + 3 * u, 0.02 + y + 3 * v), (u, v)) for (x, y), (u, v) in walls]
    places += [((-8.07 + 3 * u, 0.1 + 3 * v), (u, v)) for u, v in hole]
    off = opened.page.evaluate(
        """(places) => {
        const { picture } = steadyrest, canvas = document.getElementById("space"), gl = canvas.getContext("webgl2"), { eye } = picture;
        eye.zoom = 60; eye.pan = [0, 0];
        return places.map(([[x, y], [u, v]]) => {
            eye.target = [x, y, Math.sqrt(400 - y * y)];
            picture.drawFull();
            const scale = canvas.width / canvas.clientWidth, middle = picture.project(eye.target);
            const mm = picture.project([x + 1, y, eye.target[2]])[0] - middle[0];
            const cut = (along) => {
                const one = new Uint8Array(4), at = [middle[0] + along * mm * u, middle[1] - along * mm * v];
                gl.readPixels(at[0] * scale, gl.drawingBufferHeight - at[1] * scale, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, one);
                return one[2] - one[0] > 20;
            };
            let last = NaN;
            for (let along = -0.3; along <= 0.3; along += 0.2 / mm) if (cut(along)) last = along;
            return last;
        });
        }""",
        places,
    )
    opened.close()
    assert np.abs(off).max() < 0.2 * cell_mm


def test_of_two_rotaries_the_page_shows_each_over_time_and_the_tool_as_it_leans(browser: Any, tmp_path: Path) -> None:
    """What the page works out of the words is what the track says: the way on the part, and where the tool points."""
    leaning = {
        **FLATS,
        "rotary": {"intent": "indexed", "planes": [{"origin": [-30, 0, 0], "z": [0, 0, 1]}, {"origin": [-30, 0, 0], "z": [1, -1, 1]}]},
    }
    seen = looked(part(over_the_pole(0.0), leaning), None, *C_ON_A)
    assert seen.posted.verdict.proved
    (tmp_path / "report.html").write_bytes(write_page(seen))
    it = Opened(browser, tmp_path / "report.html")
    shown = it.page.evaluate("[Array.from(steadyrest.track.part), steadyrest.track.words.map(one => Array.from(one))]")
    np.testing.assert_allclose(np.reshape(shown[0], (-1, 3)), seen.track.part_mm(seen.setting), atol=0.01)
    np.testing.assert_allclose(np.array(shown[1]).T, seen.track.word_deg, atol=0.5001e-3)
    last = np.flatnonzero(~seen.track.rapid)[-1]
    np.testing.assert_allclose(it.page.evaluate(f"steadyrest.track.state({last}).axis.part"), np.array([1, -1, 1]) / np.sqrt(3), atol=1e-4)
    titles = it.page.locator("#charts h3").all_inner_texts()
    assert ["X Y Z, mm", "C, °", "speed of C, °/min", "A, °", "speed of A, °/min", "speed of the tip, mm/min"] == titles
    assert "Dashed: the axes of the rotaries" in it.page.locator("#picture").inner_text()
    assert "what is cut behind an overhang shows as its path alone" in it.page.locator("#picture").inner_text()
    assert ["C", "A"] == it.page.evaluate("steadyrest.facts.lines.filter((one) => one.part).map((one) => one.word)")
    # The pole is marked on the slider, in every panel and in the listing, and said beside the charts.
    (pole,) = passed(seen)
    said = f"Pole 1, line {pole.line}: {pole.sentence}"
    it.page.get_by_role("button", name=said).press("Enter")
    assert pole.line == it.page.evaluate("steadyrest.place.state.line")
    assert f"●1 line {pole.line}: {pole.sentence}" in " ".join(it.page.locator("#passed").inner_text().split())
    assert len(titles) == it.page.locator(".found-here", has_text="●1").count()
    assert "●1" == it.page.locator(f"#line-{pole.line} b").get_attribute("data-mark")
    # At the machine the table alone turns. Worked by hand, ISO 841: A+ clockwise, seen from +X, takes what is up away from whoever stands
    # there; C+ clockwise, seen from above, takes what is at the right towards them. With A at 90 the axis of C lies along +Y.
    it.page.locator("input[name=view][value=machine]").check()
    assert "As you see it in front of the machine: the part turns under the tool" in it.page.locator("#hint").inner_text()
    at_machine = np.reshape(it.page.evaluate("Array.from(steadyrest.track.machine)"), (-1, 3))
    np.testing.assert_allclose(at_machine, seen.track.place_mm, atol=0.6e-3)
    np.testing.assert_allclose(it.page.evaluate(f"steadyrest.track.state({last}).axis.machine"), [0, 0, 1], atol=1e-9)
    by_hand = [([0, 1, 11], [0, 90], [0, 3, 9]), ([5, 0, 0], [90, 0], [0, -5, 0])]
    for place, words, there in by_hand:
        np.testing.assert_allclose(it.page.evaluate(f"steadyrest.track.toMachine({place}, {words})"), there, atol=1e-9)
    stands = it.page.evaluate("[0, 1].map((at) => steadyrest.track.lineNow(at, {work: [0, 0, 0], words: [30, 90], tool: 1}))")
    np.testing.assert_allclose(stands, [[[0, -8, 10], [0, -1, 0]], [[0, 1, 9], [-1, 0, 0]]], atol=1e-9)
    it.page.evaluate(f"steadyrest.place.set({last}, 'test')")
    assert f"{seen.track.word_deg[last, 1]:.3f}°" == it.text("A")
    assert [] == [each for each in it.complaints if "GPU stall" not in each]
    it.close()


@pytest.mark.long
@pytest.mark.parametrize("axis", ["Z", "X"])
def test_on_a_chain_cuts_in_all_sides_are_seen_from_there_once_they_were_made(browser: Any, tmp_path: Path, axis: str) -> None:
    seen = looked(three_sides(axis), controller="two-in-table", cells=None)
    assert seen.posted.verdict.proved
    (tmp_path / "report.html").write_bytes(write_page(seen))
    assert (tmp_path / "report.html").stat().st_size < 500_000
    it = Opened(browser, tmp_path / "report.html", unfold=False)
    for each in it.page.locator("#show-cut, #show-rapid").all():
        each.uncheck()
    turn = (lambda x, y, z: [x, y, z]) if axis == "Z" else (lambda x, y, z: [z, x, y])
    # A place on the floor of each, and from where it is looked at: straight above it.
    floors = [(turn(16, 2, 15), turn(1, 0, 0)), (turn(-7.7, 7.7, 21.7), turn(-1, 1, 1)), (turn(4, -3, 29), turn(0, 0, 1))]
    look = """([place, out, at]) => {
        const s = steadyrest, eye = s.picture.eye, canvas = document.getElementById("space"), gl = canvas.getContext("webgl2");
        const [x, y, z] = s.facts.person.map((row) => row.reduce((sum, each, k) => sum + (each * out[k]) / Math.hypot(...out), 0));
        eye.azimuth = Math.atan2(x, -y); eye.elevation = Math.asin(Math.min(z, 0.99));
        s.place.set(at, "test"); s.picture.drawFull();
        const [px, py] = s.picture.project(place), scale = gl.drawingBufferWidth / canvas.clientWidth, dot = new Uint8Array(4);
        gl.readPixels(px * scale, gl.drawingBufferHeight - py * scale, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, dot);
        return [...dot].slice(0, 3); }"""

    def shade(colour: Any) -> Any:
        return np.array(colour, dtype=float) / np.linalg.norm(colour)

    for number, (place, out) in enumerate(floors, start=1):
        before, last = (int(at) for at in (np.flatnonzero(seen.track.operation < number)[-1:].sum(), len(seen.track) - 1))
        skin, cut = (shade(each) for each in rgb((seen.colours[0], seen.colours[number])))
        np.testing.assert_allclose(shade(it.page.evaluate(look, [place, out, last])), cut, atol=0.05)
        np.testing.assert_allclose(shade(it.page.evaluate(look, [place, out, before])), skin, atol=0.05)
    assert [] == [each for each in it.complaints if "GPU stall" not in each]
    it.close()


@pytest.mark.long
def test_of_a_head_the_page_goes_by_the_pivot_and_the_gauge_length_of_each_tool(browser: Any, tmp_path: Path) -> None:
    tour = Path(__file__).parents[2] / "golden" / "tour"
    seen = look_at(Request(tour / "tilted_planes.toolpath.json", "head-and-table", gauge_lengths={3: 120.0, 7: 90.5}))
    assert seen.posted.verdict.proved
    assert {3, 7} <= set(seen.track.tool.tolist())
    (tmp_path / "report.html").write_bytes(report_page(seen))
    it = Opened(browser, tmp_path / "report.html", unfold=False)
    shown = np.reshape(it.page.evaluate("Array.from(steadyrest.track.part)"), (-1, 3))
    np.testing.assert_allclose(shown, seen.track.part_mm(seen.setting), atol=0.01)
    # By hand, ISO 841: B+ lays the head over to +X, so that its nose goes to -X. The pivot stands 145 and the gauge length over the tip.
    place = it.page.evaluate("steadyrest.track.lineNow(1, {work: [0, 0, 0], words: [0, 90], tool: 3})")
    np.testing.assert_allclose(place, [[0.02, 0, 265], [0, 1, 0]], atol=1e-9)
    leans = it.page.evaluate("steadyrest.track.ofHead([0, 0, 0], [0, 0, 0], [0, 90], 3)")
    np.testing.assert_allclose(leans, [0.02 - 265, 0, 265 + 0.02], atol=1e-9)
    it.close()


@pytest.mark.long
def test_a_finding_over_several_lines_is_lit_in_every_view_while_the_program_is_in_it(browser: Any, tmp_path: Path) -> None:
    seen = looked(shank_in_stock())
    (shank,) = (one for one in seen.posted.outcome.findings if one.name == "shank")
    assert shank.lines is not None
    first, last = shank.lines
    (tmp_path / "report.html").write_bytes(write_page(seen))
    opened = Opened(browser, tmp_path / "report.html")
    page = opened.page
    red = """(canvas) => { const pen = document.createElement("canvas").getContext("2d"), at = document.getElementById(canvas);
        pen.canvas.width = at.width; pen.canvas.height = at.height; pen.drawImage(at, 0, 0);
        const { data } = pen.getImageData(0, 0, at.width, at.height);
        const bad = getComputedStyle(document.documentElement).getPropertyValue("--bad");
        const rgb = [1, 3, 5].map((k) => parseInt(bad.trim().slice(k, k + 2), 16)); let count = 0;
        for (let k = 0; k < data.length; k += 4) if (rgb.reduce((sum, one, n) => sum + Math.abs(data[k + n] - one), 0) < 12) count++;
        return count; }"""
    lit = {}
    for line in (first - 4, first + 2):
        page.evaluate(f"steadyrest.listing.go({line})")
        page.locator("input[value=part]").check()
        page.locator("#show-through").check()
        page.evaluate("steadyrest.picture.draw()")
        space = page.evaluate(red, "space")
        page.locator("input[value=flat]").check()
        page.evaluate("steadyrest.flat.draw()")
        lit[line] = space, page.evaluate(red, "map"), page.locator(".along .through.now").count()
    (before, inside) = lit.values()
    assert (0, 0) == (before[0], before[2])
    assert before[0] + 50 < inside[0]
    assert before[1] + 50 < inside[1]
    assert inside[2] == 1
    marked = page.locator(".tall .through").evaluate_all("all => all.map(one => Number(one.dataset.at))")
    assert list(range(first, last + 1)) == sorted(marked)
    opened.close()
