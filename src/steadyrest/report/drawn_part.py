"""The part as cut, drawn as a picture: each cell of the field a small plane, the far ones first, lit from the upper left."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.report.chuck import chuck_of
from steadyrest.report.colours import CHUCK_COLOUR, channels
from steadyrest.report.eye import CORNER
from steadyrest.report.eye import rows as rows_of
from steadyrest.report.looking import Looked
from steadyrest.report.picture import add_legend, title_of
from steadyrest.simulation import Field

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_CELLS = 420
"""In each direction; a finer field is drawn at every so-manieth line."""
LIGHT = np.array([-0.35, 0.6, -0.75])
"""To the right, upwards, away from the eye."""


def draw_part(figure: Figure, looked: Looked) -> None:
    """Fill a figure with it."""
    from matplotlib.collections import PolyCollection

    cut = looked.cut
    assert cut is not None
    scale = looked.setting.scale
    points = surface(cut.field) / scale
    n, m = cut.field.shape
    rows, columns = (_every(n), _every(m))
    quads, last = _quads(points, cut.field, cut.last_cut, rows, columns)
    eye = rows_of(*CORNER, looked.profile.spindle.stands)
    seen = quads @ eye.T
    normal = np.cross(seen[:, 2] - seen[:, 0], seen[:, 3] - seen[:, 1])
    length = np.linalg.norm(normal, axis=1)
    there = length > 0
    seen, normal, last = seen[there], normal[there] / length[there, None], last[there]
    bright = 0.34 + 0.62 * np.abs(normal @ (LIGHT / np.linalg.norm(LIGHT)))
    table = np.array([channels(colour) for colour in looked.colours]) / 255
    order = np.argsort(-seen[:, :, 2].mean(axis=1), kind="stable")
    axes = figure.add_subplot()
    colours = np.clip(table[last] * bright[:, None], 0, 1)[order]
    axes.add_collection(
        PolyCollection(list(seen[order][:, :, :2]), facecolors=colours, edgecolors=colours, linewidths=0.3, rasterized=True)
    )
    _draw_chuck(axes, looked, eye)
    axes.autoscale_view()
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title(title_of(looked))
    corner = np.array([0.06, 0.08])
    for name, direction in zip("XYZ", eye.T, strict=True):
        tip = corner + 0.06 * direction[:2] * np.array([1.0, figure.get_figwidth() / figure.get_figheight()])
        axes.annotate("", tuple(tip), tuple(corner), xycoords="axes fraction", arrowprops={"arrowstyle": "->", "linewidth": 1.5})
        axes.annotate(name, tuple(corner + 1.25 * (tip - corner)), xycoords="axes fraction", ha="center", va="center")
    add_legend(figure, looked)


def _draw_chuck(axes: Axes, looked: Looked, eye: Floats) -> None:
    """Its outline over the part, and what it is."""
    chuck = chuck_of(looked.setting)
    if chuck is None:
        return
    for line in chuck.lines_mm:
        seen = (line - looked.setting.frame.centre_mm) / looked.setting.scale @ eye.T
        axes.plot(seen[:, 0], seen[:, 1], color=CHUCK_COLOUR, linewidth=1.0, alpha=0.55)
    label = axes.text(0.99, 0.01, chuck.label, transform=axes.transAxes, ha="right", va="bottom", fontsize=10)
    label.set_in_layout(False)


def surface(field: Field) -> Floats:
    """Points (n, m, 3) of a field's outermost material, mm, part frame relative to the axis of rotation's `centre`.

    Angles as in `steadyrest.simulation.field`: right-hand about the axis, 0 at the part's +Z. About X a line points at
    (-sin alpha, cos alpha) in (y, z), about Y at (sin alpha, cos alpha) in (x, z).
    """
    outer = field.outer_mm.astype(np.float64)
    out = np.empty((*outer.shape, 3))
    if field.chart == "heights":
        out[..., 0], out[..., 1], out[..., 2] = field.first_mm[:, None], field.second[None, :], field.base_mm + outer
        return out
    along, side, sign = (0, 1, -1.0) if field.axis == "X" else (1, 0, 1.0)
    out[..., along] = field.first_mm[:, None]
    out[..., side] = sign * outer * np.sin(field.second)[None, :]
    out[..., 2] = outer * np.cos(field.second)[None, :]
    return out


def _every(count: int) -> NDArray[np.int64]:
    chosen = np.arange(0, count, ceil(count / MOST_CELLS))
    return chosen if chosen[-1] == count - 1 else np.append(chosen, count - 1)


def _quads(
    points: Floats, field: Field, last_cut: NDArray[np.uint16], rows: NDArray[np.int64], columns: NDArray[np.int64]
) -> tuple[Floats, NDArray[np.int64]]:
    """Planes (k, 4, 3) between neighbouring lines, ends closed, and the operation (k,) that cut each last; none where nothing is left."""
    grid = points[np.ix_(rows, columns)]
    outer, last = field.outer_mm[np.ix_(rows, columns)], last_cut[np.ix_(rows, columns)].astype(np.int64)
    if field.chart == "radii":
        grid = np.concatenate([grid, grid[:, :1]], axis=1)
        outer, last = np.pad(outer, ((0, 0), (0, 1)), mode="wrap"), np.pad(last, ((0, 0), (0, 1)), mode="wrap")
        middle = grid.copy()
        along = 0 if field.axis == "X" else 1
        others = [axis for axis in range(3) if axis != along]
        middle[:, :, others] = 0.0
        grid = np.concatenate([middle[:1], grid, middle[-1:]])
        outer = np.concatenate([outer[:1], outer, outer[-1:]])
        last = np.concatenate([np.zeros_like(last[:1]), last, np.zeros_like(last[-1:])])
    else:
        floor = grid.copy()
        floor[..., 2] = field.base_mm
        around = np.concatenate([floor[:1], floor, floor[-1:]])
        grid = np.concatenate([around[:, :1], np.concatenate([floor[:1], grid, floor[-1:]]), around[:, -1:]], axis=1)
        outer, last = np.pad(outer, 1, mode="edge"), np.pad(last, 1, mode="edge")
    there = np.maximum.reduce([outer[:-1, :-1], outer[1:, :-1], outer[1:, 1:], outer[:-1, 1:]]) > 0
    quads = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2)
    number = np.maximum(last[:-1, :-1], 0)
    if field.chart == "radii":
        number[0], number[-1] = 0, 0
    return quads[there], number[there]
