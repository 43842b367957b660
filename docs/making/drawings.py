"""Drawings by what draws the setup sheet and the page, as files of their own: mountings, the shapes of tools, where a part is cut."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import steadyrest
from making.stated import ROOT, bundled
from steadyrest.inputs import load_job
from steadyrest.page.drawings import SAMPLES, sketch, tool_drawing
from steadyrest.page.inputs_seen import facts_of
from steadyrest.profile import chain_in_words, has_one_in_table
from steadyrest.sheet import Drawing, chain_drawings, mounting_drawings, mounting_facts

STYLE = """<style>
svg { --paper: #ffffff; --ink: #14171a; --soft: #4c545c; --line: #c9ced4; --body: #d8dce0; background: var(--paper) }
svg { --act: #00558c; --bad: #a63c00; --good: #00694b; --mark: #ffe9a8 }
@media (prefers-color-scheme: dark) {
svg { --paper: #1e2226; --ink: #f0f2f4; --soft: #b3bac2; --line: #434b53; --body: #434b53 }
svg { --act: #7cc4f2; --bad: #ff9d66; --good: #4cc9a0; --mark: #5a4a12 }
}
text { font: 15px sans-serif; fill: var(--ink) }
.mounting text { font: bold 17px sans-serif }
.mounting text.axis { font-size: 13px }
.body, .chuck, .bar, .jaw, .tool { fill: var(--paper); stroke: var(--ink); stroke-width: 2 }
.body { fill: var(--body) }
.table { fill: var(--paper); stroke: var(--soft); stroke-width: 1.5 }
.hidden { fill: none; stroke: var(--ink); stroke-width: 1.5; stroke-dasharray: 4 3 }
.line { fill: none; stroke: var(--ink); stroke-width: 1.5; stroke-dasharray: 14 4 3 4 }
.level { fill: none; stroke: var(--ink); stroke-width: 1 }
.eye { fill: var(--paper); stroke: var(--ink); stroke-width: 1.5 }
.eye circle { fill: var(--ink) }
polyline.turn { fill: none; stroke: var(--ink); stroke-width: 4.5 }
.mounting line.axis { stroke: var(--ink); stroke-width: 2 }
.head { fill: var(--ink) }
</style>"""
"""For light and dark, as the page round it is shown."""

MOUNTINGS = {
    ("+X", "clockwise"): -1,
    ("+X", "counterclockwise"): 1,
    ("-X", "clockwise"): 1,
    ("-X", "counterclockwise"): -1,
}
"""sigma of each mounting along X: +1 where a positive command turns the part right-hand about +X (frames and signs, DEVELOPERS.md)."""

SIDES = ("front", "face")
"""As the two drawings of a profile are named: the second is at the face of the chuck, of a chain from the right."""

SKETCHES = {
    "lantern-post": "examples/shop/toolpaths/lantern_post.toolpath.json",
    "indexed": "tests/golden/tour/indexed.toolpath.json",
    "wrapped": "tests/golden/tour/wrapped.toolpath.json",
}


def pages() -> dict[str, str]:
    """Each mounting along X, and those of the bundled profiles; each shape of a tool; the sketches of parts that pages speak of."""
    found: dict[str, str] = {}
    for (faces, turns), sigma in MOUNTINGS.items():
        side = "right" if faces == "+X" else "left"
        for view, drawing in zip(("front", "above", "face"), mounting_drawings("A", faces, sigma), strict=True):
            found[f"drawings/{side}-{turns}-{view}.svg"] = alone(drawing.svg, 250, 220)
    for profile in bundled():
        for view, drawing in zip(SIDES, mounting_of(profile.name)[1], strict=True):
            wide, high = (int(each) for each in drawing.svg.split('viewBox="0 0 ')[1].split('"')[0].split())
            found[f"drawings/{profile.name}-{view}.svg"] = alone(drawing.svg, wide, high)
    found |= {f"drawings/tool-{shape}.svg": alone(tool_drawing(shape), 112, 152) for shape in SAMPLES}
    found |= {f"drawings/{name}.svg": alone(sketch(_seen(ROOT / file)), 640, 340) for name, file in SKETCHES.items()}
    return found


def mounting_of(profile: str) -> tuple[str, tuple[Drawing, Drawing]]:
    """The mounting that a bundled profile states, of its first rotary, or its chain: in a sentence, and drawn from two sides."""
    chosen = next(one.profile for one in bundled() if one.name == profile)
    if not has_one_in_table(chosen):
        front, side = chain_drawings(chosen)
        return "; ".join(chain_in_words(chosen)), (front, side)
    letter, rotary = next(iter(chosen.rotary.items()))
    facts = mounting_facts(letter, rotary, chosen.spindle.stands, "mm")
    return "; ".join(facts.sentences[:3]), (facts.drawings[0], facts.drawings[-1])


def _seen(part: Path) -> Mapping[str, Any]:
    """What the page knows of a toolpath."""
    with TemporaryDirectory() as folder:
        job = Path(folder) / "part.job.toml"
        job.write_text(f"steadyrest_job = 1\n[[inputs]]\nfile = '{part}'\n", encoding="utf-8")
        found = facts_of(load_job(job), str)["toolpath"]
        assert isinstance(found, dict)
        return found


def _page_style() -> str:
    """How the page draws tools and sketches."""
    style = (Path(steadyrest.__file__).parent / "page" / "static" / "part.css").read_text(encoding="utf-8")
    return "\n".join(line for line in style.splitlines() if line.startswith("svg .") or line.startswith("svg polygon"))


def alone(svg: str, width: int, height: int) -> str:
    """A drawing as a file of its own."""
    style = STYLE if 'class="mounting"' in svg else STYLE.replace("</style>", _page_style() + "\n</style>")
    opened = re.sub(r"^<svg ", f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" ', svg)
    return opened.replace(">", ">" + style, 1) + "\n"


def svg(wide: int, high: int, words: str, inside: str) -> str:
    """A file of that size with what it shows in words."""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}" role="img"'
    return f'{head} aria-label="{words}">{inside}</svg>\n'
