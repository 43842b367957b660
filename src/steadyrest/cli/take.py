"""The command `take`."""

from __future__ import annotations

from pathlib import Path

import click

from steadyrest.cli.common import plainly, say


class _About(click.Command):
    """Its options are the inputs' own: they stand after the file that they speak of, and are listed from the same table that reads them."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The options of inputs and part, then the command's own."""
        from steadyrest.inputs import ABOUT_INPUT, ABOUT_PART

        for title, table in (("Options for an input, given after it", ABOUT_INPUT), ("Options for the part, anywhere", ABOUT_PART)):
            with formatter.section(title):
                formatter.write_dl([(f"{name} {said.value}".strip(), said.help) for name, said in table.items()])
        super().format_options(ctx, formatter)


@click.command(cls=_About, context_settings={"ignore_unknown_options": True, "allow_interspersed_args": True})
@click.argument("words", nargs=-1, required=True, type=click.UNPROCESSED, metavar="INPUT [OPTION]...")
@click.option("--output", "-o", required=True, type=click.Path(path_type=Path), help="The toolpath file to write, NAME.toolpath.json.")
@plainly
def take(words: tuple[str, ...], output: Path) -> None:
    """Make one neutral toolpath from one or more INPUTs, in their order: CL data, plain three-axis programs, toolpaths, job files.

    For example: take faces.cl slots.nc --indexed 0,90,180,270 letters.nc --wrap 40 --stock round,diameter=40,from=-90,to=0
    -o part.toolpath.json
    """
    from steadyrest.inputs import files_of, read_arguments
    from steadyrest.inputs import take as run
    from steadyrest.notices import Notice
    from steadyrest.toolpath import toolpath_text
    from steadyrest.writing import put_in_place

    inputs, part = read_arguments(words)
    notices: list[Notice] = []
    toolpath = run(inputs, part, notices)
    made_from = [file for each in inputs for file in (*files_of(each.file), *([each.words] if each.words is not None else []))]
    with put_in_place((piece.encode("utf-8") for piece in toolpath_text(toolpath)), output, made_from) as placed:
        placed.commit()
    say(f"{output}  ({toolpath.name or 'no name'}, {len(toolpath.operations)} operation(s))")
    for notice in notices:
        where = str(notice.place)
        say(f"  - {where}: {notice.sentence()}" if where else f"  - {notice.sentence()}")
