"""Axis positions, rotary speed and tip speed over time, drawn as a picture, with their limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyrest.report.colours import OPERATION_COLOURS
from steadyrest.report.looking import Looked, asked_feeds
from steadyrest.report.picture import title_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LIMIT: dict[str, Any] = {"color": "#a63c00", "linestyle": "dashdot", "linewidth": 1.5}


def draw_time(figure: Figure, looked: Looked) -> None:
    """Fill a figure with it."""
    track, setting, units = looked.track, looked.setting, looked.toolpath.units
    scale, minutes, rotary = setting.scale, track.minutes, setting.rotary
    panels = figure.subplots(4 if rotary is not None else 2, 1, sharex=True)
    panels[0].set_title(title_of(looked))
    for at, (name, colour, style) in enumerate(zip("XYZ", (5, 2, 0), ("-", ":", "--"), strict=True)):
        panels[0].plot(minutes, track.place_mm[:, at] / scale, color=OPERATION_COLOURS[colour], linestyle=style, label=name)
    panels[0].set_ylabel(units)
    if rotary is not None:
        panels[1].plot(minutes, track.word_deg, color=OPERATION_COLOURS[1], label=looked.letter)
        panels[1].set_ylabel("degrees")
        if rotary.travel.kind == "limited":
            for end in (rotary.travel.lowest, rotary.travel.highest):
                panels[1].axhline(end, **LIMIT, label=f"travel {end:g}")
        panels[2].step(minutes, track.rotary_deg_per_min, where="pre", color=OPERATION_COLOURS[5], label=f"speed of {looked.letter}")
        panels[2].axhline(rotary.fastest, **LIMIT, label=f"limit {rotary.fastest:g}")
        panels[2].set_ylabel("degrees/min")
    tip = track.tip_mm_per_min / scale
    feed = np.where(track.rapid, np.nan, tip)
    last = panels[-1]
    last.step(minutes, feed, where="pre", color=OPERATION_COLOURS[2], label="tip at feed")
    last.step(minutes, np.where(track.rapid, tip, np.nan), where="pre", color="#7d858d", linewidth=0.8, label="tip at rapid")
    asked = np.array([*asked_feeds(looked.toolpath), np.nan])
    wanted = asked[np.minimum(track.operation.astype(np.int64) - 1, len(asked) - 1)]
    last.step(minutes, wanted, where="pre", color=OPERATION_COLOURS[1], linestyle="--", label="highest feed asked for")
    last.axhline(min(setting.fastest_mm_per_min()) / scale, **LIMIT, label="rapid of the slowest axis")
    highest = np.nanmax([*feed[np.isfinite(feed)], *asked[np.isfinite(asked)], 0.0])
    if highest > 0:
        last.set_ylim(0, 1.25 * highest)
    last.set_ylabel(f"{units}/min")
    last.set_xlabel("minutes")
    for panel in panels:
        panel.grid(alpha=0.3)
        panel.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=9)
