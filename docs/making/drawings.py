"""The mounting of a rotary as it can be, drawn by what draws the setup sheet: one file a view, without anything from outside."""

from __future__ import annotations

import re

from steadyrest.sheet import mounting_drawings

STYLE = """<style>
svg { background: #fff }
.body, .chuck, .bar, .jaw, .tool { fill: #fff; stroke: #000; stroke-width: 2 }
.body { fill: #ddd }
.table { fill: #f4f4f4; stroke: #777; stroke-width: 1.5 }
.hidden { fill: none; stroke: #000; stroke-width: 1.5; stroke-dasharray: 4 3 }
polyline.turn { fill: none; stroke: #000; stroke-width: 4.5 }
text { font: bold 17px sans-serif; fill: #000 }
text.axis { font-size: 13px }
line.axis { stroke: #000; stroke-width: 2 }
.head { fill: #000 }
</style>"""

MOUNTINGS = {
    ("+X", "clockwise"): -1,
    ("+X", "counterclockwise"): 1,
    ("-X", "clockwise"): 1,
    ("-X", "counterclockwise"): -1,
}
"""sigma of each mounting along X: +1 where a positive command turns the part right-hand about +X (frames and signs, DEVELOPERS.md)."""


def pages() -> dict[str, str]:
    """Each mounting along X: as the operator stands, and looking at the face of the chuck."""
    found: dict[str, str] = {}
    for (faces, turns), sigma in MOUNTINGS.items():
        side = "right" if faces == "+X" else "left"
        for view, drawing in zip(("front", "above", "face"), mounting_drawings("A", faces, sigma), strict=True):
            found[f"drawings/{side}-{turns}-{view}.svg"] = _alone(drawing.svg)
    return found


def _alone(svg: str) -> str:
    """A drawing as a file of its own."""
    opened = re.sub(r"^<svg ", '<svg xmlns="http://www.w3.org/2000/svg" width="250" height="220" ', svg)
    return opened.replace(">", ">" + STYLE, 1) + "\n"
