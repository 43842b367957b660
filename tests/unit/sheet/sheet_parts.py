"""A toolpath and its sheet; for the tests of the setup sheet."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

from steadyrest.sheet import SheetFacts, setup_sheet_page

PART: dict[str, Any] = {
    "steadyrest_toolpath": 1,
    "name": "peg <b>& co</b>",
    "units": "mm",
    "axis": "X",
    "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
    "tools": [
        {"number": 3, "name": "6 mm end mill", "shape": "flat", "diameter": 6, "flutes": 3, "length": 50},
        {"number": 7, "name": "spotting drill", "shape": "drill", "diameter": 8, "point_angle": 90},
    ],
    "operations": [
        {
            "name": "two flats",
            "tool": 3,
            "spindle": {"rpm": 8000, "turns": "clockwise"},
            "coolant": "flood",
            "rotary": {"intent": "indexed", "angles": [0, 540]},
            "moves": [{"rapid": [5, -15, 30]}, {"rapid": [5, -15, 17.5]}, {"cut": [-30, -15, 17.5], "feed": 900}],
        },
        {
            "name": "spot",
            "tool": 7,
            "spindle": {"rpm": 2000, "turns": "clockwise"},
            "rotary": {"intent": "still"},
            "moves": [{"rapid": [-40, 0, 30]}, {"cut": [-40, 0, 19], "feed": 100}],
        },
    ],
}


class Seen(HTMLParser):
    """Text, tags that are still open, and what the page would fetch."""

    VOID = frozenset({"meta", "br", "rect", "circle", "line", "polyline", "polygon"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetched: list[str] = []
        self.said = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        self.fetched += [str(value) for name, value in attrs if name in ("src", "href", "xlink:href", "srcset", "action")]

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.said += " " + data


def text_of(facts: SheetFacts) -> str:
    return re.sub(r"\s+", " ", Seen(setup_sheet_page(facts)).said)
