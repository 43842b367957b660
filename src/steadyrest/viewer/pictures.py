"""Single pictures, as PNG or SVG: the part as cut, its surface unrolled, or the axes over time. Drawn with matplotlib, no browser."""

from __future__ import annotations

import io
from math import ceil, radians
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import InputError
from steadyrest.simulation import Side, outward
from steadyrest.viewer.looked import Looked, asked_feeds
from steadyrest.viewer.views import (
    CHUCK_COLOUR,
    CORNER,
    DARK,
    HATCHED,
    OPERATION_COLOURS,
    RAPID_COLOUR,
    TURN_DEG,
    axis_letters,
    chuck_of,
    hatched,
    lit_map,
    rgb,
    spans,
    unrolled,
)
from steadyrest.viewer.views import rows as rows_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PictureOf = Literal["part", "unrolled", "over-time"]
PictureForm = Literal["png", "svg"]
PICTURES: tuple[PictureOf, ...] = get_args(PictureOf)
DOTS_PER_INCH = 150
SETTINGS: Any = {"font.family": "sans-serif", "font.size": 12, "svg.fonttype": "none", "svg.hashsalt": "steadyrest", "path.simplify": True}

DARKER = 0.45
TICKS_DEG = range(0, 361, 45)
MIN_RADIUS_MM = 1e-6
MOST_CELLS = 420
ON_END = 0.5
"""A plane stands on end where the lines make an angle with it whose sine is less than that."""
HATCHES = ("", "\\\\", "//", "--", "||", "..", "xx", "++", "oo")
"""What is nearest to `views.hatched` beside a name."""
MOST_NAMED = 24
"""Operations beside a picture, by their colours."""
LIGHT = np.array([-0.35, 0.6, -0.75])
"""To the right, upwards, away from the eye."""
NUMBER: dict[str, Any] = {
    "fontsize": 9, "ha": "center", "va": "center", "color": "black",
    "bbox": {"boxstyle": "round,pad=0.15", "facecolor": "white", "linewidth": 0.6},
}  # fmt: skip
"""An operation's number on its colour, which not everybody tells from the others."""
SIGHT = 160
"""Cells across a picture, within each of which what is nearest hides the rest."""
LIMIT: dict[str, Any] = {"color": "#a63c00", "linestyle": "dashdot", "linewidth": 1.5}


def draw(
    looked: Looked,
    of: PictureOf,
    form: PictureForm,
    *,
    inches: tuple[float, float] = (12.0, 7.0),
    bare: bool = False,
    most_cells: int = MOST_CELLS,
) -> bytes:
    """A picture of a program that was looked at. The same program gives the same bytes.

    inches       width and height
    bare         without heading, legend and STOP: the page around it says them
    most_cells   of the part's field in each direction; a finer field is drawn at every so-manieth line
    raises      InputError where the library is not installed, or where the part cannot be shown because it was not cut
    """
    try:
        import matplotlib
        from matplotlib.figure import Figure
        from matplotlib.patches import Patch
    except ImportError as error:
        wrong = "a picture needs the library matplotlib, which is not installed"
        raise InputError(wrong, cure="pip install 'steadyrest[report]'") from error
    if of == "part" and looked.cut is None:
        raise InputError(f"the part as cut cannot be shown: {looked.not_cut}", cure="ask for the picture 'over-time' or 'unrolled'")
    with matplotlib.rc_context(SETTINGS):
        figure = Figure(figsize=inches, layout="constrained")
        if of == "part":
            draw_part(figure, looked, most_cells)
        else:
            _DRAWERS[of](figure, looked)
        posted, outcome = looked.posted, looked.posted.outcome
        name = (posted.toolpath.name or posted.program.name).replace("$", r"\$")  # a sign, never the start of a formula
        if not bare:
            figure.axes[0].set_title(f"{name}: {outcome.word.upper()}, {outcome.line}")
        if of != "over-time" and not bare:
            names = [f"{at} {name}".replace("$", r"\$") for at, name in enumerate(looked.operation_names, start=1)][:MOST_NAMED]
            shown = [*zip(names, looked.colours[1:], looked.hatches[1:], strict=False)]
            shown += [("not cut", looked.colours[0], 0)] if looked.cut is not None else []
            patches = [Patch(facecolor=colour, edgecolor="black", hatch=HATCHES[kind], label=name) for name, colour, kind in shown]
            figure.legend(handles=patches, loc="outside lower center", ncols=4, fontsize=10, frameon=False)
        if outcome.word == "stop" and not bare:
            figure.text(0.5, 0.5, "STOP", rotation=24, ha="center", va="center", fontsize=140, weight="bold", color="#b00020", alpha=0.28)
        out = io.BytesIO()
        figure.savefig(out, format=form, dpi=DOTS_PER_INCH, metadata={"Date": None} if form == "svg" else {"Software": None})
    return out.getvalue()


def draw_part(figure: Figure, looked: Looked, most_cells: int = MOST_CELLS) -> None:
    """The part as cut: each cell of its sides a small plane, the far ones first, lit from the upper left."""
    from matplotlib.collections import PolyCollection

    cut = looked.cut
    assert cut is not None
    planes = [_planes(cut.sides, at, most_cells) for at in range(len(cut.sides))]
    quads, last = (np.concatenate(each) for each in zip(*planes, strict=True))
    eye = rows_of(*CORNER, looked.setting.profile.spindle.stands)
    seen = quads / looked.setting.scale @ eye.T
    normal = np.cross(seen[:, 2] - seen[:, 0], seen[:, 3] - seen[:, 1])
    length = np.linalg.norm(normal, axis=1)
    there = length > 0
    seen, normal, last = seen[there], normal[there] / length[there, None], last[there]
    bright = 0.34 + 0.62 * np.abs(normal @ (LIGHT / np.linalg.norm(LIGHT)))
    order = np.argsort(-seen[:, :, 2].mean(axis=1), kind="stable")
    axes = figure.add_subplot()
    colours = np.clip(rgb(looked.colours)[last] * bright[:, None], 0, 1)[order]
    middle = seen[order][:, :, :2].mean(axis=1)
    steps = np.floor((middle - middle.min(axis=0)) * (HATCHED / np.ptp(middle, axis=0).max())).astype(np.int64)
    colours = np.where(hatched(np.array(looked.hatches)[last[order]], *steps.T)[:, None], DARK[:3] * colours, colours)
    flat = list(seen[order][:, :, :2])
    axes.add_collection(PolyCollection(flat, facecolors=colours, edgecolors=colours, linewidths=0.3, rasterized=True))
    _draw_chuck(axes, looked, eye)
    for number, place in in_sight(seen.mean(axis=1), last).items():
        axes.annotate(str(number), (float(place[0]), float(place[1])), **NUMBER)
    axes.autoscale_view()
    axes.set_aspect("equal")
    axes.set_axis_off()
    corner = np.array([0.06, 0.08])
    for name, direction in zip(axis_letters(looked.setting), eye.T, strict=True):
        tip = corner + 0.06 * direction[:2] * np.array([1.0, figure.get_figwidth() / figure.get_figheight()])
        axes.annotate("", tuple(tip), tuple(corner), xycoords="axes fraction", arrowprops={"arrowstyle": "->", "linewidth": 1.5})
        axes.annotate(name, tuple(corner + 1.25 * (tip - corner)), xycoords="axes fraction", ha="center", va="center")


def in_sight(middles: Floats, last: Ints) -> dict[int, Floats]:
    """Where the number of each operation stands: on one of its planes that nothing hides, near the middle of them; none if all are hidden.

    middles   (k, 3) of the planes, to the right, up and away from the eye
    last      (k,) the operation that has cut each; 0: none
    """
    low, size = middles[:, :2].min(axis=0), np.ptp(middles[:, :2], axis=0).max() / SIGHT or 1.0
    column, row = ((middles[:, :2] - low) / size).astype(np.int64).T
    cell = row * (SIGHT + 1) + column
    nearest = np.full(cell.max() + 1, np.inf)
    np.minimum.at(nearest, cell, middles[:, 2])
    seen = middles[:, 2] <= nearest[cell] + 2 * size
    found: dict[int, Floats] = {}
    for number in map(int, np.unique(last[seen & (last > 0)])):
        here = middles[seen & (last == number)]
        found[number] = here[np.argmin(np.linalg.norm(here[:, :2] - np.median(here[:, :2], axis=0), axis=1))]
    return found


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


def _every(count: int, most: int) -> Ints:
    return np.array([*range(0, count - 1, ceil(count / most)), count - 1])


def _planes(sides: tuple[Side, ...], at: int, most_cells: int) -> tuple[Floats, Ints]:
    """Planes (k, 4, 3) of one side, mm, and the operation (k,) that cut each last; left out is what another side says is not there, and
    what another sees squarely where this one sees it on end."""
    side = sides[at]
    rows, columns = (_every(count, most_cells) for count in side.field.shape)
    quads, last, ups = _quads(side, rows, columns)
    normal = np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1])
    steep = np.abs(np.einsum("ij,ij->i", normal, ups)) < ON_END * np.linalg.norm(normal, axis=1)
    kept = np.ones(len(quads), dtype=bool)
    for other in (*sides[:at], *sides[at + 1 :]):
        outside, evenly = other.over(quads.mean(axis=1))
        kept &= ~outside & ~(evenly & steep)
    return quads[kept], last[kept]


def _quads(side: Side, rows: Ints, columns: Ints) -> tuple[Floats, Ints, Floats]:
    """Planes (k, 4, 3) between neighbouring lines, ends closed, the operation (k,) that cut each last, and where the lines there go (k, 3);
    none where nothing is left."""
    field, chosen = side.field, np.ix_(rows, columns)
    radii = field.chart == "radii"

    def widened(each: Any) -> Any:
        """A row more at either end, and a column: radii: the first after the last; heights: at either end too."""
        more = [(0, 0)] * (each.ndim - 2)
        each = np.pad(each, [(0, 0), (0, 1), *more], mode="wrap") if radii else np.pad(each, [(0, 0), (1, 1), *more], mode="edge")
        return np.pad(each, [(1, 1), (0, 0), *more], mode="edge")

    going = np.broadcast_to(outward(field, side.rows), (*field.shape, 3))[chosen]
    grid, outer, last, ups = (
        widened(each) for each in (side.points()[chosen], field.outer_mm[chosen], side.last_cut[chosen].astype(np.int64), going)
    )
    if radii:
        grid[[0, -1]] -= (ups * outer[..., None])[[0, -1]]
        last[[0, -2]] = 0
    else:
        for edge in (np.s_[[0, -1]], np.s_[:, [0, -1]]):
            grid[edge] -= (ups * outer[..., None])[edge]
            outer[edge] = 0.0
    there = np.maximum.reduce([outer[:-1, :-1], outer[1:, :-1], outer[1:, 1:], outer[:-1, 1:]]) > 0
    quads = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2)
    return quads[there], last[:-1, :-1][there], ups[:-1, :-1][there]


def draw_map(figure: Figure, looked: Looked) -> None:
    """The surface unrolled: the field as a lit map, and the path of the tool over it."""
    from matplotlib.collections import LineCollection

    setting, track, axis = looked.setting, looked.track, looked.setting.toolpath.axis
    scale, units = setting.scale, looked.setting.toolpath.units
    axes = figure.add_subplot()
    colours = rgb(looked.colours)
    points = unrolled(track.part_mm(setting), setting.frame.centre_mm, axis)
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
    for number in map(int, np.unique(track.operation[1:][chosen])):
        places = steps[chosen & (track.operation[1:] == number)].mean(axis=1)
        x, y = places[np.argmin(np.linalg.norm(places - np.median(places, axis=0), axis=1))]
        axes.annotate(str(number), (float(x), float(y)), **NUMBER)
    axes.autoscale_view()
    # One scale along and around: a degree is as long as on the surface.
    degree = radians(max(setting.swept_mm, MIN_RADIUS_MM)) / scale
    angle, length = "angle, degrees", f"along {axis}, {units}"
    if axis == "X":
        axes.set(xlabel=length, ylabel=angle, ylim=(TURN_DEG, 0), yticks=TICKS_DEG, aspect=degree)
    elif axis == "Y":
        axes.set(xlabel=angle, ylabel=length, xlim=(0, TURN_DEG), xticks=TICKS_DEG, aspect=1 / degree)
    else:
        axes.set(xlabel=f"X, {units}", ylabel=f"Y, {units}", aspect=1)


def _draw_jaws(axes: Axes, looked: Looked) -> None:
    """The end that the chuck holds, as far as the jaws reach over the stock; not about Z, where one looks down on it."""
    setting, axis = looked.setting, looked.setting.toolpath.axis
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
    picture = lit_map(field, looked.cut.last_cut, colours, np.array(looked.hatches), max(setting.swept_mm, MIN_RADIUS_MM))
    first, second = spans(field, setting)
    for turn in (0.0, TURN_DEG) if field.chart == "radii" else (0.0,):
        begin, end = second[0] + turn, second[1] + turn
        extent = (*first, end, begin) if field.axis == "X" else (begin, end, *first) if field.axis == "Y" else (*first, begin, end)
        axes.imshow(picture, extent=extent, aspect="auto", interpolation="antialiased")


def draw_time(figure: Figure, looked: Looked) -> None:
    """Axis positions, rotary speed and tip speed over time, with their limits."""
    track, setting, units = looked.track, looked.setting, looked.setting.toolpath.units
    scale, minutes, rotaries = setting.scale, track.minutes, setting.rotaries
    panels = figure.subplots(2 + 2 * len(rotaries), 1, sharex=True)
    for at, (name, colour, style) in enumerate(zip("XYZ", (5, 2, 0), ("-", ":", "--"), strict=True)):
        panels[0].plot(minutes, track.place_mm[:, at] / scale, color=OPERATION_COLOURS[colour], linestyle=style, label=name)
    panels[0].set_ylabel(units)
    for at, (letter, rotary) in enumerate(rotaries.items()):
        angle, speed = panels[1 + 2 * at], panels[2 + 2 * at]
        angle.plot(minutes, track.word_deg[:, at], color=OPERATION_COLOURS[1], label=letter)
        angle.set_ylabel("degrees")
        if rotary.travel.kind == "limited":
            for end in (rotary.travel.lowest, rotary.travel.highest):
                angle.axhline(end, **LIMIT, label=f"travel {end:g}")
        speed.step(minutes, track.rotary_deg_per_min[:, at], where="pre", color=OPERATION_COLOURS[5], label=f"speed of {letter}")
        speed.axhline(rotary.fastest, **LIMIT, label=f"limit {rotary.fastest:g}")
        speed.set_ylabel("degrees/min")
    tip = track.tip_mm_per_min / scale
    feed = np.where(track.rapid, np.nan, tip)
    last = panels[-1]
    last.step(minutes, feed, where="pre", color=OPERATION_COLOURS[2], label="tip at feed")
    last.step(minutes, np.where(track.rapid, tip, np.nan), where="pre", color="#7d858d", linewidth=0.8, label="tip at rapid")
    asked = np.array([*asked_feeds(looked.setting.toolpath), np.nan])
    wanted = asked[np.minimum(track.operation.astype(np.int64) - 1, len(asked) - 1)]
    last.step(minutes, wanted, where="pre", color=OPERATION_COLOURS[1], linestyle="--", label="highest feed in the toolpath")
    last.axhline(min(setting.fastest_mm_per_min()) / scale, **LIMIT, label="rapid of the slowest axis")
    highest = np.nanmax([*feed[np.isfinite(feed)], *asked[np.isfinite(asked)], 0.0])
    if highest > 0:
        last.set_ylim(0, 1.25 * highest)
    last.set_ylabel(f"{units}/min")
    last.set_xlabel("minutes")
    for panel in panels:
        panel.grid(alpha=0.3)
        panel.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=9)


_DRAWERS = {"unrolled": draw_map, "over-time": draw_time}
