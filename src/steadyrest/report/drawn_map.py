"""The surface unrolled, drawn as a picture: the field as a lit map, and the path of the tool over it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from steadyrest.report.colours import RAPID_COLOUR, channels
from steadyrest.report.looking import Looked
from steadyrest.report.picture import add_legend, title_of
from steadyrest.report.unrolling import lit_map, unrolled

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DARKER = 0.45


def draw_map(figure: Figure, looked: Looked) -> None:
    """Fill a figure with it."""
    from matplotlib.collections import LineCollection

    setting, track, axis = looked.setting, looked.track, looked.toolpath.axis
    scale, units = setting.scale, looked.toolpath.units
    axes = figure.add_subplot()
    colours = np.array([channels(colour) for colour in looked.colours]) / 255
    points = unrolled(track.part_mm(setting.frame, looked.sense), setting.frame.centre_mm, axis)
    lengths = [0, 1] if axis == "Z" else [0] if axis == "X" else [1]
    points[:, lengths] /= scale
    if looked.cut is not None:
        field = looked.cut.field
        half = field.first_step_mm / 2
        first = ((field.first_mm[0] - half) / scale, (field.first_mm[-1] + half) / scale)
        second = (0.0, 360.0)
        if axis == "Z":
            second = ((field.second[0] - field.second_step / 2) / scale, (field.second[-1] + field.second_step / 2) / scale)
        across, upright = (second, first) if axis == "Y" else (first, second)
        low, high = (upright[1], upright[0]) if axis == "X" else upright
        picture = lit_map(field, looked.cut.last_cut, colours, max(setting.swept_mm, 1e-6))
        axes.imshow(picture, extent=(*across, low, high), aspect="auto", interpolation="antialiased")
    steps = np.stack([points[:-1], points[1:]], axis=1)
    together = np.ones(len(steps), dtype=bool)
    if axis != "Z":
        around = 1 if axis == "X" else 0
        together = np.abs(steps[:, 1, around] - steps[:, 0, around]) < 180
    rapid = track.rapid[1:]
    axes.add_collection(LineCollection(list(steps[rapid & together]), colors=RAPID_COLOUR, linewidths=0.5, linestyles="dashed"))
    chosen = ~rapid & together
    axes.add_collection(LineCollection(list(steps[chosen]), colors=DARKER * colours[track.operation[1:][chosen]], linewidths=0.8))
    axes.autoscale_view()
    if axis == "X":
        axes.set_xlabel(f"along X, {units}")
        axes.set_ylabel("angle, degrees")
        axes.set_ylim(360, 0)
        axes.set_yticks(range(0, 361, 45))
    elif axis == "Y":
        axes.set_xlabel("angle, degrees")
        axes.set_ylabel(f"along Y, {units}")
        axes.set_xlim(0, 360)
        axes.set_xticks(range(0, 361, 45))
    else:
        axes.set_xlabel(f"X, {units}")
        axes.set_ylabel(f"Y, {units}")
        axes.set_aspect("equal")
    axes.set_title(title_of(looked))
    add_legend(figure, looked)
