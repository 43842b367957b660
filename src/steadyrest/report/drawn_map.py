"""The surface unrolled, drawn as a picture: the field as a lit map, and the path of the tool over it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from steadyrest.columns import Floats
from steadyrest.report.chuck import chuck_of
from steadyrest.report.colours import CHUCK_COLOUR, RAPID_COLOUR, channels
from steadyrest.report.looking import Looked
from steadyrest.report.picture import add_legend, title_of
from steadyrest.report.unrolling import TURN_DEG, lit_map, mm_per_degree, spans, unrolled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DARKER = 0.45
TICKS_DEG = range(0, 361, 45)
MIN_RADIUS_MM = 1e-6


def draw_map(figure: Figure, looked: Looked) -> None:
    """Fill a figure with it."""
    from matplotlib.collections import LineCollection

    setting, track, axis = looked.setting, looked.track, looked.toolpath.axis
    scale, units = setting.scale, looked.toolpath.units
    axes = figure.add_subplot()
    colours = np.array([channels(colour) for colour in looked.colours]) / 255
    points = unrolled(track.part_mm(setting.frame, looked.sense), setting.frame.centre_mm, axis)
    around = {"X": 1, "Y": 0, "Z": None}[axis]
    points[:, [at for at in (0, 1) if at != around]] /= scale
    if looked.cut is not None:
        _draw_surface(axes, looked, colours)
    _draw_jaws(axes, looked)
    steps = np.stack([points[:-1], points[1:]], axis=1)
    together = np.ones(len(steps), dtype=bool) if around is None else np.abs(np.diff(points[:, around])) < TURN_DEG / 2
    rapid = track.rapid[1:]
    axes.add_collection(LineCollection(list(steps[rapid & together]), colors=RAPID_COLOUR, linewidths=0.5, linestyles="dashed"))
    chosen = ~rapid & together
    axes.add_collection(LineCollection(list(steps[chosen]), colors=DARKER * colours[track.operation[1:][chosen]], linewidths=0.8))
    axes.autoscale_view()
    # One scale along and around: a degree is as long as on the surface.
    degree = mm_per_degree(max(setting.swept_mm, MIN_RADIUS_MM)) / scale
    angle, length = "angle, degrees", f"along {axis}, {units}"
    if axis == "X":
        axes.set(xlabel=length, ylabel=angle, ylim=(TURN_DEG, 0), yticks=TICKS_DEG, aspect=degree)
    elif axis == "Y":
        axes.set(xlabel=angle, ylabel=length, xlim=(0, TURN_DEG), xticks=TICKS_DEG, aspect=1 / degree)
    else:
        axes.set(xlabel=f"X, {units}", ylabel=f"Y, {units}", aspect=1)
    axes.set_title(title_of(looked))
    add_legend(figure, looked)


def _draw_jaws(axes: Axes, looked: Looked) -> None:
    """The end that the chuck holds, as far as the jaws reach over the stock; not about Z, where one looks down on it."""
    setting, axis = looked.setting, looked.toolpath.axis
    chuck = chuck_of(setting)
    if chuck is None or axis == "Z":
        return
    low, high = (place / setting.scale for place in chuck.jaws_mm)
    mark = axes.axvspan if axis == "X" else axes.axhspan
    mark(low, high, color=CHUCK_COLOUR, alpha=0.3, linewidth=3)
    corner, up = ((low, 0.02), axes.get_xaxis_transform()) if axis == "X" else ((0.02, low), axes.get_yaxis_transform())
    label = axes.annotate(chuck.label, corner, xycoords=up, fontsize=9, rotation=90 if axis == "X" else 0)
    label.set_in_layout(False)


def _draw_surface(axes: Axes, looked: Looked, colours: Floats) -> None:
    """The field where `spans` says that it lies; around the part it goes on a turn later."""
    assert looked.cut is not None
    field, setting = looked.cut.field, looked.setting
    picture = lit_map(field, looked.cut.last_cut, colours, max(setting.swept_mm, MIN_RADIUS_MM))
    (low, high), second = spans(field, setting.frame.centre_mm)
    first = low / setting.scale, high / setting.scale
    again = 0.0
    if field.chart == "heights":
        second = second[0] / setting.scale, second[1] / setting.scale
    else:
        again = TURN_DEG
    for turn in sorted({0.0, again}):
        begin, end = second[0] + turn, second[1] + turn
        extent = (*first, end, begin) if field.axis == "X" else (begin, end, *first) if field.axis == "Y" else (*first, begin, end)
        axes.imshow(picture, extent=extent, aspect="auto", interpolation="antialiased")
