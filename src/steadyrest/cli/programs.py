"""The commands from an input to the machine: `take`, `post`, `prove`, `deliver`; `page`, for all of it; `schema`, of files they read."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import click
from click import argument, option

from steadyrest.cli.common import ACCEPT, FILE, NO_SIMULATION, QUIET, Asked, judged, print_json, print_text, put, requesting, say, telling

SCHEMAS = {
    "toolpath": ("steadyrest.toolpath", "toolpath_schema"),
    "controller": ("steadyrest.profile", "profile_schema"),
    "job": ("steadyrest.inputs", "job_schema"),
}
"""Of what there is a schema, and the room and function that make it."""


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
@argument("words", nargs=-1, required=True, type=click.UNPROCESSED, metavar="INPUT [OPTION]...")
@option("--output", "-o", required=True, type=FILE, help="The toolpath file to write, NAME.toolpath.json.")
@QUIET
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
    made_from = [file for each in inputs for file in (*files_of(each.file), *([each.words] if each.words is not None else []))]
    with telling() as progress:
        toolpath = run(inputs, part, notices, progress=progress)
        put_in_place((piece.encode("utf-8") for piece in toolpath_text(toolpath, progress)), output, made_from).commit()
    say(f"{output}  ({toolpath.name or 'no name'}, {len(toolpath.operations)} operation(s))")
    for notice in notices:
        say(f"  - {notice.place.before(notice.sentence())}")


@click.command()
@argument("part", metavar="TOOLPATH|JOB", type=FILE)
@requesting(ACCEPT, NO_SIMULATION)
@option("--output", "-o", type=FILE, help="The program's file.  [default: the job file's]")
def post(part: Path, output: Path | None, asked: Asked, as_json: bool) -> None:
    """Write the program for a TOOLPATH, prove it, and only then put it in place.

    The first word on the screen is the outcome. RUN: proved, simulated, nothing found. LOOK: proved, with something to look at first.
    STOP: it must not run, and no program was written. Any other input that `take` reads works too. A JOB file keeps controller,
    output and settings for a part; options given here override it.
    """
    from steadyrest.posting import post as run

    request = asked(part, output)
    if request.output is None:
        raise click.UsageError("Missing option '--output' / '-o': the program's file.")
    with telling() as progress:
        posted = run(request, progress)
    judged(posted, as_json=as_json)


@click.command()
@argument("program", type=FILE)
@option("--toolpath", "-t", type=FILE, required=True, help="The toolpath that the program should cut.")
@requesting(ACCEPT, NO_SIMULATION)
def prove(program: Path, toolpath: Path, asked: Asked, as_json: bool) -> None:
    """Prove an existing PROGRAM, for example one edited by hand, against its toolpath."""
    from steadyrest.posting import prove as run

    with telling() as progress:
        posted = run(program, asked(toolpath), progress=progress)
    judged(posted, as_json=as_json)


@click.command()
@argument("program", type=FILE)
@option("--toolpath", "-t", type=FILE, required=True, help="The toolpath that the program cuts; it is proved again.")
@requesting(ACCEPT, NO_SIMULATION)
@option("--to", "folder", type=FILE, help="The folder or share.  [default: the profile's delivery.folder]")
@option("--name", metavar="NAME", help="The program's name there.  [default: that of the file]")
@option("--time-limit", "seconds", type=float, default=60.0, show_default=True, metavar="SECONDS",
              help="How long to wait for the share.")  # fmt: skip
@option("--log", type=FILE, help="The log file.  [default: deliveries.log in your state folder]")
def deliver(program: Path, toolpath: Path, asked: Asked, as_json: bool, folder: Path | None, name: str | None, seconds: float,
            log: Path | None) -> None:  # fmt: skip
    """Prove a PROGRAM again and put it where the machine reads it: complete or not at all, and never one that must not run.

    The name has to meet the rules of the controller's profile. The file is read back and compared byte for byte, an older version is kept
    under a dated name that no machine reads as a program, and a line goes into the log: time, digest, profile.
    """
    from datetime import UTC, datetime

    from steadyrest.delivery import deliver as run

    now = datetime.now(UTC).astimezone()
    with telling() as progress:
        delivered = run(program, asked(toolpath), now, folder=folder, name=name, seconds=seconds, log=log, progress=progress)
    say(delivered.text())
    if as_json:
        print_json(delivered.as_json())


@click.command()
@argument("what", type=click.Choice(list(SCHEMAS)))
@option("--output", "-o", type=FILE, help="Write it into this file, for an editor to find.")
def schema(what: str, output: Path | None) -> None:
    """Print the JSON schema of toolpath files, of controller.toml files, or of job files.

    Editors that know JSON schema complete keys by it, show what each one means, and mark what is wrong.
    """
    room, function = SCHEMAS[what]
    import json

    text = json.dumps(getattr(import_module(room), function)(), indent=2)
    if output is None:
        print_text(text, alone=True)
    else:
        put(f"{text}\n".encode("ascii"), output)


@click.command()
@argument("folder", metavar="[FOLDER]", type=FILE, default=".")
@option("--deliver-to", multiple=True, type=FILE, metavar="FOLDER",
        help="A folder into which programs may be delivered, besides the profile's delivery.folder. Repeatable.")  # fmt: skip
@option("--port", type=click.IntRange(0, 65535), default=0, help="The port on this machine.  [default: any that is free]")
@option("--no-browser", is_flag=True, help="Print the address only, and open no browser.")
def page(folder: Path, deliver_to: tuple[Path, ...], port: int, no_browser: bool) -> None:
    """Do the whole job in a browser: part, mounting, look, program, profile, delivery.

    Serves the files of FOLDER (here unless given) to this machine alone; no network and no account. What is said there is kept in job
    files, which the other commands read.
    """
    from steadyrest.page import serve

    serve(folder, deliver_to=deliver_to, port=port, browser=not no_browser, say=say)
