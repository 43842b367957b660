"""How is what was found put into one page that needs nothing else?

The page holds its data, style and scripts itself. Its content policy names the digest of each script, so that no other script can run,
and forbids every connection (W3C, Content Security Policy Level 3). Columns are packed (`packing.py`), deflated and written in base64; the
page unpacks them into typed arrays. Deflate (RFC 1951 in the wrapper of RFC 1950) is what the browsers' own DecompressionStream("deflate")
reads; base64 is RFC 4648.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import zlib
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution, version
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import Environment, Template
from markupsafe import Markup

from steadyrest.errors import InputError
from steadyrest.progress import PACKING, Progress, Work
from steadyrest.proof import CAUTION
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.packing import packed
from steadyrest.viewer.pictures import MOST_NAMED, PictureOf, draw
from steadyrest.viewer.script_data import page_data
from steadyrest.viewer.side_by_side_drawing import SideBySide, both_sides
from steadyrest.viewer.views import looks
from steadyrest.viewer.where_it_cuts import Passed, passed, where_it_cuts

PAGE = Path(__file__).parent / "page"
CHARTS_PACKAGE = "uplot-python"
BASE, SIDES, STYLE = "base.css", "side_by_side.css", "report.css"
"""What every page looks like, and what the report does besides."""
PARTS = ("across", "about", "verdict", "picture", "setup", "listing", "folds")
POLICY = "default-src 'none'; script-src {}; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'"
PIECE = 1 << 18
"""Bytes that are deflated before it is told how far it is."""
PRINTED_INCHES, PRINTED_CELLS, PRINTED_COLOURS = (7.5, 2.5), 220, 128
"""The picture on paper: as wide as what A4 and Letter have between their margins, and fine enough for its size."""


class SetupSheet(NamedTuple):
    """Fragments of HTML, their text escaped: what the first screen says of setting up, the whole sheet, and the style sheet of both."""

    front: str
    whole: str
    style: str


class PageParts(NamedTuple):
    """The report in pieces, for a page that has its own head and serves scripts and style as files (`page_files`).

    fragments   HTML by the name of its block in `report.html.j2`: `PARTS`
    facts       JSON for the script element `facts`
    columns     the numbers, deflated; the script element `columns` says in `data-from` where they are
    """

    fragments: dict[str, str]
    facts: str
    columns: bytes


def write_page(
    looked: Looked, *, setup_sheet: SetupSheet | None = None, made: str = "", command: str = "", progress: Progress | None = None
) -> bytes:
    """The report as one HTML page: its first screen, and the rest folded below. Printed it is the first screen alone.

    setup_sheet  None: there is none
    made         the day, for people; empty: it is written by hand on the printed page
    command      which makes this report again; empty: it is not said
    progress     is told that it is drawn, and how much of it is packed
    raises       InputError where a library of the extra `report` is not installed
    """
    shown = _shown(looked, setup_sheet, made, command)
    facts, columns = _data(looked, progress)
    (charts, charts_style), scripts = _charts_library(), [_file(name) for name in _script_names()]
    digests = [base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in (charts, *scripts)]
    page = _template().render(
        **shown,
        policy=POLICY.format(" ".join(f"'sha256-{digest}'" for digest in digests)),
        style=Markup(("" if setup_sheet is None else setup_sheet.style) + charts_style + _file(BASE) + _file(SIDES) + _file(STYLE)),
        charts=Markup(_in_letters(zlib.compress(charts.encode(), 9))),
        licence=Markup(charts[: charts.index("*/") + 2].replace("--", "- -")),
        scripts=[Markup(script) for script in scripts],
        facts=Markup(facts),
        columns=Markup(_in_letters(columns)),
    )
    return page.encode("utf-8")


def page_parts(
    looked: Looked, *, setup_sheet: SetupSheet | None = None, made: str = "", command: str = "", progress: Progress | None = None
) -> PageParts:
    """The same in pieces; arguments and errors as of `write_page`."""
    template = _template()
    context = template.new_context(_shown(looked, setup_sheet, made, command))
    facts, columns = _data(looked, progress)
    return PageParts({name: "".join(template.blocks[name](context)) for name in PARTS}, facts, columns)


def page_files() -> dict[str, str]:
    """What a page of its own has to serve by name, for the pieces to work: the scripts, in the order in which they run, and the style."""
    charts, charts_style = _charts_library()
    return {
        **{name: _file(name) for name in _script_names()},
        "charts-library.js": charts,
        BASE: _file(BASE),
        SIDES: _file(SIDES),
        STYLE: charts_style + _file(SIDES) + _file(STYLE),
    }


def _shown(looked: Looked, setup_sheet: SetupSheet | None, made: str, command: str) -> dict[str, Any]:
    posted, setting = looked.posted, looked.setting
    return {
        "posted": posted,
        "outcome": posted.outcome,
        "verdict": posted.verdict,
        "beside": _beside(looked),
        "findings": posted.said,
        "made": made,
        "command": command,
        "version": version("steadyrest"),
        "program_digest": hashlib.sha256(looked.text).hexdigest(),
        "where": where_it_cuts(looked),
        "passed": _numbered(looked),
        "times": _times(looked),
        "tiles": _tiles(looked),
        "printed": _printed(looked),
        "most_named": MOST_NAMED,
        "colours": [*zip(looked.operation_names, looked.colours[1:], strict=True)],
        "lines": looked.text.replace(b"\r\n", b"\n").rstrip(b"\r\n").count(b"\n") + 1,
        "changed": posted.changed,
        "cut_rows": _cut_rows(looked),
        "cut_sentence": _cut_sentence(looked),
        "drawn": _drawn(looked),
        "looks": looks(setting.toolpath.axis, setting.profile.spindle.stands),
        "not_seen": posted.verdict.not_seen,
        "caution": CAUTION,
        "setup_front": None if setup_sheet is None else Markup(setup_sheet.front),
        "setup_sheet": None if setup_sheet is None else Markup(setup_sheet.whole),
    }


def _numbered(looked: Looked) -> list[tuple[str, Passed]]:
    """Poles and withdrawals, each with the mark that it has in all views: those of a kind are counted as they come."""
    found: list[tuple[str, Passed]] = []
    for one in passed(looked):
        found.append((f"{one.sign}{1 + sum(other.what == one.what for _, other in found)}", one))
    return found


def _beside(looked: Looked) -> SideBySide | None:
    """What is asked for and what the program does, around the first difference; None where there is none."""
    failure = looked.posted.verdict.failure
    return None if failure is None or failure.difference is None else both_sides(failure.difference, looked.setting)


def _data(looked: Looked, progress: Progress | None) -> tuple[str, bytes]:
    facts, columns = page_data(looked, progress)
    head, body = packed(columns)
    work, deflated = Work(progress, PACKING, len(body)), zlib.compressobj(9)
    pieces: list[bytes] = []
    for start in range(0, len(body), PIECE):
        pieces.append(deflated.compress(memoryview(body)[start : start + PIECE]))
        work.to(start + PIECE)
    work.end()
    return _json_in_script({**facts, "columns": head}), b"".join([*pieces, deflated.flush()])


def _in_letters(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


@cache
def _template() -> Template:
    return Environment(autoescape=True, trim_blocks=False, keep_trailing_newline=True).from_string(_file("report.html.j2"))


def _script_names() -> list[str]:
    return sorted(each.name for each in PAGE.glob("*.js"))


@cache
def _file(name: str) -> str:
    return (PAGE / name).read_text(encoding="utf-8")


@cache
def _charts_library() -> tuple[str, str]:
    """Script and style sheet that the package brings along; its Python is not run, it would load what nothing here needs."""
    try:
        package = distribution(CHARTS_PACKAGE)
        found = [
            Path(str(package.locate_file(f"uplot/static/{name}"))).read_text(encoding="utf-8")
            for name in ("uPlot.iife.js", "uPlot.min.css")
        ]
    except (PackageNotFoundError, OSError) as error:
        wrong = f"the report needs the package {CHARTS_PACKAGE}, which is not installed, or not whole"
        raise InputError(wrong, cure="pip install 'steadyrest[report]'") from error
    return found[0], found[1]


def _json_in_script(data: Any) -> str:
    """JSON that can stand in a script element whatever it holds: no `<` is left that could begin a tag or a comment."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _printed(looked: Looked) -> str:
    """The picture on paper, PNG in base64: it is there without a graphics card, light on a dark screen, and before any script has run.

    In 128 colours of its own it is a third of the size, and on paper the same.
    """
    from PIL import Image  # of matplotlib, which has drawn by then

    of: PictureOf = "unrolled" if looked.cut is None else "part"
    drawn = Image.open(io.BytesIO(draw(looked, of, "png", inches=PRINTED_INCHES, bare=True, most_cells=PRINTED_CELLS)))
    out = io.BytesIO()
    drawn.convert("RGB").quantize(PRINTED_COLOURS, dither=Image.Dither.NONE).save(out, "png", optimize=True)
    return base64.b64encode(out.getvalue()).decode("ascii")


def _times(looked: Looked) -> list[tuple[str, str]]:
    whole = looked.posted.verdict.whole
    both = whole.cutting_minutes + whole.rapid_minutes
    return [("Time, without tool changes", _minutes(both)), ("Cutting", _minutes(whole.cutting_minutes))]


def _tiles(looked: Looked) -> list[tuple[str, str]]:
    verdict, whole = looked.posted.verdict, looked.posted.verdict.whole
    tiles = [("Rapid", _minutes(whole.rapid_minutes)), ("Tools", ", ".join(map(str, whole.tools)) or "none")]
    tiles += [(f"{axis}, {verdict.units}", f"{span[0]:.3f} to {span[1]:.3f}") for axis, span in whole.extents.items() if span is not None]
    if whole.rotary_extent_deg is not None:
        low, high = whole.rotary_extent_deg
        tiles.append((f"{looked.setting.letter}, °", f"{low:.3f} to {high:.3f}"))
        tiles.append(("Rotary turns in all, at rapid", f"{whole.turning_deg:,.0f}°, {whole.rapid_turning_deg:,.0f}°"))
        fastest = looked.setting.rotary.fastest if looked.setting.rotary is not None else 0.0
        at_feed = whole.fastest_rotary_deg_per_min
        turn = f"{at_feed:,.0f} of {fastest:,.0f} °/min" if at_feed else "does not turn while cutting"
        tiles.append(("Fastest turn at feed", turn))
    for letter, span in whole.rotary_extents_deg.items():
        tiles += [(f"{letter}, °", f"{span[0]:.3f} to {span[1]:.3f}")] if span is not None else []
        tiles.append((f"{letter} turns in all", f"{whole.turning_of_deg.get(letter, 0.0):,.0f}°"))
    if looked.cut is not None:
        tiles.append((f"Removed, {verdict.units}³", _volume(looked.cut.removed_mm3 / looked.setting.scale**3)))
    return tiles


def _volume(value: float) -> str:
    """Four figures, whole thousands set apart, never an exponent where a person has to read it."""
    return "0" if value == 0 else f"{value:,.0f}" if value >= 1000 else f"{value:.4g}"


def _minutes(minutes: float) -> str:
    whole = round(minutes * 60)
    return f"{whole // 60}:{whole % 60:02d} min"


def _cut_rows(looked: Looked) -> list[dict[str, Any]]:
    if looked.cut is None:
        return []
    scale, names = looked.setting.scale, looked.operation_names
    rows = []
    for one in looked.cut.operations:
        name = names[one.number - 1] if 0 < one.number <= len(names) else ""
        cells = [
            (_volume(one.removed_mm3 / scale**3), None),
            (f"{one.axial_mm / scale:.3f}", one.axial_line),
            (f"{one.radial_mm / scale:.3f}", one.radial_line),
            (_volume(one.rate_mm3_per_min / scale**3) if isfinite(one.rate_mm3_per_min) else "", one.rate_line),
            (_volume(one.rapid_mm3 / scale**3), None),
        ]
        rows.append({"name": f"{one.number} {name}", "cells": cells})
    return rows


def _cut_sentence(looked: Looked) -> str:
    if looked.cut is None:
        return ""
    field, scale, units = looked.cut.field, looked.setting.scale, looked.setting.toolpath.units
    counted = f"what enters material by less than {looked.cut.touch_mm / scale:.2g} {units} is not counted as touching it."
    if looked.cut.dexel_mm is not None:
        apart = f"{looked.cut.dexel_mm / scale:.3g} {units} apart"
        seen = "around its axis and from its ends"
        return f"The stock was cut on lines along X, Y and Z, {apart}, and is shown as it is seen from {seen}; {counted}"
    n, m = field.shape
    across = field.second_step * float(field.outer_mm.max(initial=0.0)) if field.chart == "radii" else field.second_step
    return (
        f"The stock was cut on {n} x {m} lines, {field.first_step_mm / scale:.3g} by {across / scale:.3g} {units} apart at the outside; "
        + counted
    )


def _drawn(looked: Looked) -> str:
    track, units, scale = looked.track, looked.setting.toolpath.units, looked.setting.scale
    if track.off_mm == 0:
        return f"All {looked.blocks:,} blocks that move are drawn."
    return (
        f"Thinned for display only: {len(track):,} of {track.whole:,} positions are drawn, less than {track.off_mm / scale:.3g} {units} "
        "off the full path. Listing, verdict and figures are complete."
    )
