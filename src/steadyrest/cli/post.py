"""The commands `post` and `prove`."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from steadyrest.cli.common import ACCEPT, NO_SIMULATION, Asked, judged, plainly, requesting
from steadyrest.progress import Progress

WORTH_A_BAR = 2_000_000
"""Files of fewer bytes are done before a bar could be read."""


@contextmanager
def _bar(part: Path) -> Iterator[Progress | None]:
    """A progress bar on a terminal, for a file that is worth one."""
    size = part.stat().st_size if part.is_file() else 0
    if size < WORTH_A_BAR or sys.stderr is None or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label="writing and proving", file=sys.stderr) as bar:

        def progress(stage: str, done: int, total: int) -> None:
            bar.length = total
            bar.update(min(done, total - 1) - bar.pos)

        yield progress
        bar.update((bar.length or 1) - bar.pos)


@click.command()
@click.argument("part", metavar="TOOLPATH|JOB", type=click.Path(path_type=Path))
@requesting(ACCEPT, NO_SIMULATION)
@click.option("--output", "-o", type=click.Path(path_type=Path), help="The program's file.  [default: the job file's]")
@plainly
def post(part: Path, output: Path | None, asked: Asked, as_json: bool) -> None:
    """Write the program of a TOOLPATH, prove it, and only then put it in place.

    The first word on the screen is the outcome. RUN: proved, simulated, nothing found. LOOK: proved, with something to look at first.
    STOP: it must not run, and nothing was put in place. Any other input that `take` reads will do as well. A JOB file keeps controller,
    output and settings for a part; what is said here goes before it.
    """
    from steadyrest.posting import post as run

    request = asked(part, output)
    if request.output is None:
        raise click.UsageError("Missing option '--output' / '-o': the program's file.")
    with _bar(part) as progress:
        posted = run(request, progress)
    judged(posted, as_json=as_json)


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program should cut.")
@requesting(ACCEPT, NO_SIMULATION)
@plainly
def prove(program: Path, toolpath: Path, asked: Asked, as_json: bool) -> None:
    """Prove and judge a PROGRAM that already exists, edited by hand or old, against a toolpath."""
    from steadyrest.posting import prove as run

    judged(run(program, asked(toolpath)), as_json=as_json)
