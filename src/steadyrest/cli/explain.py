"""The command `explain`."""

from __future__ import annotations

import re
from pathlib import Path

import click

from steadyrest.cli.common import plainly, print_json, print_text, settings, wishes


class Lines(click.ParamType[tuple[Path, int, int]]):
    """PROGRAM:LINE or PROGRAM:FIRST-LAST."""

    name = "lines"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[Path, int, int]:
        """The program's file, the first line and the last."""
        found = re.fullmatch(r"(.+):(\d{1,9})(?:-(\d{1,9}))?", str(value), re.DOTALL)
        if found is None:
            self.fail(f"{value!r} names no line: write PROGRAM:LINE or PROGRAM:FIRST-LAST, for example part.nc:120-125", param, ctx)
        first = int(found[2])
        last = int(found[3]) if found[3] else first
        if not 1 <= first <= last:
            self.fail(f"lines count from 1, the first before the last; found {first} to {last}", param, ctx)
        return Path(found[1]), first, last


@click.command()
@click.argument("lines", type=Lines(), metavar="PROGRAM:LINE[-LAST]")
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program was written from.")
@settings
@plainly
def explain(lines: tuple[Path, int, int], toolpath: Path, controller: str | None, sets: tuple[str, ...], tolerance: float | None,
            as_json: bool) -> None:  # fmt: skip
    """Say where each word of a program's LINE comes from: move, rule, setting and its file, template."""
    from steadyrest.explaining import explain as run
    from steadyrest.explaining import explanation_data, explanation_text

    program, first, last = lines
    said, name = wishes(toolpath, controller, sets, tolerance)
    explanation = run(program, first, last, toolpath, name, sets=said.sets, tolerance=said.tolerance)
    if as_json:
        print_json(explanation_data(explanation))
    else:
        print_text(explanation_text(explanation))
