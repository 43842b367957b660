"""The commands `post` and `prove`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from steadyrest.cli.common import plainly, print_json, settings, wishes

WORTH_A_BAR = 2_000_000
"""Files of fewer bytes are done before a bar could be read."""
BYTES_PER_LINE = 62
"""Of a long toolpath file, about; what a line of the program is made from. The bar is an estimate until it is full."""


@contextmanager
def _bar(part: Path) -> Iterator[Callable[[int], None] | None]:
    """A progress bar on a terminal, for a file that is worth one."""
    size = part.stat().st_size if part.is_file() else 0
    if size < WORTH_A_BAR or not sys.stderr.isatty():
        yield None
        return
    expected = size // BYTES_PER_LINE
    with click.progressbar(length=expected, label="writing and proving", file=sys.stderr) as bar:

        def show(lines: int) -> None:
            bar.update(min(lines, expected - 1) - bar.pos)

        yield show
        bar.update(expected - bar.pos)


@click.command()
@click.argument("part", metavar="TOOLPATH|JOB", type=click.Path(path_type=Path))
@settings
@click.option("--output", "-o", type=click.Path(path_type=Path), help="The program's file.  [default: the job file's]")
@click.option("--origin-is-meant", is_flag=True, help="Go on although the origin looks as if it stood on top of the stock.")
@plainly
def post(part: Path, controller: str | None, output: Path | None, sets: tuple[str, ...], tolerance: float | None,
         as_json: bool, origin_is_meant: bool) -> None:  # fmt: skip
    """Write the program of a TOOLPATH, prove it, and only then put it in place.

    Any other input that `take` reads will do as well. A JOB file keeps controller, output and settings for a part; what is said here
    goes before it.
    """
    from steadyrest.posting import post as run

    said, name = wishes(part, controller, sets, tolerance, output=output, accept_origin=origin_is_meant)
    if said.output is None:
        raise click.UsageError("Missing option '--output' / '-o': the program's file.")
    with _bar(part) as show:
        posted = run(
            part,
            name,
            said.output,
            sets=said.sets,
            tolerance=said.tolerance,
            accept_origin=said.accept_origin,
            show=show,
        )
    click.echo(posted.text(), err=True)
    if as_json:
        print_json(posted.as_json())


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program should cut.")
@settings
@plainly
def prove(program: Path, toolpath: Path, controller: str | None, sets: tuple[str, ...], tolerance: float | None, as_json: bool) -> None:
    """Prove a PROGRAM that already exists, edited by hand or old, against a toolpath."""
    from steadyrest.posting import prove as run

    said, name = wishes(toolpath, controller, sets, tolerance)
    proved = run(program, toolpath, name, sets=said.sets, tolerance=said.tolerance)
    click.echo(proved.text(), err=True)
    if as_json:
        print_json(proved.as_json())
    if not proved.verdict.proved:
        sys.exit(3)
