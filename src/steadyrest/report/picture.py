"""One picture by itself, as PNG or SVG: the part as cut, its surface unrolled, or the axes over time. Drawn with matplotlib, no browser."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Literal, get_args

from steadyrest.errors import InputError
from steadyrest.outcome import outcome_line
from steadyrest.report.looking import Looked

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PictureOf = Literal["part", "unrolled", "over-time"]
PictureForm = Literal["png", "svg"]
PICTURES: tuple[PictureOf, ...] = get_args(PictureOf)
DOTS_PER_INCH = 150
SETTINGS: Any = {"font.family": "sans-serif", "font.size": 12, "svg.fonttype": "none", "svg.hashsalt": "steadyrest", "path.simplify": True}


def draw(looked: Looked, of: PictureOf, form: PictureForm, *, inches: tuple[float, float] = (12.0, 7.0)) -> bytes:
    """A picture of a program that was looked at. The same program gives the same bytes.

    inches   width and height
    raises   InputError where the library is not installed, or where the part cannot be shown because it was not cut
    """
    try:
        import matplotlib
        from matplotlib.figure import Figure
    except ImportError as error:
        raise InputError(
            "a picture needs the library matplotlib, which is not installed", cure="pip install 'steadyrest[report]'"
        ) from error
    if of == "part" and looked.cut is None:
        raise InputError(f"the part as cut cannot be shown: {looked.not_cut}", cure="ask for the picture 'over-time' or 'unrolled'")
    with matplotlib.rc_context(SETTINGS):
        figure = Figure(figsize=inches, layout="constrained")
        _drawer(of)(figure, looked)
        if looked.outcome.word == "stop":
            figure.text(0.5, 0.5, "STOP", rotation=24, ha="center", va="center", fontsize=140, weight="bold", color="#b00020", alpha=0.28)
        out = io.BytesIO()
        figure.savefig(out, format=form, dpi=DOTS_PER_INCH, metadata={"Date": None} if form == "svg" else {"Software": None})
    return out.getvalue()


def _drawer(of: PictureOf) -> Callable[[Figure, Looked], None]:
    if of == "part":
        from steadyrest.report.drawn_part import draw_part

        return draw_part
    if of == "unrolled":
        from steadyrest.report.drawn_map import draw_map

        return draw_map
    from steadyrest.report.drawn_time import draw_time

    return draw_time


def title_of(looked: Looked) -> str:
    """What stands over every picture: name and verdict. A `$` is a sign, never the start of a formula."""
    name = (looked.toolpath.name or looked.name).replace("$", r"\$")
    return f"{name}: {looked.outcome.word.upper()}, {outcome_line(looked.outcome)}"


def add_legend(figure: Figure, looked: Looked) -> None:
    """Operations by colour and number, below the picture."""
    from matplotlib.patches import Patch

    shown = list(enumerate(looked.operation_names, start=1))[:24]
    patches = [Patch(facecolor=looked.colours[at], edgecolor="black", label=f"{at} {name}".replace("$", r"\$")) for at, name in shown]
    if looked.cut is not None:
        patches.append(Patch(facecolor=looked.colours[0], edgecolor="black", label="not cut"))
    figure.legend(handles=patches, loc="outside lower center", ncols=4, fontsize=10, frameon=False)
