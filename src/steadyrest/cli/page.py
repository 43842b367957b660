"""The command that serves the page: `page`."""

from __future__ import annotations

from pathlib import Path

import click
from click import argument, option

from steadyrest.cli.common import FILE, say


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
