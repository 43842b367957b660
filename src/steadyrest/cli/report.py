"""The commands `report` and `picture`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import click

from steadyrest.cli.common import known_findings, plainly, print_json, say, settings, wishes

if TYPE_CHECKING:
    from steadyrest.report import Looked

P = ParamSpec("P")
R = TypeVar("R")
PICTURES = ["part", "unrolled", "over-time"]


def _source(command: Callable[P, R]) -> Callable[P, R]:
    """Add what is looked at, and how finely."""
    options = [
        click.argument("source", metavar="PROGRAM|TOOLPATH", type=click.Path(path_type=Path)),
        click.option("--toolpath", "-t", type=click.Path(path_type=Path),
                     help="What the PROGRAM cuts; without it the source is a toolpath, which is posted to memory first."),
        click.option("--cells", metavar="ALONGxAROUND", callback=_cells,
                     help="Lines of the simulated surface, such as 512x1024.  [default: 0.1 mm apart, at most 1024x2048]"),
        click.option("--accept", multiple=True, metavar="NAME", callback=known_findings, help="As for post. Repeatable."),
    ]  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command


def _cells(context: click.Context, parameter: click.Parameter, value: str | None) -> tuple[int, int] | None:
    if value is None:
        return None
    along, cross, around = value.lower().partition("x")
    if not (cross and along.isdigit() and around.isdigit() and 2 <= int(along) <= 8192 and 2 <= int(around) <= 8192):
        raise click.BadParameter("give two numbers from 2 to 8192 with an x between, such as 512x1024")
    return int(along), int(around)


@click.command()
@_source
@settings
@click.option("--output", "-o", type=click.Path(path_type=Path), required=True, help="The page's file, such as report.html.")
@plainly
def report(source: Path, output: Path, as_json: bool, **said: Any) -> None:
    """Show what a finished program will do, as one page that opens in any browser without a network.

    The PROGRAM is read back, proved against --toolpath, and cut on the stock. Given a TOOLPATH alone, its program is made in memory and
    then read back in the same way. A program that must not run gets its report as well, to see where; the exit code is 3 then.
    """
    from steadyrest.reporting import report_page

    looked = _looked(source, **said)
    _put(report_page(looked), output, source, said["toolpath"])
    _end(looked, as_json, f"{output}  report on {looked.name}")


@click.command()
@_source
@settings
@click.option("--of", type=click.Choice(PICTURES), default="part", show_default=True, help="What is drawn.")
@click.option("--output", "-o", type=click.Path(path_type=Path), required=True, help="The picture's file; .png or .svg.")
@plainly
def picture(source: Path, of: Any, output: Path, as_json: bool, **said: Any) -> None:
    """Draw one picture of a finished program: the part as cut, its surface unrolled, or the axes over time.

    A program that must not run is drawn as well, with STOP across it; the exit code is 3 then.
    """
    from steadyrest.reporting import picture_of

    looked = _looked(source, **said)
    _put(picture_of(looked, of, output), output, source, said["toolpath"])
    _end(looked, as_json, f"{output}  picture ({of}) of {looked.name}")


def _looked(source: Path, toolpath: Path | None, controller: str | None, sets: tuple[str, ...], tolerance: float | None,
            cells: tuple[int, int] | None, accept: tuple[str, ...]) -> Looked:  # fmt: skip
    from steadyrest.reporting import look_at

    part = toolpath or source
    wanted, name = wishes(part, controller, sets, tolerance, accept=accept)
    looked = look_at(
        part,
        name,
        program=source if toolpath else None,
        sets=wanted.sets,
        tolerance=wanted.tolerance,
        accept=wanted.accept,
        cells=cells,
        show=_shown if sys.stderr is not None and sys.stderr.isatty() else None,
    )
    if sys.stderr is not None and sys.stderr.isatty():
        say("\r\033[K", nl=False)
    return looked


def _shown(what: str, line: int) -> None:
    say(f"\r{what}: line {line:,}", nl=False)


def _put(content: bytes, output: Path, *parts: Path | None) -> None:
    from steadyrest.posting import files_of
    from steadyrest.writing import put_in_place

    with put_in_place([content], output, [file for part in parts if part is not None for file in files_of(part)]) as placed:
        placed.commit()


def _end(looked: Looked, as_json: bool, what: str) -> None:
    from steadyrest.reporting import posted_of

    posted = posted_of(looked)
    say(posted.text())
    say(what)
    if as_json:
        print_json(posted.as_json())
    if posted.outcome.word == "stop":
        sys.exit(3)
