"""What does the page's script show? Facts as JSON can say them, and columns of numbers as fine as the readout says them."""

from __future__ import annotations

from math import isfinite, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.conventions import AXES
from steadyrest.progress import Progress
from steadyrest.proof import Line, Setting
from steadyrest.simulation import PARTS, History, Side
from steadyrest.viewer.looked import Looked, asked_feeds
from steadyrest.viewer.packing import Column, best, counted, listing
from steadyrest.viewer.views import (
    HALF_JAW,
    JAWS,
    NOT_COMPARED_COLOUR,
    OPERATION_COLOURS,
    PERSON,
    SKIN_COLOUR,
    STAND,
    Chuck,
    axis_letters,
    chuck_of,
    looks,
    outline,
    spans,
)
from steadyrest.viewer.where_it_cuts import passed

LENGTH_STEP = {"mm": 1e-3, "inch": 1e-4}
SPEED_STEP = {"mm": 0.5, "inch": 0.01}
ANGLE_STEP, TURNING_STEP, TIME_STEP = 1e-3, 0.5, 1e-5
"""Degrees, degrees per minute, minutes. What is shown is as fine as the readout says it, and no finer."""
RADIUS_STEPS = 8191
"""A radius or height of the field is one of so many from 0 to the largest: a 400th of what lies between two lines around the outside."""
MOST_CHANGES, COARSER, TIMES = 90_000, 8, 65_535
"""What the page holds of how the part came to be: changes at most, of so many field steps, at one of so many times of the program."""


def page_data(looked: Looked, progress: Progress | None = None) -> tuple[dict[str, Any], dict[str, Column]]:
    """What the page's script shows: facts, and columns of a row a position, a cell of the field or a byte of the listing.

    Lengths in the toolpath's units, angles in degrees, times in minutes.
    """
    setting, track, toolpath = looked.setting, looked.track, looked.setting.toolpath
    scale, units, looks_like = setting.scale, toolpath.units, looks(toolpath.axis, setting.profile.spindle.stands)
    chuck = chuck_of(setting)
    found = [each for one in looked.posted.outcome.findings for each in (one, *one.consequences)]
    sides, cells = _sides(looked)
    facts = {
        "units": units,
        "axis": toolpath.axis,
        "centre": list(setting.mounted.centre),
        "axes": list(axis_letters(setting)),
        "rotaries": [
            {
                "letter": letter,
                "travel": [each.travel.lowest, each.travel.highest] if each.travel.kind == "limited" else None,
                "fastest": each.fastest,
            }
            for letter, each in setting.rotaries.items()
        ],
        "chain": bool(setting.lines),
        "lines": _lines(setting),
        "gauge": {str(tool): length / scale for tool, length in setting.gauge_mm.items()},
        "slowestRapid": min(setting.fastest_mm_per_min()) / scale,
        "swept": setting.swept_mm / scale,
        "degree": radians(setting.swept_mm) / scale,
        "palette": list(OPERATION_COLOURS),
        "skin": SKIN_COLOUR,
        "notCompared": {
            "number": 0 if looked.posted.verdict.failure is None else len(looked.operation_names),
            "colour": NOT_COMPARED_COLOUR,
        },
        "tools": {str(tool.number): {"name": tool.name, "outline": outline(tool)} for tool in toolpath.tools},
        "operations": _operations(looked),
        "findings": [[one.line, one.sentence, *(one.lines or (one.line, one.line))] for one in found if one.line],
        "passed": [[one.line, one.sentence, one.sign, one.what] for one in passed(looked)],
        "box": _box(looked),
        "chuck": chuck and _chuck(chuck, scale),
        "person": PERSON[setting.profile.spindle.stands].tolist(),
        "looks": {one.name: [one.azimuth, one.elevation, one.key] for one in looks_like},
        "stand": list(STAND),
        "field": sides[0] if sides else None,
        "sides": sides[1:],
    }
    columns = {name: counted(track.place_mm[:, axis] / scale, LENGTH_STEP[units]) for axis, name in enumerate("xyz")}
    columns |= {
        "minutes": counted(track.minutes, TIME_STEP),
        "line": best(track.line.astype(np.int32)),
        "operation": Column(track.operation),
        "tool": best(track.tool.astype(np.int32)),
        "flags": Column((track.rapid | (track.known.astype(np.uint8) << 1)).astype(np.uint8)),
        "tip": _speeds(track.tip_mm_per_min / scale, SPEED_STEP[units]),
    }
    for at, (words, speeds) in enumerate(zip(track.word_deg.T, track.rotary_deg_per_min.T, strict=True)):
        columns |= {f"turned_{at}": counted(words, ANGLE_STEP), f"turning_{at}": _speeds(speeds, TURNING_STEP)}
    facts["listing"], text = listing(looked.text, progress)
    return facts, columns | cells | text


def _lines(setting: Setting) -> list[dict[str, Any]]:
    """The axes of the rotaries, counted from the part to the spindle, every rotary at zero; lengths in file units.

    word     that the command and the display have
    about    the unit vector about which a positive word of the letter turns the tool round the part, right-hand
    positive the one about which a positive command turns what the rotary carries, which with a borrowed drive may be the other way
    point    on it, in work coordinates, of a head from the gauge point
    part     whether it carries the part, else it carries the tool
    """
    lines, words = setting.lines, {}
    if not lines and setting.rotary is not None and setting.letter is not None:
        frame, words = setting.frame, {setting.letter: setting.rotary.word_letter(setting.letter)}
        lines = (Line(setting.letter, -setting.sigma * np.eye(3)[AXES.index(frame.axis)], frame.centre_mm, carries_part=True),)
    borrowed = -1.0 if setting.rotary is not None and setting.rotary.mm_per_degree < 0 else 1.0
    return [
        {
            "word": words.get(line.letter, line.letter),
            "about": line.about.tolist(),
            "positive": (borrowed * line.about * (-1 if line.carries_part else 1)).tolist(),
            "point": (line.point / setting.scale).tolist(),
            "part": line.carries_part,
        }
        for line in lines
    ]


def _speeds(values: Floats, step: float) -> Column:
    """Speeds, a negative one where there is none."""
    column = counted(np.nan_to_num(values), step)
    return best(np.where(np.isnan(values), np.int32(-1), column.numbers), column.step)


def _operations(looked: Looked) -> list[dict[str, Any]]:
    feeds = [*asked_feeds(looked.setting.toolpath), float("nan")]
    track, found = looked.track, []
    for number, name in enumerate(looked.operation_names, 1):
        first = int(np.searchsorted(track.operation, number))
        line, begins = (int(track.line[first]), float(track.minutes[max(first - 1, 0)])) if first < len(track) else (None, None)
        asked = feeds[number - 1] if isfinite(feeds[number - 1]) else None
        found.append({"number": number, "name": name, "line": line, "begins": begins, "asked": asked})
    return found


def _chuck(chuck: Chuck, scale: float) -> dict[str, Any]:
    """Places along the axis and radii about it, in file units."""
    body, radii = ([round(value / scale, 4) for value in pair] for pair in (chuck.body_mm, chuck.radii_mm))
    return {"label": chuck.label, "body": body, "tip": round(chuck.tip_mm / scale, 4), "radii": radii, "jaws": JAWS, "halfJaw": HALF_JAW}


def _box(looked: Looked) -> dict[str, list[float]]:
    """What the picture shows at first: the stock, or where there is none all that is cut."""
    setting, toolpath = looked.setting, looked.setting.mounted
    frame, scale = setting.frame, setting.scale
    if toolpath.stock is not None:
        swept = toolpath.stock.swept_radius(toolpath.axis) * scale
        ends = [scale * value + frame.centre_mm[frame.along] for value in toolpath.stock.along(toolpath.axis)]
        if (chuck := chuck_of(setting)) is not None:
            ends += np.concatenate(chuck.lines_mm)[:, frame.along].tolist()
        low, high = frame.centre_mm - swept, frame.centre_mm + swept
        low[frame.along], high[frame.along] = min(ends), max(ends)
    else:
        places = looked.track.part_mm(setting)
        chosen = places[~looked.track.rapid] if (~looked.track.rapid).any() else places
        low, high = chosen.min(axis=0), chosen.max(axis=0)
    return {"low": (low / scale).tolist(), "high": (high / scale).tolist()}


def _sides(looked: Looked) -> tuple[list[dict[str, Any]], dict[str, Column]]:
    """What each side of the part shows; the columns of the second are named as those of the first, with `_1` behind them, and so on."""
    facts: list[dict[str, Any]] = []
    columns: dict[str, Column] = {}
    sides = looked.cut.sides if looked.cut is not None else ()
    for at, side in enumerate(sides):
        said, cells = _side(looked, side, MOST_CHANGES // len(sides))
        if at == 0:
            said["onMap"] = [list(span) for span in spans(side.field, looked.setting)]
            if looked.walls is not None:
                said["parts"] = PARTS
                for name, share in looked.walls._asdict().items():
                    there = np.flatnonzero(share)
                    cells |= {f"wall_{name}_at": best(there.astype(np.int32)), f"wall_{name}": Column(share.ravel()[there])}
        facts.append(said)
        columns |= {f"{name}_{at}" if at else name: column for name, column in cells.items()}
    return facts, columns


def _side(looked: Looked, side: Side, most_changes: int) -> tuple[dict[str, Any], dict[str, Column]]:
    field, scale = side.field, looked.setting.scale
    angle = 1.0 if field.chart == "radii" else scale
    largest = float(field.outer_mm.max(initial=0.0)) / scale
    step = largest / RADIUS_STEPS or 1.0
    facts: dict[str, Any] = {
        "chart": field.chart,
        "n": len(field.first_mm),
        "m": len(field.second),
        "first": float(field.first_mm[0]) / scale,
        "firstStep": field.first_step_mm / scale,
        "second": float(field.second[0]) / angle,
        "secondStep": field.second_step / angle,
        "base": field.base_mm / scale,
        "rows": side.rows.ravel().tolist(),
        "origin": ((side.origin_mm + looked.setting.frame.centre_mm) / scale).tolist(),
        "step": step,
    }
    outer = Column(np.rint(field.outer_mm / scale / step).astype(np.uint16), order=1)
    last = side.last_cut
    cells = {"outer": outer, "last_cut": Column(last.astype(np.uint8 if last.max(initial=0) <= 255 else np.uint16))}
    facts["history"], changes = _history(looked, side.history, most_changes, step)
    return facts, cells | changes


def _history(looked: Looked, told: History | None, most: int, step: float) -> tuple[dict[str, Any] | None, dict[str, Column]]:
    """When lines of a field changed, and to what: lines by their number, minutes, radii or heights in so many steps of the field's."""
    if told is None or not len(told):
        return None, {}
    history, track = told.thinner(most), looked.track
    (n, m), scale, whole = history.before_mm.shape, looked.setting.scale, float(track.minutes[-1]) or 1.0
    minutes = np.interp(history.blocks, track.blocks, track.minutes)

    def coarse(outer_mm: NDArray[np.float32]) -> NDArray[np.int32]:
        return np.asarray(np.rint(outer_mm / scale / step / COARSER).astype(np.int32))

    facts = {
        "n": n,
        "m": m,
        "rows": [int(history.rows[0]), int(history.rows[1] - history.rows[0]) if n > 1 else 1],
        "columns": [int(history.columns[0]), int(history.columns[1] - history.columns[0]) if m > 1 else 1],
        "coarser": COARSER,
    }
    return facts, {
        "before": best(coarse(history.before_mm).ravel()),
        "changed_line": best(history.line.astype(np.int32)),
        "changed_at": counted(minutes, whole / TIMES),
        "changed_to": best(coarse(history.outer_mm)),
    }
