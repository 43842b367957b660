from __future__ import annotations

import base64
import hashlib
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from viewer_parts import FLATS, LETTER, MILL, looked, part, program_of, put_together, unpacked

from steadyrest.errors import InputError
from steadyrest.reporting import look_at, report_page
from steadyrest.request import Request
from steadyrest.viewer import page as page_module
from steadyrest.viewer import write_page
from steadyrest.viewer.views import OPERATION_COLOURS

HOSTILE = "</script><script>window.hit=1</script><!--<script> \"'><img src=x onerror=window.hit=1> {{ 7*7 }} ${7*7} &amp; \u2028 $x^2$"


class Parsed(HTMLParser):
    """Elements by name, their attributes, and the text of scripts as a browser would take it."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._open = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._open = tag
        if tag in ("script", "h1", "title"):
            self.texts.setdefault(tag, []).append("")

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open in self.texts:
            self.texts[self._open][-1] += data


@pytest.fixture(scope="module")
def hostile_page() -> str:
    flats = FLATS | {"name": HOSTILE, "moves": [{"note": HOSTILE}, *FLATS["moves"]]}
    toolpath = part(
        flats, LETTER, name=HOSTILE, tools=[MILL | {"name": HOSTILE}, {"number": 2, "name": HOSTILE, "shape": "ball", "diameter": 3}]
    )
    text = program_of(toolpath).replace(b"M2", b"(</script><img src=x onerror=window.hit=1>)\nM2")
    return write_page(looked(toolpath, text)).decode()


def test_text_from_outside_adds_no_element_and_no_script(hostile_page: str) -> None:
    plain = Parsed(write_page(looked()).decode())
    found = Parsed(hostile_page)
    assert sorted({tag for tag, _ in plain.elements}) == sorted({tag for tag, _ in found.elements})
    assert len(plain.texts["script"]) == len(found.texts["script"])
    assert [] == [attributes for _, attributes in found.elements if any(name.startswith("on") for name in attributes)]


def test_text_from_outside_is_shown_as_it_is(hostile_page: str) -> None:
    assert HOSTILE == Parsed(hostile_page).texts["h1"][0]


def test_the_policy_names_every_script_that_runs_and_no_other_source(hostile_page: str) -> None:
    found = Parsed(hostile_page)
    policy = next(a["content"] for tag, a in found.elements if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    scripts = [a for tag, a in found.elements if tag == "script"]
    running = [text for text, attributes in zip(found.texts["script"], scripts, strict=True) if "type" not in attributes]
    for text in running:
        assert f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" in policy
    directive = next(part for part in policy.split(";") if part.strip().startswith("script-src"))
    assert "unsafe" not in directive
    assert "default-src 'none'" in policy


def test_the_page_asks_for_nothing_from_anywhere(hostile_page: str) -> None:
    found = Parsed(hostile_page)
    asked = [a[name] for _, a in found.elements for name in ("src", "href", "action", "data") if name in a]
    assert [] == [each for each in asked if each is None or not each.startswith(("#", "data:,", "data:image/png;base64,"))]


def test_the_columns_of_the_page_are_those_of_the_program() -> None:
    seen = looked()
    found = Parsed(write_page(seen).decode())
    scripts = {
        a.get("id"): text for (_, a), text in zip([e for e in found.elements if e[0] == "script"], found.texts["script"], strict=True)
    }
    facts = json.loads(scripts["facts"])
    columns = unpacked(facts["columns"], scripts["columns"])
    assert seen.text == put_together(facts["listing"], columns)
    np.testing.assert_array_equal(seen.track.line, columns["line"])
    np.testing.assert_allclose(seen.track.place_mm[:, 2], columns["z"], atol=0.5001e-3)
    np.testing.assert_allclose(seen.track.word_deg[:, 0], columns["turned_0"], atol=0.5001e-3)
    assert seen.cut is not None
    np.testing.assert_allclose(seen.cut.field.outer_mm.ravel(), columns["outer"].reshape(-1) * facts["field"]["step"], atol=20 / 8191)
    assert ["two flats", "letter"] == [one["name"] for one in facts["operations"]]
    assert [600, 400] == [one["asked"] for one in facts["operations"]]


def test_lengths_on_the_page_are_in_the_toolpaths_own_unit() -> None:
    scale = 1 / 25.4
    flats = FLATS | {
        "moves": [{"rapid": [0.2, 0, 1.2]}, {"rapid": [0.2, 0, 0.7]}, {"cut": [-0.8, 0, 0.7], "feed": 20}, {"rapid": [-0.8, 0, 1.2]}]
    }
    stock = {"shape": "round", "diameter": 40 * scale, "from": -60 * scale, "to": 0}
    seen = looked(part(flats, units="inch", stock=stock, tools=[MILL | {"diameter": 0.25}]))
    text = write_page(seen).decode()
    assert re.search(r"Never more than 0\.\d{5} inch off the toolpath", text), "a hundredth of a thousandth is what the control rounds to"
    found = Parsed(text)
    scripts = {
        a.get("id"): text for (_, a), text in zip([e for e in found.elements if e[0] == "script"], found.texts["script"], strict=True)
    }
    facts = json.loads(scripts["facts"])
    columns = unpacked(facts["columns"], scripts["columns"])
    assert pytest.approx(-0.8, abs=1e-4) == columns["x"].min()
    assert pytest.approx(20 * scale, rel=1e-3) == columns["outer"].max() * facts["field"]["step"]
    assert pytest.approx(20, rel=1e-3) == np.nanmax(columns["tip"][columns["flags"] & 1 == 0])


DEMOS = ["lantern_cap/lantern_cap.job.toml"]
"""Those that take longer are measured by tests/bench/bench_report.py."""


@pytest.mark.parametrize("demo", DEMOS)
def test_the_report_of_a_part_is_smaller_than_a_megabyte(demo: str) -> None:
    folder = Path(__file__).parents[3] / "demo"
    assert len(report_page(look_at(Request(folder / demo, "rs274ngc")))) < 1_000_000


def test_thinning_is_said_on_the_page() -> None:
    moves = [{"rapid": [-50, -6, 5]}, *({"cut": [-50 + k / 50, 3 * np.sin(k / 9), -1], "feed": 300} for k in range(2000))]
    seen = looked(part(LETTER | {"moves": moves}), most_positions=500)
    page = write_page(seen).decode()
    assert "Thinned for display only" in page
    assert "All " not in Parsed(page).texts["h1"][0]
    assert "Thinned for display only" not in write_page(looked()).decode()


def test_a_missing_library_of_the_charts_is_said_with_the_cure(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> Any:
        raise PackageNotFoundError(name)

    monkeypatch.setattr(page_module, "distribution", missing)
    page_module._charts_library.cache_clear()
    with pytest.raises(InputError, match=r"pip install 'steadyrest\[report\]'"):
        write_page(looked())


def test_the_charts_library_is_taken_without_running_its_package() -> None:
    code = (
        "import sys; from steadyrest.viewer.page import _charts_library; s = _charts_library(); print(len(s[0]), len(s[1]), *sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert int(found[0]) > 20_000
    assert int(found[1]) > 500
    assert not {"uplot", "IPython"} & set(found)


def test_the_page_holds_the_notice_of_the_charts_library_and_no_address_but_there(hostile_page: str) -> None:
    assert "MIT Licensed" in hostile_page
    (notice,) = re.findall(r"<!--(.*?)-->", hostile_page.replace(HOSTILE, ""), flags=re.DOTALL)
    assert re.search(r"Copyright \(c\) \d{4}", notice)
    assert [] == re.findall(
        r"\b(?:https?|wss?)://(?!www\.w3\.org/2000/svg)|\bfetch\(|XMLHttpRequest|WebSocket|EventSource|sendBeacon",
        hostile_page.replace(notice, ""),
    )


def test_a_rapid_through_material_is_a_reason_to_stop_though_the_proof_holds() -> None:
    moves = [
        {"rapid": [5, 0, 30]},
        {"rapid": [5, 0, 18]},
        {"rapid": [-20, 0, 18]},
        {"cut": [-25, 0, 18], "feed": 600},
        {"rapid": [-25, 0, 30]},
    ]
    seen = looked(part(FLATS | {"moves": moves, "rotary": {"intent": "still"}}))
    assert seen.posted.verdict.proved
    found = seen.posted.outcome.findings
    assert "stop" == found[0].weight
    assert found[0].line is not None
    assert b"X-20" in seen.text.splitlines()[found[0].line - 1]
    assert 'class="verdict stop"' in write_page(seen).decode()


def test_the_failure_leads_to_its_line() -> None:
    seen = looked(text=program_of(part()).replace(b"X-20", b"X-21", 1))
    found = seen.posted.outcome.findings
    assert seen.posted.verdict.failure is not None
    assert ("stop", seen.posted.verdict.failure.place.line) == (found[0].weight, found[0].line)
    page = write_page(seen).decode()
    assert f'data-line="{found[0].line}"' in page
    assert 'class="verdict stop"' in page


def test_what_has_to_be_known_first_is_not_folded_and_all_the_rest_is() -> None:
    seen = looked()
    page = report_page(seen, made="2026-11-29").decode()
    body = re.sub(r"<script.*?</script>", "", page[page.index("<body>") :], flags=re.DOTALL)
    folds = re.findall(r'<details class="card fold[^"]*" id="([^"]+)">', body)
    assert ["listing", "over-time", "figures", "setup-sheet", "made-of", "not-seen"] == folds
    assert folds == re.findall(r'<details class="[^"]+" id="([^"]+)">\s*<summary>', body)  # none is open, each is named
    first = re.sub(r"<details.*?</details>", "", body, flags=re.DOTALL)
    for name in ("verdict", "times", "stage", "findings", "mounting", "stick-out", "tools"):
        assert f'id="{name}"' in first, name
    for facts in ("2026-11-29", seen.posted.verdict.toolpath_digest[:16].upper(), seen.posted.verdict.profile_digest[:16].upper()):
        assert facts in first
    for kept in ('id="lines"', 'id="charts"', "The proof, operation by operation", "Lowest and highest positions", "Rotary turns in all"):
        assert kept not in first
        assert kept in body


def test_every_link_and_fold_of_the_page_leads_to_something_on_it() -> None:
    elements = Parsed(report_page(looked()).decode()).elements
    names = {attributes.get("id") for _, attributes in elements}
    links = [str(attributes["href"])[1:] for tag, attributes in elements if tag == "a"]
    assert len(links) > 5
    assert [] == [link for link in links if link not in names]


def test_without_a_day_the_printed_page_leaves_a_line_to_write_it_on() -> None:
    blank = 'report of <span class="blank"></span>'
    assert blank in report_page(looked()).decode()
    assert blank not in report_page(looked(), made="2026-11-29").decode()


def test_the_picture_on_paper_is_there_before_any_script_runs() -> None:
    (source,) = re.findall(r'<img [^>]*src="data:image/png;base64,([^"]+)"', write_page(looked()).decode())
    assert base64.b64decode(source).startswith(b"\x89PNG")


def test_under_the_picture_on_paper_only_so_many_operations_are_named_and_the_rest_is_counted() -> None:
    caption = r"<figcaption>(.*?)</figcaption>"
    (named,) = re.findall(caption, write_page(looked()).decode())
    assert "2 letter" in named
    assert "more" not in named
    many = part(*(FLATS | {"name": f"flat {number}"} for number in range(30)))
    (named,) = re.findall(caption, write_page(looked(many)).decode())
    assert 24 == named.count("<svg ")
    assert "and 6 more" in named


def test_colours_of_operations_are_the_published_ones() -> None:
    # M. Okabe and K. Ito, Color Universal Design, 2008: the eight colours as red, green, blue; black is left to the text.
    published = [(230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178), (213, 94, 0), (204, 121, 167)]
    assert sorted("#{:02x}{:02x}{:02x}".format(*colour) for colour in published) == sorted(OPERATION_COLOURS)


def test_the_page_says_its_version_command_day_and_digests_whole() -> None:
    seen = looked()
    page = write_page(seen, made="2026-11-29", command="steadyrest report small.nc --set a=<b>").decode()
    fold = page[page.index('id="made-of"') : page.index('id="not-seen"')]
    for text in (
        f"steadyrest {version('steadyrest')} on 2026-11-29",
        "steadyrest report small.nc --set a=&lt;b&gt;",
        hashlib.sha256(seen.text).hexdigest(),
        seen.posted.verdict.toolpath_digest,
        seen.posted.verdict.profile_digest,
    ):
        assert text in fold
    assert f"steadyrest {version('steadyrest')}" in page[page.index('class="about"') : page.index("</header>")]
    assert "Made again by" not in write_page(seen).decode()
