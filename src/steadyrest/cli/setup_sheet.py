"""The command `setup-sheet`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from steadyrest.cli.common import Finite, judging, plainly, say, wishes


@click.command("setup-sheet")
@click.argument("source", metavar="TOOLPATH|PROGRAM", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), help="What the PROGRAM cuts; without it the source is a toolpath.")
@click.option(
    "--controller",
    "-c",
    metavar="NAME|FOLDER",
    help="An installed profile, or the path of a profile's folder.  [default: the job file's, else rs274ngc]",
)
@click.option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Override one setting for this run. Repeatable.")
@click.option("--tolerance", type=Finite(), metavar="LENGTH", help="How far the tip may leave its path, in the toolpath's units.")
@judging
@click.option("--output", "-o", type=click.Path(path_type=Path), required=True, help="The HTML file.")
@plainly
def setup_sheet(source: Path, toolpath: Path | None, controller: str | None, sets: tuple[str, ...], tolerance: float | None,
                output: Path, accept: tuple[str, ...], no_simulation: bool) -> None:  # fmt: skip
    """Write a setup sheet to print: the mounting with its drawing, stock, origin, tools, offsets, positions, first run.

    From a TOOLPATH, which is posted and judged aside; or from a PROGRAM with --toolpath, which is judged again. A program that must not run
    gets its sheet too, with STOP across it; the exit code is 3 then.
    """
    from steadyrest.posting import files_of
    from steadyrest.sheet import setup_sheet as facts_of
    from steadyrest.sheet import setup_sheet_page
    from steadyrest.writing import put_in_place

    part = toolpath or source
    said, name = wishes(part, controller, sets, tolerance, accept=accept, simulate=not no_simulation)
    facts = facts_of(
        part,
        name,
        program=source if toolpath else None,
        sets=said.sets,
        tolerance=said.tolerance,
        accept=said.accept,
        simulate=said.simulate,
    )
    with put_in_place([setup_sheet_page(facts).encode("utf-8")], output, [*files_of(source), *files_of(part)]) as placed:
        placed.commit()
    say(facts.posted.text())
    say(f"{output}  setup sheet of {facts.title} for {facts.controller}; open it and print it")
    if facts.outcome == "stop":
        sys.exit(3)
