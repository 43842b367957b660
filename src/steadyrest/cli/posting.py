"""The commands `post` and `prove`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from steadyrest.cli.common import judging, plainly, print_json, say, settings, wishes

WORTH_A_BAR = 2_000_000
"""Files of fewer bytes are done before a bar could be read."""
BYTES_PER_LINE = 62
"""Of a long toolpath file, about; what a line of the program is made from. The bar is an estimate until it is full."""


@contextmanager
def _bar(part: Path) -> Iterator[Callable[[int], None] | None]:
    """A progress bar on a terminal, for a file that is worth one."""
    size = part.stat().st_size if part.is_file() else 0
    if size < WORTH_A_BAR or sys.stderr is None or not sys.stderr.isatty():
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
@judging
@click.option("--output", "-o", type=click.Path(path_type=Path), help="The program's file.  [default: the job file's]")
@plainly
def post(part: Path, controller: str | None, output: Path | None, sets: tuple[str, ...], tolerance: float | None,
         as_json: bool, accept: tuple[str, ...], no_simulation: bool) -> None:  # fmt: skip
    """Write the program of a TOOLPATH, prove it, and only then put it in place.

    The first word on the screen is the outcome. RUN: proved, simulated, nothing found. LOOK: proved, with something to look at first.
    STOP: it must not run, and nothing was put in place. Any other input that `take` reads will do as well. A JOB file keeps controller,
    output and settings for a part; what is said here goes before it.
    """
    from steadyrest.posting import post as run

    said, name = wishes(part, controller, sets, tolerance, output=output, accept=accept, simulate=not no_simulation)
    if said.output is None:
        raise click.UsageError("Missing option '--output' / '-o': the program's file.")
    with _bar(part) as show:
        posted = run(
            part,
            name,
            said.output,
            sets=said.sets,
            tolerance=said.tolerance,
            accept=said.accept,
            simulate=said.simulate,
            show=show,
        )
    say(posted.text())
    if as_json:
        print_json(posted.as_json())


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program should cut.")
@settings
@judging
@plainly
def prove(program: Path, toolpath: Path, controller: str | None, sets: tuple[str, ...], tolerance: float | None, as_json: bool,
          accept: tuple[str, ...], no_simulation: bool) -> None:  # fmt: skip
    """Prove and judge a PROGRAM that already exists, edited by hand or old, against a toolpath."""
    from steadyrest.posting import prove as run

    said, name = wishes(toolpath, controller, sets, tolerance, accept=accept, simulate=not no_simulation)
    proved = run(program, toolpath, name, sets=said.sets, tolerance=said.tolerance, accept=said.accept, simulate=said.simulate)
    say(proved.text())
    if as_json:
        print_json(proved.as_json())
    if proved.outcome.word == "stop":
        sys.exit(3)
