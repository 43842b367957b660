"""The commands that show a program: `report`, `picture`, `setup-sheet`, `explain`."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click import argument, option

from steadyrest.cli.common import ACCEPT, FILE, NO_SIMULATION, Asked, adding, judged, print_json, print_text, put, requesting, telling

if TYPE_CHECKING:
    from steadyrest.progress import Progress
    from steadyrest.viewer import Looked

PICTURES = ["part", "unrolled", "over-time"]
SOURCE = adding(
    argument("source", metavar="PROGRAM|TOOLPATH", type=FILE),
    option("--toolpath", "-t", type=FILE,
                 help="The toolpath that the PROGRAM cuts. Without it the argument is a toolpath, which is posted in memory first."),
)  # fmt: skip


def _cells(context: click.Context, parameter: click.Parameter, value: str | None) -> tuple[int, int] | None:
    if value is None:
        return None
    found = re.fullmatch(r"(\d{1,4})[xX](\d{1,4})", value, re.ASCII)
    along, around = map(int, found.groups()) if found is not None else (0, 0)
    if not (2 <= along <= 8192 and 2 <= around <= 8192):
        raise click.BadParameter("give two numbers from 2 to 8192 with an x between, such as 512x1024")
    return along, around


CELLS = option("--cells", metavar="ALONGxAROUND", callback=_cells,
                     help="Grid of the simulated surface, such as 512x1024.  [default: 0.1 mm apart, at most 1024x2048]")  # fmt: skip


@click.command()
@SOURCE
@CELLS
@requesting(ACCEPT)
@option("--output", "-o", type=FILE, required=True, help="The page's file, such as report.html.")
def report(source: Path, toolpath: Path | None, output: Path, as_json: bool, **said: Any) -> None:
    """Show what a finished program will do, as one page that opens in any browser without a network.

    The PROGRAM is read back, proved against --toolpath, and cut on the stock. Given a TOOLPATH alone, its program is made in memory and
    then read back in the same way. A program that must not run gets a report too, to show why; the exit code is then 3.
    """
    from steadyrest.reporting import command_of, report_page

    with telling() as progress:
        looked = _looked(source, toolpath, progress, **said)
        command = command_of(said["asked"](toolpath or source), source if toolpath else None, output.name)
        page = report_page(looked, made=date.today().isoformat(), command=command, progress=progress)
    put(page, output, source, toolpath)
    judged(looked.posted, as_json=as_json, also=f"{output}  report on {looked.posted.program}")


@click.command()
@SOURCE
@CELLS
@requesting(ACCEPT)
@option("--of", type=click.Choice(PICTURES), default="part", show_default=True, help="What to draw.")
@option("--output", "-o", type=FILE, required=True, help="The picture's file; .png or .svg.")
def picture(source: Path, toolpath: Path | None, of: Any, output: Path, as_json: bool, **said: Any) -> None:
    """Draw one picture of a finished program: the part as cut, its surface unrolled, or the axes over time.

    A program that must not run is drawn too, with STOP across it; the exit code is then 3.
    """
    from steadyrest.reporting import picture_of

    with telling() as progress:
        looked = _looked(source, toolpath, progress, **said)
        drawn = picture_of(looked, of, output, progress)
    put(drawn, output, source, toolpath)
    judged(looked.posted, as_json=as_json, also=f"{output}  picture ({of}) of {looked.posted.program}")


def _looked(source: Path, toolpath: Path | None, progress: Progress | None, asked: Asked, cells: tuple[int, int] | None) -> Looked:
    from steadyrest.reporting import look_at

    return look_at(asked(toolpath or source), source if toolpath else None, cells=cells, progress=progress)


@click.command("setup-sheet")
@SOURCE
@requesting(ACCEPT, NO_SIMULATION)
@option("--output", "-o", type=FILE, required=True, help="The HTML file.")
def setup_sheet(source: Path, toolpath: Path | None, output: Path, asked: Asked, as_json: bool) -> None:
    """Write a setup sheet to print: the mounting with its drawing, stock, origin, tools, offsets, positions, first run.

    From a TOOLPATH, which is posted in memory; or from a PROGRAM with --toolpath, which is proved again. A program that must not run
    gets its sheet too, with STOP across it; the exit code is then 3.
    """
    from steadyrest.sheet import setup_sheet as facts_of
    from steadyrest.sheet import setup_sheet_page

    with telling() as progress:
        facts = facts_of(asked(toolpath or source), source if toolpath else None, progress=progress)
    put(setup_sheet_page(facts).encode("utf-8"), output, source, toolpath)
    posted = facts.posted
    also = f"{output}  setup sheet of {posted.toolpath.name or 'no name'} for {posted.controller}; open it and print it"
    judged(posted, as_json=as_json, also=also)


def _lines(context: click.Context, parameter: click.Parameter, value: str) -> tuple[Path, int, int]:
    """The program's file, the first line and the last, of PROGRAM:LINE or PROGRAM:FIRST-LAST."""
    found = re.fullmatch(r"(.+):(\d{1,9})(?:-(\d{1,9}))?", value, re.DOTALL)
    if found is None:
        raise click.BadParameter(
            f"{value!r} is not a line of a program: write PROGRAM:LINE or PROGRAM:FIRST-LAST, for example part.nc:120-125"
        )
    first, last = int(found[2]), int(found[3] or found[2])
    if not 1 <= first <= last:
        raise click.BadParameter(f"lines are counted from 1, and the first comes before the last; found {first} to {last}")
    return Path(found[1]), first, last


@click.command()
@argument("lines", callback=_lines, metavar="PROGRAM:LINE[-LAST]")
@option("--toolpath", "-t", type=FILE, required=True, help="The toolpath from which the program was written.")
@requesting()
def explain(lines: tuple[Path, int, int], toolpath: Path, asked: Asked, as_json: bool) -> None:
    """Show where each word of a program's LINE comes from: move, rule, setting and its file, template."""
    from steadyrest.explaining import explain as run
    from steadyrest.explaining import explanation_data, explanation_text

    with telling() as progress:
        explanation = run(*lines, asked(toolpath), progress=progress)
    if as_json:
        print_json(explanation_data(explanation), alone=True)
    else:
        print_text(explanation_text(explanation), alone=True)
