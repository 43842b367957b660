"""The command `deliver`."""

from __future__ import annotations

from pathlib import Path

import click

from steadyrest.cli.common import ACCEPT, NO_SIMULATION, Asked, plainly, print_json, requesting, say


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program cuts; it is proved again.")
@requesting(ACCEPT, NO_SIMULATION)
@click.option("--to", "folder", type=click.Path(path_type=Path), help="The folder or share.  [default: the profile's delivery.folder]")
@click.option("--name", metavar="NAME", help="Its name there.  [default: that of the file]")
@click.option(
    "--time-limit", "seconds", type=float, default=60.0, show_default=True, metavar="SECONDS", help="How long the share may take."
)
@click.option("--log", type=click.Path(path_type=Path), help="The log file.  [default: deliveries.log in your state folder]")
@plainly
def deliver(program: Path, toolpath: Path, asked: Asked, as_json: bool, folder: Path | None, name: str | None, seconds: float,
            log: Path | None) -> None:  # fmt: skip
    """Prove and judge a PROGRAM again and put it where the machine reads it: whole, or not at all, and never one that must not run.

    The name has to keep the rules of the controller's profile. What was written is read back byte for byte, a former version is kept
    under a dated name that no machine takes for a program, and a line goes into the log: time, digest, profile.
    """
    from datetime import UTC, datetime

    from steadyrest.delivery import deliver as run

    now = datetime.now(UTC).astimezone()
    delivered = run(program, asked(toolpath), now, folder=folder, name=name, seconds=seconds, log=log)
    say(delivered.text())
    if as_json:
        print_json(delivered.as_json())
